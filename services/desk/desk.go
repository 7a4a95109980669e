// Package desk serves the pages that the people of the works and of its dealers
// sign in to: one box that takes whatever a caller says, the page of a vehicle
// with what to do about it, what waits over the whole fleet, what the works has
// laid down and learned, who they are and how they sign in, for dealers' people
// the vehicles that are with them, and for administrators imports, health,
// accounts, keys, organisations and the audit. DEVELOPERS.md has the map of its
// files, and how to add a page.
//
// Every page is rendered here and works without scripts, but for passkeys,
// which a browser gives to scripts only. The two scripts are ours, and no page
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
	"slices"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/throttle"
	"halfshaft/services/internal/webguard"
)

// Config is what the pages need.
type Config struct {
	SignIn accessv1.SignInServiceClient
	Access accessv1.AccessServiceClient
	Audit  accessv1.AuditServiceClient

	// What the pages of vehicles, the fleet and the works ask.
	Owners     ownerv1.OwnerServiceClient
	Builds     buildv1.BuildServiceClient
	Parts      partsv1.PartsServiceClient
	Schedules  schedulev1.ScheduleServiceClient
	Reminders  reminderv1.ReminderServiceClient
	Warranties warrantyv1.WarrantyServiceClient
	Bulletins  bulletinv1.BulletinServiceClient
	Enquiries  enquiryv1.EnquiryServiceClient
	Handbooks  handbookv1.HandbookServiceClient
	JobSheets  jobsheetv1.JobSheetServiceClient

	// AsService gives a context whose calls are made by the pages themselves, As
	// one whose calls are made by who is signed in.
	AsService func(ctx context.Context) context.Context
	As        func(ctx context.Context, who Signed) context.Context

	// Import takes files in, or says what it would do; Health says how the store and
	// the jobs are. Only administrators are given either.
	Import func(ctx context.Context, files []Upload, dryRun bool) (Imported, error)
	Health func(ctx context.Context) (Health, error)

	Waiting string // directory of files that wait to be imported; they may hold names

	URL     string            // where the pages are reached: "https://desk.aldermoor.example"
	Proxies *webguard.Proxies // those before the pages that are believed; nil: none
	Works   string            // name of the works, as printed
	Zone    *time.Location    // whose midnight is the works'; nil: UTC
	Clock   func() time.Time
	Logger  *slog.Logger
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

	uploads uploads
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

func parsedTemplates() (*template.Template, error) {
	return template.New("").Funcs(template.FuncMap{
		"dict": func(form string, f field) map[string]any { return map[string]any{"Form": form, "Field": f} },
	}).ParseFS(templates, "templates/*.html")
}

// New makes the handler.
func New(c Config) (http.Handler, error) {
	u, err := url.Parse(c.URL)
	if err != nil {
		return nil, err
	}
	page, err := parsedTemplates()
	if err != nil {
		return nil, err
	}
	d := &desk{Config: c, host: u.Host, page: page, posts: throttle.New[netip.Prefix](postRate), static: map[string]file{}}
	d.uploads.clock, d.uploads.log = c.Clock, c.Logger
	d.uploads.later = func(wait time.Duration, do func()) { time.AfterFunc(wait, do) }
	if err := d.uploads.open(c.Waiting); err != nil {
		return nil, err
	}
	for name, kind := range map[string]string{"desk.css": "text/css; charset=utf-8", "passkey.js": "text/javascript; charset=utf-8", "desk.js": "text/javascript; charset=utf-8"} {
		text, err := templates.ReadFile("templates/" + name)
		if err != nil {
			return nil, err
		}
		if name == "desk.css" {
			text = append(text, figure.Stylesheet...)
			sheets, err := templates.ReadFile("templates/jobsheet.css")
			if err != nil {
				return nil, err
			}
			text = append(text, sheets...)
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

// Who may open a page.
type Who int

// The groups.
const (
	Anybody        Who = iota // nobody needs to be signed in
	SignedIn                  // whoever is
	Administrators            // others are told that there is no such page
	Dealers                   // likewise
	Staff                     // support, engineers and administrators; likewise
	Engineers                 // engineers and administrators; likewise
	Support                   // support and administrators, who keep the records of people; likewise
	Readers                   // staff, and dealers, who see what is with them; likewise
)

// Route is one page, by method and path as net/http writes patterns.
type Route struct {
	Pattern string
	Who     Who
	serve   func(*visit)
}

// Routes are all pages. What administrators see is refused to others by the
// services as well, and not shown to them here.
func Routes() []Route {
	return slices.Concat(ownRoutes(), vehicleRoutes(), claimRoutes(), callRoutes(), handbookRoutes(), jobSheetRoutes(), fleetRoutes(), worksRoutes())
}

// ownRoutes are those of signing in, of one's own account, and of
// administrators.
func ownRoutes() []Route {
	return []Route{
		{"GET /sign-in", Anybody, (*visit).showSignIn},
		{"POST /sign-in", Anybody, (*visit).signIn},
		{"POST /sign-in/passkey/begin", Anybody, (*visit).beginPasskeySignIn},
		{"POST /sign-in/passkey/finish", Anybody, (*visit).finishPasskeySignIn},
		{"POST /sign-in/openid", Anybody, (*visit).beginOpenID},
		{"GET /sign-in/openid/callback", Anybody, (*visit).finishOpenID},
		{"GET /invitation/{secret}", Anybody, (*visit).takeInvitation},
		{"GET /invitation", Anybody, (*visit).showInvitation},
		{"POST /invitation/password", Anybody, (*visit).invitedPassword},
		{"POST /invitation/password/code", Anybody, (*visit).invitedCode},
		{"POST /invitation/passkey/begin", Anybody, (*visit).beginInvitedPasskey},
		{"POST /invitation/passkey/finish", Anybody, (*visit).finishInvitedPasskey},

		{"GET /{$}", SignedIn, (*visit).showHome},
		{"POST /sign-out", SignedIn, (*visit).signOut},
		{"GET /account", SignedIn, (*visit).showAccount},
		{"POST /account/passkey/begin", SignedIn, (*visit).beginPasskey},
		{"POST /account/passkey/finish", SignedIn, (*visit).finishPasskey},
		{"POST /account/password/new", SignedIn, (*visit).newPassword},
		{"POST /account/password/code", SignedIn, (*visit).newPasswordCode},
		{"POST /account/password", SignedIn, (*visit).changePassword},
		{"POST /account/recovery-codes", SignedIn, (*visit).recoveryCodes},
		{"POST /account/ways/remove", SignedIn, (*visit).removeWay},
		{"POST /account/sessions/end", SignedIn, (*visit).endOwnSession},
		{"POST /account/sessions/end-others", SignedIn, (*visit).endOtherSessions},

		{"GET /vehicles/{serial}/assignments/{assignment}", Dealers, (*visit).showComplete},
		{"POST /vehicles/{serial}/assignments/{assignment}", Dealers, (*visit).complete},

		{"GET /accounts", Administrators, (*visit).showAccounts},
		{"POST /accounts", Administrators, (*visit).createAccount},
		{"GET /accounts/{account}", Administrators, (*visit).showOneAccount},
		{"POST /accounts/{account}", Administrators, freshly(atAccount, (*visit).updateAccount)},
		{"POST /accounts/{account}/invite", Administrators, freshly(atAccount, (*visit).inviteAccount)},
		{"POST /accounts/{account}/close", Administrators, (*visit).closeAccount},
		{"POST /accounts/{account}/sessions/end", Administrators, (*visit).endSession},
		{"POST /accounts/{account}/sessions/end-all", Administrators, (*visit).endSessions},
		{"GET /organisations", Administrators, (*visit).showOrganisations},
		{"POST /organisations", Administrators, (*visit).createOrganisation},
		{"POST /organisations/{organisation}", Administrators, (*visit).updateOrganisation},
		{"GET /keys", Administrators, (*visit).showKeys},
		{"GET /keys/new/{kind}", Administrators, (*visit).showNewKey},
		{"POST /keys", Administrators, freshly(atKeys, (*visit).createKey)},
		{"POST /keys/{key}/rotate", Administrators, freshly(atKeys, (*visit).rotateKey)},
		{"POST /keys/{key}/revoke", Administrators, (*visit).revokeKey},
		{"GET /audit", Administrators, (*visit).showAudit},
		{"GET /audit/history", Administrators, (*visit).showHistory},
		{"POST /audit/check", Administrators, (*visit).checkAudit},
	}
}

func (d *desk) routes() http.Handler {
	mux := http.NewServeMux()
	for path := range d.static {
		mux.HandleFunc("GET "+path, d.serveStatic)
	}
	for _, r := range append(Routes(), Route{"/", Anybody, (*visit).nowhere}) {
		serve := r.serve
		switch r.Who {
		case SignedIn:
			serve = d.known(serve)
		case Administrators:
			serve = d.known(only(serve, accessv1.Role_ROLE_ADMINISTRATOR))
		case Dealers:
			serve = d.known(only(serve, accessv1.Role_ROLE_DEALER))
		case Staff:
			serve = d.known(only(serve, staffRoles...))
		case Engineers:
			serve = d.known(only(serve, engineerRoles...))
		case Support:
			serve = d.known(only(serve, supportRoles...))
		case Readers:
			serve = d.known(only(serve, append(slices.Clone(staffRoles), accessv1.Role_ROLE_DEALER)...))
		}
		mux.HandleFunc(r.Pattern, func(w http.ResponseWriter, r *http.Request) { serve(d.visit(w, r)) })
	}
	return mux
}

// nowhere answers what is no page; who is signed in keeps their menu.
func (v *visit) nowhere() {
	if v.r.Method == http.MethodGet && v.cookie(sessionCookie) != "" && !v.recognise() {
		return
	}
	v.noPage()
}

func (d *desk) serveStatic(w http.ResponseWriter, r *http.Request) {
	f := d.static[r.URL.Path]
	w.Header().Set("Content-Type", f.kind)
	w.Write(f.bytes) //nolint:errcheck // the reader is gone
}
