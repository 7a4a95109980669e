package schedulerpc

import (
	"sync"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// kept keeps the answers last given: support asks about one vehicle many times
// in a row, and a page for the telephone asks several things that rest on the
// same. What it keeps is shared and never changed.
//
// An answer is kept under all that it rests on: the vehicle's record and its
// history, which are replaced and never altered when something changes, the day,
// and the habits of the fleet; and it holds as long as the programme has the
// same versions. So a change is never waited for: it is another key, and the
// answer under the old one is found by nobody.
type kept[T any] struct {
	most int // how many are kept

	mu sync.Mutex
	of map[occasion]told[T]
}

// occasion is a vehicle in one state of its record and its history, on a day.
// Whatever changes makes another occasion.
type occasion struct {
	serial  vehicle.Serial
	known   *known
	history *schedulestore.History
	on      vehicle.Date
	until   vehicle.Date // for a list or a plan of visits: what is due later is left out; zero for all
	habits  schedule.Habits
}

// told is an answer, and the programme that it rests on.
type told[T any] struct {
	plan     *plan
	versions []schedulestore.Version
	answer   T
}

// How many answers are kept. A whole schedule takes some 300 kB as messages, all
// that was measured in twenty years about as much, what a page for the telephone
// has of a schedule a fifth, what was measured near a limit far less: a works with
// some hundred vehicles has them all. Passes ask for the same list many times a
// day; a fleet that is larger is worked out each time.
const (
	mostWhole  = 64
	mostToDo   = 256
	mostListed = 256

	mostPlanned = 128 // plans of visits, 20 kB each
)

// views are the schedules that are kept, by how much they say.
type views [schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO + 1]kept[*schedulev1.Schedule]

func (v *views) bound() {
	v[schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC].most = mostWhole
	v[schedulev1.ScheduleView_SCHEDULE_VIEW_FULL].most = mostWhole
	v[schedulev1.ScheduleView_SCHEDULE_VIEW_SUMMARY].most = mostToDo
	v[schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO].most = mostToDo
}

// get gives a kept answer that still holds.
func (k *kept[T]) get(key occasion, s *Service) (T, bool) {
	k.mu.Lock()
	have, ok := k.of[key]
	k.mu.Unlock()
	if !ok || !s.stillInForce(have.plan, key.known, key.on) || !same(have.versions, s.versionsFor(key)) {
		var none T
		return none, false
	}
	return have.answer, true
}

// put keeps an answer; where there are too many, any other goes. versions were
// read before the answer was worked out: one that came meanwhile is another.
func (k *kept[T]) put(key occasion, plan *plan, versions []schedulestore.Version, answer T) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.of == nil {
		k.of = map[occasion]told[T]{}
	}
	for old := range k.of {
		if len(k.of) < k.most {
			break
		}
		delete(k.of, old)
	}
	k.of[key] = told[T]{plan, versions, answer}
}

// versionsFor gives the versions of a vehicle's programme; nil for one that
// cannot be evaluated.
func (s *Service) versionsFor(key occasion) []schedulestore.Version {
	standing, err := s.fleet.standing(key.known, key.on)
	if err != nil {
		return nil
	}
	return s.store.Versions(standing.programme)
}

// same says whether nothing was written to a programme between two looks at it:
// its versions are replaced together.
func same(a, b []schedulestore.Version) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// pasts keeps the histories last read: what is due, what was measured and how
// far a vehicle had gone are worked out of one, often at the same time. A
// history is replaced when something happens, and never altered.
type pasts struct {
	mu sync.Mutex
	by map[*schedulestore.History]func() (*past, error)
}

// mostPasts bounds them: twenty years of a vehicle take some 500 kB.
const mostPasts = 48

// of gives a history as it was read, which is not to be changed. Whoever asks
// while it is read waits for that.
func (p *pasts) of(h *schedulestore.History) (*past, error) {
	p.mu.Lock()
	read := p.by[h]
	if read == nil {
		read = sync.OnceValues(func() (*past, error) { return pastOf(h) })
		if p.by == nil {
			p.by = map[*schedulestore.History]func() (*past, error){}
		}
		for old := range p.by {
			if len(p.by) < mostPasts {
				break
			}
			delete(p.by, old)
		}
		p.by[h] = read
	}
	p.mu.Unlock()
	return read()
}
