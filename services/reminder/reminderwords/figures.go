package reminderwords

import (
	"regexp"
	"strconv"
	"strings"

	"halfshaft/services/internal/locale"
	"halfshaft/services/vehicle"
)

// figure is a number with its unit, both as the records have them. Readers of
// kilometres get pressures in bar first: "2.4 bar (35 psi)".
func (w *writer) figure(number, unit string) string { return w.both("figure", unit, number, number) }

// figures is from one number to another: "2.4 to 4.1 bar (35 to 60 psi)".
func (w *writer) figures(lower, upper, unit string) string {
	return w.both("figures", unit, lower, upper)
}

func (w *writer) both(key, unit, lower, upper string) string {
	in := func(lower, upper, unit string) string {
		return w.say(key, with{"lower": w.locale.Decimal(lower), "upper": w.locale.Decimal(upper), "unit": w.unit(unit)})
	}
	given := in(lower, upper, unit)
	if unit != "psi" || w.locale.Unit() != vehicle.Kilometres {
		return given
	}
	low, okLow := inBar(lower)
	high, okHigh := inBar(upper)
	if !okLow || !okHigh {
		return given
	}
	return w.say("figure.both", with{"here": in(low, high, "bar"), "given": given})
}

// inBar gives a pressure in psi to a tenth of a bar, which is as fine as a
// gauge for tyres shows.
func inBar(psi string) (string, bool) {
	q, err := vehicle.ParseQuantity(psi + " psi")
	if err != nil {
		return "", false
	}
	bar, ok := q.In("bar")
	if !ok {
		return "", false
	}
	return bar.FloatString(1), true
}

// withUnit finds a number and the unit behind it. What stands otherwise is a
// name and no figure: DOT 5.1, SAE J30 R9.
var withUnit = regexp.MustCompile(`(\d+(?:[.,’\x{a0}\x{202f}]\d+)*)([ \x{a0}](?:V|A|N|mm|cm|m|l|ml|g|kg|bar|psi|%|°C|h|rev/min|U/min|N\.m)(?:[^\pL]|$))`)

// refigured writes the figures of a text, whose language has its own habit, in
// the reader's: "14,8 V" of a German file is "14.8 V" in Switzerland.
func refigured(text, tag string, to locale.Locale) string {
	if !strings.ContainsAny(text, "0123456789") {
		return text // as most are
	}
	mark, groups := ".", ","
	if base, _, _ := strings.Cut(tag, "-"); base != "en" {
		mark, groups = marks(tag)
	}
	return withUnit.ReplaceAllStringFunc(text, func(found string) string {
		parts := withUnit.FindStringSubmatch(found)
		whole, fraction, pointed := strings.Cut(parts[1], mark)
		if pointed {
			fraction = "." + fraction
		}
		for i, group := range strings.Split(whole, groups) {
			if i > 0 && len(group) != 3 {
				return found // it is not written in the habit of its language
			}
		}
		return to.Decimal(strings.ReplaceAll(whole, groups, "")+fraction) + parts[2]
	})
}

// marks are a language's decimal mark and the one between its thousands.
func marks(tag string) (decimal, groups string) {
	return strings.Trim(locale.For(tag, tag, "").Decimal("0.5"), "05"), strings.Trim(locale.For(tag, tag, "").Number(1000), "01")
}

// far is a distance among the facts, and the unit in which the schedule writes
// it: that of the vehicle's dial.
type far struct {
	vehicle.Distance
	unit vehicle.Unit
}

// distanceOf reads a distance among the facts: "3,000 miles".
func distanceOf(r vehicle.Reason, name string) (far, bool) {
	value, unit, ok := strings.Cut(r.Fact(name), " ")
	n, err := strconv.ParseInt(strings.ReplaceAll(value, ",", ""), 10, 32)
	u, unitErr := vehicle.ParseUnit(unit)
	if !ok || err != nil || unitErr != nil {
		return far{}, false
	}
	return far{vehicle.Distance(n) * u.Distance(), u}, true
}

// exact writes an interval: as it was set, or in round figures and said to be
// so where it is told in another unit.
func (w *writer) exact(d far) string {
	if d.unit == w.locale.Unit() {
		return w.locale.Distance(d.Distance)
	}
	return w.say("distance.about", with{"distance": w.locale.About(d.Distance)})
}

// near writes a distance that is said to be about so much.
func (w *writer) near(d far) string { return w.locale.About(d.Distance) }
