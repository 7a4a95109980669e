package reminderjob

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// pageSize is how much is asked for at once.
const pageSize = 200

// world is what a pass knows: what comes up, who is tied to what, and what has
// become of the vehicles. People are asked for when they are needed.
type world struct {
	now       time.Time
	on        vehicle.Date // what the schedules are asked for; zero for today
	due       []reminder.Vehicle
	ties      map[vehicle.Serial][]reminder.Tie
	standings map[vehicle.Serial]standing
	unread    map[vehicle.Serial]error // vehicles of which something could not be read: they are passed over
	campaigns map[vehicle.Serial][]reminder.Item
	listed    map[vehicle.Serial][]string // campaigns that are open for a vehicle
	ownerless map[vehicle.Serial][]reminder.Ownerless
	unasked   map[vehicle.Serial]bool // vehicles of which nobody could say which campaigns are open; anyVehicle for all
	bulletins map[string]*bulletinv1.Bulletin
	// scheduleless lets a vehicle be without a schedule, as one of a campaign may be.
	scheduleless bool

	mu     sync.Mutex
	people map[string]reminder.Recipient
	gone   map[string]bool
	// recent is when service notices went to people of late: what there was
	// before the pass first asked, and what this pass has planned since. Two
	// vehicles of one person are planned one after the other.
	recent map[string][]time.Time
}

// standing is what has become of a vehicle.
type standing struct{ scrapped, lostTrack bool }

func newWorld(now time.Time) *world {
	return &world{
		now: now, ties: map[vehicle.Serial][]reminder.Tie{}, standings: map[vehicle.Serial]standing{},
		unread: map[vehicle.Serial]error{}, campaigns: map[vehicle.Serial][]reminder.Item{},
		listed: map[vehicle.Serial][]string{}, ownerless: map[vehicle.Serial][]reminder.Ownerless{},
		unasked: map[vehicle.Serial]bool{}, bulletins: map[string]*bulletinv1.Bulletin{},
		people: map[string]reminder.Recipient{}, gone: map[string]bool{}, recent: map[string][]time.Time{},
	}
}

// day is the day that letters about campaigns are counted by: days of campaigns
// are days in UTC, as those of ties are.
func (w *world) day() vehicle.Date {
	if !w.on.IsZero() {
		return w.on
	}
	return vehicle.DateOf(w.now.UTC())
}

// look asks the services for what comes up within the longest notice: from
// now on, or from another day on.
func (j *Job) look(ctx context.Context, w *world) error {
	err := page.Each(func(token string) ([]*schedulev1.Schedule, string, error) {
		r, err := j.Schedules.ListDue(ctx, &schedulev1.ListDueRequest{
			WithinDays: reminder.Horizon, OnDate: vehiclewire.DateProto(w.on), PageSize: pageSize, PageToken: token,
			View: schedulev1.ScheduleView_SCHEDULE_VIEW_FULL,
		})
		return r.GetSchedules(), r.GetNextPageToken(), err
	}, func(s *schedulev1.Schedule) error {
		v, err := reminderwire.Vehicle(s)
		if err != nil {
			if v.Serial == "" {
				j.Logger.Error("a schedule is of no vehicle and was passed over", "schedule", s.GetName(), "error", err)
				return nil
			}
			w.unread[v.Serial] = fmt.Errorf("read the schedule: %w", err)
		}
		w.due = append(w.due, v)
		return nil
	})
	if err != nil {
		return fmt.Errorf("ask what is due: %w", err)
	}
	if err := j.lookAtCampaigns(ctx, w); err != nil {
		return err
	}
	if _, season := yearOn(w.now); len(w.due) == 0 && !season {
		return nil // nobody is told anything
	}
	if err := j.askTies(ctx, w, "vehicles/-"); err != nil {
		return err
	}
	j.meet(ctx, w)
	return j.askStandings(ctx, w)
}

// meet asks for the people of what is due side by side: to open their records
// one by one is a large part of a pass. Whoever cannot be had is asked for
// again when their vehicle's turn comes.
func (j *Job) meet(ctx context.Context, w *world) {
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	asked := map[string]bool{}
	for _, v := range w.due {
		for _, t := range w.ties[v.Serial] {
			if asked[t.Person] || !t.Lasts(w.now) {
				continue
			}
			asked[t.Person] = true
			group.Go(func() (err error) {
				defer recovered(&err)
				_, _, _ = j.person(ctx, w, t.Person)
				return nil
			})
		}
	}
	_ = group.Wait()
}

// askTies asks who is tied to one vehicle, or to each.
func (j *Job) askTies(ctx context.Context, w *world, parent string) error {
	err := page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := j.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, func(t *ownerv1.Tie) error {
		serial, _, err := resname.Serial("name", "vehicles/{serial}/ties/{tie}", t.GetName())
		if err != nil {
			j.Logger.Error("a tie is of no vehicle and was passed over", "error", err)
			return nil
		}
		tie, err := reminderwire.Tie(t)
		if err != nil {
			w.unread[serial] = fmt.Errorf("read a tie: %w", err)
			return nil
		}
		w.ties[serial] = append(w.ties[serial], tie)
		return nil
	})
	if err != nil {
		return fmt.Errorf("ask who is told: %w", err)
	}
	return nil
}

// askStandings asks what has become of the vehicles of which something is
// recorded.
func (j *Job) askStandings(ctx context.Context, w *world) error {
	err := page.Each(func(token string) ([]*ownerv1.Standing, string, error) {
		r, err := j.Owners.ListStandings(ctx, &ownerv1.ListStandingsRequest{PageSize: 500, PageToken: token})
		return r.GetStandings(), r.GetNextPageToken(), err
	}, func(s *ownerv1.Standing) error {
		serial, _, err := resname.Serial("name", "vehicles/{serial}/standing", s.GetName())
		if err != nil {
			j.Logger.Error("a standing is of no vehicle and was passed over", "error", err)
			return nil
		}
		w.stands(serial, s)
		return nil
	})
	if err != nil {
		return fmt.Errorf("ask what has become of the vehicles: %w", err)
	}
	return nil
}

// askStanding asks what has become of one vehicle.
func (j *Job) askStanding(ctx context.Context, w *world, serial vehicle.Serial) error {
	s, err := j.Owners.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: reminderwire.VehicleName(serial) + "/standing"})
	if err != nil {
		return fmt.Errorf("ask what has become of %s: %w", serial, err)
	}
	w.stands(serial, s)
	return nil
}

func (w *world) stands(serial vehicle.Serial, s *ownerv1.Standing) {
	scrapped, lostTrack := reminderwire.Standing(s)
	w.standings[serial] = standing{scrapped, lostTrack}
}

// recipients gives the people tied to a vehicle, by identifier. Somebody whose
// record is gone is left out.
func (j *Job) recipients(ctx context.Context, w *world, serial vehicle.Serial) (map[string]reminder.Recipient, error) {
	out := map[string]reminder.Recipient{}
	for _, t := range w.ties[serial] {
		r, ok, err := j.person(ctx, w, t.Person)
		if err != nil {
			return nil, err
		}
		if ok {
			out[t.Person] = r
		}
	}
	return out, nil
}

func (j *Job) person(ctx context.Context, w *world, id string) (reminder.Recipient, bool, error) {
	w.mu.Lock()
	r, ok := w.people[id]
	gone := w.gone[id]
	w.mu.Unlock()
	if ok || gone {
		return r, ok, nil
	}
	p, err := j.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: reminderwire.PersonName(id)})
	if err != nil && rpcerr.FromStatus(err).Kind != fault.NotFound {
		return reminder.Recipient{}, false, fmt.Errorf("ask for a person: %w", err)
	}
	if err == nil {
		if r, err = reminderwire.Recipient(p, time.LoadLocation); err != nil {
			j.Logger.Warn("a person's time zone is not known; UTC is taken", "person", id)
		}
		r = j.reached(r)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if p == nil {
		w.gone[id] = true
		return reminder.Recipient{}, false, nil
	}
	w.people[id] = r
	return r, true, nil
}

// reached leaves the recipient the ways that the works can use: what it has a
// server or a gateway for, and an address that mail can go to. Anything else is
// for the works to mend.
func (j *Job) reached(r reminder.Recipient) reminder.Recipient {
	if !remindermail.UsableAddress(r.Address) {
		r.Address = ""
	}
	cannot := func(c reminder.Channel) bool {
		return c == reminder.Mail && (j.Mail == nil || r.Address == "") || c == reminder.Text && j.Text == nil ||
			c == reminder.Letter && !j.Letters
	}
	for _, ways := range []*[]reminder.Channel{&r.Ways, &r.YearWays, &r.Safety, &r.Unasked, &r.Asked} {
		*ways = slices.DeleteFunc(slices.Clone(*ways), cannot)
	}
	return r
}

// limitDays is the time over which the messages to a person are counted.
const limitDays = 30

// caseOf puts together what a decision about one vehicle rests on.
func (j *Job) caseOf(ctx context.Context, w *world, v reminder.Vehicle) (reminder.Case, error) {
	if err := w.unread[v.Serial]; err != nil {
		return reminder.Case{}, err
	}
	people, err := j.recipients(ctx, w, v.Serial)
	if err != nil {
		return reminder.Case{}, err
	}
	stands := w.standings[v.Serial]
	v.Scrapped, v.LostTrack = stands.scrapped, stands.lostTrack
	c := reminder.Case{
		Vehicle: v, People: reminder.Tied(w.ties[v.Serial], people, w.now), Claims: j.Store.Claims(v.Serial),
		Answers: j.Store.Answers(v.Serial), Cadences: j.Store.Cadences(), Recent: map[string][]time.Time{},
		OptOuts: j.Store.OptedOutOf(v.Serial, reminder.Service), NoYear: j.Store.OptedOutOf(v.Serial, reminder.YearLetter),
		Now: w.now, Unasked: w.unasked[anyVehicle] || w.unasked[v.Serial],
	}
	for _, r := range c.People {
		if _, asked := w.recent[r.Person]; !asked {
			w.recent[r.Person] = j.Store.Recent(r.Person, w.now.AddDate(0, 0, -limitDays), j.Clock())
		}
		c.Recent[r.Person] = w.recent[r.Person]
	}
	return c, nil
}

// plan decides about one vehicle, and counts what it decided towards the limit
// of everybody's messages.
func (w *world) plan(c reminder.Case) reminder.Plan {
	plan := reminder.Select(c)
	for _, d := range plan.Drafts {
		if d.Purpose <= reminder.Service {
			w.recent[d.To.Person] = append(slices.Clip(w.recent[d.To.Person]), w.now)
		}
	}
	return plan
}

// vehicleNow asks for a vehicle's schedule as it is at this moment, or will be
// on the day of the world.
func (j *Job) vehicleNow(ctx context.Context, w *world, serial vehicle.Serial) (reminder.Vehicle, error) {
	s, err := j.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{
		Name: reminderwire.VehicleName(serial) + "/schedule", OnDate: vehiclewire.DateProto(w.on),
	})
	if err != nil {
		return reminder.Vehicle{}, fmt.Errorf("ask for the schedule of %s: %w", serial, err)
	}
	return reminderwire.Vehicle(s)
}

// caseNow asks everything that a decision about one vehicle rests on anew.
func (j *Job) caseNow(ctx context.Context, w *world, serial vehicle.Serial) (reminder.Case, error) {
	ask := j.vehicleNow
	if w.scheduleless || len(w.campaigns[serial]) > 0 {
		ask = j.vehicleOfCampaign
	}
	v, err := ask(ctx, w, serial)
	if err != nil {
		return reminder.Case{}, err
	}
	v.Items = append(v.Items, w.campaigns[serial]...)
	if err := j.askTies(ctx, w, reminderwire.VehicleName(serial)); err != nil {
		return reminder.Case{}, err
	}
	if err := j.askStanding(ctx, w, serial); err != nil {
		return reminder.Case{}, err
	}
	return j.caseOf(ctx, w, v)
}
