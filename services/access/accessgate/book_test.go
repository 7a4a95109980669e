package accessgate

import (
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
)

// Whoever asks: a closed organisation is refused before, and this does not
// lean on it.
func TestAClosedOrganisationHasNoAssignments(t *testing.T) {
	s := newScene(t)
	s.tellAssignment(access.Assignment{ID: "1", Vehicle: "AM0147P", Organisation: "organisations/ferncombe",
		Ground: access.ByWorks, Start: day("2026-01-01"), Last: day("2026-12-31")})
	has := s.gate.sees(access.Caller{Role: access.Dealer, Organisation: "organisations/ferncombe"}, day("2026-11-25"))
	if has("AM0147P") {
		t.Error("an organisation that is not there has a vehicle")
	}
	s.tellOrganisation(access.Organisation{ID: "ferncombe"})
	if !has("AM0147P") {
		t.Error("an open organisation has not what is assigned to it")
	}
	s.tellOrganisation(access.Organisation{ID: "ferncombe", Closed: s.now})
	if has("AM0147P") {
		t.Error("a closed organisation has a vehicle")
	}
}

func TestAThingNamedTwiceIsOneObject(t *testing.T) {
	s := newScene(t)
	r := s.gate.rules[buildv1.BuildService_MoveComponent_FullMethodName]
	if got := r.objectsOf(&buildv1.MoveComponentRequest{Source: "builds/AM0147P", Destination: "builds/am-0147-p"}); len(got) != 1 || got[0] != "builds/AM0147P" {
		t.Errorf("got %v", got)
	}
}
