package warranty_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

// favour orders answers by how good they are for the customer.
var favour = map[State]int{NotCovered: 0, Unknown: 1, Covered: 2}

func TestMoreIsNeverLess(t *testing.T) {
	for name, more := range map[string]func(*rapid.T, *Question, *Term){
		"months": func(t *rapid.T, _ *Question, term *Term) { term.Months += rapid.IntRange(1, 4).Draw(t, "more months") },
		"distance": func(t *rapid.T, _ *Question, term *Term) {
			if term.Distance > 0 {
				term.Distance += miles(rapid.IntRange(1, 20).Draw(t, "more miles"))
			}
		},
		"no limit of distance": func(_ *rapid.T, _ *Question, term *Term) { term.Distance = 0 },
		"for another owner":    func(_ *rapid.T, _ *Question, term *Term) { term.Transferable = true },
		"days out count":       func(_ *rapid.T, _ *Question, term *Term) { term.ExtendedByDaysOut = true },
		"a longer repair term": func(_ *rapid.T, _ *Question, term *Term) { term.Repair.Months++ },
		"no exclusions":        func(_ *rapid.T, _ *Question, term *Term) { term.Exclusions = nil },
		"one more time out of service": func(t *rapid.T, q *Question, _ *Term) {
			start := q.On.AddDays(-rapid.IntRange(0, 60).Draw(t, "ago"))
			q.Facts.Spans = append(slices.Clone(q.Facts.Spans), Span{Start: start, End: start.AddDays(rapid.IntRange(0, 10).Draw(t, "long")), Counts: true})
		},
		"less distance on the day": func(t *rapid.T, q *Question, _ *Term) {
			if q.Distance.Known {
				q.Distance.Value -= miles(rapid.IntRange(0, 10).Draw(t, "less"))
			}
		},
	} {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			q := world(t)
			if len(q.Terms) == 0 {
				return
			}
			before := Decide(&q)
			better := q
			better.Terms = slices.Clone(q.Terms)
			more(t, &better, &better.Terms[rapid.IntRange(0, len(q.Terms)-1).Draw(t, "which")])
			if after := Decide(&better); favour[after.State] < favour[before.State] {
				t.Fatalf("%d became %d\n%s\n%s", before.State, after.State, before.Sentence, after.Sentence)
			}
		}))
	}
}

func TestTheOrderInWhichFactsArrivedDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := world(t)
		other := q
		other.Terms = rapid.Permutation(q.Terms).Draw(t, "terms")
		other.Facts.Spans = rapid.Permutation(q.Facts.Spans).Draw(t, "spans")
		other.Facts.Repairs = rapid.Permutation(q.Facts.Repairs).Draw(t, "repairs")
		a, b := Decide(&q), Decide(&other)
		for i := range a.Terms { // the repairs are the same, but elsewhere in memory
			if r, o := a.Terms[i].Repair, b.Terms[i].Repair; r != nil && o != nil && *r == *o {
				b.Terms[i].Repair = r
			}
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("%+v\n%+v", a, b)
		}
	})
}

func TestAnAnswerChangesNothingThatItRestsOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := world(t)
		before := q
		before.Terms, before.Facts.Spans = slices.Clone(q.Terms), slices.Clone(q.Facts.Spans)
		Decide(&q)
		if !reflect.DeepEqual(q, before) {
			t.Fatalf("%+v\n%+v", q, before)
		}
	})
}

func TestMergedTimesHoldTheSameDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		until := day("2026-06-01")
		var spans []Span
		for range rapid.IntRange(0, 6).Draw(t, "spans") {
			s := Span{Start: day("2026-05-01").AddDays(rapid.IntRange(0, 50).Draw(t, "start")), Counts: rapid.IntRange(0, 4).Draw(t, "counts") > 0}
			if rapid.IntRange(0, 4).Draw(t, "ends") > 0 {
				s.End = s.Start.AddDays(rapid.IntRange(0, 12).Draw(t, "days"))
			}
			spans = append(spans, s)
		}
		merged := Merge(spans, until)
		for i := 1; i < len(merged); i++ {
			if merged[i-1].End.DaysUntil(merged[i].Start) < 2 {
				t.Fatalf("%v and %v touch", merged[i-1], merged[i])
			}
		}
		for d := day("2026-04-25"); d.Before(day("2026-07-10")); d = d.AddDays(1) {
			in := slices.ContainsFunc(spans, func(s Span) bool {
				return s.Counts && !d.Before(s.Start) && (s.End.IsZero() && !d.After(until) || !s.End.IsZero() && !d.After(s.End))
			})
			if got := slices.ContainsFunc(merged, func(s Span) bool { return !d.Before(s.Start) && !d.After(s.End) }); got != in {
				t.Fatalf("%s: %v, want %v\n%v", d, got, in, spans)
			}
		}
	})
}

func TestAReasonIsForEveryAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := world(t)
		c := Decide(&q)
		if len(c.Reasons) == 0 || c.Sentence == "" {
			t.Fatalf("no reasons: %+v", c)
		}
		for _, r := range c.Reasons {
			if r.Rule == "" || r.Sentence == "" || r.Sentence[len(r.Sentence)-1] != '.' {
				t.Fatalf("a poor reason: %+v", r)
			}
		}
		for _, tc := range c.Terms {
			if (tc.State == Unknown) != (tc.Question != "") || tc.State != NotCovered && tc.EndedBy != NoLimb {
				t.Fatalf("%+v", tc)
			}
			if tc.Last.IsZero() == (tc.First != vehicle.Date{}) && tc.Term.Months > 0 {
				t.Fatalf("from %s until %s", tc.First, tc.Last)
			}
		}
	})
}
