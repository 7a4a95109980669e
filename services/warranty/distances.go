package warranty

import (
	"cmp"
	"slices"

	"halfshaft/services/vehicle"
)

// Mark is a true distance of the vehicle that is on record: a reading that
// counts, or the delivery. A doubtful reading is none.
type Mark struct {
	On       vehicle.Date
	Distance vehicle.Distance
}

// Pace is how far the vehicle goes in a year, as the schedule reckons; High is
// what it stays under nine times in ten. The zero value is not known.
type Pace struct{ Likely, High vehicle.Distance }

// Reach is how far the vehicle had gone on a day: from Low to High, most likely
// Likely. The zero value is not known.
type Reach struct {
	Low, Likely, High vehicle.Distance
	Known             bool
	Read              bool // read on that day, and not worked out
}

// ReadAs is a distance that somebody read.
func ReadAs(d vehicle.Distance) Reach { return Reach{d, d, d, true, true} }

// True is the likeliest distance, with what it may be.
func (r Reach) True() TrueDistance {
	d := TrueDistance{Value: r.Likely, Known: r.Known}
	if r.Known && r.Low < r.High {
		d.Low, d.High = r.Low, r.High
	}
	return d
}

// ReachOn works out how far the vehicle had gone on a day. Between two marks, of one
// day too, it lies between theirs; after the last it is at least that, and by the pace not
// more than High. Before the first, or without a pace, it is not known.
func ReachOn(marks []Mark, pace Pace, on vehicle.Date) Reach {
	marks = slices.Clone(marks)
	slices.SortStableFunc(marks, func(a, b Mark) int { return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.Distance, b.Distance)) })
	n, _ := slices.BinarySearchFunc(marks, on.AddDays(1), func(m Mark, d vehicle.Date) int { return m.On.Compare(d) })
	if n == 0 {
		return Reach{}
	}
	before := marks[n-1]
	days := vehicle.Distance(before.On.DaysUntil(on))
	switch {
	case days == 0:
		first := slices.IndexFunc(marks, func(m Mark) bool { return m.On == on })
		low := marks[first].Distance
		return Reach{Low: low, Likely: before.Distance, High: before.Distance, Known: true, Read: low == before.Distance}
	case n < len(marks):
		after := marks[n]
		gone := after.Distance - before.Distance
		all := vehicle.Distance(before.On.DaysUntil(after.On))
		return Reach{Low: before.Distance, Likely: before.Distance + gone/all*days, High: after.Distance, Known: true}
	case pace.High <= 0:
		return Reach{}
	}
	const year = 365
	return Reach{
		Low: before.Distance, Likely: before.Distance + pace.Likely/year*days, High: before.Distance + pace.High/year*days, Known: true,
	}
}

// DecideWithin decides with distances that were worked out, on the day and at the
// start of a term: only where the answer is the same whatever they were. Elsewhere
// the answer is that of a distance that is not known, and says so.
func DecideWithin(q *Question, r Reach) *Cover {
	ask := *q
	ask.Distance = r.True()
	if !ask.Distance.workedOut() && !q.startsWorkedOut() {
		return Decide(&ask)
	}
	worst, best := ask.starting(lowest), ask.starting(highest)
	if ask.Distance.workedOut() {
		worst.Distance, best.Distance = True(r.High), True(r.Low)
	}
	if sameAnswer(Decide(&worst), Decide(&best)) {
		return Decide(&ask)
	}
	if !ask.Distance.workedOut() { // it hangs on where a term began
		ask = ask.starting(func(TrueDistance) TrueDistance { return TrueDistance{} })
		return Decide(&ask)
	}
	ask = ask.starting(highest)
	ask.Distance = TrueDistance{}
	c := Decide(&ask)
	unit := q.Print
	if !unit.Valid() {
		unit = vehicle.Miles
	}
	from, to, day := r.Low.Text(unit), r.High.Text(unit), q.On.Long()
	c.Reasons = append(c.Reasons, vehicle.Reason{
		Rule:  "DISTANCE_NOT_SURE",
		Facts: []vehicle.Fact{{Name: "on_date", Value: day}, {Name: "at_least", Value: from}, {Name: "at_most", Value: to}},
		Sentence: "By its readings the vehicle had gone between " + from + " and " + to + " on " + day +
			", and the answer is not the same at both.",
	})
	return c
}

// startsWorkedOut says whether the distance at the start of any term was.
func (q *Question) startsWorkedOut() bool {
	return q.Unit != nil && q.Unit.FittedAt.workedOut() ||
		slices.ContainsFunc(q.Facts.Repairs, func(r Repair) bool { return r.At.workedOut() })
}

// starting is the question with other distances where those at the start of a term
// were worked out.
func (q *Question) starting(instead func(TrueDistance) TrueDistance) Question {
	other := *q
	if q.Unit != nil && q.Unit.FittedAt.workedOut() {
		u := *q.Unit
		u.FittedAt = instead(u.FittedAt)
		other.Unit = &u
	}
	other.Facts.Repairs = slices.Clone(q.Facts.Repairs)
	for i := range other.Facts.Repairs {
		if r := &other.Facts.Repairs[i]; r.At.workedOut() {
			r.At = instead(r.At)
		}
	}
	return other
}

func lowest(d TrueDistance) TrueDistance { d.Value = d.Low; return d }

func highest(d TrueDistance) TrueDistance { d.Value = d.High; return d }

// sameAnswer says whether two answers come to the same by the same term.
func sameAnswer(a, b *Cover) bool {
	if a.State != b.State || a.Parts != b.Parts || a.Work != b.Work || a.Goodwill != b.Goodwill {
		return false
	}
	x, y := a.Best(), b.Best()
	return x == nil && y == nil || x != nil && y != nil && x.Term.ID == y.Term.ID && x.OfRepair == y.OfRepair
}
