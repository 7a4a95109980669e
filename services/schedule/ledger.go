package schedule

import (
	"cmp"
	"slices"
	"time"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Ledger is what the readings of a vehicle come to.
type Ledger struct {
	Points   []Point   // the vehicle's true distance where it is known, in order of days
	Outcomes []Outcome // of each mark, in the order they were given
	Doubtful int       // how many marks wait for a person

	runs  []run
	marks []Mark
	order []int
}

// Point is the true distance on a day, counted from where the record begins
// (the reading at delivery, or else the first reading that counts).
type Point struct {
	day      day
	Distance vehicle.Distance
}

// Date is the day of the point.
func (p Point) Date() vehicle.Date { return p.day.date() }

// Outcome is what became of one mark.
type Outcome struct {
	State    ReadingState
	Distance vehicle.Distance // true distance at the mark, when it counts
	Rule     Rule             // when it is doubtful: what is wrong on the face of it
	run      int32
}

// Rule is what may be behind a doubtful reading.
type Rule string

// The rules, as the API gives them.
const (
	RuleRollover  Rule = "ROLLOVER"
	RuleReplaced  Rule = "DIAL_REPLACED"
	RuleOtherUnit Rule = "OTHER_UNIT"
	RuleTenths    Rule = "TENTHS_AS_UNITS"
	RuleSwapped   Rule = "DIGITS_SWAPPED"
	RuleDigit     Rule = "DIGIT_WRONG"
	RuleMissing   Rule = "DIGIT_MISSING"
	RuleTwice     Rule = "DIGIT_TWICE"
	RuleDate      Rule = "DATE_WRONG"
	RuleDuplicate Rule = "DUPLICATE"
	RuleLeap      Rule = "LEAP"
	RuleFall      Rule = "FALL"
)

// run is the time of one dial: its segments, and what was read off it.
type run struct {
	from, to day // to is the first day of the next run
	dial     vehicle.Dial
	segments []Segment
	nodes    []node // candidates for the chain, in order
	counted  []node // the chain
	ownRate  bool   // whether rate comes from the vehicle's own readings
	rate     int64  // millimetres of the dial a day
}

// node is one value in question on one dial.
type node struct {
	day     day
	value   vehicle.Distance // indicated, with the turns of the dial added
	weight  int64
	mark    int32 // -1 for a reading out of the build record
	settled bool
}

// NewLedger makes the ledger of a vehicle from its segments, in order of time,
// and its marks in any order. Without segments nothing counts.
func NewLedger(segments []Segment, marks []Mark) Ledger {
	var l Ledger
	l.make(segments, marks, lastDate)
	return l
}

// lastDate is later than any mark.
var lastDate = vehicle.MustDate(9999, time.December, 31)

// make makes the ledger anew, in the memory it has. Marks of days after until
// count as rejected; they keep their places, since entries and events point at
// them.
func (l *Ledger) make(segments []Segment, marks []Mark, until vehicle.Date) {
	l.Outcomes = slices.Grow(l.Outcomes[:0], len(marks))[:len(marks)]
	clear(l.Outcomes)
	l.Points = slices.Grow(l.Points[:0], len(marks)+len(segments))
	l.marks, l.Doubtful = marks, 0
	l.takeRuns(segments)
	if len(l.runs) == 0 {
		return
	}
	l.order = inOrder(marks, l.order[:0])
	for _, i := range l.order {
		l.place(i, until)
	}
	life := vehicle.Distance(0)
	for n := range l.runs {
		r := &l.runs[n]
		r.turns(marks)
		r.chain()
		life = l.count(r, life)
	}
	for i := range l.Outcomes {
		if l.Outcomes[i].State == Doubtful {
			l.Doubtful++
		}
	}
}

// addRun begins the time of another dial, in the memory of an old one.
func (l *Ledger) addRun(from day, dial vehicle.Dial) {
	n := len(l.runs)
	if n < cap(l.runs) {
		l.runs = l.runs[:n+1]
	} else {
		l.runs = append(l.runs, run{})
	}
	r := &l.runs[n]
	*r = run{from: from, to: endDay, dial: dial, segments: r.segments[:0], nodes: r.nodes[:0], counted: r.counted[:0]}
}

// takeRuns groups segments by dial and takes in what the build record says the
// dials showed.
func (l *Ledger) takeRuns(segments []Segment) {
	l.runs = l.runs[:0]
	for n := range segments {
		s := &segments[n]
		if n == 0 || s.NewDial {
			if n > 0 {
				l.runs[len(l.runs)-1].to = dayOf(s.From)
			}
			l.addRun(dayOf(s.From), s.Dial)
		}
		r := &l.runs[len(l.runs)-1]
		first := len(r.segments) == 0
		r.segments = append(r.segments, *s)
		if weight := int64(ordinary + 4); !s.Start.IsZero() {
			if first {
				weight = pinned
			}
			r.record(dayOf(s.From), s.Start, weight)
		}
		if n+1 < len(segments) && segments[n+1].NewDial && !s.End.IsZero() {
			r.record(dayOf(segments[n+1].From), s.End, ordinary+4)
		}
	}
}

// record adds a reading of the build record.
func (r *run) record(d day, shown vehicle.Entered, weight int64) {
	if value, err := shown.Distance(); err == nil {
		r.nodes = append(r.nodes, node{day: d, value: value, weight: weight, mark: -1})
	}
}

// inOrder gives the indexes of the marks in an order that depends on what they
// say, and not on when they came or how they are called: of one day first what
// is trusted more and what a person decided about. order is memory to use.
func inOrder(marks []Mark, order []int) []int {
	for i := range marks {
		order = append(order, i)
	}
	slices.SortFunc(order, func(a, b int) int {
		x, y := &marks[a], &marks[b]
		if c := cmp.Or(x.Date.Compare(y.Date), cmp.Compare(y.Source.trust(), x.Source.trust())); c != 0 {
			return c
		}
		return cmp.Or(cmp.Compare(y.verdict(), x.verdict()), compareTruth(y.Alone, x.Alone),
			cmp.Compare(mm(x.shown()), mm(y.shown())), x.Recorded.Compare(y.Recorded), cmp.Compare(x.Record, y.Record))
	})
	return order
}

// compareTruth orders false before true.
func compareTruth(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// place gives a mark to the dial it was read off, or sets it aside as doubtful
// on the face of it.
func (l *Ledger) place(i int, until vehicle.Date) {
	m, out := &l.marks[i], &l.Outcomes[i]
	out.run = int32(l.runOf(m))
	r := &l.runs[out.run]
	if m.verdict() == Rejected || m.Date.After(until) {
		out.State = RejectedState
		return
	}
	out.State = Doubtful
	value, err := m.shown().Distance()
	if err != nil {
		out.Rule = RuleFall
		return
	}
	settled := m.verdict() != NoVerdict
	if !settled {
		if out.Rule = r.suspect(m, l.marks); out.Rule != "" {
			return
		}
	}
	weight := ordinary + m.Source.trust()
	if settled {
		weight = pinned
	}
	r.nodes = append(r.nodes, node{dayOf(m.Date), value, weight, int32(i), settled})
}

// suspect says what is wrong with a mark whatever the others say.
func (r *run) suspect(m *Mark, marks []Mark) Rule {
	switch {
	case !m.Recorded.IsZero() && m.Date.After(m.Recorded.AddDays(1)): // a day for those east of us
		return RuleDate
	case m.Value.Unit != r.dial.Unit:
		return RuleOtherUnit
	case r.dial.Modulus() > 0 && mm(m.Value) >= r.dial.Modulus():
		return RuleTenths
	}
	if m.Alone {
		for _, n := range r.nodes {
			if n.mark < 0 {
				continue
			}
			if o := &marks[n.mark]; o.Alone && o.Date == m.Date && o.Value == m.Value {
				return RuleDuplicate
			}
		}
	}
	return ""
}

// mm is an entered distance that was checked before; 0 otherwise.
func mm(e vehicle.Entered) vehicle.Distance {
	d, err := e.Distance()
	if err != nil {
		return 0
	}
	return d
}

// runOf finds the dial that a mark was read off. On the day of a change it may
// be either: the one whose recorded reading is nearer.
func (l *Ledger) runOf(m *Mark) int {
	d := dayOf(m.Date)
	n := 0
	for n+1 < len(l.runs) && l.runs[n+1].from <= d {
		n++
	}
	if n == 0 || l.runs[n].from != d {
		return n
	}
	before, after := &l.runs[n-1], &l.runs[n]
	if before.dial.Unit != after.dial.Unit && m.shown().Unit.Valid() {
		if m.shown().Unit == before.dial.Unit {
			return n - 1
		}
		return n
	}
	value := mm(m.shown())
	start, end := mm(after.segments[0].Start), mm(before.segments[len(before.segments)-1].End)
	if end == 0 {
		if value-start > perDayMost {
			return n - 1
		}
		return n
	}
	if abs(value-end) < abs(value-start) {
		return n - 1
	}
	return n
}

func abs(d vehicle.Distance) vehicle.Distance {
	if d < 0 {
		return -d
	}
	return d
}

// count turns the chain of one dial into points of true distance, going on
// from the distance at which the dial before ended. What was driven unseen
// between the last reading of one dial and the first of the next is not
// counted.
func (l *Ledger) count(r *run, life vehicle.Distance) vehicle.Distance {
	for i, n := range r.counted {
		if i > 0 {
			life += r.between(r.counted[i-1], n)
		}
		if n.mark >= 0 {
			l.Outcomes[n.mark].State, l.Outcomes[n.mark].Rule, l.Outcomes[n.mark].Distance = Counted, "", life
		}
		if k := len(l.Points); k > 0 && l.Points[k-1].day >= n.day {
			l.Points[k-1].Distance = life // the last word of the day
			continue
		}
		l.Points = append(l.Points, Point{n.day, life})
	}
	return life
}

// between is the true distance from one counted value to the next. Where the
// tyres or the axle were changed between them unread, the way is shared out by
// days.
func (r *run) between(a, b node) vehicle.Distance {
	way, days := b.value-a.value, int64(b.day-a.day)
	if len(r.segments) == 1 || days == 0 {
		return trueOf(way, r.factorOn(a.day))
	}
	var sum, used vehicle.Distance
	at := a.day
	for n := range r.segments {
		next := b.day
		if n+1 < len(r.segments) {
			next = min(next, dayOf(r.segments[n+1].From))
		}
		if next <= at {
			continue
		}
		share := vehicle.Distance(float64(way) * float64(next-a.day) / float64(days))
		if next == b.day {
			share = way
		}
		sum += trueOf(share-used, r.segments[n].FactorPPM)
		at, used = next, share
	}
	return sum
}

// factorOn is the factor in force on a day.
func (r *run) factorOn(d day) int64 {
	factor := r.segments[0].FactorPPM
	for n := range r.segments {
		if dayOf(r.segments[n].From) <= d {
			factor = r.segments[n].FactorPPM
		}
	}
	return factor
}

// trueOf is an indicated distance by a factor. Distances were bounded when they
// were recorded, so it does not overflow.
func trueOf(indicated vehicle.Distance, ppm int64) vehicle.Distance {
	if ppm == Unity || ppm == 0 {
		return indicated
	}
	d, ok := drivetrain.TrueDistance(indicated, ppm)
	if !ok {
		return indicated
	}
	return d
}
