package main

import (
	"halfshaft/services/works"
)

// deskFlags are those of the pages that people sign in to.
type deskFlags struct {
	Desk      string   `help:"Address of the pages that staff and dealers' people sign in to, as in 127.0.0.1:7462. Without one there are none." placeholder:"ADDRESS"`
	DeskURL   string   `name:"desk-url" help:"Where browsers reach them: https://desk.aldermoor.example. Passkeys and cookies are bound to it; on loopback it is http://localhost with the port of --desk." placeholder:"URL"`
	DeskPlain bool     `name:"desk-plain-off-loopback" help:"Serve them in plain text though others reach the address: for a proxy on another machine that speaks TLS before it, over a line that nobody else is on."`
	Issuer    string   `name:"openid-issuer" help:"Identity provider of the works (OpenID Connect), to sign in with." placeholder:"URL"`
	Client    string   `name:"openid-client" help:"Under which name it knows these pages. It sends browsers back to DESK-URL/sign-in/openid/callback." placeholder:"NAME"`
	Secret    string   `name:"openid-secret-file" help:"File with the secret that goes with it." type:"existingfile" placeholder:"FILE"`
	Claim     string   `name:"openid-claim" help:"Which claim of it names an account. Whoever may change its value there may sign in as anybody here." default:"preferred_username" placeholder:"CLAIM"`
	Allow     []string `name:"openid-allow" help:"Host or range of the identity provider that may be reached though it is not public." placeholder:"HOST"`
}

// config turns the flags into the configuration of the desk.
func (f *deskFlags) config() (works.DeskConfig, error) {
	c := works.DeskConfig{Listen: f.Desk, URL: f.DeskURL, Plain: f.DeskPlain, OpenID: works.OpenIDConfig{
		Issuer: f.Issuer, Client: f.Client, Claim: f.Claim, Allow: f.Allow,
	}}
	var err error
	if f.Secret != "" {
		c.OpenID.Secret, err = works.ReadSecret(f.Secret)
	}
	return c, err
}
