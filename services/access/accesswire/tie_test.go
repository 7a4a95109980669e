package accesswire

import (
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/vehicle"
)

func TestATieIsReadWithWhatItGives(t *testing.T) {
	for role, gives := range map[ownerv1.Role]bool{
		ownerv1.Role_ROLE_OWNER: true, ownerv1.Role_ROLE_CARETAKER: true, ownerv1.Role_ROLE_EXECUTOR: true,
		ownerv1.Role_ROLE_PAYER: false, ownerv1.Role_ROLE_UNSPECIFIED: false, 99: false,
	} {
		got, err := Tie(&ownerv1.Tie{
			Name: "vehicles/AM0147P/ties/t1", Person: "people/p0031", Role: role,
			StartDate: &date.Date{Year: 2026, Month: 3, Day: 3}, EndDate: &date.Date{Year: 2026, Month: 3, Day: 10},
		})
		day := func(d int) vehicle.Date { return vehicle.Date{Year: 2026, Month: time.March, Day: d} }
		want := access.Tie{ID: "t1", Vehicle: "AM0147P", Person: "people/p0031", Start: day(3), End: day(10), Gives: gives}
		if err != nil || got != want {
			t.Errorf("%v: got %+v, %v", role, got, err)
		}
	}
	for name, p := range map[string]*ownerv1.Tie{
		"a start that is no day": {StartDate: &date.Date{Year: 2026, Month: 2, Day: 30}},
		"an end that is no day":  {EndDate: &date.Date{Year: 2026, Month: 13, Day: 1}},
	} {
		if _, err := Tie(p); err == nil {
			t.Errorf("%s was read", name)
		}
	}
}
