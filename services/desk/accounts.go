package desk

import (
	"net/http"
	"slices"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/page"
)

// staffRoles are those of the works' own people.
var staffRoles = []accessv1.Role{accessv1.Role_ROLE_SUPPORT, accessv1.Role_ROLE_ENGINEER, accessv1.Role_ROLE_ADMINISTRATOR}

// supportRoles read and keep the records of people.
var supportRoles = []accessv1.Role{accessv1.Role_ROLE_SUPPORT, accessv1.Role_ROLE_ADMINISTRATOR}

// accountForm asks for an account: of somebody of the works for their role, of a
// dealer's for their organisation. The fields have the names of the request's.
func accountForm(a *accessv1.Account, organisations []*accessv1.Organisation) *form {
	f := &form{ID: "account", Action: "/accounts", Submit: "Make the account"}
	if a.GetName() == "" {
		f.Fields = append(f.Fields, field{Name: "account.name", Label: "Name to sign in with", Type: "text", Autocomplete: "off", Required: true,
			Hint: "Small letters and figures, as in ida. Records and the audit show it, and it stays."})
	} else {
		f.Action, f.Submit = "/"+a.GetName(), "Keep the change"
		f.Fields = append(f.Fields, field{Name: "etag", Type: "hidden", Value: a.GetEtag()})
	}
	f.Fields = append(f.Fields, field{Name: "account.full_name", Label: "Full name", Type: "text", Value: a.GetFullName(), Autocomplete: "off", Required: true})
	if a.GetRole() == accessv1.Role_ROLE_DEALER {
		f.Fields = append(f.Fields,
			field{Name: "account.organisation", Label: "Organisation", Options: organisationOptions(organisations, a.GetOrganisation())},
			field{Name: "account.role", Type: "hidden", Value: roleWords[accessv1.Role_ROLE_DEALER]})
	} else {
		f.Fields = append(f.Fields, field{Name: "account.role", Label: "Role", Options: roleOptions(a.GetRole(), staffRoles...)})
	}
	f.Fields = append(f.Fields, requestField())
	return f
}

// organisationOptions offers organisations in a list.
func organisationOptions(all []*accessv1.Organisation, chosen string) []option {
	var out []option
	for _, o := range all {
		out = append(out, option{Value: o.GetName(), Label: o.GetTitle(), Chosen: o.GetName() == chosen})
	}
	return out
}

// organisations lists those that are open, for a choice.
func (v *visit) organisations() ([]*accessv1.Organisation, error) {
	all, err := page.All(func(token string) ([]*accessv1.Organisation, string, error) {
		r, err := v.d.Access.ListOrganisations(v.as(), &accessv1.ListOrganisationsRequest{PageSize: 500, PageToken: token})
		return r.GetOrganisations(), r.GetNextPageToken(), err
	})
	return slices.DeleteFunc(all, func(o *accessv1.Organisation) bool { return o.GetCloseTime() != nil }), err
}

func (v *visit) showAccounts() {
	organisations, err := v.organisations()
	if err != nil {
		v.refuse(err)
		return
	}
	a := &accessv1.Account{}
	if len(organisations) > 0 && v.r.URL.Query().Get("for") == "dealer" {
		a.Role = accessv1.Role_ROLE_DEALER
	}
	v.accountsPage(http.StatusOK, accountForm(a, organisations), len(organisations) > 0)
}

// otherAccounts leads to the form for other people than those of this one.
func otherAccounts(f *form, dealers bool) []link {
	switch {
	case f.field("account.organisation") != nil:
		return []link{{Label: "For somebody of the works instead", Path: "/accounts#account"}}
	case dealers:
		return []link{{Label: "For somebody of a dealer instead", Path: "/accounts?for=dealer#account"}}
	}
	return []link{{Label: "A dealer's people need an organisation first", Path: "/organisations"}}
}

func (v *visit) accountsPage(status int, f *form, dealers bool) {
	list, err := v.d.Access.ListAccounts(v.as(), &accessv1.ListAccountsRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Accounts", Heads: []string{"Name", "Role", "Signs in by", "Last signed in", "State"}, Empty: "There is no account yet."}
	for _, a := range list.GetAccounts() {
		state := "open"
		if a.GetCloseTime() != nil {
			state = "closed"
		}
		role := roleWords[a.GetRole()]
		if o := a.GetOrganisation(); o != "" {
			role += " at " + bare(o)
		}
		t.Rows = append(t.Rows, []cell{
			{Text: bare(a.GetName()), Path: "/" + a.GetName(), Sub: a.GetFullName()}, {Text: role}, {Text: waysText(a.GetWays())},
			{Text: day(a.GetLastSignInTime())}, {Text: state},
		})
	}
	v.render(status, view{Title: "Accounts", Note: notes[v.r.URL.Query().Get("done")], Blocks: []block{
		{Table: t, Links: more("/accounts?page=", list.GetNextPageToken())},
		{Heading: "Make an account", Text: []string{"Whoever it is for cannot sign in before they are invited."}, Form: f, Links: otherAccounts(f, dealers)},
	}})
}

func (v *visit) accountOfForm(name string) *accessv1.Account {
	return &accessv1.Account{
		Name: name, FullName: v.value("account.full_name"), Role: roleOf(v.value("account.role")),
		Organisation: v.value("account.organisation"), Etag: v.value("etag"),
	}
}

func (v *visit) createAccount() {
	if !v.readForm() {
		return
	}
	a := v.accountOfForm("accounts/" + strings.ToLower(v.value("account.name")))
	made, err := v.d.Access.CreateAccount(v.as(), &accessv1.CreateAccountRequest{Account: a, RequestId: v.request()})
	if err != nil {
		organisations, errList := v.organisations()
		if errList != nil {
			v.refuse(errList)
			return
		}
		f := accountForm(&accessv1.Account{Role: a.GetRole()}, organisations).filled(v)
		v.again(err, f, func(status int) { v.accountsPage(status, f, len(organisations) > 0) })
		return
	}
	v.goTo("/" + made.GetName() + "?done=made")
}

// named is the account that the address names.
func (v *visit) named() string { return "accounts/" + v.r.PathValue("account") }

func (v *visit) showOneAccount() { v.oneAccountPage(http.StatusOK, nil) }

// oneAccountPage shows an account. failed is what was wrong with the change of
// it that was sent, if any was.
func (v *visit) oneAccountPage(status int, failed error) {
	a, err := v.d.Access.GetAccount(v.as(), &accessv1.GetAccountRequest{Name: v.named()})
	if err != nil {
		v.refuse(err)
		return
	}
	organisations, err := v.organisations()
	if err != nil {
		v.refuse(err)
		return
	}
	sessions, err := v.d.SignIn.ListSessions(v.as(), &accessv1.ListSessionsRequest{Parent: a.GetName(), PageSize: 100})
	if err != nil {
		v.refuse(err)
		return
	}
	change := accountForm(a, organisations)
	if failed != nil {
		change.filled(v).wrong(failed)
	}
	v.render(status, view{Title: a.GetFullName(), Note: notes[v.r.URL.Query().Get("done")], Blocks: append(
		[]block{{Facts: accountFacts(a), Links: []link{{Label: "What was done to this account", Path: "/audit/history?parent=" + a.GetName()}}}},
		v.accountBlocks(a, change, sessions.GetSessions())...,
	)})
}

func accountFacts(a *accessv1.Account) []fact {
	facts := []fact{
		{Label: "Name", Value: bare(a.GetName())}, {Label: "Role", Value: roleWords[a.GetRole()]},
		{Label: "Signs in by", Value: waysText(a.GetWays())},
		{Label: "Last signed in", Value: day(a.GetLastSignInTime())},
		{Label: "Made", Value: moment(a.GetCreateTime())},
	}
	if o := a.GetOrganisation(); o != "" {
		facts = append(facts, fact{Label: "Organisation", Value: bare(o)})
	}
	if a.GetCloseTime() != nil {
		facts = append(facts, fact{Label: "Closed", Value: moment(a.GetCloseTime())})
	}
	return facts
}

func (v *visit) accountBlocks(a *accessv1.Account, change *form, sessions []*accessv1.Session) []block {
	path := "/" + a.GetName()
	closing := &form{ID: "close", Action: path + "/close", Submit: "Close the account", Grave: true, Fields: []field{
		{Name: "etag", Type: "hidden", Value: a.GetEtag()}, {Name: "closed", Type: "hidden", Value: "yes"}, requestField(),
	}}
	if a.GetCloseTime() != nil {
		closing.Submit, closing.Grave, closing.Fields[1].Value = "Open it again", false, ""
		return []block{{Heading: "Closed", Text: []string{"Its sessions and keys open nothing."}, Form: closing}}
	}
	invite := "With an invitation they set up a passkey, or a password with codes."
	if len(a.GetWays()) > 0 {
		invite = "For somebody who has lost how they sign in. What they have stays good until they accept, and then ends."
	}
	blocks := []block{
		{Heading: "Invite", Text: []string{invite}, Form: &form{ID: "invite", Action: path + "/invite", Submit: "Make an invitation", Fields: []field{requestField()}}},
		{Heading: "Change", Form: change},
		{Heading: "Signed in now", Table: sessionsTable(sessions, v.signed.Session.GetName(), path+"/sessions/end")},
	}
	if len(sessions) > 0 {
		blocks[2].Form = &form{ID: "end-all", Action: path + "/sessions/end-all", Submit: "End all", Grave: true}
	}
	return append(blocks, block{Heading: "Close", Text: []string{"Their sessions and keys open nothing from then on. What they did stays in the records."}, Form: closing})
}

func (v *visit) updateAccount() {
	if !v.readForm() {
		return
	}
	made, err := v.d.Access.UpdateAccount(v.as(), &accessv1.UpdateAccountRequest{Account: v.accountOfForm(v.named()), RequestId: v.request()})
	if err != nil {
		v.oneAccountPage(http.StatusUnprocessableEntity, err)
		return
	}
	v.goTo("/" + made.GetName() + "?done=changed")
}

// closeAccount closes an account, which nobody must wait with, or opens it again.
func (v *visit) closeAccount() {
	if !v.readForm() {
		return
	}
	if v.value("closed") == "" && !v.fresh {
		v.signInFirst(atAccount(v))
		return
	}
	a, err := v.d.Access.GetAccount(v.as(), &accessv1.GetAccountRequest{Name: v.named()})
	if err != nil {
		v.refuse(err)
		return
	}
	a.Etag = v.value("etag")
	closed, word := v.value("closed") != "", "opened"
	if closed {
		word = "closed"
	}
	_, err = v.d.Access.UpdateAccount(v.as(), &accessv1.UpdateAccountRequest{Account: a, Closed: closed, RequestId: v.request()})
	v.done(err, "/"+a.GetName()+"?done="+word)
}

func (v *visit) inviteAccount() {
	if !v.readForm() {
		return
	}
	made, err := v.d.SignIn.InviteAccount(v.as(), &accessv1.InviteAccountRequest{Account: v.named(), RequestId: v.request()})
	if err != nil {
		v.refuse(err)
		return
	}
	back := []link{{Label: "Back to the account", Path: "/" + v.named()}}
	if made.GetSecret() == "" {
		v.show("Invited before", block{Text: []string{"This invitation was made and shown before. Its address is kept nowhere: make another."}, Links: back})
		return
	}
	v.show("The invitation", block{
		Text: []string{
			"Give this address to whom it is for, by a way that nobody else reads. It works once, and until " + moment(made.GetExpireTime()) + ".",
			"It is shown this once. An earlier one is void.",
		},
		Secret: &secret{"Address of the invitation", made.GetUrl()}, Links: back,
	})
}

func (v *visit) endSession() {
	if !v.readForm() {
		return
	}
	_, err := v.d.SignIn.EndSession(v.as(), &accessv1.EndSessionRequest{Name: v.value("session"), Account: v.named()})
	v.done(err, "/"+v.named()+"?done=ended")
}

func (v *visit) endSessions() {
	_, err := v.d.SignIn.EndSessions(v.as(), &accessv1.EndSessionsRequest{Account: v.named()})
	v.done(err, "/"+v.named()+"?done=all-ended")
}

// more is the link to the next page of a list, if there is one.
func more(path, token string) []link {
	if token == "" {
		return nil
	}
	return []link{{Label: "More", Path: path + token}}
}
