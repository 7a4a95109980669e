package works

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/type/latlng"
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/console"
	"halfshaft/testdata/aldermoor"
)

// showDealer makes the demo's dealer: somebody who works at a workshop, their
// key, and one vehicle that is booked in with them. It shows what they see with
// that key, and gives it.
func showDealer(ctx context.Context, p *Process, c DemoConfig) (secret string, err error) {
	secret, err = employDealer(ctx, p.Clients().Access)
	if err != nil {
		return "", err
	}
	theirs := newClients(func(string) grpc.ClientConnInterface { return accessgate.Present(p.server.InProcess(), secret) })
	k := &console.Console{
		Access: theirs.Access, Owners: theirs.Owners, Builds: theirs.Builds, Parts: theirs.Parts,
		Schedules: theirs.Schedules, Reminders: theirs.Reminders, Out: c.Out,
	}
	const heading = "What a dealer sees, with a key of their own"
	fmt.Fprintf(c.Out, "\n%s\n%s\n", heading, strings.Repeat("=", len(heading)))
	for _, step := range []struct {
		command string
		show    func() error
	}{
		{"whoami", func() error { return k.WhoAmI(ctx) }},
		{"assignments list", func() error { return k.Assignments(ctx, "-", "", false) }},
		{"vehicle " + aldermoor.OthersSerial, func() error { return show(ctx, k, []string{"vehicle", aldermoor.OthersSerial}) }},
	} {
		fmt.Fprintf(c.Out, "$ halfshaft %s\n", step.command)
		if err := step.show(); err != nil && !errors.Is(err, console.ErrRefused) {
			fmt.Fprintf(c.Out, "%s\n", Explain(err)) // the last is none of theirs
		}
		fmt.Fprintln(c.Out)
	}
	return secret, nil
}

// makeDealer makes the demo's workshops and what its dealer needs.
func makeDealer(ctx context.Context, door accessv1.AccessServiceClient) (secret string, err error) {
	if err := makeWorkshops(ctx, door); err != nil {
		return "", err
	}
	return employDealer(ctx, door)
}

// employDealer makes what the demo's dealer needs in a workshop that is there,
// through the API as the works would.
func employDealer(ctx context.Context, door accessv1.AccessServiceClient) (secret string, err error) {
	d := aldermoor.Workshop
	organisation := "organisations/" + d.ID
	account, err := door.CreateAccount(ctx, &accessv1.CreateAccountRequest{Account: &accessv1.Account{
		Name: "accounts/" + d.Mechanic, FullName: d.MechanicName, Role: accessv1.Role_ROLE_DEALER, Organisation: organisation,
	}})
	if err != nil {
		return "", err
	}
	_, err = door.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{
		Parent: "vehicles/" + aldermoor.TourSerial,
		Assignment: &accessv1.Assignment{
			Organisation: organisation, Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING, Purpose: d.Purpose,
		},
	})
	if err != nil {
		return "", err
	}
	made, err := door.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "workshop tablet", Account: account.GetName()}})
	return made.GetSecret(), err
}

// makeWorkshops enters the workshops of the demo, with how they are reached.
func makeWorkshops(ctx context.Context, door accessv1.AccessServiceClient) error {
	for _, d := range aldermoor.Dealers {
		_, err := door.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{
			Name: "organisations/" + d.ID, Title: d.Title, Contact: &accessv1.OrganisationContact{
				AddressLines: []string{d.Street}, Town: d.Town, CountryCode: d.Country, Phone: d.Phone, Email: d.Email, Work: d.Work,
				Location: &latlng.LatLng{Latitude: d.Latitude, Longitude: d.Longitude},
			},
		}})
		if err != nil {
			return err
		}
	}
	return nil
}
