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

// standings is what the owner service says has become of vehicles.
type standings struct {
	*feed.Follower
	news func()

	mu    sync.RWMutex
	known map[vehicle.Serial]owner.Standing

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming map[vehicle.Serial]owner.Standing // nil once the stream has caught up
}

func followStandings(ctx context.Context, owners ownerv1.OwnerServiceClient, news func(), logger *slog.Logger) *standings {
	s := &standings{known: map[vehicle.Serial]owner.Standing{}, news: news}
	s.Follower = feed.Follow(ctx, "bulletin from owner",
		func(ctx context.Context) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
			s.begun = false
			return owners.WatchTies(ctx, &ownerv1.WatchTiesRequest{})
		}, s.apply, logger)
	return s
}

// apply takes in one answer of the stream: of the ties nothing, for a standing
// says whether an owner was looked for in vain.
func (s *standings) apply(resp *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	if !s.begun {
		s.begun, reset = true, true
		s.incoming = map[vehicle.Serial]owner.Standing{}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	into := s.known
	if s.incoming != nil {
		into = s.incoming
	}
	for _, p := range resp.GetStandings() {
		n, faults := ownerwire.Standing(p)
		serial, err := ownerwire.StandingID("name", p.GetName())
		if err == nil {
			err = fault.InvalidFields(faults)
		}
		if err != nil {
			return 0, false, reset, fmt.Errorf("read %s: %w", p.GetName(), err)
		}
		into[serial] = n
	}
	if s.incoming != nil && resp.GetSynced() {
		s.known, s.incoming = s.incoming, nil
	}
	if s.incoming == nil && (len(resp.GetStandings()) > 0 || reset) {
		s.news()
	}
	return resp.GetRevision(), resp.GetSynced(), reset, nil
}

// of gives what became of a vehicle; the zero value where nothing is recorded.
func (s *standings) of(serial vehicle.Serial) owner.Standing {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.known[serial]
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
