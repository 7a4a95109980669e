// Package enquirywire converts enquiries and notes between services/enquiry and
// their protos.
package enquirywire

import (
	"slices"
	"strings"
	"time"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The forms of the names here.
const (
	VehicleForm      = "vehicles/{serial}"
	EnquiryForm      = "vehicles/{serial}/enquiries/{enquiry}"
	DossierForm      = "vehicles/{serial}/dossier"
	PersonForm       = "people/{person}"
	OrganisationForm = "organisations/{organisation}"

	notes         = "answerNotes/"
	people        = "people/"
	organisations = "organisations/"
)

// VehicleName makes a vehicle's resource name.
func VehicleName(serial vehicle.Serial) string { return "vehicles/" + string(serial) }

// EnquiryName makes an enquiry's resource name.
func EnquiryName(serial vehicle.Serial, id string) string {
	return VehicleName(serial) + "/enquiries/" + id
}

// EnquiryID reads an enquiry's resource name; its serial may be in any form.
func EnquiryID(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, EnquiryForm, name)
	if err != nil {
		return "", "", err
	}
	return serial, ids[0], nil
}

// NoteName makes a note's resource name.
func NoteName(id string) string { return notes + id }

// NoteID reads a note's resource name.
func NoteID(field, name string) (string, error) {
	id, ok := strings.CutPrefix(name, notes)
	if !ok || !enquiry.ValidNoteID(id) {
		return "", fault.InvalidField(field, name, notes+"{answer_note}, in small letters, digits and hyphens")
	}
	return id, nil
}

// PersonName makes a person's resource name; "" for nobody.
func PersonName(id string) string { return named(people, id) }

// PersonID reads a person's resource name; "" is nobody.
func PersonID(field, name string) (string, error) { return idOf(field, PersonForm, name) }

// OrganisationID reads an organisation's resource name; "" is none.
func OrganisationID(field, name string) (string, error) {
	return idOf(field, OrganisationForm, name)
}

func named(head, id string) string {
	if id == "" {
		return ""
	}
	return head + id
}

func idOf(field, form, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	ids, err := resname.Match(field, form, name)
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

// Asked reads what a caller says of an enquiry: without its name, its answers
// and what the service itself writes.
func Asked(serial vehicle.Serial, p *enquiryv1.Enquiry) (enquiry.Enquiry, []fault.Field) {
	var faults []fault.Field
	e := enquiry.Enquiry{
		Serial: serial, Channel: channel(p.GetChannel()), Asker: asker(p.GetAskerKind()),
		Question: p.GetQuestion(), Positions: slices.Clone(p.GetPositions()), Symptom: p.GetSymptom(),
		Closed: p.GetClosed(), Asked: vehiclewire.Moment(p.GetAskTime()).Truncate(time.Microsecond), // as tokens of pages hold it
	}
	var err error
	if e.Person, err = PersonID("person", p.GetPerson()); err != nil {
		faults = append(faults, fault.FieldsOf("person", err)...)
	}
	if e.Organisation, err = OrganisationID("organisation", p.GetOrganisation()); err != nil {
		faults = append(faults, fault.FieldsOf("organisation", err)...)
	}
	if e.FollowUp, err = vehiclewire.Date(p.GetFollowUpDate()); err != nil {
		faults = append(faults, fault.Field{Name: "follow_up_date", Got: p.GetFollowUpDate().String(), Want: "a day of the calendar"})
	}
	return e, faults
}

// channel reads a channel; one that this program does not know is none.
func channel(c enquiryv1.EnquiryChannel) enquiry.Channel {
	if c < 0 || c > enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_VISIT {
		return enquiry.NoChannel
	}
	return enquiry.Channel(c)
}

// asker reads who asks; what this program does not know is nobody.
func asker(a enquiryv1.AskerKind) enquiry.Asker {
	if a < 0 || a > enquiryv1.AskerKind_ASKER_KIND_OTHER {
		return enquiry.NoAsker
	}
	return enquiry.Asker(a)
}

// Answer reads what a caller says of an answer.
func Answer(p *enquiryv1.EnquiryAnswer) enquiry.Answer {
	return enquiry.Answer{Text: p.GetText(), Links: slices.Clone(p.GetLinks())}
}

// EnquiryProto writes an enquiry with the words it has open, without its etag.
func EnquiryProto(e enquiry.Enquiry) *enquiryv1.Enquiry {
	p := &enquiryv1.Enquiry{
		Name: EnquiryName(e.Serial, e.ID), Channel: enquiryv1.EnquiryChannel(e.Channel), AskerKind: enquiryv1.AskerKind(e.Asker),
		Person: PersonName(e.Person), Organisation: named(organisations, e.Organisation),
		Question: e.Question, Positions: e.Positions, Symptom: e.Symptom, Release: e.Release,
		FollowUpDate: vehiclewire.DateProto(e.FollowUp), Closed: e.Closed, AskTime: vehiclewire.MomentProto(e.Asked),
		MinutesToAnswer: int32(e.MinutesToAnswer()), RecordedBy: e.RecordedBy, CreateTime: vehiclewire.MomentProto(e.Created),
	}
	for _, a := range e.Answers {
		p.Answers = append(p.Answers, &enquiryv1.EnquiryAnswer{
			Text: a.Text, Links: a.Links, AnsweredBy: a.By, AnswerTime: vehiclewire.MomentProto(a.At),
		})
	}
	return p
}

// Enquiry reads an enquiry that EnquiryProto wrote.
func Enquiry(p *enquiryv1.Enquiry) (enquiry.Enquiry, error) {
	serial, id, err := EnquiryID("name", p.GetName())
	if err != nil {
		return enquiry.Enquiry{}, err
	}
	e, faults := Asked(serial, p)
	e.ID, e.Release, e.RecordedBy, e.Created = id, p.GetRelease(), p.GetRecordedBy(), vehiclewire.Moment(p.GetCreateTime())
	for _, pa := range p.GetAnswers() {
		a := Answer(pa)
		a.By, a.At = pa.GetAnsweredBy(), vehiclewire.Moment(pa.GetAnswerTime())
		e.Answers = append(e.Answers, a)
	}
	return e, fault.InvalidFields(faults)
}

// Words gives the words of an enquiry, to be sealed.
func Words(e enquiry.Enquiry) *enquiryv1.EnquiryWords {
	w := &enquiryv1.EnquiryWords{Question: e.Question}
	for _, a := range e.Answers {
		w.Answers = append(w.Answers, a.Text)
	}
	return w
}

// WithWords gives an enquiry with the words that were opened.
func WithWords(e enquiry.Enquiry, w *enquiryv1.EnquiryWords) enquiry.Enquiry {
	e.Question, e.Answers = w.GetQuestion(), slices.Clone(e.Answers)
	for i := range e.Answers {
		if i < len(w.GetAnswers()) {
			e.Answers[i].Text = w.GetAnswers()[i]
		}
	}
	return e
}

// KeptProto writes an enquiry as it is kept: of one whose asker is on record
// the words are only in what was sealed.
func KeptProto(e enquiry.Enquiry, sealed []byte) *enquiryv1.KeptEnquiry {
	if !e.OnRecord() {
		return &enquiryv1.KeptEnquiry{Enquiry: EnquiryProto(e)}
	}
	bare := e.Wordless()
	bare.Person = e.Person
	return &enquiryv1.KeptEnquiry{Enquiry: EnquiryProto(bare), SealedWords: sealed}
}

// Kept reads what KeptProto wrote.
func Kept(p *enquiryv1.KeptEnquiry) (enquiry.Enquiry, []byte, error) {
	e, err := Enquiry(p.GetEnquiry())
	return e, p.GetSealedWords(), err
}
