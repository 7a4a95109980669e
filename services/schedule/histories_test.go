package schedule_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The properties of this file hold for any history. In CI each is tried on a
// hundred or so; "make long" tries 100,000 (histories_long_test.go).

// everyKind is a programme with an item of each kind: both limbs, one limb,
// bedding-in, hard use, started by events, reset by others, only in a lay-up.
var everyKind = sync.OnceValue(func() *schedule.Plan {
	items := []schedule.Item{
		{ID: "E01", Every: limit(3000, 12), Severe: schedule.Severe{DistanceFactor: half(), TimeFactor: half()}, LayUp: schedule.BeforeLayUp, Resets: []string{"L01"}},
		{ID: "L01", Every: limit(500, 0)},
		{ID: "G01", Every: limit(12000, 0), Severe: schedule.Severe{DistanceFactor: half(), When: []schedule.UseKind{schedule.Dust}}},
		{ID: "B01", Every: limit(0, 24), LayUp: schedule.StaysInLayUp},
		{ID: "T02", Position: "transfer-case", First: limit(500, 6), Every: limit(6000, 24)},
		{ID: "W01", StartsOn: []schedule.EventStart{{Event: schedule.WheelRefitted, NotBefore: miles(30), WithinDistance: miles(100)}}},
		{ID: "D02", Every: limit(10000, 12), StartsOn: []schedule.EventStart{{Event: schedule.Wading, WithinDistance: miles(100), WithinDays: 14}}},
		{ID: "K02", StartsOn: []schedule.EventStart{{Event: schedule.RoadSpeedChange, WithinDays: 30}}},
		{ID: "Z01", StartsOn: []schedule.EventStart{{Event: schedule.LayUpBegins}}, LayUp: schedule.BeforeLayUp},
		{ID: "Z02", Every: limit(0, 1), LayUp: schedule.OnlyInLayUp},
	}
	for i := range items {
		items[i].Title, items[i].Group, items[i].SourceMark = "Item "+items[i].ID, "test", "b"
	}
	plan, err := schedule.Compile(&schedule.Programme{ID: "test", Version: 1, Title: "test", Effective: on("2000-01-01"), Sample: true, Items: items}, nil)
	if err != nil {
		panic(err)
	}
	return plan
})

// lifeDays is how long the histories are.
const lifeDays = 4000

// history draws what may happen to a vehicle: dials replaced and set to another
// unit, tyres and axles changed, rollovers, readings right and wrong, settled
// and not, of owners, services and events, of one day and out of order.
func history(r *rapid.T) *schedule.Vehicle {
	v := &schedule.Vehicle{Delivered: on("2012-02-29")}
	h := &historian{r: r, v: v, path: 0}
	h.segments()
	for range rapid.IntRange(0, 14).Draw(r, "readings") {
		v.Marks = append(v.Marks, h.mark(true))
	}
	items := []string{"E01", "L01", "G01", "B01", "T02", "W01", "D02", "K02", "Z01", "Z02"}
	for range rapid.IntRange(0, 5).Draw(r, "entries") {
		e := schedule.Entry{Date: h.date("done"), Mark: -1, Record: fmt.Sprintf("serviceEntries/%02d", len(v.Entries))}
		e.Items = append(e.Items, rapid.SampledFrom(items).Draw(r, "item"), "E01")
		if rapid.Bool().Draw(r, "read at the service") {
			e.Mark = h.of(e.Date)
		}
		v.Entries = append(v.Entries, e)
	}
	for range rapid.IntRange(0, 4).Draw(r, "events") {
		e := schedule.Event{Kind: schedule.EventKind(rapid.IntRange(int(schedule.WheelRefitted), int(schedule.Recommission)).Draw(r, "event")),
			Date: h.date("happened"), Mark: -1, Record: fmt.Sprintf("events/%02d", len(v.Events))}
		if rapid.Bool().Draw(r, "read at the event") {
			e.Mark = h.of(e.Date)
		}
		v.Events = append(v.Events, e)
	}
	for range rapid.IntRange(0, 4).Draw(r, "uses") {
		f := schedule.UseFact{Kind: schedule.UseKind(rapid.IntRange(int(schedule.SaltCoast), int(schedule.Seasonal)).Draw(r, "use")), Start: h.date("use from")}
		if rapid.Bool().Draw(r, "ended") {
			f.End = f.Start.AddDays(rapid.IntRange(0, 500).Draw(r, "use days"))
		}
		if f.Kind == schedule.Seasonal {
			f.FirstMonth, f.LastMonth = rapid.IntRange(1, 12).Draw(r, "first month"), rapid.IntRange(1, 12).Draw(r, "last month")
		}
		v.Uses = append(v.Uses, f)
	}
	applicable := make([]uint16, everyKind().Len())
	for i := range applicable {
		applicable[i] = uint16(i)
	}
	v.Fits = everyKind().Fits(applicable, []schedule.Component{{Position: "transfer-case", Fitted: v.Delivered.AddDays(rapid.IntRange(0, 2000).Draw(r, "fitted"))}})
	return v
}

// historian draws the facts of one vehicle. path is what is driven in a year,
// in miles.
type historian struct {
	r    *rapid.T
	v    *schedule.Vehicle
	path int64
}

func (h *historian) date(label string) vehicle.Date {
	return h.v.Delivered.AddDays(rapid.IntRange(0, lifeDays).Draw(h.r, label))
}

// segments draws up to three changes of dial, unit, or factor.
func (h *historian) segments() {
	h.path = rapid.Int64Range(0, 3000).Draw(h.r, "miles a year")
	start := rapid.SampledFrom([]int64{0, 0, 212, 41_000, 96_000, 99_900}).Draw(h.r, "start")
	h.v.Segments = []schedule.Segment{{From: h.v.Delivered, Dial: mileDial, FactorPPM: schedule.Unity, Start: miles(start)}}
	day := 0
	for range rapid.IntRange(0, 3).Draw(h.r, "changes") {
		day += rapid.IntRange(1, 1500).Draw(h.r, "change")
		last := &h.v.Segments[len(h.v.Segments)-1]
		next := schedule.Segment{From: h.v.Delivered.AddDays(day), Dial: last.Dial, FactorPPM: rapid.Int64Range(800_000, 1_200_000).Draw(h.r, "factor")}
		if rapid.Bool().Draw(h.r, "read at the change") {
			last.End = h.shown(next.From)
			next.Start = last.End
		}
		switch rapid.IntRange(0, 3).Draw(h.r, "kind of change") {
		case 0:
			next.NewDial, next.Start = true, vehicle.Entered{Unit: next.Dial.Unit}
		case 1:
			next.NewDial, next.Dial = true, vehicle.Dial{Digits: 6, Unit: vehicle.Kilometres, TurnsPerUnit: 620}
			next.Start = vehicle.Entered{Value: vehicle.Decimal{Coefficient: rapid.Int64Range(0, 50_000).Draw(h.r, "its start")}, Unit: vehicle.Kilometres}
		}
		h.v.Segments = append(h.v.Segments, next)
	}
}

// shown is about what the dial showed on a day.
func (h *historian) shown(d vehicle.Date) vehicle.Entered {
	at := 0
	for i := range h.v.Segments {
		if !h.v.Segments[i].From.After(d) && (i == 0 || h.v.Segments[i].NewDial) {
			at = i
		}
	}
	s := &h.v.Segments[at]
	unit := s.Dial.Unit
	way := h.path * int64(s.From.DaysUntil(d)) / 365
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: (s.Start.Value.Coefficient + way) % 100_000}, Unit: unit}
}

// mark draws a reading, mostly about right.
func (h *historian) mark(alone bool) schedule.Mark {
	return h.markOn(h.date("read"), alone)
}

func (h *historian) markOn(d vehicle.Date, alone bool) schedule.Mark {
	r := h.r
	m := schedule.Mark{Date: d, Value: h.shown(d), Alone: alone, Record: fmt.Sprintf("readings/%02d", len(h.v.Marks)),
		Source: schedule.Source(rapid.IntRange(0, int(schedule.ByInspection)).Draw(r, "source")), Recorded: d.AddDays(rapid.IntRange(0, 40).Draw(r, "recorded"))}
	switch rapid.IntRange(0, 11).Draw(r, "fault") {
	case 0:
		m.Value.Value.Coefficient *= 10
	case 1:
		m.Value.Value.Coefficient = rapid.Int64Range(0, 120_000).Draw(r, "wild")
	case 2:
		m.Value.Unit = rapid.SampledFrom([]vehicle.Unit{vehicle.Miles, vehicle.Kilometres}).Draw(r, "unit")
	case 3:
		m.Recorded = d.AddDays(-30)
	case 4, 5: // the same as one before, or another value of its day
		if n := len(h.v.Marks); n > 0 {
			other := h.v.Marks[rapid.IntRange(0, n-1).Draw(r, "like")]
			m.Date, m.Value = other.Date, other.Value
			m.Value.Value.Coefficient += rapid.Int64Range(0, 1).Draw(r, "more") * 40
		}
	default:
		m.Value.Value.Coefficient += rapid.Int64Range(0, 60).Draw(r, "off")
	}
	switch rapid.IntRange(0, 9).Draw(r, "settled") {
	case 0:
		m.Settlement = &schedule.Settlement{Verdict: schedule.AsRead}
	case 1:
		m.Settlement = &schedule.Settlement{Verdict: schedule.RolledOver}
	case 2:
		m.Settlement = &schedule.Settlement{Verdict: schedule.Corrected, Corrected: h.shown(d)}
	case 3:
		m.Settlement = &schedule.Settlement{Verdict: schedule.Rejected}
	}
	return m
}

// of adds the reading of an entry or event.
func (h *historian) of(d vehicle.Date) int {
	m := h.markOn(d, false)
	m.Date = d
	h.v.Marks = append(h.v.Marks, m)
	return len(h.v.Marks) - 1
}

// evaluated gives all that is said about a vehicle on a day, as the bytes of
// the messages that the service answers with.
func evaluated(s *schedule.Schedule, v *schedule.Vehicle, on vehicle.Date) string {
	s.Evaluate(everyKind(), v, on)
	answer := &schedulev1.Schedule{Pace: schedulewire.PaceProto(s), DoubtfulReadings: int32(s.Ledger.Doubtful)}
	for i := range s.Statuses {
		item := everyKind().Item(int(s.Statuses[i].Item))
		answer.Items = append(answer.Items, schedulewire.StatusProto(s, v, &s.Statuses[i], &schedulev1.Item{ItemId: item.ID}))
	}
	return bytesOf(answer) + readingsOf(v)
}

// readingsOf gives what is said about the readings, by what they say
// themselves.
func readingsOf(v *schedule.Vehicle) string {
	l := schedule.NewLedger(v.Segments, v.Marks)
	out := make([]string, len(v.Marks))
	for i, o := range l.Outcomes {
		m := &schedulev1.Reading{Name: v.Marks[i].Record, State: schedulev1.ReadingState(o.State), Value: vehiclewire.EnteredProto(v.Marks[i].Value),
			ReadingDate: vehiclewire.DateProto(v.Marks[i].Date), LifeDistance: vehiclewire.DistanceProto(o.Distance)}
		for _, e := range l.Explain(i) {
			m.Explanations = append(m.Explanations, schedulewire.ExplanationProto(e))
		}
		out[i] = bytesOf(m)
	}
	slices.Sort(out)
	return fmt.Sprintf("%q", out)
}

func bytesOf(m proto.Message) string {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		panic(err)
	}
	return string(raw)
}

// shuffled gives the same facts in another order. nameless gives every fact of
// a kind one name: who draws identifiers at random draws others when the facts
// come in another order.
func shuffled(r *rapid.T, v *schedule.Vehicle, nameless bool) *schedule.Vehicle {
	other := *v
	order := rapid.Permutation(numbers(len(v.Marks))).Draw(r, "order of readings")
	place := make([]int, len(order))
	other.Marks = make([]schedule.Mark, len(order))
	for to, from := range order {
		other.Marks[to], place[from] = v.Marks[from], to
		if nameless {
			other.Marks[to].Record = "readings/x"
		}
	}
	other.Entries = rapid.Permutation(v.Entries).Draw(r, "order of entries")
	other.Events = rapid.Permutation(v.Events).Draw(r, "order of events")
	other.Uses = rapid.Permutation(v.Uses).Draw(r, "order of uses")
	other.Entries, other.Events = slices.Clone(other.Entries), slices.Clone(other.Events)
	for i := range other.Entries {
		e := &other.Entries[i]
		if e.Mark >= 0 {
			e.Mark = place[e.Mark]
		}
		if nameless {
			e.Record = "serviceEntries/x"
		}
	}
	for i := range other.Events {
		e := &other.Events[i]
		if e.Mark >= 0 {
			e.Mark = place[e.Mark]
		}
		if nameless {
			e.Record = "events/x"
		}
	}
	return &other
}

func numbers(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// differs tells where two answers part.
func differs(a, b string) string {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	from := max(0, n-80)
	return fmt.Sprintf("%q\nand\n%q", a[from:min(len(a), n+160)], b[from:min(len(b), n+160)])
}

func anyOrderIsTheSame(r *rapid.T) {
	v := history(r)
	on := v.Delivered.AddDays(rapid.IntRange(0, lifeDays+400).Draw(r, "today"))
	nameless := rapid.Bool().Draw(r, "nameless")
	a, b := shuffled(r, v, nameless), shuffled(r, v, nameless)
	if x, y := evaluated(&schedule.Schedule{}, a, on), evaluated(&schedule.Schedule{}, b, on); x != y {
		r.Fatalf("two orders of the same facts give\n%s", differs(x, y))
	}
}

func TestAnyOrderOfTheSameFactsGivesTheSameBytes(t *testing.T) { rapid.Check(t, anyOrderIsTheSame) }

// oneByOne lets the facts come one at a time and looks after each, in the same
// memory, as a server does that answers one question after the other.
func oneByOne(r *rapid.T) {
	v := history(r)
	all := shuffled(r, v, false)
	on := v.Delivered.AddDays(rapid.IntRange(0, lifeDays+400).Draw(r, "today"))
	grown := &schedule.Vehicle{Delivered: v.Delivered, Segments: v.Segments, Fits: v.Fits}
	s := &schedule.Schedule{}
	for i := range all.Marks {
		grown.Marks = append(grown.Marks, all.Marks[i])
		s.Evaluate(everyKind(), grown, on)
	}
	for i := range all.Uses {
		grown.Uses = append(grown.Uses, all.Uses[i])
		s.Evaluate(everyKind(), grown, on.AddDays(-i*100))
	}
	for i := range all.Events {
		grown.Events = append(grown.Events, all.Events[i])
		s.Evaluate(everyKind(), grown, on)
	}
	for i := range all.Entries {
		grown.Entries = append(grown.Entries, all.Entries[i])
		s.Evaluate(everyKind(), grown, on.AddDays(i))
	}
	if x, y := evaluated(s, grown, on), evaluated(&schedule.Schedule{}, v, on); x != y {
		r.Fatalf("one by one and all at once give\n%s", differs(x, y))
	}
}

func TestOneByOneAndAllAtOnceGiveTheSameBytes(t *testing.T) { rapid.Check(t, oneByOne) }

// later is a vehicle and a reading that comes after all others and that none of
// them contradicts: both count as they did.
func later(r *rapid.T) (without, with *schedule.Vehicle, day vehicle.Date, ok bool) {
	without = history(r)
	last := slices.MaxFunc(append(without.Marks, schedule.Mark{Date: without.Delivered}), func(a, b schedule.Mark) int { return a.Date.Compare(b.Date) }).Date
	l := schedule.NewLedger(without.Segments, without.Marks)
	if n := len(l.Points); n > 0 && l.Points[n-1].Date().After(last) {
		last = l.Points[n-1].Date() // what the build record says of a change
	}
	day = last.AddDays(rapid.IntRange(1, 400).Draw(r, "days later"))
	more := *without
	value := (&historian{r: r, v: without, path: rapid.Int64Range(0, 3000).Draw(r, "miles a year since")}).shown(day)
	value.Value.Coefficient += rapid.Int64Range(0, 300).Draw(r, "further")
	more.Marks = append(slices.Clone(without.Marks), schedule.Mark{Date: day, Value: value, Source: schedule.ByOwner, Alone: true, Record: "readings/later"})
	m := schedule.NewLedger(more.Segments, more.Marks)
	if len(l.Points) == 0 || len(m.Points) <= len(l.Points) || m.Outcomes[len(l.Outcomes)].State != schedule.Counted {
		return nil, nil, day, false
	}
	return without, &more, day, slices.Equal(l.Points, m.Points[:len(l.Points)])
}

// pastStays: what readings have told once, a later reading does not change. A
// due date is past when it lies before the last reading that counted: until
// then it rests on what was read, and after that on a forecast, which a reading
// is there to correct. A reading that makes others doubtful is another matter:
// then it was not the due date that was wrong.
func pastStays(r *rapid.T) {
	without, with, day, ok := later(r)
	if !ok {
		return
	}
	var a, b schedule.Schedule
	a.Evaluate(everyKind(), without, day)
	b.Evaluate(everyKind(), with, day)
	past := a.Ledger.Points[len(a.Ledger.Points)-1].Date()
	for i := range a.Statuses {
		x, y := &a.Statuses[i], &b.Statuses[i]
		if due := x.DueDate(); !due.IsZero() && due.Before(past) && y.DueDate() != due {
			r.Fatalf("%s was due on %v, before the reading of %v, and a reading of %v moves it to %v",
				everyKind().Item(int(x.Item)).ID, due, past, day, y.DueDate())
		}
		if due := y.DueDate(); !due.IsZero() && due.Before(past) && x.DueDate() != due {
			r.Fatalf("%s was not due before %v, and a reading of %v says that it was: on %v",
				everyKind().Item(int(x.Item)).ID, past, day, due)
		}
	}
	if day = day.AddDays(-1); evaluated(&a, without, day) == "" || a.On != day {
		r.Fatal("nothing is said")
	}
	// What was said the day before is said of that day for ever.
	b.Evaluate(everyKind(), with, day)
	if x, y := said(&a, without), said(&b, with); x != y {
		r.Fatalf("a reading of the day after changes what was said:\n%s", differs(x, y))
	}
}

// said is the schedule alone.
func said(s *schedule.Schedule, v *schedule.Vehicle) string {
	answer := &schedulev1.Schedule{Pace: schedulewire.PaceProto(s)}
	for i := range s.Statuses {
		answer.Items = append(answer.Items, schedulewire.StatusProto(s, v, &s.Statuses[i], &schedulev1.Item{}))
	}
	return bytesOf(answer)
}

func TestALaterReadingMovesNoDueDateThatIsPast(t *testing.T) { rapid.Check(t, pastStays) }

// moreIsNeverLater: who drives farther between the last two readings, or
// steadily at a higher pace, reaches no distance later. Of any two lives it
// cannot be said, one of them driven farther throughout: where the forecast
// finds a change of habit in one and none in the other, it believes the latest
// years of the one and all years of the other.
func moreIsNeverLater(r *rapid.T) {
	gaps := rapid.SliceOfN(rapid.IntRange(20, 400), 1, 12).Draw(r, "days between")
	ways := rapid.SliceOfN(rapid.Int64Range(0, 600), len(gaps), len(gaps)).Draw(r, "miles between")
	more := slices.Clone(ways)
	if rapid.Bool().Draw(r, "steadily") {
		pace, faster := rapid.Int64Range(1, 6).Draw(r, "miles a day"), rapid.Int64Range(0, 4).Draw(r, "more")
		for i, days := range gaps {
			ways[i], more[i] = pace*int64(days), (pace+faster)*int64(days)
		}
	} else {
		more[len(more)-1] += rapid.Int64Range(0, 800).Draw(r, "more")
	}
	layUps := slices.DeleteFunc(history(r).Uses, func(f schedule.UseFact) bool { return f.Kind == schedule.Seasonal })
	done := rapid.IntRange(0, lifeDays).Draw(r, "done")
	today := on("2012-02-29").AddDays(rapid.IntRange(0, lifeDays).Draw(r, "today"))
	driven := func(ways []int64) *schedule.Schedule {
		v := &schedule.Vehicle{Delivered: on("2012-02-29"), Uses: layUps,
			Segments: []schedule.Segment{{From: on("2012-02-29"), Dial: vehicle.Dial{Digits: 7, Unit: vehicle.Miles}, FactorPPM: schedule.Unity, Start: miles(0)}}}
		d, sum := v.Delivered, int64(0)
		for i := range gaps {
			d, sum = d.AddDays(gaps[i]), sum+ways[i]
			v.Marks = append(v.Marks, schedule.Mark{Date: d, Value: miles(sum), Record: fmt.Sprint(i)})
		}
		v.Entries = []schedule.Entry{{Date: v.Delivered.AddDays(done), Items: []string{"G01", "L01", "E01"}, Mark: -1}}
		v.Fits = everyKind().Fits([]uint16{0, 1, 2, 4}, []schedule.Component{{Position: "transfer-case", Fitted: v.Delivered}})
		return schedule.Evaluate(everyKind(), v, today)
	}
	slow, fast := driven(ways), driven(more)
	if slow.Ledger.Doubtful+fast.Ledger.Doubtful > 0 || slow.Pace.Season != fast.Pace.Season {
		return
	}
	for i := range slow.Statuses {
		a, b := slow.Statuses[i].DistanceDueDate(), fast.Statuses[i].DistanceDueDate()
		if !a.IsZero() && (b.IsZero() || b.After(a)) {
			r.Fatalf("%s falls on %v, and driven farther on %v: %s %s", everyKind().Item(int(slow.Statuses[i].Item)).ID, a, b,
				slow.Evidence(vehicle.Miles).Sentence, fast.Evidence(vehicle.Miles).Sentence)
		}
	}
}

func TestAHigherRateNeverMakesADistanceLimbLater(t *testing.T) { rapid.Check(t, moreIsNeverLater) }
