package enquiry

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// Workshop is an organisation that can do work.
type Workshop struct {
	Organisation string // "organisations/ferncombe"
	Title        string // "Ferncombe Garage"
	Closed       bool
	Country      string // ISO 3166-1 alpha-2; empty where it is not known
	Place        *Place // nil where it is not known
}

// Worked is a visit that stands on record: who did the work, and when.
type Worked struct {
	Record       string // the service entry
	Organisation string // of the account that recorded it; empty for staff and owners
	DoneBy       string // as written
	Day          vehicle.Date
}

// Assigned is an assignment that is open.
type Assigned struct {
	Record, Organisation string
	Last                 vehicle.Date
}

// Seeking is what an answer about who can do the work rests on.
type Seeking struct {
	Visits   []Worked // the last ones, in any order
	Assigned []Assigned
	Works    string       // how the works itself is called; it is no organisation
	Near     *Place       // where the caller is; nil where they did not say
	NearName string       // as what that is known: "Ferncombe"
	Country  string       // the owner's, ISO 3166-1 alpha-2; empty where it is not known
	Abroad   string       // how that country is called: "the United Kingdom"
	Unit     vehicle.Unit // the reader's
}

// Ground is why a workshop stands where it does.
type Ground uint8

// The grounds, in the order of the answer. Their numbers are those of the API's
// enumeration.
const (
	NoGround Ground = iota
	Visited
	AssignedNow
	Near
	SameCountry
	OnRecord
)

// Candidate is a workshop in the answer.
type Candidate struct {
	Workshop
	Ground   Ground
	Why      vehicle.Reason
	Far      bool             // whether Distance is known
	Distance vehicle.Distance // along the great circle
}

// Candidates gives those who can do the work, the first to name first: who did
// the last visits, the latest first; then who has the vehicle assigned now; then
// who is near the caller, the nearest first, or where no place is known who is
// in the owner's country; then all others. Within one of these the nearest is
// first where distances are known. Nobody is named twice, and nobody who is
// closed.
func (s Seeking) Candidates(all []Workshop) []Candidate {
	type ranked struct {
		Candidate
		day vehicle.Date // of the last visit
	}
	var out []ranked
	for _, w := range all {
		if w.Closed {
			continue
		}
		c := ranked{Candidate: Candidate{Workshop: w}}
		if s.Near != nil && w.Place != nil {
			c.Far, c.Distance = true, GreatCircle(*s.Near, *w.Place)
		}
		if visit, ok := s.lastBy(w); ok {
			c.day = visit.Day
		}
		c.Ground, c.Why = s.ground(c.Candidate)
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b ranked) int {
		return cmp.Or(
			cmp.Compare(a.Ground, b.Ground), b.day.Compare(a.day), farther(a.Candidate, b.Candidate),
			strings.Compare(a.Title, b.Title), strings.Compare(a.Organisation, b.Organisation))
	})
	candidates := make([]Candidate, len(out))
	for i, c := range out {
		candidates[i] = c.Candidate
	}
	return candidates
}

// farther orders by distance; who is at a distance that nobody knows is last.
func farther(a, b Candidate) int {
	switch {
	case a.Far && b.Far:
		return cmp.Compare(a.Distance, b.Distance)
	case a.Far:
		return -1
	case b.Far:
		return 1
	}
	return 0
}

// ground decides why a workshop is named, and says so.
func (s Seeking) ground(c Candidate) (Ground, vehicle.Reason) {
	if visit, ok := s.lastBy(c.Workshop); ok {
		return Visited, because("DID_LAST_VISITS", visit.Record, s.visitedWords(c.Workshop, visit), vehicle.Fact{Name: "service_date", Value: visit.Day.String()})
	}
	for _, a := range s.Assigned {
		if a.Organisation == c.Organisation {
			return AssignedNow, because("ASSIGNED_NOW", a.Record, "The vehicle is assigned to them until "+a.Last.Long()+".", vehicle.Fact{Name: "last_date", Value: a.Last.String()})
		}
	}
	switch {
	case c.Far:
		text := c.Distance.Text(s.Unit)
		return Near, because("NEAR", c.Organisation, fmt.Sprintf("It is about %s from %s as the crow flies.", text, cmp.Or(s.NearName, "the place asked about")),
			vehicle.Fact{Name: "distance", Value: text})
	case c.Country != "" && c.Country == s.Country:
		return SameCountry, because("SAME_COUNTRY", c.Organisation, "It is in "+cmp.Or(s.Abroad, s.Country)+", where the owner lives."+s.unplaced(),
			vehicle.Fact{Name: "country", Value: c.Country})
	case s.Near != nil:
		return OnRecord, because("PLACE_UNKNOWN", c.Organisation, "It is on record, but not where it is: how far away nobody knows.")
	case c.Country != "" && s.Country != "":
		return OnRecord, because("OTHER_COUNTRY", c.Organisation, "It is on record, in another country than the owner.", vehicle.Fact{Name: "country", Value: c.Country})
	}
	return OnRecord, because("ON_RECORD", c.Organisation, "It is on record; nothing is known that would put it nearer than another.")
}

// unplaced says of a workshop in the owner's country that its place is not on
// record, when a place was asked about.
func (s Seeking) unplaced() string {
	if s.Near == nil {
		return ""
	}
	return " How far away nobody knows."
}

func because(rule, record, sentence string, facts ...vehicle.Fact) vehicle.Reason {
	return vehicle.Reason{Rule: rule, Facts: facts, Record: record, Sentence: sentence}
}

func (s Seeking) visitedWords(w Workshop, last Worked) string {
	n := 0
	for _, v := range s.Visits {
		if v.by(w) {
			n++
		}
	}
	if n == 1 {
		return "They did the visit of " + last.Day.Long() + "."
	}
	return fmt.Sprintf("They did %d of the last %d visits, the latest on %s.", n, len(s.Visits), last.Day.Long())
}

// lastBy gives the latest of the visits that a workshop did.
func (s Seeking) lastBy(w Workshop) (Worked, bool) {
	var last Worked
	found := false
	for _, v := range s.Visits {
		if v.by(w) && (!found || v.Day.After(last.Day)) {
			last, found = v, true
		}
	}
	return last, found
}

// by reports whether a workshop did the work: by who recorded it, and where that
// is no organisation by the name that was written.
func (v Worked) by(w Workshop) bool {
	if v.Organisation != "" {
		return v.Organisation == w.Organisation
	}
	return v.DoneBy != "" && alike(v.DoneBy, w.Title)
}

// alike reports whether two names are one, but for capitals and spaces.
func alike(a, b string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
}

// Notes says what is not known of who can do the work: who did the last visits
// and cannot be named.
func (s Seeking) Notes(all []Workshop) []string {
	var out []string
	latest := slices.SortedStableFunc(slices.Values(s.Visits), func(a, b Worked) int { return b.Day.Compare(a.Day) })
	for _, v := range latest {
		if v.Organisation == "" && v.DoneBy == "" {
			continue
		}
		at := slices.IndexFunc(all, v.by)
		note := ""
		switch {
		case at >= 0 && all[at].Closed:
			note = all[at].Title + " did work on one of the last visits, and is closed."
		case at < 0 && v.DoneBy != "" && alike(v.DoneBy, s.Works):
			note = "The works itself did work on one of the last visits."
		case at < 0 && v.DoneBy != "":
			note = v.DoneBy + " did work on one of the last visits, and is not among the organisations on record: nothing here says how to reach them."
		}
		if note != "" && !slices.Contains(out, note) {
			out = append(out, note)
		}
	}
	if !slices.ContainsFunc(all, func(w Workshop) bool { return !w.Closed }) {
		out = append(out, "There is no workshop on record that could be named.")
	}
	return out
}

// Question gives what to ask the caller, where the answer would name somebody
// nearer; false where nothing is to be asked.
func (s Seeking) Question(candidates []Candidate) (Ask, bool) {
	if s.Near != nil || len(candidates) > 0 && candidates[0].Ground <= AssignedNow {
		return Ask{}, false
	}
	return ask("Where is the vehicle: near which town?", "PLACE_UNKNOWN", "", "No workshop that knows it is on record; who is near can be said once the place is known."), true
}
