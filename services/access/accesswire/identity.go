package accesswire

import (
	"strings"

	"google.golang.org/genproto/googleapis/type/latlng"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	organisations = "organisations/"
	accounts      = "accounts/"
)

// OrganisationID reads an organisation's resource name. field is the
// request's, for the refusal.
func OrganisationID(field, name string) (string, error) {
	id, ok := access.OrganisationID(name)
	if !ok {
		return "", fault.InvalidField(field, name, "organisations/{organisation}")
	}
	return id, nil
}

// Organisation reads an organisation. A name that is none leaves what stands
// behind the slash as the identifier, for the domain to refuse.
func Organisation(o *accessv1.Organisation) access.Organisation {
	return access.Organisation{
		ID: strings.TrimPrefix(o.GetName(), organisations), Title: o.GetTitle(),
		Created: vehiclewire.Moment(o.GetCreateTime()), Closed: vehiclewire.Moment(o.GetCloseTime()),
		Contact: Contact(o.GetContact()),
	}
}

// OrganisationProto writes an organisation.
func OrganisationProto(o access.Organisation) *accessv1.Organisation {
	return &accessv1.Organisation{
		Name: o.Name(), Title: o.Title, CreateTime: vehiclewire.MomentProto(o.Created), CloseTime: vehiclewire.MomentProto(o.Closed),
		Contact: ContactProto(o.Contact),
	}
}

// Contact reads how an organisation is reached.
func Contact(c *accessv1.OrganisationContact) access.Contact {
	out := access.Contact{
		Address: c.GetAddressLines(), Town: c.GetTown(), Country: c.GetCountryCode(), Phone: c.GetPhone(), Email: c.GetEmail(), Work: c.GetWork(),
	}
	if l := c.GetLocation(); l != nil {
		out.At = &access.Location{Latitude: l.GetLatitude(), Longitude: l.GetLongitude()}
	}
	return out
}

// ContactProto writes how an organisation is reached; nil where it publishes
// nothing.
func ContactProto(c access.Contact) *accessv1.OrganisationContact {
	if c.IsZero() {
		return nil
	}
	out := &accessv1.OrganisationContact{
		AddressLines: c.Address, Town: c.Town, CountryCode: c.Country, Phone: c.Phone, Email: c.Email, Work: c.Work,
	}
	if c.At != nil {
		out.Location = &latlng.LatLng{Latitude: c.At.Latitude, Longitude: c.At.Longitude}
	}
	return out
}

// AccountID reads an account's resource name. field is the request's, for the
// refusal.
func AccountID(field, name string) (string, error) {
	id, ok := access.AccountID(name)
	if !ok {
		return "", fault.InvalidField(field, name, "accounts/{account}")
	}
	return id, nil
}

// Account reads an account, without how it signs in. A name that is none
// leaves what stands behind the slash as the identifier, for the domain to
// refuse.
func Account(a *accessv1.Account) access.Account {
	return access.Account{
		ID: strings.TrimPrefix(a.GetName(), accounts), FullName: a.GetFullName(), Role: Role(a.GetRole()),
		Organisation: a.GetOrganisation(), Created: vehiclewire.Moment(a.GetCreateTime()), Closed: vehiclewire.Moment(a.GetCloseTime()),
	}
}

// AccountProto writes an account, without how it signs in.
func AccountProto(a access.Account) *accessv1.Account {
	return &accessv1.Account{
		Name: a.Name(), FullName: a.FullName, Role: RoleProto(a.Role), Organisation: a.Organisation,
		CreateTime: vehiclewire.MomentProto(a.Created), CloseTime: vehiclewire.MomentProto(a.Closed),
	}
}
