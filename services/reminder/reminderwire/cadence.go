package reminderwire

import (
	"slices"
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

// Cadence reads a cadence and refuses numbers out of their ranges.
func Cadence(p *reminderv1.Cadence) (reminder.Class, reminder.Cadence, error) {
	class, err := CadenceClass("name", p.GetName())
	if err != nil {
		return "", reminder.Cadence{}, err
	}
	c := reminder.Cadence{
		Early: int(p.GetEarlyDays()), Overdue: int(p.GetOverdueDays()), SecondOverdue: int(p.GetSecondOverdueDays()),
		Works: int(p.GetWorksDays()), Apart: int(p.GetApartDays()),
	}
	return class, c, c.Check()
}
