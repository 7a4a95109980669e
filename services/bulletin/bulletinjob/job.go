// Package bulletinjob keeps the lists of campaigns up to date: a vehicle that
// comes into a set comes on its list, once; what became of a vehicle is taken
// over; a long list whose writing was cut short is written to its end. It does
// so in the process that leads, once an hour and after changes, and for whoever
// asks.
package bulletinjob

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"golang.org/x/sync/errgroup"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Config is what the job needs. Logger may be nil.
type Config struct {
	Store     *bulletinstore.Store
	Group     *projection.Group
	Builds    buildv1.BuildServiceClient       // followed
	Owners    ownerv1.OwnerServiceClient       // followed
	Schedules schedulev1.ScheduleServiceClient // asked how vehicles are used, where a set asks
	Clock     func() time.Time
	Zone      *time.Location // of the works, for "today"; nil: UTC
	Logger    *slog.Logger
}

// Job judges sets and keeps lists. It is safe for concurrent use.
type Job struct {
	Config
	compiler  *predicate.Compiler
	fleet     *fleet
	standings *standings
	uses      uses
	changed   chan struct{} // holds one note at most
	end       context.CancelFunc

	mu    sync.Mutex
	ready map[int64]*bulletin.Ready // by revision of the version
}

// New begins to follow builds and standings, until ctx is done or Close is
// called.
func New(ctx context.Context, c Config) (*Job, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	compiler, err := predicate.NewCompiler()
	if err != nil {
		return nil, err
	}
	j := &Job{Config: c, compiler: compiler, changed: make(chan struct{}, 1), ready: map[int64]*bulletin.Ready{}}
	life, end := context.WithCancel(ctx)
	j.end = end
	j.fleet = followBuilds(life, c.Builds, j.Wake, c.Logger)
	j.standings = followStandings(life, c.Owners, j.Wake, c.Logger)
	c.Group.Add("build", j.fleet)
	c.Group.Add("owner", j.standings)
	return j, nil
}

// Wake tells the pass that something changed; it never blocks.
func (j *Job) Wake() {
	select {
	case j.changed <- struct{}{}:
	default:
	}
}

// Ready returns nil once vehicles and standings are known.
func (j *Job) Ready(ctx context.Context) error {
	if err := j.fleet.Synced(ctx); err != nil {
		return outOfReach("build records", err)
	}
	if err := j.standings.Synced(ctx); err != nil {
		return outOfReach("standings of vehicles", err)
	}
	return nil
}

func outOfReach(what string, err error) error {
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "RECORDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
		Message: "the " + what + " are not here yet",
	}
}

// Close ends the following.
func (j *Job) Close() {
	j.end()
	j.fleet.Close()
	j.standings.Close()
}

// Name is the election's name.
const Name = "bulletin"

// hourly is when the pass runs whatever happened: the day may have changed.
const hourly = "7 * * * *"

// betweenPasses is the least time between two passes after changes, so that an
// import is not followed row by row.
const betweenPasses = time.Second

// Lead stands for election until ctx ends and, while it leads, runs a pass once
// an hour and after changes.
func (j *Job) Lead(ctx context.Context, client *clientv3.Client, store *kv.Store) error {
	return leader.Run(ctx, client, leader.Config{Name: Name, Logger: j.Logger}, func(ctx context.Context, fence kv.Fence) error {
		work, ctx := errgroup.WithContext(ctx)
		work.Go(func() error {
			return leader.RunJobs(ctx, client, store, []leader.Job{{
				Name: "bulletin-pass", Spec: hourly,
				Pass: func(ctx context.Context, _ time.Time, _ kv.Fence) error {
					_, err := j.Refresh(ctx, &fence)
					return err
				},
			}}, j.Clock, j.Logger)
		})
		work.Go(func() error { return j.follow(ctx, fence) })
		return work.Wait()
	})
}

// follow runs a pass after changes until ctx ends or the election is lost. A
// pass that fails is left to the hour, or to the next change.
func (j *Job) follow(ctx context.Context, fence kv.Fence) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-j.changed:
		}
		if _, err := j.Refresh(ctx, &fence); errors.Is(err, kv.ErrNotLeader) || ctx.Err() != nil {
			return errors.Join(err, ctx.Err())
		} else if err != nil {
			j.Logger.Error("the lists of campaigns could not be brought up to date", "error", err)
		}
		if !leader.Sleep(ctx, betweenPasses) {
			return ctx.Err()
		}
	}
}

// now is the present to the microsecond, in UTC, as it is stored.
func (j *Job) now() time.Time { return j.Clock().UTC().Truncate(time.Microsecond) }

// today is the day by the works' clock.
func (j *Job) today() vehicle.Date { return vehicle.DateOf(j.now().In(j.Zone)) }

// Compiler makes predicates of the expressions of sets.
func (j *Job) Compiler() vehicle.PredicateCompiler { return j.compiler }

// Prepared gives a stored version ready to be judged.
func (j *Job) Prepared(v *bulletinstore.Version) (*bulletin.Ready, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if r := j.ready[v.Revision]; r != nil {
		return r, nil
	}
	r, err := bulletin.Prepare(v.Bulletin, j.compiler)
	if err != nil {
		return nil, err
	}
	if len(j.ready) >= mostReady { // any make room; those in use come again
		clear(j.ready)
	}
	j.ready[v.Revision] = r
	return r, nil
}

// mostReady bounds how many versions are kept ready.
const mostReady = 1000

// Fleet gives the fleet of today. With use, how its vehicles are used is asked
// first. The error names a vehicle that cannot be told.
func (j *Job) Fleet(ctx context.Context, use bool) (*bulletin.Fleet, error) {
	if err := j.Ready(ctx); err != nil {
		return nil, err
	}
	if use {
		if err := j.learnUses(ctx, j.fleet.serials()); err != nil {
			return nil, err
		}
	}
	d := j.fleet.on(j.today(), &j.uses)
	return d.fleet, d.refusal()
}

// FleetFor is Fleet for a question about one vehicle: only how that is used is
// asked, and only whether that cannot be told is refused.
func (j *Job) FleetFor(ctx context.Context, serial vehicle.Serial, use bool) (*bulletin.Fleet, error) {
	if err := j.Ready(ctx); err != nil {
		return nil, err
	}
	if use {
		if err := j.learnUses(ctx, []vehicle.Serial{serial}); err != nil {
			return nil, err
		}
	}
	d := j.fleet.on(j.today(), &j.uses)
	return d.fleet, d.refusals[serial]
}

// Has reports whether there is a vehicle of the serial.
func (j *Job) Has(serial vehicle.Serial) bool { return j.fleet.find(serial) != nil }

// HasChange reports whether a change of that resource name is on record of the
// vehicle.
func (j *Job) HasChange(serial vehicle.Serial, name string) (bool, error) {
	k := j.fleet.find(serial)
	if k == nil {
		return false, nil
	}
	_, changes, err := k.state.Read()
	if err != nil {
		return false, err
	}
	return containsChange(changes, name), nil
}

func containsChange(changes []build.Change, name string) bool {
	for i := range changes {
		if changes[i].Name() == name {
			return true
		}
	}
	return false
}
