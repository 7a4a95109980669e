package bulletin

import (
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/wording"
)

// fittedTest looks for a unit. Its numbers are compared folded, for spaces and
// hyphens come and go when a number is stamped, typed and read out.
type fittedTest struct {
	*FittedUnit
	parts, lots, serials map[string]bool
	remedy               map[string]bool // the parts of the remedy, folded
}

func newFittedTest(f *FittedUnit, remedy map[string]bool) *fittedTest {
	return &fittedTest{f, folded(f.Parts), folded(f.Lots), folded(f.Serials), remedy}
}

func folded(texts []string) map[string]bool {
	set := make(map[string]bool, len(texts))
	for _, t := range texts {
		set[build.Fold(t)] = true
	}
	return set
}

func (t *fittedTest) rule() string { return "FITTED" }

// judge is yes where one unit meets all that is asked; unknown where none does
// but of one it is not on record; no where the records rule each of them out.
func (t *fittedTest) judge(s *subject) truth {
	found := no
	for i := range s.pieces {
		if p := &s.pieces[i]; t.looksAt(p) {
			if found = max(found, t.unit(p)); found == yes {
				return yes
			}
		}
	}
	return found
}

// looksAt says whether the time of a stay counts. What a campaign took off to
// fit a part of this remedy counts as if it still stood there: a vehicle that
// was put right stays in the set.
func (t *fittedTest) looksAt(p *piece) bool {
	return t.Ever || p.Until.IsZero() || p.replacedBy != "" && t.remedy[p.replacedBy]
}

// unit says whether a unit meets all that is asked but the time.
func (t *fittedTest) unit(p *piece) truth {
	if t.Position != "" && p.Position != t.Position {
		return no
	}
	return min(among(t.parts, p.part), among(t.lots, p.lot), among(t.serials, p.serial))
}

// among says whether a number is one of those wanted; an empty one is not on
// record.
func among(wanted map[string]bool, number string) truth {
	switch {
	case len(wanted) == 0:
		return yes
	case number == "":
		return unknown
	}
	return truthOf(wanted[number])
}

// best gives the stay that decides: the first of the truth that the vehicle
// has, one that stands there before one that is gone; nil where none does.
func (t *fittedTest) best(s *subject) *piece {
	is := t.judge(s)
	if is == no {
		return nil
	}
	var found *piece
	for i := range s.pieces {
		p := &s.pieces[i]
		if t.looksAt(p) && t.unit(p) == is && (found == nil || !found.Until.IsZero() && p.Until.IsZero()) {
			found = p
		}
	}
	return found
}

func (t *fittedTest) fact(s *subject) string {
	p := t.best(s)
	switch {
	case p != nil && t.unit(p) == unknown:
		return t.stands(p) + ", and its " + t.silent(p) + " is not on record"
	case p != nil:
		return t.stands(p)
	}
	if gone := t.gone(s); gone != nil {
		return t.stands(gone)
	}
	if next, _ := t.nextLot(s); next != nil {
		return t.stands(next)
	}
	return t.absent(s)
}

// stands says where a unit stands, or stood, and where it came from and went.
func (t *fittedTest) stands(p *piece) string {
	from := ""
	if p.CameFrom != "" {
		from = ", moved from " + string(p.CameFrom)
	}
	at := spoken(p.Position)
	if p.Until.IsZero() {
		return p.unit() + " has stood at the " + at + " since " + p.From.Long() + from
	}
	text := p.unit() + " stood at the " + at + " from " + p.From.Long() + " to " + p.Until.Long() + from
	switch {
	case p.WentTo != "":
		text += ", and was moved to " + string(p.WentTo)
	case p.ByCampaign:
		text += ", when a campaign replaced it"
	}
	return text
}

// silent says what is not on record of a unit.
func (t *fittedTest) silent(p *piece) string {
	var words []string
	if among(t.parts, p.part) == unknown {
		words = append(words, "part number")
	}
	if among(t.lots, p.lot) == unknown {
		words = append(words, "lot")
	}
	if among(t.serials, p.serial) == unknown {
		words = append(words, "serial")
	}
	return wording.List(words, "and")
}

// absent says what stands there instead.
func (t *fittedTest) absent(s *subject) string {
	for i := range s.pieces {
		p := &s.pieces[i]
		if t.Position != "" && p.Position == t.Position && p.Until.IsZero() {
			return t.stands(p)
		}
	}
	if t.Position != "" {
		return "Nothing stands at the " + spoken(t.Position)
	}
	return "It has no " + t.described()
}

// described is the unit that is looked for: "AP-2041 of lot L07 at the gearbox".
func (t *fittedTest) described() string {
	text := wording.List(t.Parts, "or")
	if text == "" {
		text = "a unit"
	}
	if len(t.Lots) > 0 {
		text += " of lot " + wording.List(t.Lots, "or")
	}
	if len(t.Serials) > 0 {
		text += " with serial " + wording.List(t.Serials, "or")
	}
	if t.Position != "" {
		text += " at the " + spoken(t.Position)
	}
	return text
}

func (t *fittedTest) wanted() string {
	if t.Ever {
		return "that have or had " + t.described()
	}
	return "that have " + t.described()
}

// off says how a vehicle misses the unit: it had it, or has its neighbour by
// lot.
func (t *fittedTest) off(s *subject) (string, bool) {
	if t.gone(s) != nil {
		return "so that it had the unit and has it no longer", true
	}
	if p, by := t.nextLot(s); p != nil {
		return by, true
	}
	return "", false
}

// gone gives the stay of such a unit that is over, where only what stands there
// counts; nil for none.
func (t *fittedTest) gone(s *subject) *piece {
	for i := range s.pieces {
		if p := &s.pieces[i]; !t.looksAt(p) && !p.Continues && t.unit(p) == yes {
			return p
		}
	}
	return nil
}

// nextLot gives a unit that only its lot rules out, where that is next to one
// of those wanted; nil for none.
func (t *fittedTest) nextLot(s *subject) (*piece, string) {
	for i := range s.pieces {
		p := &s.pieces[i]
		if !t.looksAt(p) || p.lot == "" || t.Position != "" && p.Position != t.Position ||
			among(t.parts, p.part) != yes || among(t.serials, p.serial) != yes {
			continue
		}
		for _, lot := range t.Lots {
			if n, ok := apart(build.Fold(lot), p.lot); ok && n != 0 && max(n, -n) <= closeLots {
				return p, "next to lot " + lot
			}
		}
	}
	return nil, ""
}

func (t *fittedTest) record(s *subject) string {
	for _, p := range []*piece{t.best(s), t.gone(s)} {
		switch {
		case p == nil:
		case p.Ended != "":
			return p.Ended
		case p.Began != "":
			return p.Began
		}
	}
	return build.Name(s.Serial)
}

// loose says whether a unit that this is about stands on no vehicle.
func (t *fittedTest) loose(p *piece, f *Fleet) (certain, is bool) {
	if p.Until.IsZero() || p.Continues || p.WentTo != "" || p.serial != "" && f.standing[p.serial] {
		return false, false
	}
	found := t.unit(p)
	return found == yes, found != no
}

// Sentence says where it was last.
func (u *LooseUnit) Sentence() string {
	p := piece{Stay: &u.Unit}
	var b strings.Builder
	b.WriteString(p.unit())
	b.WriteString(" was taken off the " + spoken(u.Unit.Position) + " of " + string(u.Last) + " on " + u.Unit.Until.Long())
	if u.Unit.ByCampaign {
		b.WriteString(" by a campaign")
	}
	b.WriteString(" and is on no vehicle on record: look for it on the shelf")
	if !u.Certain {
		b.WriteString("; whether it is one of these is not on record")
	}
	return b.String() + "."
}

// quantity is a number of pieces, at least 1.
func (p PartUsed) quantity() int { return max(p.Quantity, 1) }

func (p PartUsed) String() string {
	text := p.Part
	if p.quantity() > 1 {
		text = strconv.Itoa(p.quantity()) + " of " + text
	}
	if p.Lot != "" {
		text += " of lot " + p.Lot
	}
	return text
}
