package desk

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// The lines of a claim, as they are typed and as they are shown to be changed. What
// is shown reads as what it is of.

// claimPart is "2 AP-2041 at 24.50 failed lot L-77 fitted lot L-80".
var claimPart = regexp.MustCompile(`^(?:([0-9]{1,9})\s*[x×]?\s+)?(\S+)\s+(?i:at)\s+(\S+?)(?:[\s,;]+(?i:failed lot)\s+(\S+?))?(?:[\s,;]+(?i:fitted lot)\s+(\S+))?$`)

func partLines(all []*warrantyv1.ClaimPart) string {
	var lines []string
	for _, p := range all {
		line := strconv.Itoa(int(p.GetQuantity())) + " " + p.GetPart() + " at " + plainMoney(p.GetUnitPriceMinor())
		if p.GetFailedLot() != "" {
			line += " failed lot " + p.GetFailedLot()
		}
		if p.GetFittedLot() != "" {
			line += " fitted lot " + p.GetFittedLot()
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

func (t *typed) claimParts(name string) (out []*warrantyv1.ClaimPart) {
	for _, line := range t.lines(name) {
		m, quantity := claimPart.FindStringSubmatch(line), 1
		ok := m != nil
		var price int64
		if ok {
			price, ok = minorOf(m[3])
			if m[1] != "" {
				n, err := strconv.ParseInt(m[1], 10, 32)
				quantity, ok = int(n), ok && err == nil
			}
		}
		if !ok {
			t.notThis(name, line, "a part a line with the price of one, as in 2 AP-2041 at 24.50")
			continue
		}
		out = append(out, &warrantyv1.ClaimPart{Part: m[2], Quantity: int32(quantity), UnitPriceMinor: price, FailedLot: m[4], FittedLot: m[5]})
	}
	return out
}

func labourLines(all []*warrantyv1.ClaimLabour) string {
	var lines []string
	for _, l := range all {
		lines = append(lines, fmt.Sprintf("%s, %d minutes at %s", onOneLine(l.GetText()), l.GetMinutes(), plainMoney(l.GetHourlyRateMinor())))
	}
	return strings.Join(lines, "\n")
}

func (t *typed) claimLabour(name string) (out []*warrantyv1.ClaimLabour) {
	for _, line := range t.lines(name) {
		what, rate, ok := pricedAt(line)
		i := strings.LastIndex(what, ",")
		minutes := 0
		if ok = ok && i >= 0; ok {
			minutes, ok = vehicle.ParseMinutes(strings.TrimSpace(what[i+1:]))
		}
		if !ok {
			t.notThis(name, line, "work a line with how long it took and the rate of an hour, as in gearbox out and in, 300 minutes at 60.00")
			continue
		}
		out = append(out, &warrantyv1.ClaimLabour{Text: strings.TrimSpace(what[:i]), Minutes: int32(minutes), HourlyRateMinor: rate})
	}
	return out
}

func costLines(all []*warrantyv1.ClaimCost) string {
	var lines []string
	for _, c := range all {
		lines = append(lines, onOneLine(c.GetText())+" at "+plainMoney(c.GetAmountMinor()))
	}
	return strings.Join(lines, "\n")
}

func (t *typed) claimCosts(name string) (out []*warrantyv1.ClaimCost) {
	for _, line := range t.lines(name) {
		what, amount, ok := pricedAt(line)
		if !ok || what == "" {
			t.notThis(name, line, "a cost a line with its amount, as in carriage at 12.00")
			continue
		}
		out = append(out, &warrantyv1.ClaimCost{Text: what, AmountMinor: amount})
	}
	return out
}

// onOneLine is a text without the ends of its lines, which one that was not typed
// here may have: each would begin a line that is none.
func onOneLine(text string) string { return strings.ReplaceAll(text, "\n", " ") }

// pricedAt reads "something at 15.00".
func pricedAt(line string) (what string, minor int64, ok bool) {
	i := strings.LastIndex(line, " at ")
	if i < 0 {
		return "", 0, false
	}
	minor, ok = minorOf(strings.TrimSpace(line[i+len(" at "):]))
	return strings.TrimSpace(line[:i]), minor, ok
}

// notThis says of a line what it is not.
func (t *typed) notThis(name, line, want string) {
	const most = 80
	if len([]rune(line)) > most {
		line = string([]rune(line)[:most]) + "…"
	}
	t.wrong = append(t.wrong, fault.Field{Name: name, Got: line, Want: want + ": “" + line + "” is none"})
}

// How many lines of a claim, and how many of the things said to it, a page shows at
// a time: with all texts as long as they may be, it is still no heavy page.
const mostLines, mostSteps = 50, 10

// window is the part of things that the page of a claim shows, by the number in its
// address, with links to those before it and behind. What is no number of one
// of them is the first.
func (v *visit) window(thing string, all, most int) (from, to int, links []link) {
	n, err := strconv.Atoi(v.r.URL.Query().Get(thing + "s"))
	if err == nil && n > 0 && n < all {
		from = n / most * most
	}
	to = min(from+most, all)
	at := func(n int) string { return v.claimAt(v.claimName()) + "?" + thing + "s=" + strconv.Itoa(n) }
	if from > 0 {
		links = append(links, link{Label: "The " + wording.Count(most, thing) + " before", Path: at(from - most)})
	}
	if to < all {
		links = append(links, link{Label: wording.Count(all-to, "more "+thing), Path: at(to)})
	}
	return from, to, links
}

// inShort is the beginning of a text that stands whole on a page of its own.
func inShort(text string) string {
	const most = 160
	if runes := []rune(text); len(runes) > most {
		return strings.TrimSpace(string(runes[:most])) + "…"
	}
	return text
}

// plainMoney is an amount as it is typed: "24.50".
func plainMoney(minor int64) string { return fmt.Sprintf("%d.%02d", minor/100, minor%100) }
