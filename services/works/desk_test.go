package works_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/onetime"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/works"
)

// deskWorld is a process with a desk, and a clock moved by hand.
type deskWorld struct {
	*handclock.Clock
	t       *testing.T
	process *works.Process
	ctx     context.Context
	clients works.Clients
	url     string
}

func openDesk(t *testing.T, proxies ...string) *deskWorld {
	t.Helper()
	return openDeskOver(t, "", proxies...)
}

// openDeskOver opens it over a data directory; over an empty one where none is
// named.
func openDeskOver(t *testing.T, data string, proxies ...string) *deskWorld {
	t.Helper()
	clock := atDemo()
	process, ctx, clients := start(t, works.Config{
		Data: data, TrustedProxies: proxies,
		Desk: works.DeskConfig{Listen: freeaddress.For(t)}, Clock: clock.Now, Works: works.WorksConfig{Name: "Aldermoor Works"},
	})
	if !strings.HasPrefix(process.DeskURL(), "http://localhost:") {
		t.Fatalf("the desk is at %q", process.DeskURL())
	}
	return &deskWorld{clock, t, process, ctx, clients, process.DeskURL()}
}

// invited makes an account and gives the address of its invitation.
func (d *deskWorld) invited(id, name string, role accessv1.Role) string {
	d.t.Helper()
	account := &accessv1.Account{Name: "accounts/" + id, FullName: name, Role: role}
	if role == accessv1.Role_ROLE_DEALER {
		account.Organisation = "organisations/ferncombe"
	}
	if _, err := d.clients.Access.CreateAccount(d.ctx, &accessv1.CreateAccountRequest{Account: account}); err != nil {
		d.t.Fatal(err)
	}
	made, err := d.clients.SignIn.InviteAccount(d.ctx, &accessv1.InviteAccountRequest{Account: "accounts/" + id})
	if err != nil {
		d.t.Fatal(err)
	}
	return made.GetUrl()
}

// code is what an authenticator with a key shows.
func (d *deskWorld) code(key string) string {
	d.t.Helper()
	code, err := onetime.Code(strings.ReplaceAll(key, " ", ""), onetime.Step(d.Now()))
	if err != nil {
		d.t.Fatal(err)
	}
	return code
}

// secure fails unless the session's cookie is closed to scripts, other sites
// and plain text.
func secure(t *testing.T, cookies []*network.Cookie) {
	t.Helper()
	for _, c := range cookies {
		if c.Name != "__Host-session" {
			continue
		}
		if !c.HTTPOnly || !c.Secure || c.SameSite != network.CookieSameSiteLax || c.Path != "/" || !c.Session || c.Domain != "localhost" {
			t.Errorf("got %+v", c)
		}
		return
	}
	t.Errorf("no session among %v", cookies)
}

func TestSomebodyIsInvitedMakesAPasskeyAndSignsInWithIt(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	d := openDesk(t)
	p := telephone.New(t, 320, "light")
	p.Scripts(true)
	p.Name = "passkey"
	own := p.Authenticator()
	p.Open(d.invited("ida", "Ida Brackenbury", accessv1.Role_ROLE_ADMINISTRATOR))
	p.Says("Welcome to the desk", "Ida Brackenbury", "Your name to sign in with is ida")
	if at := telephone.Ask[string](p, `location.pathname`); at != "/invitation" {
		t.Errorf("the invitation's secret stays in the address: %s", at)
	}
	p.Enter("What to call it", "Workshop tablet")
	p.PressAndRead("Make a passkey", "Good day")
	p.Says("You are signed in as Ida Brackenbury, administrator.")
	secure(t, p.Cookies())
	if got := telephone.Ask[string](p, `document.cookie`); got != "" {
		t.Errorf("a script sees the cookies %s", got)
	}
	if n := len(own.Passkeys()); n != 1 {
		t.Fatalf("%d passkeys", n)
	}
	p.Press("My account")
	p.Says("Workshop tablet", "Where you are signed in")
	p.Press("Sign out")
	p.Says("You are signed out")
	p.Open(d.url + "/account")
	p.Says("With a passkey")
	p.PressAndRead("Use a passkey", "My account")

	// A clone whose counter is behind is refused, and so is a stranger's key
	// under the same handle, and an authenticator that does not know its holder.
	p.Press("Sign out")
	clone := own.Passkeys()[0]
	p.Open(d.url + "/sign-in")
	own.Knows(false)
	p.PressAndRead("Use a passkey", "The browser did not give a passkey")
	own.Remove()
	other := p.Authenticator()
	behind := *clone
	behind.SignCount = 0
	other.Put(&behind)
	p.Open(d.url + "/sign-in")
	p.PressAndRead("Use a passkey", "This passkey is not known here")
	other.Remove()

	forged := p.Authenticator()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	stranger := *clone
	if stranger.PrivateKey, err = x509.MarshalPKCS8PrivateKey(key); err != nil {
		t.Fatal(err)
	}
	stranger.SignCount = 1000
	forged.Put(&stranger)
	p.Open(d.url + "/sign-in")
	p.PressAndRead("Use a passkey", "This passkey is not known here")
	forged.Remove()

	again := p.Authenticator()
	good := *clone
	good.SignCount = 1000
	again.Put(&good)
	p.Open(d.url + "/sign-in")
	p.PressAndRead("Use a passkey", "Good day")
}

func TestSomebodySetsUpAPasswordWithCodesWithoutScripts(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	d := openDesk(t)
	p := telephone.New(t, 320, "dark")
	p.Name = "password"
	const word = "seven pistons in the shed"
	p.Open(d.invited("bert", "Bert Ashworth", accessv1.Role_ROLE_SUPPORT))
	p.Says("Passkeys need a browser that has them, with scripts switched on.")
	p.Enter("New password", "too short")
	p.Press("Go on to the codes")
	p.Says("Please enter at least 12 characters")
	if tied := telephone.Ask[string](p, `document.getElementById(document.querySelector("[aria-invalid]").getAttribute("aria-describedby").split(" ")[0]).innerText`); !strings.Contains(tied, "at least 12") {
		t.Errorf("what is wrong is not tied to its field: %s", tied)
	}
	p.Enter("New password", word)
	p.Press("Go on to the codes")
	key := telephone.Ask[string](p, `document.querySelector("dd").innerText`)
	p.Enter("Code", "000000")
	p.Press("Check the code")
	p.Says("the six figures that the authenticator shows now")
	p.Enter("Code", d.code(key))
	p.Press("Check the code")
	p.Says("Your recovery codes")
	recovery := telephone.Ask[string](p, `document.querySelector(".codes li").innerText`)
	secure(t, p.Cookies())
	p.Press("I have them")
	p.Says("Bert Ashworth", "password and code", "You have 10 codes left.")
	p.Press("Sign out")

	in := func(word, code string) {
		p.Open(d.url + "/sign-in")
		p.Enter("Name", "bert")
		p.Enter("Password", word)
		p.Enter("Code", code)
		p.Press("Sign in")
	}
	in(word, d.code(key))
	p.Says("The name, the password or the code is wrong.") // that code was used
	d.Move(30 * time.Second)
	in("eight pistons in the shed", d.code(key))
	p.Says("The name, the password or the code is wrong.")
	in(word, d.code(key))
	p.Says("Good day")
	if strings.Contains(telephone.Ask[string](p, `document.body.innerText`), "Audit") {
		t.Error("support is shown the administrator's pages")
	}
	p.Open(d.url + "/accounts")
	p.Says("There is no such page")
	p.Press("Go on")
	p.Press("Sign out")
	in(word, recovery)
	p.Says("Good day")

	// Left alone for eight hours, the session is over.
	d.Move(8 * time.Hour)
	p.Open(d.url + "/account")
	p.Says("With a password and a code")
}

// TestPicturesOfTheDesk takes pictures for people to look at, where
// HALFSHAFT_SHOTS says.
func TestPicturesOfTheDesk(t *testing.T) {
	if os.Getenv("HALFSHAFT_SHOTS") == "" {
		t.Skip("pictures are taken where HALFSHAFT_SHOTS says")
	}
	d := openDesk(t)
	b, _ := d.admitted("bert", accessv1.Role_ROLE_SUPPORT)
	b.get("/account")
	d.invited("ida", "Ida Brackenbury", accessv1.Role_ROLE_ADMINISTRATOR)
	if _, err := d.clients.Access.CreateOrganisation(d.ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/ferncombe", Title: "Ferncombe Garage"}}); err != nil {
		t.Fatal(err)
	}
	// Pages of lists and lines are full, over several days.
	for n := range 120 {
		if n%35 == 0 {
			d.Move(24 * time.Hour)
		}
		if _, err := d.clients.Access.CreateOrganisation(d.ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{
			Name: fmt.Sprintf("organisations/garage-%03d", n), Title: fmt.Sprintf("Garage %d at the Long Bridge over the Lower Fernwater", n),
		}}); err != nil {
			t.Fatal(err)
		}
		d.Move(time.Minute)
	}
	for _, scheme := range []string{"light", "dark"} {
		p := telephone.New(t, 320, scheme)
		p.Scripts(true)
		p.Authenticator()
		made, err := d.clients.SignIn.InviteAccount(d.ctx, &accessv1.InviteAccountRequest{Account: "accounts/ida"})
		if err != nil {
			t.Fatal(err)
		}
		p.Name = "desk-" + scheme + "-start"
		p.Open(d.url + "/sign-in")
		p.Open(made.GetUrl())
		p.PressAndRead("Make a passkey", "Good day")
		for _, width := range []int64{320, 1280} {
			p.Wide(width)
			p.Name = fmt.Sprintf("desk-%s-%d", scheme, width)
			for _, path := range []string{"/", "/account", "/accounts", "/accounts/bert", "/accounts?for=dealer", "/organisations", "/keys", "/keys/new/dealer", "/audit?since=2026-05-01", "/audit/history?parent=accounts/bert", "/nowhere"} {
				p.Open(d.url + path)
			}
			p.Press("Go on")
			p.Open(d.url + "/account")
			p.Enter("New password", "seven pistons in the shed")
			p.Press("Go on to the codes")
			p.Open(d.url + "/keys/new/machine")
			p.Enter("What it is for", "workshop tablet")
			p.Enter("What records call it", "bench 2")
			p.PressAndRead("Make the key", "The key")
		}
	}
}
