package warranty_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

// The dumb twin of Decide. It knows nothing of what cannot be said: it is asked
// about every world that what is not known could be. In each it walks from the
// first day of each term to the day asked about, one day at a time, and looks
// on each whether the clock of the term stands still. It shares no code with
// Decide but the types.

// dumbCovered says whether a question about which everything is known is
// answered with "covered", and the last day of what covers longest.
func dumbCovered(q *Question) (covered bool, last vehicle.Date) {
	for _, t := range q.Terms {
		try := func(first vehicle.Date, at vehicle.Distance, months int, limit vehicle.Distance, elsewhere bool) {
			end, within := dumbWalk(q, t, first, months, elsewhere)
			if within && (limit == 0 || q.Distance.Value-at <= limit) && !dumbExcluded(q, t) {
				covered = true
				if last.IsZero() || end.After(last) {
					last = end
				}
			}
		}
		if first, at, ok := dumbStart(q, t); ok && dumbBinds(q, t) && dumbIsFor(q, t) && !t.Withdrawn {
			try(first, at, t.Months, t.Distance, t.Start == FromFitting && q.Unit.Moved)
		}
		if r, ok := dumbRepair(q, t.Name()); ok && t.Repair.Months > 0 {
			try(r.Date, r.At.Value, t.Repair.Months, t.Repair.Distance, false)
		}
	}
	return covered, last
}

// dumbWalk walks a term day by day. It gives its last day and whether the day
// asked about lies in it.
func dumbWalk(q *Question, t Term, first vehicle.Date, months int, elsewhere bool) (last vehicle.Date, within bool) {
	// The number of days on which the clock runs: up to the day of the same
	// number, or the one that the month has before it.
	running, changes := 1, q.Facts.OwnerChanges
	if elsewhere { // it comes along with its unit, which has had owners of its own
		changes = q.Unit.OwnerChanges
	}
	for d := first; d.Year*12+int(d.Month) < first.Year*12+int(first.Month)+months || d.Day < first.Day && d.AddDays(1).Day != 1; d = d.AddDays(1) {
		running++
	}
	for d := first; running > 0; d = d.AddDays(1) {
		if !t.Transferable && slices.ContainsFunc(changes, func(c vehicle.Date) bool { return c.After(first) && !c.After(d) }) {
			break
		}
		last = d
		within = within || d == q.On
		stands := t.ExtendedByDaysOut && slices.ContainsFunc(q.Facts.Spans, func(s Span) bool {
			end := s.End
			if end.IsZero() {
				end = q.On
			}
			return s.Counts && !d.Before(s.Start) && !d.After(end)
		})
		if !stands {
			running--
		}
	}
	return last, within
}

func dumbStart(q *Question, t Term) (first vehicle.Date, at vehicle.Distance, ok bool) {
	f := q.Facts
	switch t.Start {
	case FromDelivery:
		return f.Delivered, f.DeliveredAt.Value, !f.AtWorks
	case FromBuild:
		return f.Built, f.BuiltAt.Value, true
	case FromFitting:
		u := q.Unit
		if u == nil {
			return vehicle.Date{}, 0, false
		}
		if u.Moved {
			return u.FirstFitted, u.FittedAt.Value - u.Prior.Value, true
		}
		if u.Source == SourceBuild && u.Fitted.IsZero() || u.Fitted.Before(f.Delivered) {
			return f.Delivered, f.DeliveredAt.Value, !f.AtWorks
		}
		return u.Fitted, u.FittedAt.Value, !f.AtWorks
	}
	r, ok := dumbRepair(q, "")
	return r.Date, r.At.Value, ok
}

// dumbBinds says whether no later version was in force when it began.
func dumbBinds(q *Question, t Term) bool {
	for _, other := range q.Terms {
		first, _, ok := dumbStart(q, other)
		if other.ID == t.ID && ok && !first.Before(other.Effective) && other.Version > t.Version {
			return false
		}
	}
	first, _, _ := dumbStart(q, t)
	return !first.Before(t.Effective)
}

func dumbIsFor(q *Question, t Term) bool {
	named := q.Unit != nil && slices.Contains(t.Parts, q.Unit.Part)
	if q.Unit != nil && q.Unit.Source == SourceOwner && !named {
		return false
	}
	if len(t.Releases) > 0 && !slices.Contains(t.Releases, q.Facts.Release) {
		return false
	}
	whole := len(t.Positions)+len(t.Parts) == 0
	return whole || q.Position != "" && (slices.Contains(t.Positions, q.Position) || named)
}

func dumbRepair(q *Question, term string) (last Repair, ok bool) {
	for _, r := range q.Facts.Repairs {
		gone := q.Unit != nil && q.Unit.Fitted.After(r.Date)
		paid := term == "" || r.Term == term
		if r.Position == q.Position && q.Position != "" && !r.Date.After(q.On) && !gone && paid && (!ok || r.Date.After(last.Date)) {
			last, ok = r, true
		}
	}
	return last, ok
}

func dumbExcluded(q *Question, t Term) bool {
	for _, x := range t.Exclusions {
		if slices.Contains(q.Exclusions, x.ID) || q.Position != "" && slices.Contains(x.Positions, q.Position) {
			return true
		}
	}
	return false
}

// worlds gives the questions that a question with gaps could be, were they
// filled; telling says whether filling them in all ways is practicable, so that
// worlds that agree mean that nothing had to be asked.
func worlds(q Question) (all []Question, telling bool) {
	all, telling = []Question{q}, true
	each := func(fill func(Question) []Question) {
		var next []Question
		for _, w := range all {
			next = append(next, fill(w)...)
		}
		all = next
	}
	if q.Facts.Release == "" {
		each(func(w Question) []Question {
			return vary([]string{"R1", "R2", "R9"}, w, func(w *Question, r string) { w.Facts.Release = r })
		})
	}
	if q.Unit != nil && q.Unit.Part == "" {
		each(func(w Question) []Question {
			return vary([]string{"AP-1", "AP-2", "AP-9"}, w, func(w *Question, p string) { w.Unit.Part = p })
		})
	}
	if !q.Facts.AtWorks && q.Facts.Delivered.IsZero() {
		telling = false // it could have been any day
		each(func(w Question) []Question {
			return vary([]int{-2000, -300, -40, -1, 0, 1}, w, func(w *Question, n int) {
				w.Facts.Delivered = w.On.AddDays(n)
				if u := w.Unit; u != nil && !u.Fitted.IsZero() && w.Facts.Delivered.After(u.Fitted) {
					w.Facts.Delivered = u.Fitted // what is fitted in service is fitted to what was delivered
				}
			})
		})
	}
	if !q.Distance.Known {
		each(func(w Question) []Question {
			low := w.Facts.DeliveredAt.Value
			if w.On.Before(w.Facts.Delivered) {
				low = 0
			}
			if w.Unit != nil && !w.Unit.Fitted.After(w.On) {
				low = max(low, w.Unit.FittedAt.Value)
			}
			for _, r := range w.Facts.Repairs {
				if !r.Date.After(w.On) {
					low = max(low, r.At.Value)
				}
			}
			return vary([]vehicle.Distance{low, miles(1_000_000)}, w, func(w *Question, d vehicle.Distance) { w.Distance = True(d) })
		})
	}
	each(func(w Question) []Question {
		most := int(w.Distance.Value / vehicle.Mile)
		if w.Facts.DeliveredAt.Known {
			return []Question{w}
		}
		return vary([]int{0, most}, w, func(w *Question, n int) { w.Facts.DeliveredAt = True(miles(n)) })
	})
	if q.Unit != nil && q.Unit.Moved && !q.Unit.Prior.Known {
		each(func(w Question) []Question {
			return vary([]int{0, 1_000_000}, w, func(w *Question, n int) { w.Unit.Prior = True(miles(n)) })
		})
	}
	if q.Facts.OwnersUnknown {
		each(func(w Question) []Question {
			return vary([]bool{false, true}, w, func(w *Question, sold bool) {
				if sold {
					w.Facts.OwnerChanges = append(slices.Clone(w.Facts.OwnerChanges), w.On)
				}
			})
		})
	}
	if q.Unit != nil && q.Unit.OwnersUnknown {
		each(func(w Question) []Question {
			return vary([]bool{false, true}, w, func(w *Question, sold bool) {
				if sold {
					w.Unit.OwnerChanges = append(slices.Clone(w.Unit.OwnerChanges), w.On)
				}
			})
		})
	}
	return all, telling
}

// vary makes one question for each value.
func vary[T any](values []T, q Question, set func(*Question, T)) []Question {
	var all []Question
	for _, v := range values {
		w := q
		if q.Unit != nil {
			u := *q.Unit
			w.Unit = &u
		}
		set(&w, v)
		all = append(all, w)
	}
	return all
}

func TestDecideIsItsDumbTwinInEveryWorld(t *testing.T) {
	seen := map[State]int{}
	rapid.Check(t, func(t *rapid.T) {
		q := world(t)
		got := Decide(&q)
		seen[got.State]++
		all, telling := worlds(q)
		yes, no := 0, 0
		for i := range all {
			if covered, _ := dumbCovered(&all[i]); covered {
				yes++
			} else {
				no++
			}
		}
		switch {
		case got.State == Covered && no > 0, got.State == NotCovered && yes > 0:
			t.Fatalf("got %d; of %d worlds %d are covered: %s\n%+v", got.State, len(all), yes, got.Sentence, q)
		case got.State == Unknown && telling && (yes == 0 || no == 0):
			t.Fatalf("asked %q, and of %d worlds %d are covered\n%+v", got.Question, len(all), yes, q)
		}
		if len(all) == 1 && got.State == Covered {
			if _, last := dumbCovered(&q); last != got.Best().Last {
				t.Fatalf("until %s, want %s: %s", got.Best().Last, last, got.Sentence)
			}
		}
	})
	for _, s := range []State{Covered, NotCovered, Unknown} {
		if seen[s] == 0 {
			t.Errorf("no world was answered with %d: %v", s, seen)
		}
	}
}

// world draws a question with all that can go wrong, days and distances close
// together so that boundaries are met.
func world(t *rapid.T) Question {
	base := rapid.SampledFrom([]string{"2024-02-29", "2023-12-31", "2026-03-30", "2027-10-31"}).Draw(t, "base")
	near := func(label string, from, to int) vehicle.Date {
		return day(base).AddDays(rapid.IntRange(from, to).Draw(t, label))
	}
	some := func(label string) bool { return rapid.IntRange(0, 5).Draw(t, label) == 0 }
	distance := func(label string) vehicle.Distance { return miles(rapid.IntRange(0, 40).Draw(t, label)) }
	gap := func(label string) TrueDistance {
		if some(label + " not known") {
			return TrueDistance{}
		}
		return True(distance(label))
	}
	q := Question{Position: rapid.SampledFrom([]string{"", "gearbox", "transfer-case"}).Draw(t, "position")}
	q.On = near("on", -5, 130)
	q.Facts.Built, q.Facts.BuiltAt = day(base).AddDays(-20), True(0)
	q.Facts.Release = rapid.SampledFrom([]string{"R1", "R2", "R1", "R2", ""}).Draw(t, "release")
	if !some("delivery not known") {
		q.Facts.Delivered, q.Facts.DeliveredAt = near("delivered", 0, 10), gap("delivered at")
	} else if some("at the works") {
		q.Facts.AtWorks = true
	}
	q.Distance = gap("distance")
	if q.Distance.Known {
		q.Distance.Value += q.Facts.DeliveredAt.Value // no vehicle runs backwards
	}
	q.Facts.OwnersUnknown = some("owners not known")
	for range rapid.IntRange(0, 2).Draw(t, "sales") {
		q.Facts.OwnerChanges = append(q.Facts.OwnerChanges, near("sold", 11, 130))
	}
	slices.SortFunc(q.Facts.OwnerChanges, vehicle.Date.Compare)
	for range rapid.IntRange(0, 4).Draw(t, "spans") {
		s := Span{Start: near("out from", -10, 130), Counts: !some("does not count")}
		if !some("lasts") {
			s.End = s.Start.AddDays(rapid.IntRange(0, 20).Draw(t, "days out"))
		}
		q.Facts.Spans = append(q.Facts.Spans, s)
	}
	q.Unit = drawUnit(t, near, some, distance, gap)
	if q.Unit.Moved {
		q.Unit.OwnersUnknown = some("the unit's owners not known")
		for range rapid.IntRange(0, 2).Draw(t, "the unit's sales") {
			q.Unit.OwnerChanges = append(q.Unit.OwnerChanges, near("the unit sold", -90, 130))
		}
		slices.SortFunc(q.Unit.OwnerChanges, vehicle.Date.Compare)
	}
	for range rapid.IntRange(0, 2).Draw(t, "repairs") {
		q.Facts.Repairs = append(q.Facts.Repairs, Repair{
			Position: rapid.SampledFrom([]string{"gearbox", "transfer-case"}).Draw(t, "repaired"), Date: near("repaired on", 11, 130), At: True(distance("repaired at")),
			Term: rapid.SampledFrom([]string{"", TermName("A", 1), TermName("A", 2), TermName("B", 1)}).Draw(t, "paid by"),
		})
	}
	slices.SortFunc(q.Facts.Repairs, func(a, b Repair) int { return a.Date.Compare(b.Date) })
	q.Facts.Repairs = slices.CompactFunc(q.Facts.Repairs, func(a, b Repair) bool { return a.Date == b.Date })
	if some("found") {
		q.Exclusions = []string{"wear"}
	}
	for _, id := range []string{"A", "B", "C"} {
		for v := 1; v <= rapid.IntRange(0, 2).Draw(t, "versions"); v++ {
			q.Terms = append(q.Terms, drawTerm(t, id, v, day(base).AddDays(v*6-12), some))
		}
	}
	return q
}

func drawUnit(t *rapid.T, near func(string, int, int) vehicle.Date, some func(string) bool, distance func(string) vehicle.Distance, gap func(string) TrueDistance) *Unit {
	u := &Unit{
		Part:   rapid.SampledFrom([]string{"AP-1", "AP-2", "AP-1", "AP-2", "AP-1", ""}).Draw(t, "part"),
		Source: rapid.SampledFrom([]Source{SourceBuild, SourceBuild, SourceService, SourceCampaign, SourceOwner}).Draw(t, "source"),
	}
	if u.Source != SourceBuild {
		u.Fitted, u.FittedAt = near("fitted", 11, 120), True(distance("fitted at"))
		if some("moved") {
			u.Moved, u.FirstFitted, u.Prior = true, near("first fitted", -100, 10), gap("prior")
		}
	}
	return u
}

func drawTerm(t *rapid.T, id string, version int, effective vehicle.Date, some func(string) bool) Term {
	term := Term{
		ID: id, Version: version, Title: id, Giver: Works, CoversParts: true, Effective: effective,
		Start:        rapid.SampledFrom([]Start{FromDelivery, FromDelivery, FromFitting, FromBuild, FromRepair}).Draw(t, "start"),
		Months:       rapid.IntRange(1, 3).Draw(t, "months"),
		Transferable: rapid.Bool().Draw(t, "transferable"), ExtendedByDaysOut: rapid.Bool().Draw(t, "extended"),
		Repair:    RepairTerm{Months: rapid.IntRange(0, 2).Draw(t, "repair months")},
		Withdrawn: some("withdrawn"),
	}
	if rapid.Bool().Draw(t, "limited") {
		term.Distance = miles(rapid.IntRange(5, 30).Draw(t, "limit"))
	}
	if term.Repair.Months > 0 && rapid.Bool().Draw(t, "repair limited") {
		term.Repair.Distance = miles(rapid.IntRange(5, 30).Draw(t, "repair limit"))
	}
	if some("releases") {
		term.Releases = []string{"R1"}
	}
	if some("exclusion") {
		term.Exclusions = []Exclusion{{ID: "wear", Text: "Wear."}}
	} else if some("exclusion of a position") {
		term.Exclusions = []Exclusion{{ID: "cases", Text: "Cases.", Positions: []string{"transfer-case"}}}
	}
	if term.Start == FromFitting || some("positions") {
		term.Positions = []string{"gearbox"}
		term.Parts = []string{"AP-1"}
	}
	return term
}
