// Package outgoing is the one way in which this program calls web addresses:
// the gateway for text messages, and whatever staff sign in with. The addresses
// are the operator's, but where their names lead is the resolver's word, and
// what answers is a stranger. So each address is checked when it is connected
// to, after its name was resolved; no redirect is followed and no proxy of the
// environment is asked; every step has its time and an answer its size; and
// nothing goes in plain text but to this machine, where the operator names it.
package outgoing

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"syscall"
	"time"

	"halfshaft/services/fault"
)

// Config is what a client may do. The zero value reaches public addresses only.
type Config struct {
	// Allow names what may be reached though it is not public: hosts
	// ("gateway.lan"), which may then be private addresses or this machine, and
	// ranges ("10.1.0.0/16"). A host that is this machine and is named here may
	// be reached without encryption.
	Allow   []string
	Setting string // what the operator calls Allow, for refusals: "text.allow_private"

	Whole      time.Duration // for a call from beginning to end, its answer read; 0 is 30 s
	Step       time.Duration // for connecting, for TLS and for an answer to begin, each; 0 is 10 s, at most Whole
	MostAnswer int64         // bytes of an answer's body; 0 is 1 MiB

	TLS      *tls.Config   // whom to trust; nil: the system's authorities
	Resolver *net.Resolver // nil: the system's
}

// The limits where nothing is said.
const (
	standardWhole  = 30 * time.Second
	standardStep   = 10 * time.Second
	standardAnswer = 1 << 20
	mostHeader     = 64 << 10 // bytes of an answer's header
)

// ErrTooLarge is what reading an answer gives where it goes beyond its limit.
var ErrTooLarge = errors.New("the answer is longer than is read")

// Client calls web addresses. It is safe for concurrent use.
type Client struct {
	allowed allowed
	client  *http.Client
}

// New checks the settings.
func New(c Config) (*Client, error) {
	if c.Setting == "" {
		c.Setting = "allow"
	}
	allow, err := parseAllowed(c.Setting, c.Allow)
	if err != nil {
		return nil, err
	}
	if c.Whole == 0 {
		c.Whole = standardWhole
	}
	if c.Step == 0 {
		c.Step = standardStep
	}
	if c.MostAnswer == 0 {
		c.MostAnswer = standardAnswer
	}
	step := min(c.Step, c.Whole)
	only := new(http.Protocols) // HTTP/1.1: one answer at a time, none of which another can hold up
	only.SetHTTP1(true)
	transport := &http.Transport{
		// Proxy stays nil: the environment is not asked.
		DialContext:            dialer{allow, step, c.Resolver}.dial,
		TLSClientConfig:        secured(c.TLS),
		TLSHandshakeTimeout:    step,
		ResponseHeaderTimeout:  step,
		MaxIdleConnsPerHost:    2,
		IdleConnTimeout:        time.Minute,
		Protocols:              only,
		MaxResponseHeaderBytes: mostHeader,
		DisableCompression:     true, // what is counted is what is held
	}
	return &Client{allowed: allow, client: &http.Client{
		Timeout:       c.Whole,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport:     guarded{transport, allow, c.MostAnswer},
	}}, nil
}

// secured is TLS as we speak it to others: 1.2 at least, because whose server
// it is decides, and then only with suites that Go takes for safe.
func secured(c *tls.Config) *tls.Config {
	if c == nil {
		return &tls.Config{MinVersion: tls.VersionTLS12}
	}
	c = c.Clone()
	c.MinVersion = max(c.MinVersion, tls.VersionTLS12)
	return c
}

// Check reads an address that the operator gave; the refusal names the setting
// and tells no password that stands in it.
func (c *Client) Check(setting, address string) (*url.URL, error) {
	u, err := url.Parse(address)
	if err != nil || u.Hostname() == "" || u.User != nil || u.Fragment != "" || u.Opaque != "" {
		return nil, fault.InvalidField(setting, Shown(u), "an address such as https://gateway.aldermoor.example/send")
	}
	if !c.allowed.scheme(u) {
		return nil, fault.InvalidField(setting, Shown(u),
			"https: without it only this machine is reached, and only where "+c.allowed.setting+" names it")
	}
	return u, nil
}

func (a allowed) scheme(u *url.URL) bool {
	return u.Scheme == "https" || u.Scheme == "http" && a.plain(u.Hostname())
}

// Shown prints an address without what may be secret in it. Where there is no
// host, or a path has an @, a name and a password may stand where a path should.
func Shown(u *url.URL) string {
	if u == nil {
		return ""
	}
	shown := url.URL{Scheme: u.Scheme, Host: u.Host}
	if u.Host != "" && !strings.Contains(u.Path, "@") {
		shown.Path = u.Path
	}
	return shown.String()
}

// Do makes one call. The caller closes the answer's body. A redirect is an
// answer like any other.
func (c *Client) Do(r *http.Request) (*http.Response, error) { return c.client.Do(r) }

// HTTP gives the same as a client of the standard library, for libraries that
// want one. What it may do is not changed by whoever holds it: the checks are
// in its transport.
func (c *Client) HTTP() *http.Client {
	same := *c.client
	return &same
}

// CloseIdleConnections ends the connections that nobody uses.
func (c *Client) CloseIdleConnections() { c.client.CloseIdleConnections() }

// Reason takes off the address that net/http puts around an error: it may have
// a secret in it.
func Reason(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

// guarded checks each request, for a library may have made it, and bounds what
// is read of each answer.
type guarded struct {
	*http.Transport
	allowed allowed
	most    int64
}

// RoundTrip implements http.RoundTripper.
func (g guarded) RoundTrip(r *http.Request) (*http.Response, error) {
	if !g.allowed.scheme(r.URL) {
		if r.Body != nil {
			r.Body.Close()
		}
		return nil, fault.New(fault.FailedPrecondition, "ADDRESS_NOT_ENCRYPTED", "%s is not https", Shown(r.URL))
	}
	answer, err := g.Transport.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	answer.Body = &bounded{answer.Body, g.most}
	return answer, nil
}

// bounded reads so many bytes and then says that there are more.
type bounded struct {
	io.ReadCloser
	left int64
}

// Read implements io.Reader.
func (b *bounded) Read(p []byte) (int, error) {
	if b.left < 0 {
		return 0, ErrTooLarge
	}
	if int64(len(p)) > b.left+1 {
		p = p[:b.left+1]
	}
	n, err := b.ReadCloser.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return n - 1, ErrTooLarge
	}
	return n, err
}

// dialer checks each address when it is connected to, for a name may lead
// elsewhere a moment after it was looked up.
type dialer struct {
	allowed  allowed
	limit    time.Duration
	resolver *net.Resolver
}

func (d dialer) dial(ctx context.Context, network, address string) (net.Conn, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	control := func(_, to string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(to)
		if err != nil {
			return err
		}
		return d.allowed.check(host, at.Addr())
	}
	return (&net.Dialer{Timeout: d.limit, Control: control, Resolver: d.resolver}).DialContext(ctx, network, address)
}
