package works

import (
	"context"
	"errors"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"google.golang.org/grpc"

	"halfshaft/services/access"
	"halfshaft/services/access/accessrpc"
	"halfshaft/services/access/accesssignin"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/desk"
	"halfshaft/services/internal/httpserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/onetime"
	"halfshaft/services/internal/outgoing"
	"halfshaft/services/internal/password"
)

// DeskConfig is the pages that staff and dealers' people sign in to. In a split
// the process with access needs URL and OpenID too: it is the one that signs
// people in.
type DeskConfig struct {
	Listen string // address of the pages; empty: none
	Plain  bool   // they are served in plain text off loopback, because the operator said so by name
	URL    string // where browsers reach them: "https://desk.aldermoor.example"; empty: http://localhost with the port of Listen
	OpenID OpenIDConfig
}

// OpenIDConfig is the works' own identity provider.
type OpenIDConfig struct {
	Issuer string // "https://id.aldermoor.example"; empty: there is none
	Client string
	Secret string
	Claim  string   // whose value is an account's name here; empty: preferred_username
	Allow  []string // hosts and ranges that may be reached though they are not public
}

// url gives where browsers reach the pages. localhost and not 127.0.0.1,
// because passkeys are bound to a name.
func (d DeskConfig) url() string {
	if d.URL != "" {
		return strings.TrimSuffix(d.URL, "/")
	}
	if _, port, err := net.SplitHostPort(d.Listen); err == nil && local(d.Listen) {
		return "http://localhost:" + port
	}
	return ""
}

// deskAddresses refuses addresses of the desk over which a password would go in
// plain text.
func (c Config) deskAddresses(bad func(name, got, want string)) {
	d := c.Desk
	switch {
	case d.Listen != "" && !isHostPort(d.Listen):
		bad("desk", d.Listen, "HOST:PORT")
	case d.Listen != "" && !local(d.Listen) && !d.Plain && c.pagesKeeper(d.Listen, false) == nil:
		bad("desk", d.Listen, "a loopback address, or a TLS certificate: --http-tls-cert and --http-tls-key; where a proxy speaks TLS before it, --desk-plain-off-loopback")
	case d.Listen != "" && d.url() == "":
		bad("desk-url", d.URL, "https://HOST, where browsers reach the desk: passkeys and cookies are bound to it")
	}
	if u, err := url.Parse(d.URL); d.URL != "" && (err != nil || u.Hostname() == "" || strings.Trim(u.Path, "/") != "" || !protectedURL(d.URL, false)) {
		bad("desk-url", d.URL, "https://HOST without a path, or http://localhost:PORT")
	}
	if d.OpenID.Issuer == "" {
		return
	}
	if d.OpenID.Client == "" {
		bad("openid-client", "", "the name under which the identity provider knows these pages")
	}
	if d.url() == "" {
		bad("desk-url", d.URL, "https://HOST, which the identity provider sends browsers back to")
	}
	if client, err := outgoing.New(outgoing.Config{Allow: d.OpenID.Allow, Setting: "openid-allow"}); err != nil {
		bad("openid-allow", strings.Join(d.OpenID.Allow, ", "), "hosts and ranges")
	} else if _, err := client.Check("openid-issuer", d.OpenID.Issuer); err != nil {
		bad("openid-issuer", d.OpenID.Issuer, "https://HOST")
	}
}

// door is the access service with the signing in that belongs to it.
type door struct {
	*accessrpc.Service
	signing *accesssignin.Service
	kept    *accessstore.SignIns
}

// openAccess makes the access service and what lets people in at pages.
func (p *Process) openAccess(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	kept, err := accessstore.OpenSignIns(ctx, store, c.Logger)
	if err != nil {
		return nil, err
	}
	signing, err := p.openSigning(ctx, kept)
	if err != nil {
		kept.Close()
		return nil, err
	}
	service, err := accessrpc.New(ctx, accessrpc.Config{
		Store: store, Group: p.group, SignIns: kept, Owners: clients.Owners, Builds: clients.Builds, Clock: c.Clock, Logger: c.Logger,
	})
	if err != nil {
		return nil, errors.Join(err, signing.Close(), closed(kept))
	}
	return &door{service, signing, kept}, nil
}

func closed(kept *accessstore.SignIns) error {
	kept.Close()
	return nil
}

func (p *Process) openSigning(ctx context.Context, kept *accessstore.SignIns) (*accesssignin.Service, error) {
	c := p.config
	key, err := onetime.OpenKey(filepath.Join(c.Data, signInKeyPath))
	if err != nil {
		return nil, err
	}
	config := accesssignin.Config{
		Store: kept, Key: key, Hasher: password.New(password.Standard), Works: c.Works.Name, URL: c.Desk.url(), Clock: c.Clock, Logger: c.Logger, Recorder: p.audit,
		OpenID: accesssignin.OpenID{Issuer: c.Desk.OpenID.Issuer, Client: c.Desk.OpenID.Client, Secret: c.Desk.OpenID.Secret, Claim: c.Desk.OpenID.Claim},
	}
	if config.OpenID.Issuer != "" {
		client, err := outgoing.New(outgoing.Config{Allow: c.Desk.OpenID.Allow, Setting: "openid-allow"})
		if err != nil {
			return nil, err
		}
		config.OpenID.HTTP = client.HTTP()
	}
	return accesssignin.New(ctx, config)
}

// RegisterService puts both on a server.
func (d *door) RegisterService(r grpc.ServiceRegistrar) {
	d.Service.RegisterService(r)
	d.signing.RegisterService(r)
}

// Close ends both.
func (d *door) Close() error {
	return errors.Join(d.Service.Close(), d.signing.Close(), closed(d.kept))
}

// openDesk answers the pages that people sign in to.
func (p *Process) openDesk(ctx context.Context) error {
	c := p.config
	if c.Desk.Listen == "" {
		return nil
	}
	clients := newClients(p.peers.to)
	zone, err := time.LoadLocation(c.Works.Zone) // "" is UTC
	if err != nil {
		return err
	}
	if err := os.RemoveAll(filepath.Join(c.Data, uploadsPath)); err != nil {
		return err
	}
	pages, err := desk.New(desk.Config{
		Import: p.importUpload(clients, zone), Waiting: filepath.Join(c.Data, waitingPath), Health: p.health, Zone: zone,
		SignIn: clients.SignIn, Access: clients.Access, Audit: clients.Audit,
		Owners: clients.Owners, Builds: clients.Builds, Parts: clients.Parts, Schedules: clients.Schedules,
		Reminders: clients.Reminders, Warranties: clients.Warranties, Bulletins: clients.Bulletins, Enquiries: clients.Enquiries, Handbooks: clients.Handbooks,
		JobSheets: clients.JobSheets,
		URL:       c.Desk.url(), Proxies: c.proxies, Works: c.Works.Name, Clock: c.Clock, Logger: c.Logger,
		AsService: func(ctx context.Context) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "desk", Credential: "process"})
		},
		As: func(ctx context.Context, who desk.Signed) context.Context { return access.NewContext(ctx, signed(who)) },
	})
	if err != nil {
		return err
	}
	secure := c.pagesTLS(c.Desk.Listen, c.Desk.Plain)
	p.deskAddress, err = p.serveHTTP(ctx, httpserver.Config{
		Handler: pages, Address: c.Desk.Listen, TLS: secure, Proxied: strings.HasPrefix(c.Desk.url(), "https://"),
	})
	return err
}

// signed gives the caller that somebody signed in is.
func signed(who desk.Signed) access.Caller {
	caller := accesswire.Account(who.Account).Caller()
	caller.Credential = who.Session.GetName()
	return caller
}

// DeskURL is where browsers reach the desk; empty when it does not answer.
func (p *Process) DeskURL() string {
	if p.deskAddress == nil {
		return ""
	}
	return p.config.Desk.url()
}
