package main

import (
	"context"

	"halfshaft/services/console"
)

type organisationsCommand struct {
	List   organisationsList   `cmd:"" help:"List the organisations."`
	Create organisationsCreate `cmd:"" help:"Make an organisation."`
	Update organisationsUpdate `cmd:"" help:"Change how an organisation is called, or how it is reached."`
	Close  organisationsClose  `cmd:"" help:"Close an organisation: its people, keys and assignments open nothing from then on."`
	Open   organisationsOpen   `cmd:"" help:"Open an organisation again."`
}

type organisationsList struct{}

// Run implements the command.
func (c *organisationsList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Organisations(ctx) })
}

// contactFlags are how a dealer or workshop is reached, as it publishes that.
type contactFlags struct {
	Address  []string `help:"Street and number; without the town. May be repeated, a line each; an empty one takes them away." placeholder:"LINE" sep:"none"`
	Town     *string  `help:"Town, with its post code." placeholder:"TOWN"`
	Country  *string  `help:"Country by ISO 3166-1: GB." placeholder:"CODE"`
	Phone    *string  `help:"Telephone in E.164: +441632960181." placeholder:"NUMBER"`
	Email    *string  `help:"Mail address." placeholder:"ADDRESS"`
	Location *string  `help:"Latitude and longitude in degrees: 54.45,-2.45." placeholder:"LAT,LONG"`
	Work     *string  `help:"What it does, in a few words." placeholder:"TEXT"`
}

func (c contactFlags) fields() console.OrganisationFields {
	return console.OrganisationFields{
		Address: c.Address, Town: c.Town, Country: c.Country, Phone: c.Phone, Email: c.Email, Location: c.Location, Work: c.Work,
	}
}

type organisationsCreate struct {
	Name  string `arg:"" help:"Its identifier, in small letters: ferncombe."`
	Title string `arg:"" help:"How it is called: 'Ferncombe Garage'."`
	contactFlags
}

// Run implements the command.
func (c *organisationsCreate) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.CreateOrganisation(ctx, c.Name, c.Title, c.fields())
	})
}

type organisationsUpdate struct {
	Name  string  `arg:"" help:"Identifier: ferncombe."`
	Title *string `help:"How it is called." placeholder:"TITLE"`
	contactFlags
}

// Run implements the command.
func (c *organisationsUpdate) Run(ctx context.Context, g *globals) error {
	fields := c.fields()
	fields.Title = c.Title
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.UpdateOrganisation(ctx, c.Name, fields) })
}

type organisationsClose struct {
	Name string `arg:"" help:"Identifier: ferncombe."`
}

// Run implements the command.
func (c *organisationsClose) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CloseOrganisation(ctx, c.Name, true) })
}

type organisationsOpen struct {
	Name string `arg:"" help:"Identifier: ferncombe."`
}

// Run implements the command.
func (c *organisationsOpen) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CloseOrganisation(ctx, c.Name, false) })
}

type accountsCommand struct {
	List   accountsList   `cmd:"" help:"List the accounts, and who signed in when."`
	Create accountsCreate `cmd:"" help:"Make an account; whoever holds it signs in after an invitation."`
	Change accountsChange `cmd:"" help:"Change how somebody is called, or what they are."`
	Close  accountsClose  `cmd:"" help:"Close an account: its sessions and keys open nothing from then on."`
	Open   accountsOpen   `cmd:"" help:"Open an account again."`
	Invite accountsInvite `cmd:"" help:"Invite somebody who has an account: prints the address at which they set up how they sign in."`
}

type anAccount struct {
	Name string `arg:"" help:"Name of the account: ida."`
}

type accountsList struct{}

// Run implements the command.
func (c *accountsList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Accounts(ctx) })
}

type accountsCreate struct {
	anAccount
	Role         string `arg:"" help:"dealer, support, engineer or administrator."`
	FullName     string `help:"How they are called among colleagues." required:"" placeholder:"NAME"`
	Organisation string `help:"For a dealer: ferncombe." placeholder:"NAME"`
}

// Run implements the command.
func (c *accountsCreate) Run(ctx context.Context, g *globals) error {
	fields := console.AccountFields{Name: c.FullName, Role: c.Role, Organisation: c.Organisation}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CreateAccount(ctx, c.Name, fields) })
}

type accountsChange struct {
	anAccount
	FullName     string `help:"How they are called among colleagues." placeholder:"NAME"`
	Role         string `help:"dealer, support, engineer or administrator; their keys change with it." placeholder:"ROLE"`
	Organisation string `help:"For a dealer: ferncombe." placeholder:"NAME"`
}

// Run implements the command.
func (c *accountsChange) Run(ctx context.Context, g *globals) error {
	fields := console.AccountFields{Name: c.FullName, Role: c.Role, Organisation: c.Organisation}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ChangeAccount(ctx, c.Name, fields, nil) })
}

type accountsClose struct{ anAccount }

// Run implements the command.
func (c *accountsClose) Run(ctx context.Context, g *globals) error {
	closed := true
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ChangeAccount(ctx, c.Name, console.AccountFields{}, &closed)
	})
}

type accountsOpen struct{ anAccount }

// Run implements the command.
func (c *accountsOpen) Run(ctx context.Context, g *globals) error {
	closed := false
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ChangeAccount(ctx, c.Name, console.AccountFields{}, &closed)
	})
}

type accountsInvite struct{ anAccount }

// Run implements the command.
func (c *accountsInvite) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Invite(ctx, c.Name) })
}
