package ownerwire

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/owner"
)

func TestAPersonSurvivesTheWayThereAndBack(t *testing.T) {
	want := &ownerv1.Person{
		Name: "people/p0031", FullName: "Ada Nettlefold", Email: "ada@nettlefold.example", Phone: "+441632960983",
		PostalLines: []string{"The Old Forge"}, Language: "en-GB", DistanceUnit: "mi", TimeZone: "Europe/London",
		ContactFromHour: 8, ContactUntilHour: 20, CreateTime: timestamppb.New(time.Unix(1, 0)),
		ContactWays:  []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_TEXT, ownerv1.ContactWay_CONTACT_WAY_LETTER},
		FormatLocale: "de-CH", MostMessages: 3, DeceasedDate: &date.Date{Year: 2026, Month: 11, Day: 1},
		Undeliverable: []*ownerv1.Undeliverable{{Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, MarkTime: timestamppb.New(time.Unix(2, 0)), Reason: "550"}},
		RetentionHold: "file 2026/114",
	}
	everyField(t, want, "etag", "consents")
	got, faults := Person(want)
	if got := PersonProto(got); !proto.Equal(got, want) || len(faults) > 0 {
		t.Errorf("got %v, %v, want %v", got, faults, want)
	}
}

func TestTheOtherRecordsSurviveTheWayThereAndBack(t *testing.T) {
	at := func(s int64) *timestamppb.Timestamp { return timestamppb.New(time.Unix(s, 0)) }
	consent := &ownerv1.Consent{
		Name: "people/p1/consents/c1", Purpose: ownerv1.Purpose_PURPOSE_YEAR_LETTER, Way: ownerv1.ContactWay_CONTACT_WAY_LETTER, Given: true,
		Wording: "Yes, please.", Language: "en", ConsentTime: at(1), Source: ownerv1.ConsentSource_CONSENT_SOURCE_TEXT, RecordedBy: "desk", CreateTime: at(2),
	}
	everyField(t, consent)
	c, faults := Consent(consent)
	var err error
	if c.Person, c.ID, err = ConsentID("name", consent.GetName()); err != nil || len(faults) > 0 || !proto.Equal(ConsentProto(c), consent) {
		t.Errorf("got %v, %v, %v", ConsentProto(c), faults, err)
	}
	transfer := &ownerv1.Transfer{
		Name: "vehicles/AM0147P/transfers/t1", State: ownerv1.TransferState_TRANSFER_STATE_DONE, OfferedBy: "people/p1", NewOwner: "people/p2",
		TransferDate: &date.Date{Year: 2026, Month: 1, Day: 2}, Evidence: "bill of sale", CreateTime: at(1), ExpireTime: at(2), EndTime: at(3),
		WrongCodes: 4, RecordedBy: "desk",
	}
	everyField(t, transfer, "etag")
	tr, err := Transfer(transfer)
	if err != nil {
		t.Fatal(err)
	}
	if tr.Serial, tr.ID, err = TransferID("name", transfer.GetName()); err != nil || !proto.Equal(TransferProto(tr), transfer) {
		t.Errorf("got %v, %v", TransferProto(tr), err)
	}
	standing := &ownerv1.Standing{
		Name: "vehicles/AM0147P/standing", State: ownerv1.StandingState_STANDING_STATE_SCRAPPED, SinceDate: &date.Date{Year: 2026, Month: 1, Day: 2},
		Note: "seen at the breaker's", RecordedBy: "desk", UpdateTime: at(1),
	}
	everyField(t, standing, "etag")
	n, faults := Standing(standing)
	if n.Serial, err = StandingID("name", "vehicles/am 0147p/standing"); err != nil || len(faults) > 0 || !proto.Equal(StandingProto(n), standing) {
		t.Errorf("got %v, %v, %v", StandingProto(n), faults, err)
	}
	erasure := &ownerv1.Erasure{Name: "erasures/p1", CreateTime: at(1), Ground: "asked for", RecordedBy: "works", DestroyedMasterKey: "aa", NewMasterKey: "bb"}
	everyField(t, erasure)
	if got := ErasureProto(Erasure(erasure)); !proto.Equal(got, erasure) {
		t.Errorf("got %v", got)
	}
	document := &ownerv1.Document{Name: "people/p1/documents/5f2c", MediaType: "image/jpeg", Vehicle: "vehicles/AM0147P", Title: "odometer", CreateTime: at(1), SizeBytes: 7}
	everyField(t, document)
	d, faults := Document(document)
	if d.Person, d.ID, err = DocumentID("name", document.GetName()); err != nil || len(faults) > 0 || !proto.Equal(DocumentProto(d), document) {
		t.Errorf("got %v, %v, %v", DocumentProto(d), faults, err)
	}
}

func TestWhatThisProgramDoesNotKnowReadsAsNothingSaid(t *testing.T) {
	c, _ := Consent(&ownerv1.Consent{Purpose: 99, Way: 99, Source: 99, ConsentTime: &timestamppb.Timestamp{Seconds: -1 << 62}})
	if c.Purpose != owner.NoPurpose || c.Source != owner.NoSource || c.Way != noWay || len(c.Faults(time.Unix(0, 0))) < 3 {
		t.Errorf("got %+v", c)
	}
	if n, _ := Standing(&ownerv1.Standing{State: 99}); n.State != owner.NoStanding {
		t.Errorf("got %+v", n)
	}
}

func TestATieSurvivesTheWayThereAndBack(t *testing.T) {
	want := &ownerv1.Tie{
		Name: "vehicles/AM0147P/ties/1", Person: "people/p0031", Role: ownerv1.Role_ROLE_CARETAKER, Notices: true,
		StartDate: &date.Date{Year: 2020, Month: 2, Day: 29}, EndDate: &date.Date{Year: 2026, Month: 11, Day: 25},
	}
	everyField(t, want, "etag")
	got, faults := Tie(want)
	var err error
	if got.Serial, got.ID, err = TieID("name", "vehicles/am-0147 p/ties/1"); err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	if got := TieProto(got); !proto.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// everyField fails when the message leaves a field empty, so that a new field
// is not forgotten in the conversion.
func everyField(t *testing.T, m proto.Message, but ...protoreflect.Name) {
	t.Helper()
	fields := m.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); !slices.Contains(but, f.Name()) && !m.ProtoReflect().Has(f) {
			t.Errorf("the test does not fill in %s", f.FullName())
		}
	}
}

func TestWhatIsWrongWithATieIsSaidByField(t *testing.T) {
	tie, faults := Tie(&ownerv1.Tie{Person: "ada", Role: 77, StartDate: &date.Date{Year: 2026, Month: 2, Day: 29}, EndDate: &date.Date{Year: 2026}})
	var names []string
	for _, f := range faults {
		names = append(names, f.Name)
	}
	if len(names) != 3 || names[0] != "person" || names[1] != "start_date" || names[2] != "end_date" {
		t.Errorf("got %v", names)
	}
	if tie.Role != owner.NoRole {
		t.Errorf("an unknown role reads as %v", tie.Role)
	}
}

func TestNamesAreRead(t *testing.T) {
	for _, bad := range []string{"", "people/", "people/a/b", "people/-a", "persons/a", "p0031"} {
		if id, err := PersonID("name", bad); err == nil {
			t.Errorf("%q gave %q", bad, id)
		}
	}
	if id, err := PersonID("name", PersonName("p0031")); err != nil || id != "p0031" {
		t.Errorf("got %q, %v", id, err)
	}
	for _, bad := range []string{"", "vehicles/AM0147X/ties/1", "vehicles/AM0147P/ties/", "vehicles/AM0147P/ties/a b", "vehicles/AM0147P/readings/1", "vehicles/AM0147P"} {
		if s, id, err := TieID("name", bad); err == nil {
			t.Errorf("%q gave %s, %s", bad, s, id)
		}
	}
}
