package parts

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var positionForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

const (
	maxTitle   = 200   // characters of a title
	maxText    = 4000  // characters of notes, cautions, texts
	maxEntries = 200   // of any list of a record
	maxCount   = 10000 // pieces in one line
)

// faults collects what is wrong with a record.
type faults []fault.Field

func (f *faults) add(name, got, want string) {
	*f = append(*f, fault.Field{Name: name, Got: got, Want: want})
}

func (f *faults) text(name, text string, most int) {
	if fault.Longer(text, most) {
		f.add(name, fault.Length(text), fault.AtMost(most))
	}
}

func (f *faults) number(name, number string) {
	if !wellFormedNumber(number) {
		f.add(name, number, fmt.Sprintf("a part number: up to %d letters, digits, hyphens, dots", maxNumber))
	}
}

func (f *faults) lines(name string, lines []Line, self string) {
	f.entries(name, len(lines))
	for i, l := range lines {
		at := fmt.Sprintf("%s[%d]", name, i)
		f.number(at+".part", l.Part)
		if l.Quantity < 0 || l.Quantity > maxCount {
			f.add(at+".quantity", strconv.Itoa(l.Quantity), fmt.Sprintf("0 to %d", maxCount))
		}
		if l.Part == self && self != "" {
			f.add(at+".part", l.Part, "another part than this one")
		}
		if slices.ContainsFunc(lines[:i], func(other Line) bool { return other.Part == l.Part }) {
			f.add(at+".part", l.Part, "each part once")
		}
	}
}

func (f *faults) entries(name string, n int) {
	if n > maxEntries {
		f.add(name, fmt.Sprintf("%d entries", n), fmt.Sprintf("at most %d", maxEntries))
	}
}

func (f *faults) once(name string, list []string) {
	f.entries(name, len(list))
	for i, s := range list {
		switch {
		case s == "":
			f.add(fmt.Sprintf("%s[%d]", name, i), s, "something")
		case fault.Longer(s, maxTitle):
			f.add(fmt.Sprintf("%s[%d]", name, i), fault.Length(s), fault.AtMost(maxTitle))
		case slices.Contains(list[:i], s):
			f.add(fmt.Sprintf("%s[%d]", name, i), s, "each once")
		}
	}
}

// Validate lists everything that is wrong with a part by itself, by the paths
// of its fields in the API. What it names elsewhere is for Check.
func (p *Part) Validate() []fault.Field {
	var f faults
	f.number("name", p.Number)
	if strings.TrimSpace(p.Title) == "" {
		f.add("title", p.Title, "what is printed on the label")
	}
	f.text("title", p.Title, maxTitle)
	f.text("caution", p.Caution, maxText)
	f.text("notes", p.Notes, maxText)
	f.once("words", p.Words)
	f.once("positions", p.Positions)
	f.once("releases", p.Releases)
	f.once("traits", p.Traits)
	f.once("other_numbers", p.OtherNumbers)
	for i, n := range p.OtherNumbers {
		if n != "" && NormalNumber(n) == "" {
			f.add(fmt.Sprintf("other_numbers[%d]", i), n, "a number with letters or digits")
		}
	}
	if p.Weight != (vehicle.Quantity{}) && p.Weight.Value.Sign() <= 0 {
		f.add("weight", p.Weight.String(), "more than nothing: 0.12 kg")
	}
	f.entries("dimensions", len(p.Dimensions))
	for i, d := range p.Dimensions {
		if strings.TrimSpace(d.Title) == "" || strings.TrimSpace(d.Size) == "" {
			f.add(fmt.Sprintf("dimensions[%d]", i), d.Title+" "+d.Size, "what is measured and its size: length, 52 mm")
		}
	}
	for i, position := range p.Positions {
		if !positionForm.MatchString(position) {
			f.add(fmt.Sprintf("positions[%d]", i), position, "lower-case words joined by hyphens")
		}
	}
	p.validateHand(&f)
	if p.Minimum < 0 || p.Minimum > maxCount {
		f.add("minimum_quantity", strconv.Itoa(p.Minimum), fmt.Sprintf("0 to %d", maxCount))
	}
	if p.Status <= StatusUnspecified || p.Status > Unavailable {
		f.add("status", "", "ORDERABLE, USE_UP or UNAVAILABLE")
	}
	f.lines("contents", p.Contents, p.Number)
	f.lines("renew_with", p.RenewWith, p.Number)
	return f
}

// validateHand refuses a left part that stands on the right.
func (p *Part) validateHand(f *faults) {
	if p.Hand < EitherHand || p.Hand > Right {
		f.add("hand", strconv.Itoa(int(p.Hand)), "HAND_LEFT, HAND_RIGHT or nothing")
		return
	}
	wrong := opposite[p.Hand.String()]
	for i, position := range p.Positions {
		if wrong != "" && hasWord(position, wrong) && !hasWord(position, p.Hand.String()) {
			f.add(fmt.Sprintf("positions[%d]", i), position, "a position on the "+p.Hand.String()+", as the hand says")
		}
	}
}

// Validate lists everything that is wrong with a supersession by itself.
func (s *Supersession) Validate() []fault.Field {
	var f faults
	if s.ID == "" {
		f.add("name", s.ID, "supersessions/{supersession}")
	}
	f.number("old_part", s.Old)
	if len(s.New) == 0 {
		f.add("new_parts", "", "what takes its place")
	}
	f.lines("new_parts", s.New, "")
	for i, l := range s.New {
		if l.Part == s.Old {
			f.add(fmt.Sprintf("new_parts[%d].part", i), l.Part, "another part than the old one")
		}
	}
	if s.TwoWay && len(s.New) > 1 {
		f.add("two_way", "true", "one new part: a part that was split cannot stand in for the several")
	}
	f.once("also_old_parts", s.AlsoOld)
	for i, number := range s.AlsoOld {
		at := fmt.Sprintf("also_old_parts[%d]", i)
		f.number(at, number)
		if number == s.Old || slices.ContainsFunc(s.New, func(l Line) bool { return l.Part == number }) {
			f.add(at, number, "a further part that goes")
		}
	}
	if s.TwoWay && s.OldStock == Scrapped {
		f.add("old_stock", "SCRAP", "another fate, for two-way says that the old part may still be fitted")
	}
	if s.TwoWay && len(s.AlsoOld) > 0 {
		f.add("two_way", "true", "one old part: none of several that were merged can stand in for the whole")
	}
	if s.OldStock < OldStockUnsaid || s.OldStock > Kept {
		f.add("old_stock", strconv.Itoa(int(s.OldStock)), "USE_UP, REWORK, SCRAP, KEEP or nothing")
	}
	f.once("releases", s.Releases)
	f.once("together_with", s.Together)
	for i, number := range s.Together {
		f.number(fmt.Sprintf("together_with[%d]", i), number)
		if number == s.Old {
			f.add(fmt.Sprintf("together_with[%d]", i), number, "another part than the old one")
		}
	}
	f.text("text", s.Text, maxText)
	return f
}
