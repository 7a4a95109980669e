package links

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestNothingLeadsToMoreThanTheLinkItself follows every way over pages from
// every purpose.
func TestNothingLeadsToMoreThanTheLinkItself(t *testing.T) {
	for from := range purposes {
		first := Link{from, "AM0147P.p0031", now.Add(2 * 365 * 24 * time.Hour)}
		reached := map[Purpose]bool{}
		for queue := []Link{first}; len(queue) > 0; queue = queue[1:] {
			for to := range purposes {
				next, ok := queue[0].On(to, now)
				if !ok || reached[to] {
					continue
				}
				reached[to] = true
				if next.Purpose != to || next.Subject != first.Subject || next.Expires.After(now.Add(to.Lasts())) {
					t.Errorf("%c leads to %+v", from, next)
				}
				queue = append(queue, next)
			}
		}
		if reached[Transfer] || reached[StopYearLetter] {
			t.Errorf("%c leads to %v", from, reached)
		}
		switch from {
		case Unsubscribe, StopYearLetter:
			if len(reached) > 0 {
				t.Errorf("%c leads to %v", from, reached)
			}
		default:
			for _, to := range rooms {
				if !reached[to] {
					t.Errorf("%c does not lead to %c", from, to)
				}
			}
		}
	}
}

// On a way of any length, at any time, no link outlives the first.
func TestALinkNeverOutlivesTheOneItComesFrom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SampledFrom([]Purpose{Odometer, Unsubscribe, Schedule, Booked, Snooze, Done, Transfer, StopYearLetter, Calendar, Handbook, History, People})
		l := Link{all.Draw(t, "first"), "AM0147P.p0031", now.Add(time.Duration(rapid.Int64Range(-1, 1<<26).Draw(t, "lives")) * time.Second)}
		first, at := l, now
		for range rapid.IntRange(1, 6).Draw(t, "steps") {
			at = at.Add(time.Duration(rapid.Int64Range(0, 1<<25).Draw(t, "later")) * time.Second)
			next, ok := l.On(all.Draw(t, "next"), at)
			if !ok {
				continue
			}
			if next.Expires.After(first.Expires) || !at.Before(next.Expires) {
				t.Fatalf("%+v leads to %+v at %s", first, next, at)
			}
			l = next
		}
	})
}
