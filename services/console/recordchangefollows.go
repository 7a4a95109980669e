package console

import (
	"context"
	"fmt"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle/vehiclewire"
)

// today asks where a vehicle stands today. It is nil when that cannot be
// asked: whether a change is recorded does not hang on it.
func (c *Console) today(ctx context.Context, build string) *schedulev1.Schedule {
	x, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + serialOf(build) + "/schedule"})
	if err != nil {
		return nil
	}
	return x
}

// followsText prints which rounds of the programme began or ended with a change,
// and which readings count since or count no longer: the difference between
// where the vehicle stood before and where it stands now. The label is as wide
// as the others.
func followsText(s *sheet, label, serial string, was, now *schedulev1.Schedule) {
	label = fmt.Sprintf("  %-10s", label)
	if was == nil || now == nil {
		s.text(label, "The schedule could not be asked. What follows: halfshaft schedule "+serial)
		return
	}
	began := map[string]string{}
	for _, i := range was.GetItems() {
		began[i.GetItemId()] = basis(i)
	}
	say := func(text string) {
		s.text(label, text)
		label = "            "
	}
	for _, i := range now.GetItems() {
		if b, there := began[i.GetItemId()]; !there || b != basis(i) {
			say(i.GetItemId() + ": " + i.GetSentence())
		}
		delete(began, i.GetItemId())
	}
	for _, i := range was.GetItems() {
		if _, gone := began[i.GetItemId()]; gone {
			say(i.GetItemId() + ": " + i.GetTitle() + " no longer applies.")
		}
	}
	before, after := int(was.GetDoubtfulReadings()), int(now.GetDoubtfulReadings())
	if before != after {
		say(plural(after, "reading waits", "readings wait") + " for a decision, and before this " + plural(before, "did", "did") +
			". See them: halfshaft readings " + serial)
	}
}

// basis is what the present round of an item is counted from: another one means
// another round.
func basis(i *schedulev1.ItemStatus) string {
	for _, r := range i.GetReasons() {
		switch r.GetRule() {
		case "LAST_DONE", "COUNTED_FROM_FITTING", "COUNTED_FROM_DELIVERY", "COUNTED_FROM_LAY_UP", "STARTED_BY_EVENT":
			return i.GetCycle() + " " + r.GetSentence()
		}
	}
	return i.GetCycle()
}

// countsOtherwise says whether the odometer counts otherwise since a change.
func countsOtherwise(k buildv1.ChangeKind) bool {
	switch k {
	case buildv1.ChangeKind_CHANGE_KIND_TYRES, buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO,
		buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE, buildv1.ChangeKind_CHANGE_KIND_DIAL:
		return true
	}
	return false
}

// lineAfter asks how right the speedometer is on the day of a change that made
// it count otherwise; nil for any other change.
func (c *Console) lineAfter(ctx context.Context, made *buildv1.Change) *buildv1.VehicleDriveLine {
	if !countsOtherwise(made.GetKind()) {
		return nil
	}
	d, err := c.Builds.GetDriveLine(ctx, &buildv1.GetDriveLineRequest{
		Name: "builds/" + serialOf(made.GetName()) + "/driveLine", OnDate: made.GetChangeDate(),
	})
	if err != nil {
		return nil
	}
	return d
}

// lineText says what the dial reads since, and what would put it right.
func lineText(s *sheet, d *buildv1.VehicleDriveLine) {
	label := "  the dial  "
	for _, reasons := range [][]string{sentences(d.GetMissing()), sentences(d.GetAdvice().GetReasons())} {
		for _, r := range reasons {
			s.text(label, r)
			label = "            "
		}
	}
}

func sentences(reasons []*vehiclev1.Reason) []string {
	var all []string
	for _, r := range reasons {
		all = append(all, r.GetSentence())
	}
	return all
}

// wheelsOff is what is still to be recorded by hand after other tyres were
// fitted; empty for nothing. That the road speed is another since, the schedule
// sees for itself. Tyres of the size and pattern that were there, now measured,
// are no other tyres.
func wheelsOff(made *buildv1.Change, before *buildv1.Configuration) string {
	was, is := before.GetTyre(), made.GetTyre()
	if made.GetKind() != buildv1.ChangeKind_CHANGE_KIND_TYRES || is.GetSize() == was.GetSize() && is.GetPattern() == was.GetPattern() {
		return ""
	}
	return "If wheels were off for it, their nuts are to be tightened again soon: " + eventCommand(made, "wheel-refitted")
}

func eventCommand(made *buildv1.Change, kind string) string {
	return "halfshaft record event " + serialOf(made.GetName()) + " " + kind + " --on " + typedDay(made.GetChangeDate())
}

// typedDay is a day as it is typed: "2026-05-18".
func typedDay(d *date.Date) string {
	on, _ := vehiclewire.Date(d)
	return on.String()
}

// readingWanted asks for what the odometer showed at a change that made it
// count otherwise, where neither a change nor a reading of that day tells it.
// It says what is not known without it.
func (c *Console) readingWanted(ctx context.Context, made *buildv1.Change, before *buildv1.Configuration) string {
	if !countsOtherwise(made.GetKind()) || made.GetReading() != nil {
		return ""
	}
	if c.readOn(ctx, serialOf(made.GetName()), made.GetChangeDate()) {
		return ""
	}
	without, value := "the distance between the readings around that day is shared out by days", "VALUE"
	if made.GetKind() == buildv1.ChangeKind_CHANGE_KIND_DIAL {
		without = "what the vehicle covered since the last reading of the former odometer is not counted"
		value = "'VALUE " + before.GetDial().GetUnit() + "'" // the new one may count another
	}
	return "What did the odometer show on that day, before the change? Until that is recorded, " + without +
		": halfshaft record reading " + serialOf(made.GetName()) + " " + value + " --on " + typedDay(made.GetChangeDate())
}

// readOn says whether an odometer was read on a day, by itself or at a change
// after which it counts otherwise: what was read at another the schedule does
// not look at. What cannot be asked counts as not read.
func (c *Console) readOn(ctx context.Context, serial string, on *date.Date) bool {
	readings, err := c.readings(ctx, "vehicles/"+serial)
	for _, r := range readings {
		if err == nil && proto.Equal(r.GetReadingDate(), on) {
			return true
		}
	}
	changes, err := page.All(func(token string) ([]*buildv1.Change, string, error) {
		r, err := c.Builds.ListChanges(ctx, &buildv1.ListChangesRequest{Parent: "builds/" + serial, PageSize: 500, PageToken: token})
		return r.GetChanges(), r.GetNextPageToken(), err
	})
	for _, ch := range changes {
		if err == nil && countsOtherwise(ch.GetKind()) && ch.GetReading() != nil && proto.Equal(ch.GetChangeDate(), on) {
			return true
		}
	}
	return false
}
