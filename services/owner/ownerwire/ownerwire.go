// Package ownerwire converts people and ties between services/owner and their
// protos.
package ownerwire

import (
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const people = "people/"

// The forms of the names here.
const (
	personForm        = "people/{person}"
	consentForm       = "people/{person}/consents/{consent}"
	documentForm      = "people/{person}/documents/{document}"
	contactChangeForm = "people/{person}/contactChanges/{contact_change}"
	tieForm           = "vehicles/{serial}/ties/{tie}"
	standingForm      = "vehicles/{serial}/standing"
	transferForm      = "vehicles/{serial}/transfers/{transfer}"
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

// Person reads all of a person but the name, which the caller reads, and the
// consents, which are records of their own. What is wrong with the content is
// for owner.Person.FaultsOn to say; a date that is none of the calendar is said
// here.
func Person(p *ownerv1.Person) (owner.Person, []fault.Field) {
	var faults []fault.Field
	deceased, err := vehiclewire.Date(p.GetDeceasedDate())
	if err != nil {
		faults = append(faults, fault.Field{Name: "deceased_date", Got: p.GetDeceasedDate().String(), Want: "a day of the calendar"})
	}
	out := owner.Person{
		ID:       strings.TrimPrefix(p.GetName(), people),
		FullName: p.GetFullName(), Email: p.GetEmail(), Phone: p.GetPhone(), PostalLines: p.GetPostalLines(),
		Language: p.GetLanguage(), Unit: vehicle.Unit(p.GetDistanceUnit()), TimeZone: p.GetTimeZone(),
		FromHour: int(p.GetContactFromHour()), UntilHour: int(p.GetContactUntilHour()), Created: vehiclewire.Moment(p.GetCreateTime()),
		Formats: p.GetFormatLocale(), MostMessages: int(p.GetMostMessages()), Deceased: deceased, Hold: p.GetRetentionHold(),
	}
	for _, w := range p.GetContactWays() {
		out.Ways = append(out.Ways, Way(w))
	}
	for _, u := range p.GetUndeliverable() {
		out.Undeliverable = append(out.Undeliverable, owner.Undeliverable{Way: Way(u.GetWay()), Since: vehiclewire.Moment(u.GetMarkTime()), Reason: u.GetReason()})
	}
	return out, faults
}

// Way reads a way; one that this program does not know is no way at all.
func Way(w ownerv1.ContactWay) owner.Way {
	if w < 0 || w > ownerv1.ContactWay_CONTACT_WAY_LETTER {
		return noWay
	}
	return owner.Way(w)
}

// noWay is refused wherever a way is wanted.
const noWay owner.Way = 255

// PersonProto writes a person, without the etag and the consents.
func PersonProto(p owner.Person) *ownerv1.Person {
	out := &ownerv1.Person{
		Name: PersonName(p.ID), FullName: p.FullName, Email: p.Email, Phone: p.Phone, PostalLines: p.PostalLines,
		Language: p.Language, DistanceUnit: string(p.Unit), TimeZone: p.TimeZone,
		ContactFromHour: int32(p.FromHour), ContactUntilHour: int32(p.UntilHour),
		FormatLocale: p.Formats, MostMessages: int32(p.MostMessages), DeceasedDate: vehiclewire.DateProto(p.Deceased), CreateTime: vehiclewire.MomentProto(p.Created), RetentionHold: p.Hold,
	}
	for _, w := range p.Ways {
		out.ContactWays = append(out.ContactWays, ownerv1.ContactWay(w))
	}
	for _, u := range p.Undeliverable {
		out.Undeliverable = append(out.Undeliverable, &ownerv1.Undeliverable{
			Way: ownerv1.ContactWay(u.Way), MarkTime: timestamppb.New(u.Since), Reason: u.Reason,
		})
	}
	return out
}
