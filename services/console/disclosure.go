package console

import (
	"context"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/disclosure"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Disclosure prints the draft of the odometer disclosure statement for a transfer
// of a vehicle on a day; today, when on is zero. modelYear is the one on the
// title, 0 when nobody said.
func (c *Console) Disclosure(ctx context.Context, serial string, on vehicle.Date, modelYear int) error {
	v, on, err := c.odometerRecord(ctx, serial, on)
	if err != nil {
		return err
	}
	statement, err := v.StatementFor(on, modelYear)
	if err != nil {
		return err
	}
	if c.JSON {
		return c.printJSON(statementAnswer(v, statement))
	}
	s := &sheet{}
	statementText(s, v, statement)
	_, err = c.Out.Write([]byte(s.String()))
	return err
}

// OdometerNotice prints the draft of the notice on the door frame for each
// replaced odometer of a vehicle.
func (c *Console) OdometerNotice(ctx context.Context, serial string, on vehicle.Date) error {
	v, on, err := c.odometerRecord(ctx, serial, on)
	if err != nil {
		return err
	}
	notices := v.Notices(on)
	if c.JSON {
		for _, n := range notices {
			if err := c.printJSON(noticeAnswer(v, n)); err != nil {
				return err
			}
		}
		return nil
	}
	s := &sheet{}
	noticesText(s, v, notices, on)
	_, err = c.Out.Write([]byte(s.String()))
	return err
}

// odometerRecord gathers what the records say about the odometer of a vehicle by
// a day, and gives the day that was meant.
func (c *Console) odometerRecord(ctx context.Context, serial string, on vehicle.Date) (*disclosure.Vehicle, vehicle.Date, error) {
	name, err := c.open(ctx, serial)
	if err != nil {
		return nil, on, err
	}
	parent := "vehicles/" + serialOf(name)
	schedule, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: parent + "/schedule", OnDate: vehiclewire.DateProto(on)})
	if err != nil {
		return nil, on, err
	}
	if on, err = vehiclewire.Date(schedule.GetOnDate()); err != nil {
		return nil, on, err
	}
	build, err := c.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: name})
	if err != nil {
		return nil, on, err
	}
	v, err := odometerAsBuilt(build)
	if err != nil {
		return nil, on, err
	}
	if v.Replacements, err = c.replacements(ctx, name); err != nil {
		return nil, on, err
	}
	readings, err := c.readings(ctx, parent)
	if err != nil {
		return nil, on, err
	}
	if err := takeReadings(v, readings, on); err != nil {
		return nil, on, err
	}
	return v, on, c.lastLook(ctx, v, schedule, readings)
}

// odometerAsBuilt is what the build record says.
func odometerAsBuilt(b *buildv1.Build) (*disclosure.Vehicle, error) {
	v := &disclosure.Vehicle{
		Serial: vehicle.Serial(serialOf(b.GetName())), FrameNumber: b.GetFrameNumber(), DonorYear: int(b.GetDonorYear()),
		Dial: vehiclewire.Dial(b.GetDial()),
	}
	var err error
	if v.BuildDate, err = vehiclewire.Date(b.GetBuildDate()); err != nil {
		return nil, err
	}
	if v.DeliveryDate, err = vehiclewire.Date(b.GetDeliveryDate()); err != nil {
		return nil, err
	}
	v.Delivered, err = vehiclewire.Entered(b.GetDeliveryReading())
	return v, err
}

// replacements are the changes of the dial, the oldest first.
func (c *Console) replacements(ctx context.Context, build string) ([]disclosure.Replacement, error) {
	changes, err := page.All(func(token string) ([]*buildv1.Change, string, error) {
		r, err := c.Builds.ListChanges(ctx, &buildv1.ListChangesRequest{Parent: build, PageSize: 500, PageToken: token})
		return r.GetChanges(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	var all []disclosure.Replacement
	for _, change := range changes {
		if change.GetKind() != buildv1.ChangeKind_CHANGE_KIND_DIAL {
			continue
		}
		r := disclosure.Replacement{
			Dial: vehiclewire.Dial(change.GetDial()), Why: change.GetReason(), By: change.GetDoneBy(), Record: change.GetName(),
		}
		if r.On, err = vehiclewire.Date(change.GetChangeDate()); err != nil {
			return nil, err
		}
		if r.Before, err = vehiclewire.Entered(change.GetReading()); err != nil {
			return nil, err
		}
		if r.After, err = vehiclewire.Entered(change.GetDialStart()); err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
}

// takeReadings notes the readings that wait for a decision.
func takeReadings(v *disclosure.Vehicle, readings []*schedulev1.Reading, until vehicle.Date) error {
	for _, r := range readings {
		on, err := vehiclewire.Date(r.GetReadingDate())
		if err != nil {
			return err
		}
		if r.GetState() != schedulev1.ReadingState_READING_STATE_DOUBTFUL || on.After(until) {
			continue
		}
		shown, err := vehiclewire.Entered(r.GetValue())
		if err != nil {
			return err
		}
		v.Waiting = append(v.Waiting, disclosure.Look{On: on, Shown: shown, Record: r.GetName()})
	}
	return nil
}

// lastLook finds what the odometer showed on the day to which the distance ledger
// has come: in a reading, an entry of work or an event, the greatest of that day.
func (c *Console) lastLook(ctx context.Context, v *disclosure.Vehicle, x *schedulev1.Schedule, readings []*schedulev1.Reading) error {
	day, err := vehiclewire.Date(x.GetPace().GetReadingDate())
	if err != nil || day.IsZero() || x.GetPace().GetCountedReadings() == 0 {
		return err
	}
	looks, err := c.looksOf(ctx, "vehicles/"+string(v.Serial), day, readings)
	if err != nil {
		return err
	}
	for _, r := range v.Replacements { // the new one may be all that was read that day
		if r.On == day && !r.After.IsZero() {
			looks = append(looks, disclosure.Look{On: day, Shown: r.After, Record: r.Record})
		}
	}
	if day == v.DeliveryDate {
		looks = append(looks, disclosure.Look{On: day, Shown: v.Delivered, Record: "builds/" + string(v.Serial)})
	}
	unit := vehicle.Unit(x.GetPace().GetUnit())
	var most vehicle.Distance
	for _, l := range looks {
		d, err := l.Shown.Distance()
		if err != nil || l.Shown.Unit != unit || !v.Last.On.IsZero() && d <= most {
			continue
		}
		l.True = vehicle.Distance(x.GetPace().GetLifeDistance().GetMillimetres())
		v.Last, most = l, d
	}
	return nil
}

// looksOf gives what was read off the odometer of a vehicle on a day and is not
// in doubt.
func (c *Console) looksOf(ctx context.Context, parent string, day vehicle.Date, readings []*schedulev1.Reading) ([]disclosure.Look, error) {
	var looks []disclosure.Look
	add := func(on vehicle.Date, shown *vehiclev1.Distance, record string) error {
		value, err := vehiclewire.Entered(shown)
		if err == nil && on == day && !value.IsZero() {
			looks = append(looks, disclosure.Look{On: day, Shown: value, Record: record})
		}
		return err
	}
	for _, r := range readings {
		shown := r.GetValue()
		if s := r.GetSettlement(); s.GetVerdict() == schedulev1.Verdict_VERDICT_CORRECTED {
			shown = s.GetCorrected()
		}
		on, err := vehiclewire.Date(r.GetReadingDate())
		if err != nil {
			return nil, err
		}
		if r.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED {
			if err := add(on, shown, r.GetName()); err != nil {
				return nil, err
			}
		}
	}
	entries, err := page.All(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		on, err := vehiclewire.Date(e.GetServiceDate())
		if err != nil {
			return nil, err
		}
		if e.GetVoidReason() == "" {
			if err := add(on, e.GetReading(), e.GetName()); err != nil {
				return nil, err
			}
		}
	}
	events, err := page.All(func(token string) ([]*schedulev1.Event, string, error) {
		r, err := c.Schedules.ListEvents(ctx, &schedulev1.ListEventsRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetEvents(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	for _, e := range events {
		on, err := vehiclewire.Date(e.GetEventDate())
		if err != nil {
			return nil, err
		}
		if err := add(on, e.GetReading(), e.GetName()); err != nil {
			return nil, err
		}
	}
	return looks, nil
}
