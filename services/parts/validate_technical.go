package parts

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

var (
	identifierForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]*$`)
	wordForm       = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
)

const (
	maxIdentifier = 80
	maxExpression = 1000 // characters of an expression
	mostShims     = 12   // shims in one pack
	mostSizes     = 20   // sizes of shims
)

func (f *faults) identifier(id, form string) {
	if len(id) > maxIdentifier || !identifierForm.MatchString(id) {
		f.add("name", id, form)
	}
}

func (f *faults) word(name, text, want string) {
	if !wordForm.MatchString(text) {
		f.add(name, text, want)
	}
}

func (f *faults) position(name, position string) {
	f.word(name, position, "lower-case words joined by hyphens")
}

// decimal reads decimal text that may be empty.
func (f *faults) decimal(name, text string) (d vehicle.Decimal, ok bool) {
	if text == "" {
		return vehicle.Decimal{}, false
	}
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		f.add(name, text, "a number: digits with at most one point, as in 0.10")
		return vehicle.Decimal{}, false
	}
	return d, true
}

// Validate lists everything that is wrong with a position by itself.
func (p *Position) Validate() []fault.Field {
	var f faults
	f.position("name", p.ID)
	if strings.TrimSpace(p.Title) == "" {
		f.add("title", p.Title, "what the position is called")
	}
	f.text("title", p.Title, maxTitle)
	if p.Within != "" {
		f.position("within", p.Within)
		if p.Within == p.ID {
			f.add("within", p.Within, "another position than this one")
		}
	}
	f.once("words", p.Words)
	f.once("tools", p.Tools)
	f.text("caution", p.Caution, maxText)
	f.text("notes", p.Notes, maxText)
	return f
}

// Validate lists everything that is wrong with an application by itself.
func (a *Application) Validate() []fault.Field {
	var f faults
	f.identifier(a.ID, "applications/{application}")
	f.position("position", a.Position)
	switch {
	case a.Part != "":
		f.number("part", a.Part)
	case strings.TrimSpace(a.Text) == "":
		f.add("part", "", "a part, or in text why none is supplied")
	}
	if a.Quantity < 0 || a.Quantity > maxCount {
		f.add("quantity", strconv.Itoa(a.Quantity), fmt.Sprintf("0 to %d", maxCount))
	}
	f.text("text", a.Text, maxText)
	a.Conditions.validate(&f)
	return f
}

func (c *Conditions) validate(f *faults) {
	for _, l := range []struct {
		name string
		list []string
	}{
		{"releases", c.Releases}, {"options", c.Options}, {"without_options", c.Without}, {"markets", c.Markets},
		{"lots", c.Lots}, {"together_with", c.Together},
	} {
		f.once("conditions."+l.name, l.list)
	}
	for i, o := range c.Options {
		for _, w := range c.Without {
			if o == w {
				f.add(fmt.Sprintf("conditions.options[%d]", i), o, "an option that is not among without_options too")
			}
		}
	}
	for i, number := range c.Together {
		f.number(fmt.Sprintf("conditions.together_with[%d]", i), number)
	}
	f.text("conditions.applies_when", c.AppliesWhen, maxExpression)
	f.entries("conditions.except_serials", len(c.Except))
	if c.FirstSerial != "" && c.LastSerial != "" && compareSerials(c.FirstSerial, c.LastSerial) > 0 {
		f.add("conditions.last_serial", string(c.LastSerial), "a serial not before "+string(c.FirstSerial))
	}
	for i, s := range c.Except {
		if c.FirstSerial != "" && compareSerials(s, c.FirstSerial) < 0 || c.LastSerial != "" && compareSerials(s, c.LastSerial) > 0 {
			f.add(fmt.Sprintf("conditions.except_serials[%d]", i), string(s), "a serial within the range")
		}
	}
	if !c.BuiltFrom.IsZero() && !c.BuiltUntil.IsZero() && c.BuiltUntil.Before(c.BuiltFrom) {
		f.add("conditions.built_until_date", c.BuiltUntil.String(), "a day not before "+c.BuiltFrom.String())
	}
}

// Validate lists everything that is wrong with a setting by itself.
func (s *Setting) Validate() []fault.Field {
	var f faults
	f.identifier(s.ID, "settings/{setting}")
	f.position("position", s.Position)
	f.word("characteristic", s.Characteristic, "what is set, in lower-case words joined by hyphens: end-float")
	f.text("subject", s.Subject, maxTitle)
	f.unitOf(s.Characteristic, s.Unit)
	lower, hasLower := f.decimal("lower", s.Lower)
	upper, hasUpper := f.decimal("upper", s.Upper)
	target, hasTarget := f.decimal("target", s.Target)
	if s.Lower == "" && s.Upper == "" && s.Target == "" {
		f.add("lower", "", "a window, or at least a target")
	}
	if s.Shims == nil && hasLower && lower.Sign() < 0 && neverNegative(s.Characteristic) {
		f.add("lower", s.Lower, "0 or more, for a "+spoken(s.Characteristic))
	}
	if hasLower && hasUpper && lower.Cmp(upper) > 0 {
		f.add("upper", s.Upper, "no less than "+s.Lower)
	}
	if hasTarget && (hasLower && target.Cmp(lower) < 0 || hasUpper && target.Cmp(upper) > 0) {
		f.add("target", s.Target, "a value within the window")
	}
	for _, t := range []struct{ name, text string }{{"method", s.Method}, {"caution", s.Caution}, {"doc_ref", s.DocRef}} {
		f.text(t.name, t.text, maxText)
	}
	f.once("tools", s.Tools)
	f.sourceMark(s.SourceMark)
	s.Conditions.validate(&f)
	if s.Shims != nil {
		s.validateShims(&f, hasLower && hasUpper)
	}
	return f
}

// neverNegative says whether what is set cannot be less than nothing.
func neverNegative(characteristic string) bool {
	return strings.HasSuffix(characteristic, "torque") || strings.HasSuffix(characteristic, "pressure") || strings.HasSuffix(characteristic, "gap")
}

// countedIn are units of what is counted, which no table of units has.
var countedIn = []string{"notches", "wraps", "turns", "clicks", "true/indicated"}

// measuredIn says in which unit, or one that can be converted to it, what is
// called so is measured: the ending decides.
var measuredIn = []struct {
	ending, unit string
}{
	{"torque", "N.m"}, {"pressure", "kPa"}, {"voltage", "V"}, {"speed", "rev/min"}, {"end-float", "mm"}, {"gap", "mm"}, {"clearance", "mm"},
	{"backlash", "mm"}, {"deflection", "mm"}, {"free-play", "mm"}, {"height", "mm"}, {"run-out", "mm"}, {"thickness", "mm"},
}

// unitOf refuses a unit that nobody knows, and one that does not go with what
// is set: a torque in millimetres.
func (f *faults) unitOf(characteristic, unit string) {
	if _, known := vehicle.UnitName(unit); !known && !slices.Contains(countedIn, unit) {
		f.add("unit", unit, "a unit that is known: mm, thou, N.m, lbf.ft, kgf, psi, kPa, l, g, V, deg, %; or "+wording.List(countedIn, "or"))
		return
	}
	for _, m := range measuredIn {
		is := characteristic == m.ending || m.ending != "torque" && strings.HasSuffix(characteristic, "-"+m.ending) // a turning torque may be a pull
		if is && !vehicle.Convertible(unit, m.unit) {
			f.add("unit", unit, "a unit of a "+spoken(characteristic)+", such as "+m.unit)
		}
	}
}

func (f *faults) sourceMark(mark string) {
	switch mark {
	case "", "a", "b", "c":
	default:
		f.add("source_mark", mark, "a, b, c or nothing")
	}
}

func (s *Setting) validateShims(f *faults, window bool) {
	d := s.Shims
	if !window {
		f.add("lower", s.Lower, "a window with both ends, for a setting with shims")
	}
	if d.Sign != AddsFloat && d.Sign != TakesFloat {
		f.add("shims.sign", "", "ADDS_FLOAT or TAKES_FLOAT")
	}
	if load, ok := f.decimal("shims.load_per_mm", d.LoadPerMM); ok && load.Sign() <= 0 {
		f.add("shims.load_per_mm", d.LoadPerMM, "more than 0")
	}
	if s.Unit != "" && vehicle.Convertible(s.Unit, "mm") == (d.LoadPerMM != "") {
		f.add("shims.load_per_mm", d.LoadPerMM, "a load for each millimetre where the setting is a load, and nothing where it is a length")
	}
	if d.Largest < 0 || d.Largest > mostShims {
		f.add("shims.largest_count", strconv.Itoa(d.Largest), fmt.Sprintf("0 to %d", mostShims))
	}
	if len(d.Sizes) > mostSizes {
		f.add("shim_sizes", fmt.Sprintf("%d sizes", len(d.Sizes)), fmt.Sprintf("at most %d", mostSizes))
	}
	for i, size := range d.Sizes {
		at := fmt.Sprintf("shim_sizes[%d]", i)
		if size.Thickness.Value.Sign() <= 0 || !vehicle.Convertible(size.Thickness.Unit, "mm") {
			f.add(at+".thickness", size.Thickness.String(), "a thickness: 0.13 mm, 5 thou")
		}
		if size.Part != "" {
			f.number(at+".part", size.Part)
		}
		if size.Stock < 0 {
			f.add(at+".stock", strconv.Itoa(size.Stock), "0 or more")
		}
	}
}

// Validate lists everything that is wrong with a capacity by itself.
func (c *Capacity) Validate() []fault.Field {
	var f faults
	f.identifier(c.ID, "capacities/{capacity}")
	f.position("position", c.Position)
	if strings.TrimSpace(c.Fluid) == "" {
		f.add("fluid", c.Fluid, "class and grade: SAE 80W-90 API GL-5")
	}
	f.text("fluid", c.Fluid, maxTitle)
	f.word("family", c.Family, "one word for its kind, as brake-fluid-glycol")
	if c.Quantity.Value.Sign() <= 0 {
		f.add("quantity", c.Quantity.String(), "how much: 1.4 l")
	}
	if q := c.Quantity; q.Value.Sign() > 0 && !vehicle.Convertible(q.Unit, "l") && !vehicle.Convertible(q.Unit, "g") {
		f.add("quantity", q.String(), "a volume or a mass: 1.4 l, 330 g")
	}
	f.once("never_mix", c.NeverMix)
	for i, m := range c.NeverMix {
		at := fmt.Sprintf("never_mix[%d]", i)
		f.word(at, m, "the family of a fluid")
		if m == c.Family {
			f.add(at, m, "another family than its own")
		}
	}
	for _, t := range []struct{ name, text string }{{"method", c.Method}, {"caution", c.Caution}, {"doc_ref", c.DocRef}} {
		f.text(t.name, t.text, maxText)
	}
	f.sourceMark(c.SourceMark)
	c.Conditions.validate(&f)
	return f
}
