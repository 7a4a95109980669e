package ownerwire

import (
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
	}
	everyField(t, want, "etag")
	if got := PersonProto(Person(want)); !proto.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
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
func everyField(t *testing.T, m proto.Message, but protoreflect.Name) {
	t.Helper()
	fields := m.ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); f.Name() != but && !m.ProtoReflect().Has(f) {
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
