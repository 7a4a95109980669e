package reminderwire

import (
	"strconv"

	"google.golang.org/genproto/googleapis/type/date"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// PendingProto writes a line of what comes up.
func PendingProto(p reminder.Pending) *reminderv1.PendingLine {
	out := &reminderv1.PendingLine{
		Vehicle: VehicleName(p.Serial), ItemId: p.Item.ID, Cycle: p.Item.Cycle, Title: p.Item.Title,
		ActByDate: vehiclewire.DateProto(p.Item.ActBy), Stage: StageProto(p.Stage), Reason: p.Reason, Sentence: p.Sentence,
		NextDate: vehiclewire.DateProto(p.Next),
	}
	if p.Person != "" {
		out.Person = PersonName(p.Person)
	}
	if p.Notice != "" {
		out.Notice = NoticeName(p.Notice)
	}
	return out
}

// Day reads a date of a request, whose field a refusal names; zero for none.
func Day(field string, d *date.Date) (vehicle.Date, error) {
	day, err := vehiclewire.Date(d)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return day, fault.InvalidField(field, f.Got, f.Want)
	}
	return day, nil
}

// Channel reads a channel; "" for none.
func Channel(c reminderv1.Channel) reminder.Channel { return channel(c) }

// Purpose reads what something is for; none said is service. A number that
// stands for nothing is refused.
func Purpose[P ~int32](field string, p P) (reminder.Purpose, error) {
	switch purpose := reminder.Purpose(p); purpose {
	case 0, reminder.Service:
		return reminder.Service, nil
	case reminder.YearLetter, reminder.Safety, reminder.Handbook, reminder.Confirm, reminder.Changed:
		return purpose, nil
	}
	return 0, fault.InvalidField(field, strconv.Itoa(int(p)), "a purpose")
}

// FeedForm is the form of a calendar feed's name.
const FeedForm = "vehicles/{serial}/calendarFeeds/{calendar_feed}"

// FeedName makes a calendar feed's resource name.
func FeedName(serial vehicle.Serial, person string) string {
	return VehicleName(serial) + "/calendarFeeds/" + person
}

// FeedOf reads whose feed of which vehicle a name says.
func FeedOf(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, FeedForm, name)
	if err != nil {
		return "", "", err
	}
	return serial, ids[0], nil
}
