package schedulerpc

import (
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// habits are what the fleet's vehicles have in common, by years. What is asked
// for a day rests on what happened before the first of January of its year, so
// that a reading of today moves no other vehicle's dates, and the same facts
// give the same dates in whatever order they come.
type habits struct {
	mu    sync.Mutex
	years map[int]*yearHabits
}

// mostYears bounds what is kept: some hundred bytes for each reading of a year.
const mostYears = 3

// farthest gives the year that is farthest from this one: whoever asks about
// years long past takes nothing from those who ask about today.
func farthest(years map[int]*yearHabits, this int) int {
	most := this
	for year := range years {
		if max(year-this, this-year) > max(most-this, this-most) {
			most = year
		}
	}
	return most
}

type yearHabits struct {
	seen revisions // what the habits rest on
	of   map[vehicle.Serial]habit
	now  schedule.Habits
}

// revisions says how far the facts were known.
type revisions struct{ builds, histories int64 }

// habit is one vehicle's share, and what it was worked out of.
type habit struct {
	known   *known
	history *schedulestore.History
	past    schedule.Past
}

// habitsOn gives the fleet's habits for a day.
func (s *Service) habitsOn(on vehicle.Date) schedule.Habits {
	h := &s.habits
	h.mu.Lock()
	defer h.mu.Unlock()
	y := h.years[on.Year]
	if y == nil {
		if h.years == nil {
			h.years = map[int]*yearHabits{}
		}
		if len(h.years) >= mostYears {
			delete(h.years, farthest(h.years, s.today().Year))
		}
		y = &yearHabits{of: map[vehicle.Serial]habit{}}
		h.years[on.Year] = y
	}
	seen := revisions{s.fleet.Revision(), s.store.Revision()}
	if y.seen != seen {
		y.learn(s, vehicle.MustDate(on.Year, 1, 1))
		y.seen = seen
	}
	return y.now
}

// learn looks at the vehicles that changed, on all processors, and sums the
// fleet up anew where one tells another story.
func (y *yearHabits) learn(s *Service, end vehicle.Date) {
	serials := s.fleet.all()
	shares := make([]habit, len(serials))
	fresh := make([]bool, len(serials))
	var work errgroup.Group
	share := max(minShare, (len(serials)+runtime.GOMAXPROCS(0)-1)/runtime.GOMAXPROCS(0))
	for from := 0; from < len(serials); from += share {
		work.Go(func() error {
			for i := from; i < min(from+share, len(serials)); i++ {
				shares[i], fresh[i] = y.share(s, serials[i], end)
			}
			return nil
		})
	}
	_ = work.Wait() // none of them fails
	same := !slices.Contains(fresh, true) && len(shares) == len(y.of)
	y.of = make(map[vehicle.Serial]habit, len(serials))
	fleet := make([]schedule.Past, len(serials))
	for i, serial := range serials {
		y.of[serial], fleet[i] = shares[i], shares[i].past
	}
	if same {
		return // what changed was of this year, and is not looked at again
	}
	y.now = schedule.HabitsOf(fleet)
}

// share gives what one vehicle tells, and whether that is news.
func (y *yearHabits) share(s *Service, serial vehicle.Serial, end vehicle.Date) (habit, bool) {
	have, told := y.of[serial]
	now := habit{known: s.fleet.find(serial), history: s.store.History(serial)}
	if told && have.known == now.known && have.history == now.history {
		return have, false
	}
	if now.known != nil {
		now.past = s.pastUntil(now.known, now.history, end)
	}
	same := told && have.past.PerYear == now.past.PerYear && slices.Equal(have.past.Points, now.past.Points) &&
		slices.Equal(have.past.LayUps, now.past.LayUps)
	return now, !same
}

// pastUntil is nothing for a vehicle that cannot be evaluated: whoever asks for
// it is told why. It works out no more than distances take, and keeps nothing:
// most of a fleet is asked for on few days.
func (s *Service) pastUntil(known *known, h *schedulestore.History, end vehicle.Date) schedule.Past {
	delivered, segments, err := s.fleet.dials(known, end)
	if err != nil {
		return schedule.Past{}
	}
	var p past
	if p.readMarks(h) != nil || p.readUses(h) != nil {
		return schedule.Past{}
	}
	v := schedule.Vehicle{Delivered: delivered, Segments: segments, Marks: p.marks, Uses: p.uses}
	return v.PastUntil(end)
}
