package console

import (
	"context"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
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
	return v, on, takeLastDial(v, schedule.GetPace(), on)
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

// takeReadings finds the last look at the odometer by a day that counts, and
// those that wait for a decision. What was read at work and events is among the
// readings.
func takeReadings(v *disclosure.Vehicle, readings []*schedulev1.Reading, until vehicle.Date) error {
	if !v.DeliveryDate.IsZero() && !v.DeliveryDate.After(until) && !v.Delivered.IsZero() {
		v.Last = disclosure.Look{On: v.DeliveryDate, Shown: v.Delivered, Record: "builds/" + string(v.Serial)}
	}
	for _, r := range readings {
		look, err := lookOf(r)
		if err != nil {
			return err
		}
		switch {
		case look.On.After(until):
		case r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL:
			v.Waiting = append(v.Waiting, look)
		case r.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED:
		case look.On.After(v.Last.On) || look.On == v.Last.On && look.True >= v.Last.True:
			v.Last = look
		}
	}
	return nil
}

// lookOf is a reading as it is to be taken: after a correction.
func lookOf(r *schedulev1.Reading) (disclosure.Look, error) {
	shown := r.GetValue()
	if s := r.GetSettlement(); s.GetVerdict() == schedulev1.Verdict_VERDICT_CORRECTED {
		shown = s.GetCorrected()
	}
	look := disclosure.Look{Record: r.GetName(), True: vehicle.Distance(r.GetLifeDistance().GetMillimetres())}
	var err error
	if look.On, err = vehiclewire.Date(r.GetReadingDate()); err != nil {
		return look, err
	}
	look.Shown, err = vehiclewire.Entered(shown)
	return look, err
}

// takeLastDial takes what an odometer showed when it was fitted for the last look,
// where it was not read since. The ledger has come to that day; where what the old
// one showed is not on record, it has not, and what it knew before stands.
func takeLastDial(v *disclosure.Vehicle, pace *schedulev1.Pace, until vehicle.Date) error {
	counted, err := vehiclewire.Date(pace.GetReadingDate())
	if err != nil {
		return err
	}
	for _, r := range v.Replacements {
		if r.On.After(until) || r.On.Before(v.Last.On) || r.After.IsZero() {
			continue
		}
		truly := v.Last.True
		if counted == r.On {
			truly = vehicle.Distance(pace.GetLifeDistance().GetMillimetres())
		}
		v.Last = disclosure.Look{On: r.On, Shown: r.After, True: truly, Record: r.Record}
	}
	return nil
}
