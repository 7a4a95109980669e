package reminderwire

import (
	"slices"
	"strconv"
	"strings"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

// CadenceForm is the form of a cadence's name.
const CadenceForm = "cadences/{item_class}"

// CadenceClass reads the class of a cadence's name.
func CadenceClass(field, name string) (reminder.Class, error) {
	class, err := ID(field, CadenceForm, name)
	if err != nil {
		return "", err
	}
	if !slices.Contains(reminder.Classes(), reminder.Class(class)) {
		var names []string
		for _, c := range reminder.Classes() {
			names = append(names, "cadences/"+string(c))
		}
		return "", fault.InvalidField(field, name, "one of "+strings.Join(names, ", "))
	}
	return reminder.Class(class), nil
}

// CadenceProto writes a cadence, without its etag.
func CadenceProto(class reminder.Class, c reminder.Cadence) *reminderv1.Cadence {
	return &reminderv1.Cadence{
		Name: "cadences/" + string(class), EarlyDays: int32(c.Early), OverdueDays: int32(c.Overdue),
		SecondOverdueDays: int32(c.SecondOverdue), WorksDays: int32(c.Works), ApartDays: int32(c.Apart),
	}
}

// Cadence reads a cadence and says which numbers are out of their ranges.
func Cadence(p *reminderv1.Cadence) (reminder.Class, reminder.Cadence, error) {
	class, err := CadenceClass("name", p.GetName())
	if err != nil {
		return "", reminder.Cadence{}, err
	}
	var wrong []fault.Field
	within := func(field string, n int32, least, most int) int {
		if int(n) < least || int(n) > most {
			wrong = append(wrong, fault.Field{
				Name: field, Got: strconv.Itoa(int(n)), Want: strconv.Itoa(least) + " to " + strconv.Itoa(most) + " days",
			})
		}
		return int(n)
	}
	c := reminder.Cadence{
		Early: within("early_days", p.GetEarlyDays(), 0, 120), Overdue: within("overdue_days", p.GetOverdueDays(), 1, 365),
		SecondOverdue: within("second_overdue_days", p.GetSecondOverdueDays(), 0, 365),
		Works:         within("works_days", p.GetWorksDays(), 1, 365), Apart: within("apart_days", p.GetApartDays(), 1, 90),
	}
	return class, c, fault.InvalidFields(wrong)
}
