package desk

import (
	"net/http"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/page"
)

// keyKind is for whom a key is; each asks for what it needs and nothing else.
type keyKind struct {
	word  string // in the address
	label string
	title string
	text  string
}

var keyKinds = []keyKind{
	{"machine", "For a program or a shared machine of the works", "A key for a program or a machine",
		"Records name what you call it. It stays good whoever leaves, so give one to each program and machine."},
	{"account", "For somebody who has an account", "A key for somebody with an account",
		"It does what they may, in their name, and ends with their account."},
	{"dealer", "For a program or a machine of a dealer", "A key for a dealer's program or machine",
		"It sees the vehicles that are assigned to the dealer, and no owner's name or address."},
	{"owner", "For an owner", "A key for an owner",
		"It sees that owner's vehicles while they are tied to them."},
}

// keyKindOf finds a kind by its word.
func keyKindOf(word string) (keyKind, bool) {
	for _, k := range keyKinds {
		if k.word == word {
			return k, true
		}
	}
	return keyKind{}, false
}

// keyForm asks for a key. The fields have the names of the request's.
func (v *visit) keyForm(kind keyKind) (*form, error) {
	f := &form{ID: "key", Action: "/keys", Submit: "Make the key", Fields: []field{
		{Name: "for", Type: "hidden", Value: kind.word},
		{Name: "key.title", Label: "What it is for", Type: "text", Autocomplete: "off", Required: true, Hint: "As in workshop tablet."},
	}}
	whose, err := v.keyFields(kind)
	if err != nil {
		return nil, err
	}
	f.Fields = append(append(f.Fields, whose...),
		field{Name: "key.scopes", Label: "Only for", Type: "text", Autocomplete: "off",
			Hint: "As in schedule, or parts.read to read and change nothing; several with commas between. Nothing means all that its role may."},
		field{Name: "key.expire_time", Label: "Ends on", Type: "date", Hint: "At the end of this day in UTC. Nothing means never."},
		requestField(),
	)
	return f, nil
}

// keyFields are those that say whose key it is.
func (v *visit) keyFields(kind keyKind) ([]field, error) {
	bearer := field{Name: "key.bearer", Label: "What records call it", Type: "text", Autocomplete: "off", Required: true, Hint: "As in bench 2."}
	role := func(r accessv1.Role) field { return field{Name: "key.role", Type: "hidden", Value: roleWords[r]} }
	switch kind.word {
	case "account":
		accounts, err := v.openAccounts()
		return []field{{Name: "key.account", Label: "Account", Options: accounts}}, err
	case "dealer":
		organisations, err := v.organisations()
		return []field{{Name: "key.organisation", Label: "Organisation", Options: organisationOptions(organisations, "")}, bearer, role(accessv1.Role_ROLE_DEALER)}, err
	case "owner":
		return []field{
			{Name: "key.person", Label: "Person", Type: "text", Autocomplete: "off", Required: true, Hint: "Their identifier, as in p0031."},
			role(accessv1.Role_ROLE_OWNER),
		}, nil
	}
	return []field{bearer, {Name: "key.role", Label: "Role", Options: roleOptions(accessv1.Role_ROLE_SUPPORT, append(staffRoles, accessv1.Role_ROLE_SERVICE)...)}}, nil
}

// openAccounts offers the accounts that are open.
func (v *visit) openAccounts() ([]option, error) {
	var out []option
	err := page.Each(func(token string) ([]*accessv1.Account, string, error) {
		r, err := v.d.Access.ListAccounts(v.as(), &accessv1.ListAccountsRequest{PageSize: 500, PageToken: token})
		return r.GetAccounts(), r.GetNextPageToken(), err
	}, func(a *accessv1.Account) error {
		if a.GetCloseTime() == nil {
			out = append(out, option{Value: a.GetName(), Label: a.GetFullName() + " (" + bare(a.GetName()) + ")"})
		}
		return nil
	})
	return out, err
}

// showNewKey asks for a key of the kind that the address says.
func (v *visit) showNewKey() {
	kind, ok := keyKindOf(v.r.PathValue("kind"))
	if !ok {
		v.noPage()
		return
	}
	f, err := v.keyForm(kind)
	if err != nil {
		v.refuse(err)
		return
	}
	v.newKeyPage(http.StatusOK, kind, f)
}

// newKeyPage shows the form, or what there must be first.
func (v *visit) newKeyPage(status int, kind keyKind, f *form) {
	back := link{Label: "Back to the keys", Path: "/keys"}
	for _, x := range []struct {
		field, missing string
		to             link
	}{
		{"key.account", "There is no account yet that a key could be for.", link{Label: "Make an account", Path: "/accounts"}},
		{"key.organisation", "There is no organisation yet that a key could be for.", link{Label: "Make an organisation", Path: "/organisations"}},
	} {
		if at := f.field(x.field); at != nil && len(at.Options) == 0 {
			v.render(status, view{Title: kind.title, Blocks: []block{{Text: []string{x.missing}, Links: []link{x.to, back}}}})
			return
		}
	}
	v.render(status, view{Title: kind.title, Blocks: []block{{Text: []string{kind.text}, Form: f, Links: []link{back}}}})
}
