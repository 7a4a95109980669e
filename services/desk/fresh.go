package desk

import (
	"net/http"
	"net/url"
)

// freshly lets in who signed in a short while ago, to what makes another way in:
// an invitation, a key, a role. Whoever carries a session's cookie off, or sits
// down at a browser that was left, has it until the session ends, and must not
// be able to stay for longer. from is the page that has the form.
func freshly(from func(*visit) string, f func(*visit)) func(*visit) {
	return func(v *visit) {
		if v.fresh {
			f(v)
			return
		}
		v.signInFirst(from(v))
	}
}

// signInFirst asks somebody to sign in again, and then to come back to a page.
func (v *visit) signInFirst(next string) {
	v.render(http.StatusForbidden, view{Title: "Sign in again first", Blocks: []block{{
		Text:  []string{"This lets somebody in, and you signed in more than a quarter of an hour ago: somebody else may sit at this browser by now. Nothing was done."},
		Links: []link{{Label: "Sign in again", Path: "/sign-in?next=" + url.QueryEscape(next)}},
	}}})
}

// Where the forms are of what only they may do who signed in just now.
func atKeys(*visit) string      { return "/keys" }
func atAccount(v *visit) string { return "/accounts/" + url.PathEscape(v.r.PathValue("account")) }
