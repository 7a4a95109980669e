package works_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	deskpages "halfshaft/services/desk"
	"halfshaft/services/wording"
	"halfshaft/testdata/aldermoor"
)

// browserOf is a client that keeps cookies, though the address is plain http:
// browsers take localhost for safe, Go's jar does not.
type browserOf struct {
	t    *testing.T
	http *http.Client
	url  string
}

type lenient struct{ jar *cookiejar.Jar }

func asSecure(u *url.URL) *url.URL { c := *u; c.Scheme = "https"; return &c }

func (l lenient) SetCookies(u *url.URL, c []*http.Cookie) { l.jar.SetCookies(asSecure(u), c) }
func (l lenient) Cookies(u *url.URL) []*http.Cookie       { return l.jar.Cookies(asSecure(u)) }

func (d *deskWorld) browser() *browserOf {
	jar, err := cookiejar.New(nil)
	if err != nil {
		d.t.Fatal(err)
	}
	transport := &http.Transport{}
	d.t.Cleanup(transport.CloseIdleConnections)
	return &browserOf{d.t, &http.Client{Jar: lenient{jar}, Transport: transport}, d.url}
}

// send sends a form, with headers in pairs, and gives the status and the page.
func (b *browserOf) send(path string, form url.Values, headers ...string) (*http.Response, string) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, b.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return b.do(r)
}

func (b *browserOf) get(path string) (*http.Response, string) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.url+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.do(r)
}

func (b *browserOf) do(r *http.Request) (*http.Response, string) {
	b.t.Helper()
	a, err := b.http.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return a, string(text)
}

// admitted is somebody signed in by a password; key makes their codes.
func (d *deskWorld) admitted(id string, role accessv1.Role) (b *browserOf, key string) {
	d.t.Helper()
	b = d.browser()
	path := strings.TrimPrefix(d.invited(id, "Somebody Called "+wording.UpperFirst(id), role), d.url)
	b.get(path)
	_, page := b.send("/invitation/password", url.Values{"password": {"seven pistons in the shed"}})
	_, key, _ = strings.Cut(page, `<dt>Key</dt><dd class="mono">`)
	key, _, _ = strings.Cut(key, "<")
	if a, page := b.send("/invitation/password/code", url.Values{"code": {d.code(key)}}); a.StatusCode != http.StatusOK || !strings.Contains(page, "recovery codes") {
		d.t.Fatalf("got %d: %s", a.StatusCode, page)
	}
	return b, key
}

func TestAFormFromAnotherOriginChangesNothing(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	organisation := url.Values{"organisation.name": {"ferncombe"}, "organisation.title": {"Ferncombe Garage"}}
	for name, headers := range map[string][]string{
		"another site":                             {"Sec-Fetch-Site", "cross-site", "Origin", "https://ferncombe.example"},
		"another host of the same site":            {"Sec-Fetch-Site", "same-site", "Origin", "http://localhost:1"},
		"another site, as older browsers say":      {"Origin", "https://ferncombe.example"},
		"a page that hides where it is":            {"Origin", "null"},
		"another site whose name begins with ours": {"Origin", b.url + ".ferncombe.example"},
	} {
		if a, page := b.send("/organisations", organisation, headers...); a.StatusCode != http.StatusForbidden || !strings.Contains(page, "not sent from here") {
			t.Errorf("%s: got %d", name, a.StatusCode)
		}
	}
	list := func() int {
		got, err := d.clients.Access.ListOrganisations(d.ctx, &accessv1.ListOrganisationsRequest{})
		if err != nil {
			t.Fatal(err)
		}
		return len(got.GetOrganisations())
	}
	if n := list(); n != 0 {
		t.Errorf("%d organisations were made", n)
	}
	if a, _ := b.send("/organisations", organisation, "Sec-Fetch-Site", "same-origin", "Origin", b.url); a.StatusCode != http.StatusOK || list() != 1 {
		t.Errorf("from our own page: %d", a.StatusCode)
	}
	// A name of somebody else's that leads here gets nothing.
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, b.url+"/sign-in", nil)
	r.Host = "desk.ferncombe.example"
	if a, _ := b.do(r); a.StatusCode != http.StatusMisdirectedRequest {
		t.Errorf("under another host's name: %d", a.StatusCode)
	}
}

func TestWhoGuessesAtTheDeskIsToldWhenToComeBack(t *testing.T) {
	d := openDesk(t)
	_, key := d.admitted("ida", accessv1.Role_ROLE_SUPPORT)
	d.Move(time.Minute)
	stranger := d.browser()
	guess := func(word, code string) *http.Response {
		a, _ := stranger.send("/sign-in", url.Values{"account": {"ida"}, "password": {word}, "code": {code}})
		return a
	}
	for n := range 6 {
		if a := guess(fmt.Sprint("guess ", n), "000000"); a.StatusCode != http.StatusUnauthorized {
			t.Fatalf("guess %d: got %d", n+1, a.StatusCode)
		}
	}
	if a := guess("seven pistons in the shed", d.code(key)); a.StatusCode != http.StatusTooManyRequests || a.Header.Get("Retry-After") != "15" {
		t.Errorf("got %d, Retry-After %q", a.StatusCode, a.Header.Get("Retry-After"))
	}
	d.Move(15 * time.Second)
	if a := guess("seven pistons in the shed", d.code(key)); a.StatusCode != http.StatusOK {
		t.Errorf("after the wait: %d", a.StatusCode)
	}
}

func TestEveryPageOfTheDeskIsClosedToOthersAndKeptByNobody(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	stranger := d.browser()
	for _, path := range []string{"/", "/account", "/accounts", "/accounts/ida", "/organisations", "/keys", "/audit", "/audit/history?parent=accounts/ida"} {
		a, page := b.get(path)
		if a.StatusCode != http.StatusOK {
			t.Errorf("%s: got %d: %s", path, a.StatusCode, page)
		}
		h := a.Header
		policy := h.Get("Content-Security-Policy")
		if strings.Contains(policy, "unsafe") || !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "frame-ancestors 'none'") ||
			h.Get("Cache-Control") != "no-store" || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s: %v", path, h)
		}
		if strings.Contains(page, "style=") || strings.Contains(page, "<style") || strings.Contains(page, "onclick") || strings.Count(page, "<script") != 2 {
			t.Errorf("%s has a style or script of its own", path)
		}
		if a, page := stranger.get(path); a.Request.URL.Path != "/sign-in" || strings.Contains(page, "Somebody") {
			t.Errorf("%s: a stranger is at %s", path, a.Request.URL)
		}
	}
	support, _ := d.admitted("bert", accessv1.Role_ROLE_SUPPORT)
	for _, path := range []string{"/accounts", "/accounts/ida", "/organisations", "/keys", "/audit", "/audit/history?parent=accounts/ida"} {
		missing, wantPage := support.get("/nowhere")
		if a, page := support.get(path); a.StatusCode != missing.StatusCode || page != wantPage {
			t.Errorf("%s: support gets %d", path, a.StatusCode)
		}
	}
	// Where a sign-in goes on to is one of our pages.
	for _, next := range []string{"https://ferncombe.example/", "//ferncombe.example", "/\\ferncombe.example", "javascript:alert(1)"} {
		if _, page := stranger.get("/sign-in?next=" + url.QueryEscape(next)); strings.Contains(page, "ferncombe") || strings.Contains(page, "alert(1)") {
			t.Errorf("%s: it would go there", next)
		}
	}
}

// opens says whether somebody signed in may open a page.
func opens(who deskpages.Who, name string) bool {
	switch who {
	case deskpages.Administrators:
		return name == "administrator"
	case deskpages.Dealers:
		return name == "dealer"
	case deskpages.Staff:
		return name != "dealer"
	case deskpages.Engineers:
		return name == "engineer" || name == "administrator"
	case deskpages.Support:
		return name == "support" || name == "administrator"
	}
	return true
}

// Every page as everybody: what the table of pages says of who may open it is
// what comes of opening it. A page that is new is in it by being served.
func TestEveryPageOfTheDeskAsEverybody(t *testing.T) {
	d := openDesk(t)
	admin, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	support, _ := d.admitted("bert", accessv1.Role_ROLE_SUPPORT)
	engineer, _ := d.admitted("cora", accessv1.Role_ROLE_ENGINEER)
	d.dealers("ferncombe")
	dealer, _ := d.admitted("ned", accessv1.Role_ROLE_DEALER)
	stranger := d.browser()
	cells := 0
	for _, route := range deskpages.Routes() {
		if strings.HasSuffix(route.Pattern, "/sign-out") {
			continue // it would end what the other cells need; tried elsewhere
		}
		method, path, _ := strings.Cut(route.Pattern, " ")
		path = strings.NewReplacer("{$}", "", "{account}", "nobody", "{organisation}", "nobody", "{key}", "00000000", "{secret}", "x",
			"{serial}", aldermoor.TourSerial, "{assignment}", "none", "{kind}", "machine", "{reading}", "none", "{sheet}", "1", "{paper}", "A4", "{entry}", "none", "{enquiry}", "none", "{campaign}", "none", "{person}", "none",
			"{bulletin}", "C-2026-09", "{claim}", "none", "{release}", "R9", "{part}", "AP-9999", "{version}", "1", "{issue}", "1", "{file}", "A5.pdf",
			"{programme}", "packhorse", "{item}", "E99", "{term}", "NONE", "{note}", "none", "{upload}", "none").Replace(path)
		for name, b := range map[string]*browserOf{"stranger": stranger, "support": support, "engineer": engineer, "administrator": admin, "dealer": dealer} {
			r, err := http.NewRequestWithContext(t.Context(), method, b.url+path, strings.NewReader("{}"))
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasSuffix(path, "/begin") || strings.HasSuffix(path, "/finish") {
				r.Header.Set("Content-Type", "application/json")
			}
			a, page := b.do(r)
			missing := a.StatusCode == http.StatusNotFound && strings.Contains(page, "There is no such page")
			sent := a.Request.URL.Path == "/sign-in" && path != "/sign-in" || strings.Contains(page, "You are not signed in any more")
			signedIn := name != "stranger"
			wantSent := route.Who != deskpages.Anybody && !signedIn
			wantMissing := signedIn && !opens(route.Who, name)
			if sent != wantSent || missing != wantMissing || a.StatusCode >= 500 {
				t.Errorf("%s as %s: got %d at %s, sent to sign in %v, no such page %v", route.Pattern, name, a.StatusCode, a.Request.URL.Path, sent, missing)
			}
			cells++
		}
		d.Move(time.Minute) // nobody waits for what an earlier cell tried
	}
	t.Logf("%d cells", cells)
}

func TestTheAdministratorsPagesDoWhatTheySay(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	says := func(a *http.Response, page string, status int, words ...string) {
		t.Helper()
		if a.StatusCode != status {
			t.Errorf("%s: got %d: %s", a.Request.URL.Path, a.StatusCode, page)
		}
		for _, w := range words {
			if !strings.Contains(page, w) {
				t.Errorf("%s is without %q: %s", a.Request.URL.Path, w, page)
			}
		}
	}
	a, page := b.send("/organisations", url.Values{"organisation.name": {"Fe"}, "organisation.title": {""}})
	says(a, page, http.StatusUnprocessableEntity, "organisation-organisation.name-wrong", "organisation-organisation.title-wrong")
	a, page = b.send("/organisations", url.Values{"organisation.name": {"ferncombe"}, "organisation.title": {"Ferncombe Garage"}})
	says(a, page, http.StatusOK, "Ferncombe Garage", "It was made.")
	a, page = b.send("/accounts", url.Values{"account.name": {"dora"}, "account.full_name": {"Dora Penhallow"}, "account.role": {"dealer"}, "account.organisation": {""}})
	says(a, page, http.StatusUnprocessableEntity, "account-account.organisation-wrong", "Dora Penhallow")
	a, page = b.send("/accounts", url.Values{"account.name": {"dora"}, "account.full_name": {"Dora Penhallow"}, "account.role": {"dealer"}, "account.organisation": {"organisations/ferncombe"}})
	says(a, page, http.StatusOK, "Dora Penhallow", "It was made.", "ferncombe")
	a, page = b.send("/accounts/dora/invite", url.Values{})
	says(a, page, http.StatusOK, d.url+"/invitation/hsi_")
	a, page = b.send("/keys", url.Values{"key.title": {"workshop tablet"}, "key.role": {"engineer"}, "key.bearer": {"bench 2"}, "key.scopes": {"schedule, parts.read"}, "key.expire_time": {"2030-01-31"}})
	says(a, page, http.StatusOK, "hsk_")
	a, page = b.get("/keys")
	says(a, page, http.StatusOK, "workshop tablet", "only parts.read, schedule", "good until 1 February 2030")
	list, err := d.clients.Access.ListKeys(d.ctx, &accessv1.ListKeysRequest{})
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range list.GetKeys() {
		if k.GetTitle() != "workshop tablet" {
			continue
		}
		a, page = b.send("/"+k.GetName()+"/rotate", url.Values{"etag": {k.GetEtag()}})
		says(a, page, http.StatusOK, "hsk_")
		a, page = b.send("/"+k.GetName()+"/revoke", url.Values{"title": {k.GetTitle()}})
		says(a, page, http.StatusOK, "Revoke this key?", k.GetTitle(), "Leave it as it is")
		a, page = b.send("/"+k.GetName()+"/revoke", url.Values{"sure": {"yes"}})
		says(a, page, http.StatusOK, "The key was revoked")
	}
	account, err := d.clients.Access.GetAccount(d.ctx, &accessv1.GetAccountRequest{Name: "accounts/dora"})
	if err != nil {
		t.Fatal(err)
	}
	a, page = b.send("/accounts/dora/close", url.Values{"etag": {account.GetEtag()}, "closed": {"yes"}})
	says(a, page, http.StatusOK, "It is closed.", "Open it again")
	a, page = b.send("/accounts/nobody/invite", url.Values{})
	says(a, page, http.StatusNotFound, "There is no account nobody here.")
	a, page = b.send("/audit/check", url.Values{})
	says(a, page, http.StatusOK, "The audit is whole")
}

// lines gives what the audit says of an object once it has so many lines.
func (d *deskWorld) lines(object string, least int) []string {
	d.t.Helper()
	limit, cancel := context.WithTimeout(d.t.Context(), time.Minute)
	defer cancel()
	for {
		list, err := d.clients.Audit.ListAuditLines(d.ctx, &accessv1.ListAuditLinesRequest{Object: object})
		if err != nil {
			d.t.Fatal(err)
		}
		var out []string
		for _, l := range list.GetLines() {
			out = append(out, strings.Join([]string{
				l.GetMethod()[strings.LastIndexByte(l.GetMethod(), '/')+1:], l.GetActor(), strings.Split(l.GetCredential(), "/")[0], l.GetOutcome().String(), l.GetNetwork(),
			}, " "))
		}
		if len(out) >= least {
			return out
		}
		if limit.Err() != nil {
			d.t.Fatalf("of %s there are only %q", object, out)
		}
	}
}

func TestTheAuditSaysWhoSignedInWhoWasRefusedAndWhoLeft(t *testing.T) {
	d := openDesk(t)
	b, key := d.admitted("ida", accessv1.Role_ROLE_SUPPORT)
	if a, _ := b.send("/sign-out", nil); a.Header.Get("Clear-Site-Data") != `"cache", "cookies", "storage"` {
		t.Errorf("at signing out the browser is told to forget %q", a.Header.Get("Clear-Site-Data"))
	}
	d.Move(time.Minute)
	// Somebody types their password where the name belongs.
	b.send("/sign-in", url.Values{"account": {"sevenpistonsintheshed"}, "password": {"ida"}, "code": {"000000"}})
	b.send("/sign-in", url.Values{"account": {"ida"}, "password": {"wrong"}, "code": {"000000"}})
	b.send("/sign-in", url.Values{"account": {"Ida"}, "password": {"seven pistons in the shed"}, "code": {d.code(key)}})
	got := strings.Join(d.lines("accounts/ida", 6), "\n")
	for _, want := range []string{
		"CreateAccount local operator socket AUDIT_OUTCOME_CHANGED ",
		"InviteAccount local operator socket AUDIT_OUTCOME_CHANGED ",
		"FinishPassword ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
		"SignOut ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
		"SignIn desk process AUDIT_OUTCOME_REFUSED 127.0.0.1",
		"SignIn ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
	} {
		if !strings.Contains(got+"\n", want+"\n") {
			t.Errorf("without %q:\n%s", want, got)
		}
	}
	all, err := d.clients.Audit.ListAuditLines(d.ctx, &accessv1.ListAuditLinesRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range all.GetLines() {
		if strings.Contains(l.GetText(), "pistons") || strings.Contains(l.GetText(), d.code(key)) {
			t.Errorf("a secret stands in the audit: %s", l.GetText())
		}
	}
}

// What somebody does to their own account is theirs in the audit, not the desk's.
func TestTheAuditNamesWhoChangedHowTheySignIn(t *testing.T) {
	d := openDesk(t)
	b, key := d.admitted("ida", accessv1.Role_ROLE_SUPPORT)
	b.send("/account/password", url.Values{"current": {"wrong"}, "password": {"nine valves on a tray"}})
	b.send("/account/password", url.Values{"current": {"seven pistons in the shed"}, "password": {"nine valves on a tray"}})
	b.send("/account/recovery-codes", nil)
	b.send("/account/ways/remove", url.Values{"way": {"password"}})
	other := d.browser()
	for range 2 {
		d.Move(30 * time.Second)
		if a, page := other.send("/sign-in", url.Values{"account": {"ida"}, "password": {"nine valves on a tray"}, "code": {d.code(key)}}); a.StatusCode != http.StatusOK {
			t.Fatalf("got %d: %s", a.StatusCode, page)
		}
	}
	sessions, err := d.clients.SignIn.ListSessions(d.ctx, &accessv1.ListSessionsRequest{Parent: "accounts/ida"})
	if err != nil || len(sessions.GetSessions()) != 2 {
		t.Fatalf("got %v, %v", sessions, err)
	}
	for _, x := range sessions.GetSessions() {
		b.send("/account/sessions/end", url.Values{"session": {x.GetName()}}) // one of them is the own one
	}
	b.send("/account/sessions/end-others", nil)
	got := strings.Join(d.lines("accounts/ida", 10), "\n") + "\n"
	for _, want := range []string{
		"ChangePassword ida sessions AUDIT_OUTCOME_REFUSED 127.0.0.1",
		"ChangePassword ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
		"CreateRecoveryCodes ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
		"RemoveSignInWay ida sessions AUDIT_OUTCOME_REFUSED 127.0.0.1",
		"EndSession ida sessions AUDIT_OUTCOME_CHANGED 127.0.0.1",
	} {
		if !strings.Contains(got, want+"\n") {
			t.Errorf("without %q:\n%s", want, got)
		}
	}
	if strings.Contains(got, " desk ") {
		t.Errorf("the desk did something:\n%s", got)
	}
}

// Whoever is on the same network, or the same machine, cannot say that they are
// somebody else; a proxy that the operator named can.
func TestOnlyANamedProxySaysWhoIsBehindIt(t *testing.T) {
	for want, named := range map[string][]string{"127.0.0.1": nil, "198.51.100.1": {"127.0.0.1"}} {
		d := openDesk(t, named...)
		b, _ := d.admitted("ida", accessv1.Role_ROLE_SUPPORT)
		b.send("/sign-out", nil, "X-Forwarded-For", "203.0.113.9, 198.51.100.1")
		if got := strings.Join(d.lines("accounts/ida", 4), "\n") + "\n"; !strings.Contains(got, "SignOut ida sessions AUDIT_OUTCOME_CHANGED "+want+"\n") {
			t.Errorf("%v is named: without %s:\n%s", named, want, got)
		}
	}
}

func TestWhoHasNoPageOfTheirWorkIsToldWhereItIs(t *testing.T) {
	d := openDesk(t)
	for role, told := range map[accessv1.Role]bool{
		accessv1.Role_ROLE_SUPPORT: true, accessv1.Role_ROLE_ENGINEER: true, accessv1.Role_ROLE_ADMINISTRATOR: false,
	} {
		b, _ := d.admitted("ida"+strings.ToLower(role.String()[5:8]), role)
		if _, page := b.get("/"); strings.Contains(page, "into the box above") != told {
			t.Errorf("%v: got %s", role, page)
		}
	}
}
