package works_test

import (
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/works"
)

// The process that runs access makes the key for the others, so it starts before
// anybody could tell it which vehicles there are.
func TestAccessStartsWithoutKnowingTheVehicles(t *testing.T) {
	_, ctx, clients := start(t, works.Config{Services: []string{works.Access, works.Owner}})
	_, err := clients.Access.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{
		Organisation: &accessv1.Organisation{Name: "organisations/ferncombe", Title: "Ferncombe Garage"}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = clients.Access.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/AM0101G", Assignment: &accessv1.Assignment{
		Organisation: "organisations/ferncombe", Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS, Purpose: "a noise"}})
	if f := rpcerr.FromStatus(err); status.Code(err) != codes.Unavailable || f.Reason != "BUILD_OUT_OF_REACH" {
		t.Errorf("got %v", err)
	}
}
