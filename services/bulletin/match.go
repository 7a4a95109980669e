package bulletin

import (
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// MatchState is whether a bulletin is for a vehicle. Its numbers are those of
// the API's enumeration.
type MatchState int

// The answers.
const (
	NoMatchState MatchState = iota
	In                      // it is
	Unknown                 // it cannot be told from what is on record; on the list until somebody has looked
	Near                    // it is not, but all conditions save one hold, or it is close
	Out                     // it is not
)

// OnList says whether a vehicle of this state belongs on the list of a
// campaign: what cannot be told is looked at.
func (s MatchState) OnList() bool { return s == In || s == Unknown }

// Match is whether a bulletin is for a vehicle.
type Match struct {
	Serial  vehicle.Serial
	State   MatchState
	Reasons []vehicle.Reason // for staff, what decides first
	Cure    *Cure            // the vehicle has the remedy's parts; it is in the set none the less
}

// Sentence is the reasons in one text.
func (m *Match) Sentence() string {
	texts := make([]string, len(m.Reasons))
	for i := range m.Reasons {
		texts[i] = m.Reasons[i].Sentence
	}
	return strings.Join(texts, " ")
}

// Cure is the remedy as the build record shows it: units that a campaign
// fitted, of the parts that the remedy names, none of which the bulletin is
// about.
type Cure struct {
	Date   vehicle.Date // of the last of them
	Record string       // resource name of that change
	Parts  []PartUsed
}

// Ready is a set made ready to be judged; safe for concurrent use.
type Ready struct {
	bulletin       Bulletin
	listed, except map[vehicle.Serial]bool
	when           *node         // nil for a list alone
	units          []*fittedTest // that the set is about: not those that rule vehicles out
}

// Prepare makes a version ready to be judged. Only set and remedy are looked
// at, so that a draft can be previewed. The error names every wrong field
// ("set.condition.all.conditions[1].expression").
func Prepare(b Bulletin, compiler vehicle.PredicateCompiler) (*Ready, error) {
	c := compiling{compiler: compiler, remedy: map[string]bool{}}
	for _, item := range b.Remedy {
		for _, p := range item.Parts {
			c.remedy[build.Fold(p.Part)] = true
		}
	}
	r := &Ready{bulletin: b, listed: serialSet(b.Set.Serials), except: serialSet(b.Set.Except)}
	r.when = c.set(&b.Set)
	if err := c.err(); err != nil {
		return nil, err
	}
	r.units = c.units
	return r, nil
}

func serialSet(serials []vehicle.Serial) map[vehicle.Serial]bool {
	set := make(map[vehicle.Serial]bool, len(serials))
	for _, s := range serials {
		set[s] = true
	}
	return set
}

// Match judges one vehicle of a fleet; false when it has none of that serial.
func (r *Ready) Match(f *Fleet, serial vehicle.Serial) (Match, bool) {
	s := f.find(serial)
	if s == nil {
		return Match{}, false
	}
	return r.match(s, true), true
}

// state judges without reasons.
func (r *Ready) state(s *subject) MatchState {
	switch {
	case r.except[s.Serial]:
		return Out
	case r.listed[s.Serial]:
		return In
	case r.when == nil:
		return Out
	}
	switch r.when.judge(s) {
	case yes:
		return In
	case unknown:
		return Unknown
	}
	return Out
}

// match judges with reasons. Of what is out it gives all conditions that fail,
// or, unless whole, the first of them.
func (r *Ready) match(s *subject, whole bool) Match {
	m := Match{Serial: s.Serial, State: r.state(s)}
	decided := func(rule, sentence string) Match {
		m.Reasons = append(m.Reasons, vehicle.Reason{Rule: rule, Record: r.bulletin.Name(), Sentence: sentence})
		return m
	}
	if m.State.OnList() {
		m.Cure = r.cure(s)
	}
	switch {
	case r.except[s.Serial]:
		return decided("SET_EXCEPTED", "The bulletin excepts it by its serial.")
	case r.listed[s.Serial]:
		return decided("SET_LISTED", "It is on the list of the bulletin.")
	case r.when == nil:
		return decided("SET_NOT_LISTED", "It is not on the list of the bulletin.")
	}
	is := no
	switch m.State {
	case In:
		is = yes
	case Unknown:
		is = unknown
	case Out:
		if near, ok := r.when.near(s); ok {
			m.State, m.Reasons = Near, []vehicle.Reason{near.reason(s)}
			return m
		}
	}
	for _, g := range r.when.grounds(s, is, false, nil) {
		m.Reasons = append(m.Reasons, g.reason(s))
		if is == no && !whole {
			break
		}
	}
	return m
}

// cure finds the remedy on a vehicle: at each place that the remedy names, a
// unit of its part that a campaign fitted and that the bulletin is not itself
// about. nil where one is missing, or the remedy names no place.
func (r *Ready) cure(s *subject) *Cure {
	var c Cure
	for _, item := range r.bulletin.Remedy {
		for _, want := range item.Parts {
			if want.Position == "" {
				continue
			}
			p := r.cured(s, want)
			if p == nil {
				return nil
			}
			c.Parts = append(c.Parts, PartUsed{Part: p.Part, Lot: p.Lot, Position: p.Position, Quantity: want.Quantity})
			if !p.From.Before(c.Date) {
				c.Date, c.Record = p.From, p.Began
			}
		}
	}
	if len(c.Parts) == 0 {
		return nil
	}
	return &c
}

func (r *Ready) cured(s *subject, want RemedyPart) *piece {
	part := build.Fold(want.Part)
	for i := range s.pieces {
		p := &s.pieces[i]
		if p.Position == want.Position && p.Until.IsZero() && p.Origin == build.FromCampaign && p.part == part && !r.about(p) {
			return p
		}
	}
	return nil
}

// about says whether the set is certainly about a unit.
func (r *Ready) about(p *piece) bool {
	return slices.ContainsFunc(r.units, func(t *fittedTest) bool { return t.unit(p) == yes })
}

// Members gives the serials that belong on the list of a campaign: in the set,
// or not to be told. Sorted.
func (r *Ready) Members(f *Fleet) []vehicle.Serial {
	var members []vehicle.Serial
	for i := range f.subjects {
		if r.state(&f.subjects[i]).OnList() {
			members = append(members, f.subjects[i].Serial)
		}
	}
	return members
}
