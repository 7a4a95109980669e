package sitetest

import (
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/onetime"
)

// who opens a page.
type who string

// The people of the demo, and whoever is not signed in.
const (
	nobody        who = "nobody"
	administrator who = "administrator"
	engineer      who = "engineer"
	support       who = "support"
	dealer        who = "dealer"
)

// client is somebody's browser without a picture: it keeps cookies, though the
// address is plain http, as browsers do for localhost.
type client struct {
	http *http.Client
	url  string
}

type lenient struct{ *cookiejar.Jar }

func secured(u *url.URL) *url.URL { c := *u; c.Scheme = "https"; return &c }

func (l lenient) SetCookies(u *url.URL, c []*http.Cookie) { l.Jar.SetCookies(secured(u), c) }
func (l lenient) Cookies(u *url.URL) []*http.Cookie       { return l.Jar.Cookies(secured(u)) }

func newClient(address string) *client {
	jar, _ := cookiejar.New(nil) // without options it has no error
	return &client{&http.Client{Jar: lenient{jar}, Timeout: time.Minute}, address}
}

// get asks for a page.
func (c *client) get(address string) (answered, error) {
	r, err := http.NewRequest(http.MethodGet, address, nil)
	if err != nil {
		return answered{}, err
	}
	return c.do(r)
}

// send sends a form of pairs.
func (c *client) send(path string, pairs ...string) (answered, error) {
	form := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	r, err := http.NewRequest(http.MethodPost, c.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		return answered{}, err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return c.do(r)
}

func (c *client) do(r *http.Request) (answered, error) {
	a, err := c.http.Do(r)
	if err != nil {
		return answered{}, err
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	return answered{a.StatusCode, a.Header, string(text)}, err
}

// must is an error for what is no page that was asked for.
func (c *client) must(a answered, err error) error {
	if err == nil && a.status != http.StatusOK {
		err = fmt.Errorf("got %d: %s", a.status, a.body)
	}
	return err
}

// cookie is that of the session; nil for nobody's.
func (c *client) cookie() *http.Cookie {
	if c.url == "" {
		return nil
	}
	u, err := url.Parse(c.url)
	if err != nil {
		return nil
	}
	for _, x := range c.http.Jar.Cookies(u) {
		if x.Name == "__Host-session" {
			return x
		}
	}
	return nil
}

// makeEngineer invites somebody who accepts with a password and an authenticator.
func (s *site) makeEngineer() error {
	made, err := s.Access.CreateAccount(s.ctx, &accessv1.CreateAccountRequest{
		Account: &accessv1.Account{Name: "accounts/una", FullName: "Una Thistlewood", Role: accessv1.Role_ROLE_ENGINEER},
	})
	if err != nil {
		return err
	}
	invited, err := s.SignIn.InviteAccount(s.ctx, &accessv1.InviteAccountRequest{Account: "accounts/una"})
	if err != nil {
		return err
	}
	c := newClient(s.desk)
	if err := c.must(c.get(invited.GetUrl())); err != nil {
		return err
	}
	a, err := c.send("/invitation/password", "password", "seven pistons in the shed")
	if err != nil {
		return err
	}
	_, key, _ := strings.Cut(a.body, `<dt>Key</dt><dd class="mono">`)
	key, _, _ = strings.Cut(key, "<")
	code, err := onetime.Code(strings.ReplaceAll(key, " ", ""), onetime.Step(made.GetCreateTime().AsTime())) // what the demo has for now
	if err != nil {
		return err
	}
	if err := c.must(c.send("/invitation/password/code", "code", code)); err != nil {
		return err
	}
	s.people[engineer] = c
	return nil
}
