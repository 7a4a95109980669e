package desk

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// showSignIn prints the page at which people sign in. Looking at it changes
// nothing.
func (v *visit) showSignIn() {
	v.signInPage(http.StatusOK, signInForm(nextPage(v.r.URL.Query().Get("next"))))
}

func signInForm(next string) *form {
	return &form{ID: "password", Action: "/sign-in", Submit: "Sign in", Fields: []field{
		{Name: "account", Label: "Name", Type: "text", Autocomplete: "username", Required: true, Hint: "The short name of your account, as in ida."},
		{Name: "password", Label: "Password", Type: "password", Autocomplete: "current-password", Required: true},
		{Name: "code", Label: "Code", Type: "text", Autocomplete: "one-time-code", Required: true,
			Hint: "The six figures of your authenticator, or one of your recovery codes."},
		{Name: "next", Type: "hidden", Value: next},
	}}
}

func (v *visit) signInPage(status int, f *form) {
	offer, err := v.d.SignIn.GetSignInOffer(v.asService(), &accessv1.GetSignInOfferRequest{})
	if err != nil {
		v.refuse(err)
		return
	}
	var blocks []block
	next := f.field("next").Value
	if offer.GetPasskeys() {
		blocks = append(blocks, block{Heading: "With a passkey", Form: &form{
			ID: "passkey", Action: "/sign-in/passkey", Submit: "Use a passkey", Passkey: "get",
			Fields: []field{{Name: "next", Type: "hidden", Value: next}},
		}})
	}
	blocks = append(blocks, block{Heading: "With a password and a code", Form: f})
	if offer.GetOpenid() {
		blocks = append(blocks, block{Heading: "With the works' own sign-in", Form: &form{
			ID: "openid", Action: "/sign-in/openid", Submit: "Go to the works' sign-in",
		}})
	}
	v.render(status, view{Title: "Sign in", Blocks: blocks})
}

// signIn takes a password and a code.
func (v *visit) signIn() {
	if !v.readForm() {
		return
	}
	grant, err := v.d.SignIn.SignIn(v.asService(), &accessv1.SignInRequest{
		Account: "accounts/" + strings.ToLower(v.value("account")), Password: v.r.PostForm.Get("password"),
		Code: v.value("code"), Network: v.network(),
	})
	if err != nil {
		f := signInForm(nextPage(v.value("next"))).filled(v)
		v.again(err, f, func(status int) { v.signInPage(status, f) })
		return
	}
	v.enter(grant)
	v.goTo(nextPage(v.value("next")))
}

// enter gives the browser its session. The one it had before, somebody's who
// used it earlier perhaps, ends.
func (v *visit) enter(grant *accessv1.SessionGrant) {
	if old := v.cookie(sessionCookie); old != "" {
		if found, err := v.d.SignIn.CheckSession(v.asService(), &accessv1.CheckSessionRequest{Secret: old}); err == nil {
			v.end(old, found.GetAccount().GetName())
		}
	}
	v.setCookie(sessionCookie, grant.GetSecret())
	v.setCookie(ceremonyCookie, "")
}

func (v *visit) end(secret, account string) {
	if _, err := v.d.SignIn.SignOut(v.asService(), &accessv1.SignOutRequest{Secret: secret, Account: account, Network: v.network()}); err != nil {
		v.d.Logger.Warn("a session could not be ended", "error", err)
	}
}

func (v *visit) signOut() {
	if _, err := v.d.SignIn.SignOut(v.asService(), &accessv1.SignOutRequest{Secret: v.secret, Account: v.signed.Account.GetName(), Network: v.network()}); err != nil {
		v.refuse(err)
		return
	}
	v.setCookie(sessionCookie, "")
	// The next at this browser finds nothing, not by going back either.
	v.w.Header().Set("Clear-Site-Data", `"cache", "cookies", "storage"`)
	v.signed = nil
	v.message(http.StatusOK, "You are signed out", "Nothing of what you saw is kept in this browser.")
}

// beginPasskeySignIn tells the script what to ask the browser.
func (v *visit) beginPasskeySignIn() {
	var nothing struct{}
	if !v.readJSON(&nothing) {
		return
	}
	begun, err := v.d.SignIn.BeginPasskeySignIn(v.asService(), &accessv1.BeginPasskeySignInRequest{})
	v.begun(begun, err)
}

// begun answers the script with the first step of a ceremony, whose secret the
// script never sees.
func (v *visit) begun(c *accessv1.Ceremony, err error) {
	if err != nil {
		v.refuse(err)
		return
	}
	v.setCookie(ceremonyCookie, c.GetCeremony())
	v.json(http.StatusOK, reply{Options: json.RawMessage(c.GetOptionsJson())})
}

// finished is what the script sends of a passkey.
type finished struct {
	Response json.RawMessage `json:"response"`
	Fields   struct {
		Next  string `json:"next"`
		Title string `json:"title"`
	} `json:"fields"`
}

func (v *visit) finishPasskeySignIn() {
	var sent finished
	if !v.readJSON(&sent) {
		return
	}
	grant, err := v.d.SignIn.FinishPasskeySignIn(v.asService(), &accessv1.FinishPasskeySignInRequest{
		Ceremony: v.cookie(ceremonyCookie), ResponseJson: string(sent.Response), Network: v.network(),
	})
	if err != nil {
		if f := rpcerr.FromStatus(err); f.Kind == fault.Unauthenticated {
			v.json(http.StatusUnauthorized, reply{Error: "This passkey is not known here, or its account is closed."})
			return
		}
		v.refuse(err)
		return
	}
	v.enter(grant)
	v.json(http.StatusOK, reply{Next: nextPage(sent.Fields.Next)})
}

// beginOpenID sends the browser to the works' identity provider: by a page of
// our own, because our forms may be sent on to nobody else.
func (v *visit) beginOpenID() {
	begun, err := v.d.SignIn.BeginOpenIdSignIn(v.asService(), &accessv1.BeginOpenIdSignInRequest{})
	if err != nil {
		v.refuse(err)
		return
	}
	to, err := url.Parse(begun.GetRedirectUrl())
	if err != nil || to.Scheme != "https" && to.Scheme != "http" {
		v.refuse(fault.New(fault.Internal, "OPENID_ADDRESS", "the identity provider's address is none"))
		return
	}
	v.setCookie(ceremonyCookie, begun.GetCeremony())
	v.w.Header().Set("Refresh", "0; url="+to.String())
	v.render(http.StatusOK, view{Title: "On to the works' sign-in", Blocks: []block{{
		Text: []string{"Your browser goes on by itself."}, Links: []link{{Label: "Go on", Path: to.String()}},
	}}})
}

// finishOpenID takes what the identity provider sent the browser back with.
// Only the browser that began it can finish it.
func (v *visit) finishOpenID() {
	q := v.r.URL.Query()
	if q.Get("code") == "" {
		v.message(http.StatusUnauthorized, "You are not let in", "The works' sign-in did not let you in, or you turned back.")
		return
	}
	grant, err := v.d.SignIn.FinishOpenIdSignIn(v.asService(), &accessv1.FinishOpenIdSignInRequest{
		Ceremony: v.cookie(ceremonyCookie), State: q.Get("state"), Code: q.Get("code"), Network: v.network(),
	})
	if err != nil {
		if f := rpcerr.FromStatus(err); f.Kind == fault.Unauthenticated {
			v.message(http.StatusUnauthorized, "You are not let in", "The works' sign-in knows you, and there is no open account here of your name. Ask an administrator.")
			return
		}
		v.refuse(err)
		return
	}
	v.enter(grant)
	v.goTo("/")
}
