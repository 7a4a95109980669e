package schedule

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// EarlierWork is an item done to a unit before it came to the position where it
// stands now.
type EarlierWork struct {
	Item     string // of the same programme
	Date     vehicle.Date
	Position string           // where the unit stood then
	Vehicle  string           // serial of the vehicle in which it stood; empty for this one
	Record   string           // resource name of the entry
	Since    vehicle.Distance // true distance that the unit went from then until it came here
}

// arrival is how a unit came that was bedded in elsewhere.
type arrival struct {
	from    string        // serial of the vehicle that it was moved from; empty where that is not on record
	earlier []EarlierWork // what counts as doing the item, in order of time
}

// arrivalOf finds what was done to a unit before it came that counts as doing an
// item. What was done where the item does not look counts for nothing: the oil
// of the front axle is not that of the rear.
func (p *Plan) arrivalOf(n uint16, comp *Component) *arrival {
	a := &arrival{from: comp.CameFrom}
	it := &p.items[n]
	for _, w := range comp.Earlier {
		if i, ok := p.index[w.Item]; ok && slices.Contains(it.doneBy, i) && it.Covers(w.Position) && w.Date.Before(comp.Fitted) {
			a.earlier = append(a.earlier, w)
		}
	}
	slices.SortFunc(a.earlier, func(x, y EarlierWork) int {
		return cmp.Or(x.Date.Compare(y.Date), cmp.Compare(y.Since, x.Since), cmp.Compare(x.Record, y.Record))
	})
	return a
}

// lastOnUnit is when an item was last done to the unit that stands there now:
// here since it came, or else before it came.
func (e *evaluation) lastOnUnit(fit *Fit, s *Status) {
	if s.lastDone >= fit.came {
		return
	}
	s.lastDone, s.entry = noDay, -1
	if a := fit.arrival; a != nil && len(a.earlier) > 0 {
		s.earlier = &a.earlier[len(a.earlier)-1]
		s.lastDone = dayOf(s.earlier.Date)
	}
}

// Earlier is the work that the round is counted from or that was the last of
// its kind, where it was done to the unit before it came here; nil else.
func (s *Status) Earlier() *EarlierWork { return s.earlier }

// where says where the unit stood at an earlier work, as of a place: " in
// AM0120A".
func (w *EarlierWork) where() string {
	if w.Vehicle != "" {
		return " in " + w.Vehicle
	}
	return " at the " + strings.ReplaceAll(w.Position, "-", " ")
}

// arrived says that a unit came from elsewhere, and what is known of what was
// done to it before; empty for a unit that was bedded in here.
func (x explainer) arrived() string {
	fit := x.st.fit
	if fit == nil || fit.arrival == nil || x.st.basis == basisDone && x.st.earlier == nil {
		return ""
	}
	text := " The unit came here on " + fit.fitted.date().Long()
	if fit.arrival.from != "" {
		text += " from " + fit.arrival.from
	}
	switch {
	case x.st.earlier != nil:
		return text + "."
	case fit.arrival.from != "":
		return text + ", where no such work on it is on record."
	}
	return text + ", and what was done to it before is not on record here."
}
