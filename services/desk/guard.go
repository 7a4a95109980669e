package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/webguard"
)

// atHome answers at the one address that passkeys and cookies are bound to, and
// sends whoever comes by another there. A page of somebody else's whose name
// leads here gets nothing.
func (d *desk) atHome(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// To ourselves, so that browsers without Sec-Fetch-Site say where a form
		// comes from; to nobody else.
		w.Header().Set("Referrer-Policy", "same-origin")
		switch {
		case strings.EqualFold(r.Host, d.host):
			next.ServeHTTP(w, r)
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			http.Redirect(w, r, d.URL+r.URL.RequestURI(), http.StatusTemporaryRedirect)
		default:
			http.Error(w, "These pages answer at "+d.URL, http.StatusMisdirectedRequest)
		}
	})
}

// limited refuses forms that one address sends too often.
func (d *desk) limited(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			if wait, ok := d.posts.Take(d.Proxies.Sender(r), d.Clock()); !ok {
				w.Header().Set("Retry-After", webguard.RetryAfter(wait))
				d.visit(w, r).message(http.StatusTooManyRequests, "That was too much at once", "Wait a moment and try again.")
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

// The cookies. "__Host-" makes browsers refuse one that was not set by this
// host over TLS for all its paths. (RFC 6265bis, section 4.1.3.2; from memory.)
const (
	sessionCookie    = "__Host-session"
	ceremonyCookie   = "__Host-ceremony"
	invitationCookie = "__Host-invitation"
)

// setCookie keeps a secret in the browser until it is closed; how long the
// secret is good is the service's to say. Lax and not Strict, so that a link in
// a colleague's message opens the page it names; what changes something is
// never a link.
func (v *visit) setCookie(name, value string) {
	c := &http.Cookie{Name: name, Value: value, Path: "/", Secure: true, HttpOnly: true, SameSite: http.SameSiteLaxMode}
	if value == "" {
		c.MaxAge = -1
	}
	http.SetCookie(v.w, c)
}

func (v *visit) cookie(name string) string {
	c, err := v.r.Cookie(name)
	if err != nil {
		return ""
	}
	return c.Value
}

// known lets in who is signed in, and sends others to sign in.
func (d *desk) known(f func(*visit)) func(*visit) {
	return func(v *visit) {
		if ok := v.recognise(); ok {
			f(v)
		}
	}
}

// recognise finds out who is signed in. Where nobody is, it answers.
func (v *visit) recognise() bool {
	secret := v.cookie(sessionCookie)
	if secret == "" {
		v.toSignIn()
		return false
	}
	found, err := v.d.SignIn.CheckSession(v.asService(), &accessv1.CheckSessionRequest{Secret: secret})
	switch f := rpcerr.FromStatus(err); {
	case f != nil && f.Kind == fault.Unauthenticated:
		v.setCookie(sessionCookie, "")
		v.w.Header().Set("Clear-Site-Data", `"cache", "storage"`)
		v.toSignIn()
		return false
	case f != nil:
		v.refuse(err)
		return false
	}
	v.secret, v.fresh = secret, found.GetFresh()
	v.signed = &Signed{found.GetAccount(), found.GetSession()}
	return true
}

// toSignIn sends a browser to sign in and back, and tells a script that nobody
// is signed in.
func (v *visit) toSignIn() {
	if isJSON(v.r) {
		v.json(http.StatusUnauthorized, reply{Error: "You are not signed in any more. Load the page anew."})
		return
	}
	to := "/sign-in"
	if v.r.Method == http.MethodGet && v.r.URL.Path != "/" {
		to += "?next=" + url.QueryEscape(v.r.URL.RequestURI())
	}
	v.goTo(to)
}

// only hides from others what they are refused anyway.
func only(f func(*visit), roles ...accessv1.Role) func(*visit) {
	return func(v *visit) {
		if !slices.Contains(roles, v.signed.Account.GetRole()) {
			v.noPage()
			return
		}
		f(v)
	}
}

func (v *visit) noPage() {
	v.message(http.StatusNotFound, "There is no such page", "The address may be mistyped, or the page is not for you.")
}

// nextPage is where to go on after signing in: a path of ours, or home.
func nextPage(asked string) string {
	u, err := url.Parse(asked)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil ||
		!strings.HasPrefix(asked, "/") || strings.HasPrefix(asked, "//") || strings.ContainsAny(asked, "\\\r\n\t") {
		return "/"
	}
	return asked
}
