// Package desk serves the pages that the people of the works and of its dealers
// sign in to: who they are and how they sign in, and for administrators
// accounts, keys, organisations and the audit.
//
// Every page is rendered here and works without scripts, but for passkeys,
// which a browser gives to scripts only: that one script is ours, and no page
// loads anything from anywhere else. A page asks the services on behalf of who
// is signed in, so that what they may not see is refused there and not here.
package desk

import (
	"context"
	"embed"
	"html/template"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/throttle"
	"halfshaft/services/internal/webguard"
)

// Config is what the pages need.
type Config struct {
	SignIn accessv1.SignInServiceClient
	Access accessv1.AccessServiceClient
	Audit  accessv1.AuditServiceClient

	// AsService gives a context whose calls are made by the pages themselves, As
	// one whose calls are made by who is signed in.
	AsService func(ctx context.Context) context.Context
	As        func(ctx context.Context, who Signed) context.Context

	URL    string // where the pages are reached: "https://desk.aldermoor.example"
	Works  string // name of the works, as printed
	Clock  func() time.Time
	Logger *slog.Logger
}

// Signed is who is signed in.
type Signed struct {
	Account *accessv1.Account
	Session *accessv1.Session
}

//go:embed templates
var templates embed.FS

// desk serves the pages.
type desk struct {
	Config
	host   string
	page   *template.Template
	posts  *throttle.Buckets[netip.Prefix]
	static map[string]file
}

// file is one that every browser gets as it is.
type file struct {
	kind  string
	bytes []byte
}

// postRate is how often one address may send forms: an office behind one
// address does not meet it. Guessing is slowed down much sooner, by the
// service.
var postRate = throttle.Rate{Every: time.Second, Burst: 60}

// New makes the handler.
func New(c Config) (http.Handler, error) {
	u, err := url.Parse(c.URL)
	if err != nil {
		return nil, err
	}
	page, err := template.New("").Funcs(template.FuncMap{
		"dict": func(form string, f field) map[string]any { return map[string]any{"Form": form, "Field": f} },
	}).ParseFS(templates, "templates/*.html")
	if err != nil {
		return nil, err
	}
	d := &desk{Config: c, host: u.Host, page: page, posts: throttle.New[netip.Prefix](postRate), static: map[string]file{}}
	for name, kind := range map[string]string{"desk.css": "text/css; charset=utf-8", "passkey.js": "text/javascript; charset=utf-8"} {
		text, err := templates.ReadFile("templates/" + name)
		if err != nil {
			return nil, err
		}
		d.static["/"+name] = file{kind, text}
	}
	guarded := http.NewCrossOriginProtection()
	guarded.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.visit(w, r).message(http.StatusForbidden, "This form was not sent from here", "It came from another page. Open the page here and try again.")
	}))
	return webguard.Secured(d.atHome(d.limited(guarded.Handler(d.routes()))), webguard.Policy{
		Allow: []string{"style-src 'self'", "script-src 'self'", "connect-src 'self'"},
	}), nil
}

// routes names every page. open ones need nobody to be signed in; what need an
// administrator are refused to others by the services, and not shown to them
// here.
func (d *desk) routes() http.Handler {
	mux := http.NewServeMux()
	open := func(pattern string, f func(*visit)) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { f(d.visit(w, r)) })
	}
	signed := func(pattern string, f func(*visit)) { open(pattern, d.known(f)) }
	admin := func(pattern string, f func(*visit)) { open(pattern, d.known(onlyAdministrators(f))) }

	for path := range d.static {
		mux.HandleFunc("GET "+path, d.serveStatic)
	}
	open("GET /sign-in", (*visit).showSignIn)
	open("POST /sign-in", (*visit).signIn)
	open("POST /sign-in/passkey/begin", (*visit).beginPasskeySignIn)
	open("POST /sign-in/passkey/finish", (*visit).finishPasskeySignIn)
	open("POST /sign-in/openid", (*visit).beginOpenID)
	open("GET /sign-in/openid/callback", (*visit).finishOpenID)
	open("GET /invitation/{secret}", (*visit).takeInvitation)
	open("GET /invitation", (*visit).showInvitation)
	open("POST /invitation/password", (*visit).invitedPassword)
	open("POST /invitation/password/code", (*visit).invitedCode)
	open("POST /invitation/passkey/begin", (*visit).beginInvitedPasskey)
	open("POST /invitation/passkey/finish", (*visit).finishInvitedPasskey)

	signed("GET /{$}", (*visit).showHome)
	signed("POST /sign-out", (*visit).signOut)
	signed("GET /account", (*visit).showAccount)
	signed("POST /account/passkey/begin", (*visit).beginPasskey)
	signed("POST /account/passkey/finish", (*visit).finishPasskey)
	signed("POST /account/password/new", (*visit).newPassword)
	signed("POST /account/password/code", (*visit).newPasswordCode)
	signed("POST /account/password", (*visit).changePassword)
	signed("POST /account/recovery-codes", (*visit).recoveryCodes)
	signed("POST /account/ways/remove", (*visit).removeWay)
	signed("POST /account/sessions/end", (*visit).endOwnSession)
	signed("POST /account/sessions/end-others", (*visit).endOtherSessions)

	admin("GET /accounts", (*visit).showAccounts)
	admin("POST /accounts", (*visit).createAccount)
	admin("GET /accounts/{account}", (*visit).showOneAccount)
	admin("POST /accounts/{account}", (*visit).updateAccount)
	admin("POST /accounts/{account}/invite", (*visit).inviteAccount)
	admin("POST /accounts/{account}/close", (*visit).closeAccount)
	admin("POST /accounts/{account}/sessions/end", (*visit).endSession)
	admin("POST /accounts/{account}/sessions/end-all", (*visit).endSessions)
	admin("GET /organisations", (*visit).showOrganisations)
	admin("POST /organisations", (*visit).createOrganisation)
	admin("POST /organisations/{organisation}", (*visit).updateOrganisation)
	admin("GET /keys", (*visit).showKeys)
	admin("POST /keys", (*visit).createKey)
	admin("POST /keys/{key}/rotate", (*visit).rotateKey)
	admin("POST /keys/{key}/revoke", (*visit).revokeKey)
	admin("GET /audit", (*visit).showAudit)
	admin("GET /audit/history", (*visit).showHistory)
	admin("POST /audit/check", (*visit).checkAudit)

	open("/", func(v *visit) {
		if v.r.Method == http.MethodGet && v.cookie(sessionCookie) != "" && !v.recognise() {
			return // signed in as they are, they get their own menu
		}
		v.message(http.StatusNotFound, "There is no such page", "The address may be mistyped, or the page is not for you.")
	})
	return mux
}

func (d *desk) serveStatic(w http.ResponseWriter, r *http.Request) {
	f := d.static[r.URL.Path]
	w.Header().Set("Content-Type", f.kind)
	w.Write(f.bytes) //nolint:errcheck // the reader is gone
}
