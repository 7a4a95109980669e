package ownerwire

import (
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// TieName gives a tie's resource name.
func TieName(serial vehicle.Serial, id string) string {
	return "vehicles/" + string(serial) + "/ties/" + id
}

// TieID reads a tie's resource name; its serial may be written in any form.
func TieID(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, tieForm, name)
	if err != nil {
		return "", "", err
	}
	if !owner.ValidID(ids[0]) {
		return "", "", fault.InvalidField(field, name, tieForm)
	}
	return serial, ids[0], nil
}

// Tie reads all of a tie but its name.
func Tie(t *ownerv1.Tie) (owner.Tie, []fault.Field) {
	var faults []fault.Field
	person, err := PersonID("", t.GetPerson())
	if err != nil {
		faults = append(faults, fault.FieldsOf("person", err)...)
	}
	start, err := vehiclewire.Date(t.GetStartDate())
	if err != nil {
		faults = append(faults, fault.Field{Name: "start_date", Got: t.GetStartDate().String(), Want: "a day of the calendar"})
	}
	end, err := vehiclewire.Date(t.GetEndDate())
	if err != nil {
		faults = append(faults, fault.Field{Name: "end_date", Got: t.GetEndDate().String(), Want: "a day of the calendar"})
	}
	role := t.GetRole()
	if role < 0 || role > ownerv1.Role_ROLE_EXECUTOR {
		role = ownerv1.Role_ROLE_UNSPECIFIED // unknown to this program; refused by owner.Tie.Faults
	}
	return owner.Tie{Person: person, Role: owner.Role(role), Notices: t.GetNotices(), Start: start, End: end}, faults
}

// TieProto writes a tie, without the etag.
func TieProto(t owner.Tie) *ownerv1.Tie {
	return &ownerv1.Tie{
		Name: TieName(t.Serial, t.ID), Person: PersonName(t.Person), Role: ownerv1.Role(t.Role), Notices: t.Notices,
		StartDate: vehiclewire.DateProto(t.Start), EndDate: vehiclewire.DateProto(t.End),
	}
}
