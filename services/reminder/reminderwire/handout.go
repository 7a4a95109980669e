package reminderwire

import (
	"strconv"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// HandbookIssueForm is the form of the name of an issue of a handbook.
const HandbookIssueForm = "vehicles/{serial}/handbookIssues/{issue}"

// Handout reads an issue of a handbook as far as sending it needs it.
func Handout(i *handbookv1.HandbookIssue) (vehicle.Serial, reminder.Handout, error) {
	serial, rest, err := resname.Serial("name", HandbookIssueForm, i.GetName())
	if err != nil {
		return "", reminder.Handout{}, err
	}
	number, err := strconv.Atoi(rest[len(rest)-1])
	if err != nil || number < 1 {
		return "", reminder.Handout{}, fault.InvalidField("name", i.GetName(), "an issue with its number, from 1")
	}
	on, err := vehiclewire.Date(i.GetOnDate())
	if err != nil {
		return "", reminder.Handout{}, fault.Under("on_date", err)
	}
	return serial, reminder.Handout{Issue: number, Title: i.GetTitle(), Date: on, Changes: len(i.GetChanges()), Language: i.GetLanguage()}, nil
}
