package trend

import (
	"cmp"
	"slices"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Value is one measured value.
type Value struct {
	Date       vehicle.Date
	Quantity   vehicle.Quantity
	Instrument string // empty when not recorded
	MeasuredBy string
	Record     string // resource name of the build or the service entry
	Item       string // item of the programme that it was measured for; empty at the build
	Distance   vehicle.Distance
	Known      bool                    // whether Distance is: somebody read the dial then
	Limit      *schedule.MeasuredLimit // the window that held then; nil for none
	Stage      Stage                   // as found or as left, where the day renewed something
}

// Stage says when on its day a value was measured, where the component was
// renewed on that day.
type Stage uint8

// The stages.
const (
	SomeTime Stage = iota // not on record
	AsFound               // before
	AsLeft                // after
)

// Break is a day on which the quantity began anew: the component was changed,
// overhauled, or renewed at a service.
type Break struct {
	Date   vehicle.Date
	Record string // resource name of the change or the service entry
	What   string // as a clause: "the output-shaft-bearing was overhauled"
	// The packs of shims that set the quantity before and since, where another
	// was fitted that day; each zero where nobody wrote it down.
	PackBefore, PackAfter vehicle.Quantity
}

// Series is one quantity of one vehicle over time. Values and breaks may come
// in any order.
type Series struct {
	Position       string // empty for the vehicle as a whole
	Characteristic string
	Values         []Value
	Breaks         []Break
	Limit          *schedule.MeasuredLimit // the window today; nil when there is none
	Dial           vehicle.Unit            // in which the vehicle counts; only for sentences
}

// rank is the order of the stages of one day. What may be of before or after
// stands between the two.
func (s Stage) rank() int {
	switch s {
	case AsFound:
		return 0
	case AsLeft:
		return 2
	}
	return 1
}

// Sort puts the values and breaks into order: by day, as found before as left,
// then by what they say, so that the order in which records were kept changes
// nothing.
func (s *Series) Sort() {
	slices.SortFunc(s.Values, func(a, b Value) int {
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.Stage.rank(), b.Stage.rank()), cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Record, b.Record),
			cmp.Compare(a.Item, b.Item), cmp.Compare(a.Quantity.String(), b.Quantity.String()))
	})
	slices.SortFunc(s.Breaks, func(a, b Break) int {
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.Record, b.Record), cmp.Compare(a.What, b.What))
	})
}

// Unit is the unit that the series is reckoned in: that of its window, or else
// of its latest value.
func (s *Series) Unit() string {
	if s.Limit != nil {
		return s.Limit.Unit
	}
	latest := Value{}
	for _, v := range s.Values {
		if latest.Date.IsZero() || v.Date.After(latest.Date) || v.Date == latest.Date && v.Quantity.Unit > latest.Quantity.Unit {
			latest = v
		}
	}
	return latest.Quantity.Unit
}

// LastBreak is the last break by a day; false when there was none.
func (s *Series) LastBreak(on vehicle.Date) (Break, bool) {
	var last Break
	for _, b := range s.Breaks {
		if !b.Date.After(on) && (last.Date.IsZero() || b.Date.Compare(last.Date) > 0) {
			last = b
		}
	}
	return last, !last.Date.IsZero()
}

// Unclear says whether a value was measured on the day of a break and may be
// from before it or after: as found, or as left.
func (s *Series) Unclear(v *Value) bool {
	return v.Stage == SomeTime && slices.ContainsFunc(s.Breaks, func(b Break) bool { return b.Date == v.Date })
}

// since gives the indexes of the values of the component as it now is, by a
// day, and of those that are left out because nobody can tell or compare them.
func (s *Series) since(on vehicle.Date) (now, leftOut []int) {
	last, broken := s.LastBreak(on)
	unit := s.Unit()
	for i := range s.Values {
		v := &s.Values[i]
		switch {
		case v.Date.After(on) || broken && (v.Date.Before(last.Date) || v.Date == last.Date && v.Stage == AsFound):
		case broken && v.Date == last.Date && s.Unclear(v), !vehicle.Convertible(v.Quantity.Unit, unit):
			leftOut = append(leftOut, i)
		default:
			now = append(now, i)
		}
	}
	return now, leftOut
}

// last is the latest value before or on a day, whatever component it was of;
// nil for none.
func (s *Series) last(on vehicle.Date) *Value {
	var last *Value
	unit := s.Unit()
	for i := range s.Values {
		v := &s.Values[i]
		if !v.Date.After(on) && (last == nil || !v.Date.Before(last.Date)) && vehicle.Convertible(v.Quantity.Unit, unit) {
			last = v
		}
	}
	return last
}
