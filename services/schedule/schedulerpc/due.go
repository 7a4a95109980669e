package schedulerpc

import (
	"cmp"
	"context"
	"fmt"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"golang.org/x/sync/errgroup"
	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// The pages of lists.
const (
	standardPage  = 50
	mostPage      = 500
	maxWithinDays = 3660
	// pageBytes ends a page early: answers stay below the 4 MiB that gRPC
	// clients take.
	pageBytes = 2 << 20
)

// urgencies remembers, for the day last asked for, when each vehicle has
// something to do first. A fleet is asked about one day many times.
type urgencies struct {
	mu     sync.Mutex
	of     map[vehicle.Serial]urgency
	day    vehicle.Date
	habits schedule.Habits
}

// urgency is what was worked out of one state of a vehicle.
type urgency struct {
	known   *known
	history *schedulestore.History
	plan    *plan
	first   vehicle.Date // zero when nothing is to be done on a known day
	quiet   vehicle.Date // since when nothing is known of it, at the earliest the delivery; zero at the works
}

func newUrgencies() *urgencies { return &urgencies{of: map[vehicle.Serial]urgency{}} }

// notices says whether an item belongs into a list of what is due: an owner's
// own checks are printed in the handbook and told to nobody.
func notices(st *schedule.Status, item *schedule.Item) bool {
	return st.Open() && !st.ActBy().IsZero() && !item.OwnerCheck
}

// urgencyOf gives when a vehicle has something to do first. A vehicle that
// cannot be evaluated has nothing and is logged. into is memory to use.
func (s *Service) urgencyOf(serial vehicle.Serial, on vehicle.Date, habits schedule.Habits, into *schedule.Schedule) urgency {
	known, history := s.fleet.find(serial), s.store.History(serial)
	if known == nil {
		return urgency{}
	}
	s.urgency.mu.Lock()
	if s.urgency.day != on || s.urgency.habits != habits {
		s.urgency.day, s.urgency.habits, s.urgency.of = on, habits, map[vehicle.Serial]urgency{}
	}
	have, ok := s.urgency.of[serial]
	s.urgency.mu.Unlock()
	if ok && have.known == known && have.history == history && s.stillInForce(have.plan, known, on) {
		return have
	}
	e, err := s.evaluate(known, history, on, habits, into)
	if err != nil {
		s.logger.Warn("schedule: a vehicle cannot be evaluated", "serial", serial, "error", err)
		return urgency{}
	}
	u := urgency{known: known, history: history, plan: e.plan}
	if given := e.vehicle.Delivered; !given.IsZero() {
		if u.quiet = e.evidence(); u.quiet.Before(given) {
			u.quiet = given
		}
	}
	for i := range e.Statuses {
		st := &e.Statuses[i]
		if notices(st, e.plan.Item(int(st.Item))) {
			u.first = earlier(u.first, st.ActBy())
		}
	}
	if _, ask := e.Ask(); ask {
		u.first = earlier(u.first, on)
	}
	s.urgency.mu.Lock()
	defer s.urgency.mu.Unlock()
	if s.urgency.day == on && s.urgency.habits == habits {
		s.urgency.of[serial] = u
	}
	return u
}

// evidence is the last day up to the one asked for of which something is known:
// a reading that counts, or a service. It is zero where nothing is.
func (e *evaluated) evidence() vehicle.Date {
	var last vehicle.Date
	for i := len(e.Ledger.Points) - 1; i >= 0 && last.IsZero(); i-- {
		if day := e.Ledger.Points[i].Date(); !day.After(e.On) {
			last = day
		}
	}
	for i := len(e.past.done) - 1; i >= 0; i-- {
		if day := e.past.done[i].Date; !day.After(e.On) {
			if day.After(last) {
				last = day
			}
			break
		}
	}
	return last
}

// earlier gives the earlier of two days, of which the first may be none.
func earlier(a, b vehicle.Date) vehicle.Date {
	if a.IsZero() || b.Before(a) {
		return b
	}
	return a
}

// ListDue implements the ScheduleService.
func (s *Service) ListDue(ctx context.Context, r *schedulev1.ListDueRequest) (*schedulev1.ListDueResponse, error) {
	if n := r.GetWithinDays(); n < 0 || n > maxWithinDays {
		return nil, fault.InvalidField("within_days", strconv.Itoa(int(n)), "0 to 3660")
	}
	on, err := s.day("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	var since vehicle.Date
	if r.NoEvidenceSinceDate != nil {
		if since, err = s.day("no_evidence_since_date", r.GetNoEvidenceSinceDate()); err != nil {
			return nil, err
		}
	}
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	basic, err := isBasic(r.GetView(), schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if err != nil {
		return nil, err
	}
	token, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	if err := s.heard(ctx); err != nil {
		return nil, err
	}
	until := on.AddDays(int(r.GetWithinDays()))
	habits := s.habitsOn(on)
	list := dueList{on: on, until: until, since: since, habits: habits, basic: basic}
	due, err := s.dueAfter(ctx, list, token)
	if err != nil {
		return nil, err
	}
	list.keep = !basic && len(due) <= mostListed
	answer, bytes := &schedulev1.ListDueResponse{}, 0
	var some []*schedulev1.Schedule // those from first on
	first := 0
	for i := range due {
		if len(answer.Schedules) == size || bytes > pageBytes {
			answer.NextPageToken = page.Token(r, due[i-1].key())
			break
		}
		if i == first+len(some) {
			first = i
			n := min(atOnce, size-len(answer.Schedules), len(due)-i) // no more than the page still takes
			if some, err = s.schedulesOf(ctx, due[i:i+n], list); err != nil {
				return nil, err
			}
		}
		if one := some[i-first]; one != nil {
			answer.Schedules = append(answer.Schedules, one)
			bytes += proto.Size(one)
		}
	}
	return answer, nil
}

// dueList is what a list tells of each vehicle.
type dueList struct {
	on, until   vehicle.Date
	since       vehicle.Date // only vehicles of which nothing is known since; zero: all
	habits      schedule.Habits
	basic, keep bool
}

// atOnce is how many schedules of a list are worked out side by side.
const atOnce = 16

// schedulesOf gives the schedules of vehicles, in their order; nil for one that
// is gone.
func (s *Service) schedulesOf(ctx context.Context, due []dueVehicle, l dueList) ([]*schedulev1.Schedule, error) {
	out := make([]*schedulev1.Schedule, len(due))
	group, _ := errgroup.WithContext(ctx)
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, d := range due {
		group.Go(func() (err error) {
			out[i], err = s.scheduleFor(d.serial, l)
			return err
		})
	}
	return out, group.Wait()
}

func (s *Service) scheduleFor(serial vehicle.Serial, l dueList) (*schedulev1.Schedule, error) {
	known := s.fleet.find(serial)
	if known == nil {
		return nil, nil
	}
	key := occasion{serial, known, s.store.History(serial), l.on, l.until, l.habits}
	if !l.basic {
		if have, ok := s.listed.get(key, s); ok {
			return have, nil
		}
	}
	versions := s.versionsFor(key)
	e, err := s.evaluate(known, key.history, l.on, l.habits, &schedule.Schedule{})
	if err != nil {
		return nil, err
	}
	one := e.answer(serial, l.basic, func(st *schedule.Status, item *schedule.Item) bool {
		return notices(st, item) && !st.ActBy().After(l.until)
	})
	if l.keep {
		s.listed.put(key, e.plan, versions, one)
	}
	return one, nil
}

// dueVehicle is one line of the list, before its schedule is asked for.
type dueVehicle struct {
	first  vehicle.Date
	serial vehicle.Serial
}

// key orders lines: by day, then by serial.
func (d dueVehicle) key() string { return fmt.Sprintf("%s/%s", d.first, d.serial) }

// dueAfter gives the vehicles with something to do until a day, in order, after
// the line that a token names. The first question about a day evaluates the
// fleet, on all processors.
func (s *Service) dueAfter(ctx context.Context, l dueList, token string) ([]dueVehicle, error) {
	serials := s.fleet.all()
	share := max(minShare, (len(serials)+runtime.GOMAXPROCS(0)-1)/runtime.GOMAXPROCS(0))
	var mu sync.Mutex
	var due []dueVehicle
	work, ctx := errgroup.WithContext(ctx)
	for part := range slices.Chunk(serials, share) {
		work.Go(func() error {
			found, err := s.dueAmong(ctx, part, l, token)
			mu.Lock()
			defer mu.Unlock()
			due = append(due, found...)
			return err
		})
	}
	if err := work.Wait(); err != nil {
		return nil, err
	}
	slices.SortFunc(due, func(a, b dueVehicle) int {
		return cmp.Or(a.first.Compare(b.first), cmp.Compare(a.serial, b.serial))
	})
	return due, nil
}

// minShare is how many vehicles are worth a goroutine.
const minShare = 64

// dueAmong is dueAfter for some of the fleet.
func (s *Service) dueAmong(ctx context.Context, serials []vehicle.Serial, l dueList, token string) ([]dueVehicle, error) {
	var due []dueVehicle
	var memory schedule.Schedule
	for i, serial := range serials {
		if i%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		u := s.urgencyOf(serial, l.on, l.habits, &memory)
		switch {
		case l.since.IsZero():
		case u.quiet.IsZero() || !u.quiet.Before(l.since):
			continue
		case u.first.IsZero() || u.first.After(l.until):
			u.first = l.until
		}
		if u.first.IsZero() || u.first.After(l.until) {
			continue
		}
		if d := (dueVehicle{u.first, serial}); token == "" || d.key() > token {
			due = append(due, d)
		}
	}
	return due, nil
}
