package bulletinjob

import (
	"context"
	"fmt"
	"log/slog"
	"sync"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/page"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
)

// AsService gives a context whose calls to other services are made by this one
// and not by whoever asked: which vehicles are in a set rests on more than
// everybody may read.
func AsService(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "bulletin"})
}

// standings is what the owner service says has become of vehicles, and since
// when their owners are theirs.
type standings struct {
	*feed.Follower
	news func()

	mu    sync.RWMutex
	known people

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming *people // nil once the stream has caught up
}

// people is what is known of vehicles; of ties, only those of owners, by
// identifier.
type people struct {
	standings map[vehicle.Serial]owner.Standing
	owners    map[vehicle.Serial]map[string]owner.Tie
}

func newPeople() people {
	return people{map[vehicle.Serial]owner.Standing{}, map[vehicle.Serial]map[string]owner.Tie{}}
}

func followStandings(ctx context.Context, owners ownerv1.OwnerServiceClient, news func(), logger *slog.Logger) *standings {
	s := &standings{known: newPeople(), news: news}
	s.Follower = feed.Follow(ctx, "bulletin from owner",
		func(ctx context.Context) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
			s.begun = false
			return owners.WatchTies(ctx, &ownerv1.WatchTiesRequest{})
		}, s.apply, logger)
	return s
}

// apply takes in one answer of the stream.
func (s *standings) apply(resp *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	if !s.begun {
		s.begun, reset = true, true
		begun := newPeople()
		s.incoming = &begun
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	into := &s.known
	if s.incoming != nil {
		into = s.incoming
	}
	if err := into.take(resp); err != nil {
		return 0, false, reset, err
	}
	if s.incoming != nil && resp.GetSynced() {
		s.known, s.incoming = *s.incoming, nil
	}
	if s.incoming == nil && (len(resp.GetStandings())+len(resp.GetTies()) > 0 || reset) {
		s.news()
	}
	return resp.GetRevision(), resp.GetSynced(), reset, nil
}

func (p *people) take(resp *ownerv1.WatchTiesResponse) error {
	for _, m := range resp.GetStandings() {
		n, faults := ownerwire.Standing(m)
		serial, err := ownerwire.StandingID("name", m.GetName())
		if err == nil {
			err = fault.InvalidFields(faults)
		}
		if err != nil {
			return fmt.Errorf("read %s: %w", m.GetName(), err)
		}
		p.standings[serial] = n
	}
	for _, m := range resp.GetTies() {
		if m.GetRole() != ownerv1.Role_ROLE_OWNER {
			continue
		}
		tie, faults := ownerwire.Tie(m)
		serial, id, err := ownerwire.TieID("name", m.GetName())
		if err == nil {
			err = fault.InvalidFields(faults)
		}
		if err != nil {
			return fmt.Errorf("read %s: %w", m.GetName(), err)
		}
		if p.owners[serial] == nil {
			p.owners[serial] = map[string]owner.Tie{}
		}
		tie.Person = "" // whose it is does not matter here
		p.owners[serial][id] = tie
	}
	return nil
}

// of gives what became of a vehicle, the zero value where nothing is recorded,
// and since when the newest of its owners of a day is one; zero without one.
func (s *standings) of(serial vehicle.Serial, on vehicle.Date) (n owner.Standing, ownerSince vehicle.Date) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	for _, t := range s.known.owners[serial] {
		if t.Lasts(on) && t.Start.After(ownerSince) {
			ownerSince = t.Start
		}
	}
	return s.known.standings[serial], ownerSince
}

// AsksUse says whether a set asks how vehicles are used.
func AsksUse(s *bulletin.Set) bool { return s.When != nil && asksUse(s.When) }

func asksUse(c *bulletin.Condition) bool {
	if c.Use != nil || c.Not != nil && asksUse(c.Not) {
		return true
	}
	for _, of := range [][]bulletin.Condition{c.All, c.Any} {
		for i := range of {
			if asksUse(&of[i]) {
				return true
			}
		}
	}
	return false
}

// atOnce is how many vehicles are asked after side by side.
const atOnce = 8

// learnUses asks how vehicles are used.
func (j *Job) learnUses(ctx context.Context, serials []vehicle.Serial) error {
	ctx = AsService(ctx)
	asking, ctx := errgroup.WithContext(ctx)
	asking.SetLimit(atOnce)
	var mu sync.Mutex
	news := make(map[vehicle.Serial][]schedule.UseFact, len(serials))
	for _, serial := range serials {
		asking.Go(func() error {
			facts, err := j.usesOf(ctx, serial)
			if err != nil {
				return fmt.Errorf("ask how %s is used: %w", serial, err)
			}
			mu.Lock()
			defer mu.Unlock()
			news[serial] = facts
			return nil
		})
	}
	if err := asking.Wait(); err != nil {
		return err
	}
	j.uses.learn(news)
	return nil
}

func (j *Job) usesOf(ctx context.Context, serial vehicle.Serial) ([]schedule.UseFact, error) {
	var facts []schedule.UseFact
	err := page.Each(func(token string) ([]*schedulev1.UseFact, string, error) {
		r, err := j.Schedules.ListUseFacts(ctx, &schedulev1.ListUseFactsRequest{Parent: "vehicles/" + string(serial), PageSize: 500, PageToken: token})
		return r.GetUseFacts(), r.GetNextPageToken(), err
	}, func(p *schedulev1.UseFact) error {
		f, err := schedulewire.UseFact(p)
		facts = append(facts, f)
		return err
	})
	return facts, err
}
