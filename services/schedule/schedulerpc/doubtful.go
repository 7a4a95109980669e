package schedulerpc

import (
	"cmp"
	"context"
	"slices"
	"sync"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// doubts keeps of each vehicle which readings wait for a person: few do, and the
// pages about the whole fleet ask for them at each view.
type doubts struct {
	mu sync.Mutex
	by map[vehicle.Serial]doubted
}

// doubted is what waits of one vehicle, and what that rests on: its history and
// its standing, which are replaced and never altered when something changes.
type doubted struct {
	history  *schedulestore.History
	standing *standing
	readings []*schedulev1.Reading // shared, and not to be changed
}

// doubtful gives the readings of all vehicles that wait for a person. They are
// shared, and not to be changed.
func (s *Service) doubtful(ctx context.Context) ([]*schedulev1.Reading, error) {
	var all []*schedulev1.Reading
	for i, serial := range s.fleet.all() {
		if i%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		known := s.fleet.find(serial)
		if known == nil || s.store.History(serial).Count(schedulestore.Readings) == 0 {
			continue
		}
		some, err := s.doubtfulOf(serial, known)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	slices.SortStableFunc(all, func(a, b *schedulev1.Reading) int {
		return cmp.Or(cmp.Compare(dayIn(a), dayIn(b)), cmp.Compare(a.GetName(), b.GetName()))
	})
	return all, nil
}

// doubtfulOf gives those of one vehicle, kept or judged.
func (s *Service) doubtfulOf(serial vehicle.Serial, known *known) ([]*schedulev1.Reading, error) {
	standing, err := s.fleet.standing(known, s.today())
	if err != nil {
		return nil, err
	}
	history := s.store.History(serial)
	s.doubts.mu.Lock()
	have, ok := s.doubts.by[serial]
	s.doubts.mu.Unlock()
	if ok && have.history == history && have.standing == standing {
		return have.readings, nil
	}
	all, err := judgedIn(history, standing)
	if err != nil {
		return nil, err
	}
	now := doubted{history: history, standing: standing}
	for _, m := range all {
		if m.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			now.readings = append(now.readings, m)
		}
	}
	s.doubts.mu.Lock()
	defer s.doubts.mu.Unlock()
	if s.doubts.by == nil {
		s.doubts.by = map[vehicle.Serial]doubted{}
	}
	s.doubts.by[serial] = now
	return now.readings, nil
}
