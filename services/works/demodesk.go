package works

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/onetime"
	"halfshaft/testdata/aldermoor"
)

// demoSignIn is what somebody of the demo signs in at the desk with. The codes
// are recovery codes, which work once each: those of an authenticator go by the
// right time, and the demo's day is another.
type demoSignIn struct {
	name, fullName, who, password string
	codes                         []string
}

// codesShown is how many of the ten recovery codes the demo prints.
const codesShown = 3

// openDemoDesk sets up how the demo's people sign in, as an invitation and its
// pages would: an administrator, somebody of support, and the dealer's.
func openDemoDesk(ctx context.Context, p *Process, now func() time.Time) ([]demoSignIn, error) {
	clients := p.Clients()
	d := aldermoor.Workshop
	people := []demoSignIn{
		{name: "ida", fullName: "Ida Brackenbury", who: "administrator"},
		{name: "bert", fullName: "Bert Allerdyce", who: "support"},
		{name: d.Mechanic, fullName: d.MechanicName, who: "of the dealer " + d.Title},
	}
	for i := range people {
		x := &people[i]
		if role, staff := map[string]accessv1.Role{"administrator": accessv1.Role_ROLE_ADMINISTRATOR, "support": accessv1.Role_ROLE_SUPPORT}[x.who]; staff {
			if _, err := clients.Access.CreateAccount(ctx, &accessv1.CreateAccountRequest{
				Account: &accessv1.Account{Name: "accounts/" + x.name, FullName: x.fullName, Role: role},
			}); err != nil {
				return nil, err
			}
		}
		if err := x.setUp(ctx, clients.SignIn, now); err != nil {
			return nil, fmt.Errorf("let %s sign in: %w", x.name, err)
		}
	}
	return people, nil
}

// setUp accepts an invitation with a password and an authenticator.
func (x *demoSignIn) setUp(ctx context.Context, door accessv1.SignInServiceClient, now func() time.Time) error {
	account := "accounts/" + x.name
	invited, err := door.InviteAccount(ctx, &accessv1.InviteAccountRequest{Account: account})
	if err != nil {
		return err
	}
	pages := access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "desk", Credential: "process"})
	proof := &accessv1.Proof{Secret: &accessv1.Proof_Invitation{Invitation: invited.GetSecret()}}
	x.password = rand.Text()
	begun, err := door.BeginPassword(pages, &accessv1.BeginPasswordRequest{Account: account, Proof: proof, Password: x.password})
	if err != nil {
		return err
	}
	code, err := onetime.Code(begun.GetCodeSecret(), onetime.Step(now()))
	if err != nil {
		return err
	}
	added, err := door.FinishPassword(pages, &accessv1.FinishPasswordRequest{Account: account, Proof: proof, Ceremony: begun.GetCeremony(), Code: code})
	if err != nil {
		return err
	}
	x.codes = added.GetRecoveryCodes()
	_, err = door.SignOut(pages, &accessv1.SignOutRequest{Secret: added.GetGrant().GetSecret(), Account: account})
	return err
}

// demoDesk tells how to sign in at the desk.
func demoDesk(c DemoConfig, p *Process, people []demoSignIn) {
	if len(people) == 0 {
		return
	}
	fmt.Fprintf(c.Out, "\nThe desk is at %s. Sign in with a name, its password, and a code that works once:\n", p.DeskURL())
	for _, x := range people {
		fmt.Fprintf(c.Out, "  %-5s %s, %s\n        password %s\n        codes    ", x.name, x.fullName, x.who, x.password)
		for _, code := range x.codes[:codesShown] {
			fmt.Fprintf(c.Out, "%s  ", code)
		}
		fmt.Fprintln(c.Out)
	}
}
