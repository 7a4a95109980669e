package ownerwire

import (
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ConsentName gives a consent's resource name.
func ConsentName(person, id string) string { return PersonName(person) + "/consents/" + id }

// ConsentID reads a consent's resource name.
func ConsentID(field, name string) (person, id string, err error) {
	return underPerson(field, consentForm, name)
}

// DocumentName gives a document's resource name.
func DocumentName(person, id string) string { return PersonName(person) + "/documents/" + id }

// DocumentID reads a document's resource name.
func DocumentID(field, name string) (person, id string, err error) {
	return underPerson(field, documentForm, name)
}

// ContactChangeName gives the resource name of a change of address.
func ContactChangeName(person, id string) string {
	return PersonName(person) + "/contactChanges/" + id
}

// ContactChangeID reads the resource name of a change of address.
func ContactChangeID(field, name string) (person, id string, err error) {
	return underPerson(field, contactChangeForm, name)
}

func underPerson(field, form, name string) (person, id string, err error) {
	ids, err := resname.Match(field, form, name)
	if err != nil {
		return "", "", err
	}
	if !owner.ValidID(ids[0]) || !owner.ValidID(ids[1]) {
		return "", "", fault.InvalidField(field, name, form)
	}
	return ids[0], ids[1], nil
}

// Consent reads all of a consent but its name.
func Consent(c *ownerv1.Consent) (owner.Consent, []fault.Field) {
	var faults []fault.Field
	valid := func(name string, t *timestamppb.Timestamp) {
		if t != nil && !t.IsValid() {
			faults = append(faults, fault.Field{Name: name, Got: t.String(), Want: "a time in the years 1 to 9999"})
		}
	}
	valid("consent_time", c.GetConsentTime())
	valid("create_time", c.GetCreateTime())
	purpose := c.GetPurpose()
	if purpose < 0 || purpose > ownerv1.Purpose_PURPOSE_SAFETY {
		purpose = ownerv1.Purpose_PURPOSE_UNSPECIFIED // unknown to this program; refused by owner.Consent.Faults, as are the others
	}
	source := c.GetSource()
	if source < 0 || source > ownerv1.ConsentSource_CONSENT_SOURCE_TEXT {
		source = ownerv1.ConsentSource_CONSENT_SOURCE_UNSPECIFIED
	}
	return owner.Consent{
		Purpose: owner.Purpose(purpose), Way: Way(c.GetWay()), Given: c.GetGiven(), Wording: c.GetWording(), Language: c.GetLanguage(),
		Said: vehiclewire.Moment(c.GetConsentTime()), Source: owner.Source(source), RecordedBy: c.GetRecordedBy(), Created: vehiclewire.Moment(c.GetCreateTime()),
	}, faults
}

// ConsentProto writes a consent.
func ConsentProto(c owner.Consent) *ownerv1.Consent {
	return &ownerv1.Consent{
		Name: ConsentName(c.Person, c.ID), Purpose: ownerv1.Purpose(c.Purpose), Way: ownerv1.ContactWay(c.Way), Given: c.Given,
		Wording: c.Wording, Language: c.Language, ConsentTime: vehiclewire.MomentProto(c.Said), Source: ownerv1.ConsentSource(c.Source),
		RecordedBy: c.RecordedBy, CreateTime: vehiclewire.MomentProto(c.Created),
	}
}

// Document reads what a document is, but its name.
func Document(d *ownerv1.Document) (owner.Document, []fault.Field) {
	out := owner.Document{MediaType: d.GetMediaType(), Title: d.GetTitle(), Created: vehiclewire.Moment(d.GetCreateTime()), Size: d.GetSizeBytes()}
	if d.GetVehicle() == "" {
		return out, nil
	}
	serial, _, err := resname.Serial("vehicle", "vehicles/{serial}", d.GetVehicle())
	out.Vehicle = serial
	return out, fault.FieldsOf("vehicle", err)
}

// DocumentProto writes what a document is.
func DocumentProto(d owner.Document) *ownerv1.Document {
	return &ownerv1.Document{
		Name: DocumentName(d.Person, d.ID), MediaType: d.MediaType, Vehicle: vehicleName(d.Vehicle), Title: d.Title,
		CreateTime: vehiclewire.MomentProto(d.Created), SizeBytes: d.Size,
	}
}

func vehicleName(serial vehicle.Serial) string {
	if serial == "" {
		return ""
	}
	return "vehicles/" + string(serial)
}

// Erasure reads an erasure. One that is not named as an erasure is of nobody.
func Erasure(e *ownerv1.Erasure) owner.Erasure {
	person, ok := strings.CutPrefix(e.GetName(), erasures)
	if !ok {
		person = ""
	}
	return owner.Erasure{
		Person: person, At: vehiclewire.Moment(e.GetCreateTime()), Ground: e.GetGround(),
		RecordedBy: e.GetRecordedBy(), Destroyed: e.GetDestroyedMasterKey(), New: e.GetNewMasterKey(),
	}
}

const erasures = "erasures/"

// ErasureProto writes an erasure.
func ErasureProto(e owner.Erasure) *ownerv1.Erasure {
	return &ownerv1.Erasure{
		Name: erasures + e.Person, CreateTime: vehiclewire.MomentProto(e.At), Ground: e.Ground,
		RecordedBy: e.RecordedBy, DestroyedMasterKey: e.Destroyed, NewMasterKey: e.New,
	}
}
