package desk

import (
	"net/http"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/rpcerr"
)

// takeInvitation moves an invitation's secret from the address, which the
// browser remembers and shows, into a cookie. It changes nothing else, since
// mail scanners follow links.
func (v *visit) takeInvitation() {
	v.setCookie(invitationCookie, v.r.PathValue("secret"))
	v.goTo("/invitation")
}

// guest finds for whom the browser's invitation is. Where it is for nobody, it
// answers.
func (v *visit) guest() (*accessv1.Account, *accessv1.Proof, bool) {
	secret := v.cookie(invitationCookie)
	found, err := v.d.SignIn.CheckInvitation(v.asService(), &accessv1.CheckInvitationRequest{Secret: secret})
	if err != nil {
		v.refuse(err)
		return nil, nil, false
	}
	return found.GetAccount(), &accessv1.Proof{Secret: &accessv1.Proof_Invitation{Invitation: secret}}, true
}

func (v *visit) showInvitation() {
	who, _, ok := v.guest()
	if !ok {
		return
	}
	v.invitationPage(http.StatusOK, who, newPasswordForm("/invitation/password", who))
}

func (v *visit) invitationPage(status int, who *accessv1.Account, f *form) {
	offer, err := v.d.SignIn.GetSignInOffer(v.asService(), &accessv1.GetSignInOfferRequest{})
	if err != nil {
		v.refuse(err)
		return
	}
	text := []string{"You are invited as " + who.GetFullName() + ". Your name to sign in with is " + bare(who.GetName()) + ". Choose how you want to sign in; you can add the other way later."}
	if len(who.GetWays()) > 0 {
		text = append(text, "How you signed in before ends with this, and so does every session.")
	}
	blocks := []block{{Text: text}}
	if offer.GetPasskeys() {
		blocks = append(blocks, block{
			Heading: "A passkey",
			Text:    []string{"Your telephone, your computer or a security key keeps it and asks for your finger, face or PIN. There is nothing to remember and nothing that can be guessed."},
			Form: &form{ID: "passkey", Action: "/invitation/passkey", Submit: "Make a passkey", Passkey: "create", Fields: []field{
				{Name: "title", Label: "What to call it", Type: "text", Value: "My passkey", Autocomplete: "off"},
			}},
		})
	}
	blocks = append(blocks, block{
		Heading: "A password and codes",
		Text:    []string{"Besides the password you need an app that makes codes, an authenticator, which you set up on the next page."},
		Form:    f,
	})
	v.render(status, view{Title: "Welcome to the desk", Blocks: blocks})
}

// newPasswordForm asks for a password. The name stands in it for the browser's
// own keeping of passwords.
func newPasswordForm(action string, who *accessv1.Account) *form {
	return &form{ID: "password", Action: action, Submit: "Go on to the codes", Fields: []field{
		{Name: "username", Type: "hidden", Value: bare(who.GetName()), Autocomplete: "username"},
		{Name: "password", Label: "New password", Type: "password", Autocomplete: "new-password", Required: true,
			Hint: "At least 12 characters; several words make a good one."},
	}}
}

func (v *visit) invitedPassword() {
	if !v.readForm() {
		return
	}
	who, proof, ok := v.guest()
	if !ok {
		return
	}
	begun, err := v.d.SignIn.BeginPassword(v.asService(), &accessv1.BeginPasswordRequest{
		Account: who.GetName(), Proof: proof, Password: v.r.PostForm.Get("password"),
	})
	if err != nil {
		f := newPasswordForm("/invitation/password", who)
		v.again(err, f, func(status int) { v.invitationPage(status, who, f) })
		return
	}
	v.codePage(begun, "/invitation/password/code")
}

// codePage shows the secret of an authenticator, this once, and asks for a code
// of it.
func (v *visit) codePage(begun *accessv1.Ceremony, action string) {
	v.setCookie(ceremonyCookie, begun.GetCeremony())
	drawn, err := draw(begun.GetCodeUrl())
	if err != nil {
		v.refuse(err)
		return
	}
	v.show("Set up your authenticator",
		block{
			Text:   []string{"Scan this with your authenticator, or type the key into it.", "It is shown this once."},
			Figure: drawn,
			Facts:  []fact{{Label: "Key", Value: grouped(begun.GetCodeSecret()), Mono: true}},
		},
		block{Form: codeForm(action)},
	)
}

func codeForm(action string) *form {
	return &form{ID: "code", Action: action, Submit: "Check the code", Fields: []field{
		{Name: "code", Label: "Code", Type: "text", Autocomplete: "one-time-code", Inputmode: "numeric", Required: true,
			Hint: "The six figures that the authenticator shows now. With a right one the password counts."},
	}}
}

func (v *visit) invitedCode() {
	if !v.readForm() {
		return
	}
	who, proof, ok := v.guest()
	if !ok {
		return
	}
	v.finishCode(who, proof, "/invitation/password/code")
}

// finishCode takes the first code of an authenticator.
func (v *visit) finishCode(who *accessv1.Account, proof *accessv1.Proof, action string) {
	added, err := v.d.SignIn.FinishPassword(v.asService(), &accessv1.FinishPasswordRequest{
		Account: who.GetName(), Proof: proof, Ceremony: v.cookie(ceremonyCookie), Code: v.value("code"), Network: v.network(),
	})
	if err != nil {
		f := codeForm(action)
		v.again(err, f, func(status int) {
			v.render(status, view{Title: "Set up your authenticator", Blocks: []block{{
				Text: []string{"Your authenticator keeps the key that you gave it. Wait for its next code."}, Form: f,
			}}})
		})
		return
	}
	v.welcome(added)
	v.codesPage(added.GetRecoveryCodes())
}

// welcome signs in who accepted an invitation.
func (v *visit) welcome(added *accessv1.WayAdded) {
	v.setCookie(ceremonyCookie, "")
	if grant := added.GetGrant(); grant != nil {
		v.setCookie(invitationCookie, "")
		v.enter(grant)
	}
}

// codesPage shows recovery codes, this once.
func (v *visit) codesPage(codes []string) {
	v.show("Your recovery codes", block{
		Text: []string{
			"Each of these stands in for a code of your authenticator, once: for the day on which you have lost it. Print them or write them down, and keep them apart from it.",
			"They are shown this once. Earlier ones are void.",
		},
		Codes: codes, Links: []link{{Label: "I have them", Path: "/account"}},
	})
}

func (v *visit) beginInvitedPasskey() {
	var nothing struct{}
	if !v.readJSON(&nothing) {
		return
	}
	who, proof, ok := v.guest()
	if !ok {
		return
	}
	begun, err := v.d.SignIn.BeginPasskey(v.asService(), &accessv1.BeginPasskeyRequest{Account: who.GetName(), Proof: proof})
	v.begun(begun, err)
}

func (v *visit) finishInvitedPasskey() {
	var sent finished
	if !v.readJSON(&sent) {
		return
	}
	who, proof, ok := v.guest()
	if !ok {
		return
	}
	v.addPasskey(who, proof, sent, "/")
}

// addPasskey keeps a passkey that the browser made.
func (v *visit) addPasskey(who *accessv1.Account, proof *accessv1.Proof, sent finished, next string) {
	added, err := v.d.SignIn.FinishPasskey(v.asService(), &accessv1.FinishPasskeyRequest{
		Account: who.GetName(), Proof: proof, Ceremony: v.cookie(ceremonyCookie), ResponseJson: string(sent.Response),
		Title: sent.Fields.Title, Network: v.network(),
	})
	if err != nil {
		f := rpcerr.FromStatus(err)
		v.json(answers[f.Kind].status, reply{Error: sentence(f)})
		return
	}
	v.welcome(added)
	v.json(http.StatusOK, reply{Next: next})
}
