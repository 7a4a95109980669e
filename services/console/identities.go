package console

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// Organisations prints the organisations of dealers.
func (c *Console) Organisations(ctx context.Context) error {
	all, err := page.All(func(token string) ([]*accessv1.Organisation, string, error) {
		r, err := c.Access.ListOrganisations(ctx, &accessv1.ListOrganisationsRequest{PageSize: 500, PageToken: token})
		return r.GetOrganisations(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, o := range all {
			s.line("%s", organisationWords(o))
		}
		if len(all) == 0 {
			s.line("There are no organisations: \"halfshaft organisations create\" makes one.")
		}
	})
}

func organisationWords(o *accessv1.Organisation) string {
	if o.GetCloseTime() != nil {
		return fmt.Sprintf("%s, %s, was closed on%s: nobody of it is let in.", idOf(o.GetName()), o.GetTitle(), at(o.GetCloseTime())) + whereWords(o.GetContact())
	}
	return fmt.Sprintf("%s, %s, is open.", idOf(o.GetName()), o.GetTitle()) + whereWords(o.GetContact())
}

// CreateOrganisation makes an organisation.
func (c *Console) CreateOrganisation(ctx context.Context, id, title string, fields OrganisationFields) error {
	o := &accessv1.Organisation{Name: organisationName(id)}
	fields.Title = &title
	if err := fields.onto(o); err != nil {
		return err
	}
	o, err := c.Access.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: o, RequestId: uuid.NewString()})
	return c.printOrganisation(o, err)
}

// UpdateOrganisation changes how an organisation is called or reached.
func (c *Console) UpdateOrganisation(ctx context.Context, id string, fields OrganisationFields) error {
	if fields.empty() {
		return fault.InvalidField("change", "", "something to change: --title, --address, --town, --country, --phone, --email, --location or --work")
	}
	o, err := c.Access.GetOrganisation(ctx, &accessv1.GetOrganisationRequest{Name: organisationName(id)})
	if err != nil {
		return err
	}
	if err := fields.onto(o); err != nil {
		return err
	}
	o, err = c.Access.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: o, Closed: o.GetCloseTime() != nil, RequestId: uuid.NewString()})
	return c.printOrganisation(o, err)
}

// CloseOrganisation closes an organisation, or opens it again.
func (c *Console) CloseOrganisation(ctx context.Context, id string, closed bool) error {
	o, err := c.Access.GetOrganisation(ctx, &accessv1.GetOrganisationRequest{Name: organisationName(id)})
	if err != nil {
		return err
	}
	o, err = c.Access.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: o, Closed: closed, RequestId: uuid.NewString()})
	return c.printOrganisation(o, err)
}

func (c *Console) printOrganisation(o *accessv1.Organisation, err error) error {
	if err != nil {
		return err
	}
	return c.print(o, func(s *sheet) { s.line("%s", organisationWords(o)) })
}

// AccountFields are what is known of an account, as typed; empty ones are left
// as they are.
type AccountFields struct {
	Name         string // how they are called among colleagues
	Role         string // dealer, support, engineer, administrator
	Organisation string // of a dealer
}

// onto puts what was typed onto an account.
func (f AccountFields) onto(a *accessv1.Account) error {
	if f.Name != "" {
		a.FullName = f.Name
	}
	if f.Role != "" {
		role, err := accountRoleOf(f.Role)
		if err != nil {
			return err
		}
		if a.Role = role; role != accessv1.Role_ROLE_DEALER {
			a.Organisation = "" // goes with the role
		}
	}
	if f.Organisation != "" {
		a.Organisation = organisationName(f.Organisation)
	}
	return nil
}

// Accounts prints the accounts.
func (c *Console) Accounts(ctx context.Context) error {
	all, err := page.All(func(token string) ([]*accessv1.Account, string, error) {
		r, err := c.Access.ListAccounts(ctx, &accessv1.ListAccountsRequest{PageSize: 500, PageToken: token})
		return r.GetAccounts(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, a := range all {
			s.line("%s", accountWords(a))
		}
		if len(all) == 0 {
			s.line("There are no accounts: \"halfshaft accounts create\" makes one.")
		}
	})
}

func accountWords(a *accessv1.Account) string {
	text := fmt.Sprintf("%s, %s, %s", idOf(a.GetName()), a.GetFullName(), word(a.GetRole(), "ROLE_"))
	if a.GetOrganisation() != "" {
		text += " of " + idOf(a.GetOrganisation())
	}
	switch {
	case a.GetCloseTime() != nil:
		text += ", was closed on" + at(a.GetCloseTime())
	case len(a.GetWays()) == 0:
		text += ", cannot sign in yet"
	case a.GetLastSignInTime() == nil:
		text += ", has not signed in yet"
	default:
		text += ", last signed in on " + a.GetLastSignInTime().AsTime().Format("2 January 2006")
	}
	return text + "."
}

// CreateAccount makes an account.
func (c *Console) CreateAccount(ctx context.Context, id string, fields AccountFields) error {
	a := &accessv1.Account{Name: accountName(id)}
	if err := fields.onto(a); err != nil {
		return err
	}
	a, err := c.Access.CreateAccount(ctx, &accessv1.CreateAccountRequest{Account: a, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(a, func(s *sheet) {
		s.line("%s", accountWords(a))
		s.line("\"halfshaft accounts invite %s\" lets them set up how they sign in.", idOf(a.GetName()))
	})
}

// ChangeAccount changes how somebody is called, what they are, or whether the
// account is open; nil leaves that as it is.
func (c *Console) ChangeAccount(ctx context.Context, id string, fields AccountFields, closed *bool) error {
	a, err := c.Access.GetAccount(ctx, &accessv1.GetAccountRequest{Name: accountName(id)})
	if err != nil {
		return err
	}
	if fields == (AccountFields{}) && closed == nil {
		return fault.InvalidField("change", "", "something to change: --full-name, --role or --organisation")
	}
	if err := fields.onto(a); err != nil {
		return err
	}
	r := &accessv1.UpdateAccountRequest{Account: a, Closed: a.GetCloseTime() != nil, RequestId: uuid.NewString()}
	if closed != nil {
		r.Closed = *closed
	}
	a, err = c.Access.UpdateAccount(ctx, r)
	return c.printAccount(a, err)
}

func (c *Console) printAccount(a *accessv1.Account, err error) error {
	if err != nil {
		return err
	}
	return c.print(a, func(s *sheet) { s.line("%s", accountWords(a)) })
}
