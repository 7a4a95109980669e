package reminderjob

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

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
)

// pageSize is how much is asked for at once.
const pageSize = 200

// world is what a pass knows: what comes up, and who is tied to what. People
// are asked for when they are needed.
type world struct {
	now  time.Time
	due  []reminder.Vehicle
	ties map[vehicle.Serial][]reminder.Tie

	mu     sync.Mutex
	people map[string]reminder.Recipient
	gone   map[string]bool
}

func newWorld(now time.Time) *world {
	return &world{now: now, ties: map[vehicle.Serial][]reminder.Tie{}, people: map[string]reminder.Recipient{}, gone: map[string]bool{}}
}

// look asks the services for what comes up within the longest notice.
func (j *Job) look(ctx context.Context) (*world, error) {
	w := newWorld(j.Clock())
	err := page.Each(func(token string) ([]*schedulev1.Schedule, string, error) {
		r, err := j.Schedules.ListDue(ctx, &schedulev1.ListDueRequest{
			WithinDays: reminder.Horizon, PageSize: pageSize, PageToken: token, View: schedulev1.ScheduleView_SCHEDULE_VIEW_FULL,
		})
		return r.GetSchedules(), r.GetNextPageToken(), err
	}, func(s *schedulev1.Schedule) error {
		v, err := reminderwire.Vehicle(s)
		if err != nil {
			return fmt.Errorf("read the schedule %s: %w", s.GetName(), err)
		}
		w.due = append(w.due, v)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("ask what is due: %w", err)
	}
	return w, j.askTies(ctx, w, "vehicles/-")
}

// askTies asks who is tied to one vehicle, or to each.
func (j *Job) askTies(ctx context.Context, w *world, parent string) error {
	err := page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := j.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, func(t *ownerv1.Tie) error {
		serial, _, err := resname.Serial("name", "vehicles/{serial}/ties/{tie}", t.GetName())
		if err != nil {
			return fmt.Errorf("read a tie: %w", err)
		}
		tie, err := reminderwire.Tie(t)
		if err != nil {
			return fmt.Errorf("read a tie: %w", err)
		}
		w.ties[serial] = append(w.ties[serial], tie)
		return nil
	})
	if err != nil {
		return fmt.Errorf("ask who is told: %w", err)
	}
	return nil
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
		if !remindermail.UsableAddress(r.Address) {
			r.Address = "" // nobody can be reached there, which is for the works to mend
			mail := func(c reminder.Channel) bool { return c == reminder.Mail }
			r.Ways, r.YearWays = slices.DeleteFunc(r.Ways, mail), slices.DeleteFunc(r.YearWays, mail)
		}
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

// caseOf puts together what a decision about one vehicle rests on.
func (j *Job) caseOf(ctx context.Context, w *world, v reminder.Vehicle) (reminder.Case, error) {
	people, err := j.recipients(ctx, w, v.Serial)
	if err != nil {
		return reminder.Case{}, err
	}
	return reminder.Case{
		Vehicle: v, People: reminder.Tied(w.ties[v.Serial], people, w.now), Claims: j.Store.Claims(v.Serial),
		OptOuts: j.Store.OptedOut(v.Serial), Now: w.now,
	}, nil
}

// vehicleNow asks for a vehicle's schedule as it is at this moment.
func (j *Job) vehicleNow(ctx context.Context, serial vehicle.Serial) (reminder.Vehicle, error) {
	s, err := j.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: reminderwire.VehicleName(serial) + "/schedule"})
	if err != nil {
		return reminder.Vehicle{}, fmt.Errorf("ask for the schedule of %s: %w", serial, err)
	}
	return reminderwire.Vehicle(s)
}
