package accesswire

import (
	"strings"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Tie reads a tie as the owner service tells it.
func Tie(p *ownerv1.Tie) (access.Tie, error) {
	serial, id, _ := strings.Cut(strings.TrimPrefix(p.GetName(), "vehicles/"), "/ties/")
	t := access.Tie{ID: id, Vehicle: vehicle.Serial(serial), Person: p.GetPerson()}
	switch p.GetRole() {
	case ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_EXECUTOR:
		t.Gives = true
	}
	var err error
	if t.Start, err = vehiclewire.Date(p.GetStartDate()); err != nil {
		return t, err
	}
	t.End, err = vehiclewire.Date(p.GetEndDate())
	return t, err
}
