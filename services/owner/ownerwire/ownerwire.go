// Package ownerwire converts people and ties between services/owner and their
// protos.
package ownerwire

import (
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const people = "people/"

// The forms of the names here.
const (
	personForm = "people/{person}"
	tieForm    = "vehicles/{serial}/ties/{tie}"
)

// PersonName gives a person's resource name.
func PersonName(id string) string { return people + id }

// PersonID reads a person's resource name. field is the request's, for the
// refusal.
func PersonID(field, name string) (string, error) {
	id, ok := strings.CutPrefix(name, people)
	if !ok || !owner.ValidID(id) {
		return "", fault.InvalidField(field, name, personForm)
	}
	return id, nil
}

// Person reads all of a person but the name, which the caller reads. What is
// wrong with the content is for owner.Person.Faults to say.
func Person(p *ownerv1.Person) owner.Person {
	return owner.Person{
		ID:       strings.TrimPrefix(p.GetName(), people),
		FullName: p.GetFullName(), Email: p.GetEmail(), Phone: p.GetPhone(), PostalLines: p.GetPostalLines(),
		Language: p.GetLanguage(), Unit: vehicle.Unit(p.GetDistanceUnit()), TimeZone: p.GetTimeZone(),
		FromHour: int(p.GetContactFromHour()), UntilHour: int(p.GetContactUntilHour()), Created: moment(p.GetCreateTime()),
	}
}

// PersonProto writes a person, without the etag.
func PersonProto(p owner.Person) *ownerv1.Person {
	out := &ownerv1.Person{
		Name: PersonName(p.ID), FullName: p.FullName, Email: p.Email, Phone: p.Phone, PostalLines: p.PostalLines,
		Language: p.Language, DistanceUnit: string(p.Unit), TimeZone: p.TimeZone,
		ContactFromHour: int32(p.FromHour), ContactUntilHour: int32(p.UntilHour),
	}
	if !p.Created.IsZero() {
		out.CreateTime = timestamppb.New(p.Created)
	}
	return out
}

func moment(t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.AsTime()
}

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
	if role < 0 || role > ownerv1.Role_ROLE_PAYER {
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
