package desk

import (
	"cmp"
	"net/http"
	"slices"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"

	"halfshaft/services/wording"
)

// showHome says who is signed in and what they may open.
func (v *visit) showHome() {
	who := v.signed.Account
	text := []string{"You are signed in as " + who.GetFullName() + ", " + roleWords[who.GetRole()] + "."}
	if o := who.GetOrganisation(); o != "" {
		called := bare(o)
		if x, err := v.d.Access.GetOrganisation(v.as(), &accessv1.GetOrganisationRequest{Name: o}); err == nil {
			called = cmp.Or(x.GetTitle(), called)
		}
		text = append(text, "You belong to "+called+".")
	}
	blocks, aside := []block{{Text: text}}, []block(nil)
	switch who.GetRole() {
	case accessv1.Role_ROLE_ADMINISTRATOR:
		blocks = append(blocks, block{Heading: "See to", Links: append(slices.Clone(administration), link{Label: "Imports", Path: "/works/imports"}, link{Label: "Health", Path: "/works/health"})})
		if t, err := v.waiting(); err == nil {
			aside = append(aside, block{Heading: "What waits for somebody", Table: t})
		}
	case accessv1.Role_ROLE_DEALER:
		vehicles, err := v.assignmentsBlock()
		if err != nil {
			v.refuse(err)
			return
		}
		blocks = append(blocks, vehicles)
	default:
		blocks[0].Text = append(blocks[0].Text, "Enter into the box above whatever the caller says: a serial as it is spoken, a name, a plate, a part of a frame number, a gearbox number, or words for a part. The key / goes to the box.")
		blocks = append(blocks, v.openEnquiries()...)
		if t, err := v.waiting(); err == nil { // home stands without it where a service gives no answer
			aside = append(aside, block{Heading: "What waits for somebody", Table: t})
		}
	}
	blocks = append(blocks, block{Heading: "Yourself", Links: []link{{Label: "How you sign in, and where you are signed in", Path: "/account"}}})
	page := view{Title: "Good day", Note: notes[v.r.URL.Query().Get("done")], Blocks: blocks, Aside: aside}
	page.Wide = len(aside) > 0
	v.render(http.StatusOK, page)
}

// openEnquiries are the questions that nobody is done with, the latest first.
// Home stands without them where their service gives no answer.
func (v *visit) openEnquiries() []block {
	const most = 10
	r, err := v.d.Enquiries.ListEnquiries(v.as(), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", OpenOnly: true, PageSize: most})
	if err != nil {
		return nil
	}
	b := block{Heading: "Open enquiries"}
	for _, e := range r.GetEnquiries() {
		serial := serialIn(e.GetName())
		x := entry{Term: serial, Mono: true, Path: vehiclePath(serial) + "/enquiries/" + bare(e.GetName()), Text: cmp.Or(e.GetQuestion(), e.GetSymptom()), Sub: "Asked on " + day(e.GetAskTime()) + "."}
		if e.GetFollowUpDate() != nil {
			x.Sub += " Call back by " + civil(e.GetFollowUpDate()) + "."
		}
		b.List = append(b.List, x)
	}
	if len(b.List) == 0 {
		b.Text = []string{"No enquiry is open."}
	}
	return []block{b}
}

// proof shows the session to the service.
func (v *visit) proof() *accessv1.Proof {
	return &accessv1.Proof{Secret: &accessv1.Proof_Session{Session: v.secret}}
}

// ownForms are the forms of the page on one's own account; one of them may hold
// what is wrong.
type ownForms struct{ change, renew *form }

func (v *visit) ownForms() ownForms {
	renew := newPasswordForm("/account/password/new", v.signed.Account)
	renew.ID = "new-password"
	return ownForms{
		change: &form{ID: "change", Action: "/account/password", Submit: "Change the password", Fields: []field{
			{Name: "username", Type: "hidden", Value: bare(v.signed.Account.GetName()), Autocomplete: "username"},
			{Name: "current", Label: "Password now", Type: "password", Autocomplete: "current-password", Required: true},
			{Name: "password", Label: "New password", Type: "password", Autocomplete: "new-password", Required: true, Hint: "At least 12 characters; several words make a good one. All other sessions end."},
		}},
		renew: renew,
	}
}

func (v *visit) showAccount() { v.accountPage(http.StatusOK, v.ownForms()) }

func (v *visit) accountPage(status int, f ownForms) {
	name := v.signed.Account.GetName()
	ways, err := v.d.SignIn.GetSignInWays(v.asService(), &accessv1.GetSignInWaysRequest{Account: name})
	if err != nil {
		v.refuse(err)
		return
	}
	sessions, err := v.d.SignIn.ListSessions(v.asService(), &accessv1.ListSessionsRequest{Parent: name, PageSize: 100})
	if err != nil {
		v.refuse(err)
		return
	}
	who := v.signed.Account
	facts := []fact{{Label: "Name", Value: bare(name)}, {Label: "Full name", Value: who.GetFullName()}, {Label: "Role", Value: roleWords[who.GetRole()]}}
	if o := who.GetOrganisation(); o != "" {
		facts = append(facts, fact{Label: "Organisation", Value: bare(o)})
	}
	blocks := append([]block{{Facts: facts}}, v.waysBlocks(ways, f)...)
	blocks = append(blocks, v.sessionsBlock(sessions.GetSessions()))
	v.render(status, view{Title: "My account", Note: notes[v.r.URL.Query().Get("done")], Blocks: blocks})
}

// waysBlocks show how one signs in. What changes that needs a sign-in of a
// short while ago.
func (v *visit) waysBlocks(ways *accessv1.SignInWays, f ownForms) []block {
	t := &table{Caption: "Ways to sign in", Heads: []string{"Way", "Since", "Last used", ""}, Empty: "There is none."}
	row := func(what, since, used, id string) {
		last := cell{}
		if v.fresh {
			last.Form = &form{ID: "remove-" + id, Action: "/account/ways/remove", Submit: "Remove " + what, Grave: true,
				Fields: []field{{Name: "way", Type: "hidden", Value: id}}}
		}
		t.Rows = append(t.Rows, []cell{{Text: what}, {Text: since}, {Text: used}, last})
	}
	for _, p := range ways.GetPasskeys() {
		row(p.GetTitle(), day(p.GetCreateTime()), day(p.GetLastUseTime()), p.GetId())
	}
	if ways.GetPassword() {
		row("password and code", day(ways.GetPasswordTime()), "–", "password")
	}
	if ways.GetOpenid() {
		row("the works' own sign-in", "–", "–", "openid")
	}
	blocks := []block{{Heading: "How you sign in", Table: t}}
	if ways.GetPassword() {
		blocks = append(blocks, block{Heading: "Change the password", Form: f.change})
	}
	if !v.fresh {
		return append(blocks, block{
			Heading: "Add or remove ways",
			Text:    []string{"For that, sign in again: you did so more than a quarter of an hour ago, and somebody else may sit at this browser by now."},
			Links:   []link{{Label: "Sign in again", Path: "/sign-in?next=%2Faccount"}},
		})
	}
	blocks = append(blocks, block{Heading: "Add a passkey", Form: &form{
		ID: "passkey", Action: "/account/passkey", Submit: "Make a passkey", Passkey: "create",
		Fields: []field{{Name: "title", Label: "What to call it", Type: "text", Value: "My passkey", Autocomplete: "off"}},
	}})
	if !ways.GetPassword() {
		return append(blocks, block{Heading: "Add a password and codes", Form: f.renew})
	}
	f.renew.Submit = "Begin anew"
	return append(blocks,
		block{Heading: "Recovery codes", Text: []string{"You have " + wording.Count(int(ways.GetRecoveryCodes()), "code") + " left."}, Form: &form{
			ID: "codes", Action: "/account/recovery-codes", Submit: "Make ten new ones",
		}},
		block{Heading: "Another authenticator", Text: []string{"A new password with a new authenticator takes the place of both."}, Form: f.renew},
	)
}

// sessionsBlock shows where one is signed in.
func (v *visit) sessionsBlock(sessions []*accessv1.Session) block {
	t := sessionsTable(sessions, v.signed.Session.GetName(), "/account/sessions/end")
	b := block{Heading: "Where you are signed in", Table: t}
	if len(sessions) > 1 {
		b.Form = &form{ID: "end-others", Action: "/account/sessions/end-others", Submit: "End all others", Grave: true}
	}
	return b
}

// sessionsTable lists sessions with a button to end each, but for one's own.
func sessionsTable(sessions []*accessv1.Session, own, action string) *table {
	t := &table{Caption: "Sessions", Heads: []string{"Since", "Last used", "From", "By", ""}, Empty: "Nobody is signed in."}
	for _, s := range sessions {
		end := cell{Text: "this one"}
		if s.GetName() != own {
			end = cell{Form: &form{ID: bare(s.GetName()), Action: action, Submit: "End", Grave: true,
				Fields: []field{{Name: "session", Type: "hidden", Value: s.GetName()}}}}
		}
		t.Rows = append(t.Rows, []cell{
			{Text: moment(s.GetCreateTime())}, {Text: moment(s.GetLastUseTime())}, {Text: s.GetNetwork(), Mono: true},
			{Text: wayWords[s.GetWay()]}, end,
		})
	}
	return t
}

func (v *visit) beginPasskey() {
	var nothing struct{}
	if !v.readJSON(&nothing) {
		return
	}
	begun, err := v.d.SignIn.BeginPasskey(v.asService(), &accessv1.BeginPasskeyRequest{Account: v.signed.Account.GetName(), Proof: v.proof()})
	v.begun(begun, err)
}

func (v *visit) finishPasskey() {
	var sent finished
	if v.readJSON(&sent) {
		v.addPasskey(v.signed.Account, v.proof(), sent, "/account?done=passkey")
	}
}

func (v *visit) newPassword() {
	if !v.readForm() {
		return
	}
	begun, err := v.d.SignIn.BeginPassword(v.asService(), &accessv1.BeginPasswordRequest{
		Account: v.signed.Account.GetName(), Proof: v.proof(), Password: v.r.PostForm.Get("password"),
	})
	if err != nil {
		f := v.ownForms()
		v.again(err, f.renew, func(status int) { v.accountPage(status, f) })
		return
	}
	v.codePage(begun, "/account/password/code")
}

func (v *visit) newPasswordCode() {
	if v.readForm() {
		v.finishCode(v.signed.Account, v.proof(), "/account/password/code")
	}
}

func (v *visit) changePassword() {
	if !v.readForm() {
		return
	}
	_, err := v.d.SignIn.ChangePassword(v.asService(), &accessv1.ChangePasswordRequest{
		Account: v.signed.Account.GetName(), Session: v.secret,
		Current: v.r.PostForm.Get("current"), Password: v.r.PostForm.Get("password"), Network: v.network(),
	})
	if err != nil {
		f := v.ownForms()
		v.again(err, f.change, func(status int) { v.accountPage(status, f) })
		return
	}
	v.goTo("/account?done=password")
}

func (v *visit) recoveryCodes() {
	made, err := v.d.SignIn.CreateRecoveryCodes(v.asService(), &accessv1.CreateRecoveryCodesRequest{
		Account: v.signed.Account.GetName(), Session: v.secret, Network: v.network(),
	})
	if err != nil {
		v.refuse(err)
		return
	}
	v.codesPage(made.GetRecoveryCodes())
}

func (v *visit) removeWay() {
	if !v.readForm() {
		return
	}
	_, err := v.d.SignIn.RemoveSignInWay(v.asService(), &accessv1.RemoveSignInWayRequest{
		Account: v.signed.Account.GetName(), Session: v.secret, Way: v.value("way"), Network: v.network(),
	})
	v.done(err, "/account?done=removed")
}

// done goes on to a page, or says why not.
func (v *visit) done(err error, next string) {
	if err != nil {
		v.refuse(err)
		return
	}
	v.goTo(next)
}

func (v *visit) endOwnSession() {
	if !v.readForm() {
		return
	}
	_, err := v.d.SignIn.EndSession(v.asService(), &accessv1.EndSessionRequest{
		Name: v.value("session"), Account: v.signed.Account.GetName(), Session: v.secret, Network: v.network(),
	})
	v.done(err, "/account?done=ended")
}

func (v *visit) endOtherSessions() {
	_, err := v.d.SignIn.EndSessions(v.asService(), &accessv1.EndSessionsRequest{
		Account: v.signed.Account.GetName(), Except: v.signed.Session.GetName(), Session: v.secret, Network: v.network(),
	})
	v.done(err, "/account?done=all-ended")
}
