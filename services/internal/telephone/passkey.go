package telephone

import (
	"context"
	"fmt"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"
)

// Scripts lets the page's own scripts run, or not, from the next page on.
func (p *Telephone) Scripts(run bool) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !run}); err != nil {
		p.t.Fatal(err)
	}
}

// Authenticator is something that holds passkeys.
type Authenticator struct {
	p  *Telephone
	id webauthn.AuthenticatorID
}

// Authenticator gives the telephone an authenticator that knows its holder and
// is always touched.
func (p *Telephone) Authenticator() *Authenticator {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
		p.t.Fatal(err)
	}
	added, err := chromedp.Call(p.ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal,
		HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true,
	}})
	if err != nil {
		p.t.Fatal(err)
	}
	return &Authenticator{p, added.AuthenticatorID}
}

// Remove takes the authenticator away.
func (a *Authenticator) Remove() {
	a.p.t.Helper()
	if _, err := chromedp.Call(a.p.ctx, webauthn.RemoveVirtualAuthenticator, webauthn.RemoveVirtualAuthenticatorParams{AuthenticatorID: a.id}); err != nil {
		a.p.t.Fatal(err)
	}
}

// Knows says whether it knows its holder from now on.
func (a *Authenticator) Knows(holder bool) {
	a.p.t.Helper()
	if _, err := chromedp.Call(a.p.ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: a.id, IsUserVerified: holder}); err != nil {
		a.p.t.Fatal(err)
	}
}

// Passkeys gives the passkeys in it, with their private keys.
func (a *Authenticator) Passkeys() []*webauthn.Credential {
	a.p.t.Helper()
	found, err := chromedp.Call(a.p.ctx, webauthn.GetCredentials, webauthn.GetCredentialsParams{AuthenticatorID: a.id})
	if err != nil {
		a.p.t.Fatal(err)
	}
	return found.Credentials
}

// put is WebAuthn.addCredential without the fields that authenticators of the
// usual kind refuse even where they say no.
var put = cdp.Command[putParams, cdp.Empty]{Method: webauthn.CommandAddCredential}

type putParams struct {
	AuthenticatorID webauthn.AuthenticatorID `json:"authenticatorId"`
	Credential      putPasskey               `json:"credential"`
}

type putPasskey struct {
	CredentialID         []byte  `json:"credentialId"`
	IsResidentCredential bool    `json:"isResidentCredential"`
	RpID                 string  `json:"rpId"`
	PrivateKey           []byte  `json:"privateKey"`
	UserHandle           []byte  `json:"userHandle"`
	SignCount            float64 `json:"signCount"`
}

// Put puts a passkey into it.
func (a *Authenticator) Put(c *webauthn.Credential) {
	a.p.t.Helper()
	if _, err := chromedp.Call(a.p.ctx, put, putParams{a.id, putPasskey{
		c.CredentialID, c.IsResidentCredential, c.RpID, c.PrivateKey, c.UserHandle, c.SignCount,
	}}); err != nil {
		a.p.t.Fatal(err)
	}
}

// patience bounds a wait for what a script does.
const patience = 30 * time.Second

// PressAndRead presses a button that a script serves, and waits until the page
// says something.
func (p *Telephone) PressAndRead(label, says string) {
	p.t.Helper()
	at := p.mark("button "+label, fmt.Sprintf(`[...document.querySelectorAll("button")].find(e => e.innerText.trim() == %q)`, label))
	p.do(chromedp.Click(at))
	limit, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	for {
		// While the page changes there is none to ask.
		here, err := chromedp.Run(limit, chromedp.Evaluate[bool](fmt.Sprintf(`document.readyState == "complete" && document.body.innerText.includes(%q)`, says)))
		if err == nil && here {
			break
		}
		if limit.Err() != nil {
			p.t.Fatalf("%s was pressed, and without %q: %s", label, says, Ask[string](p, `document.body.innerText`))
		}
	}
	p.Look()
}

// Cookies gives the cookies that the page's address gets.
func (p *Telephone) Cookies() []*network.Cookie {
	p.t.Helper()
	found, err := chromedp.Call(p.ctx, network.GetCookies, network.GetCookiesParams{})
	if err != nil {
		p.t.Fatal(err)
	}
	return found.Cookies
}

// Wide makes the window another width.
func (p *Telephone) Wide(width int64) {
	p.t.Helper()
	p.width = width
	p.do(chromedp.EmulateViewport(width, 800))
}
