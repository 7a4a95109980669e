package works

import (
	"crypto/tls"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/certificates"
	"halfshaft/services/internal/links"
)

// places are where an address may lead. %s is what a flag puts around it.
var places = []struct{ name, address string }{
	{"loopback", "127.0.0.1:7000"},
	{"loopback of IPv6", "[::1]:7000"},
	{"localhost", "localhost:7000"},
	{"a socket", "unix:/run/halfshaft/x.sock"},
	{"a private address", "192.168.7.7:7000"},
	{"a public address", "9.9.9.9:7000"},
	{"a name", "records.aldermoor.example:7000"},
	{"all of this machine's addresses", everywhere},
	{"all of IPv4", "0.0.0.0:7000"},
	{"this machine mapped into IPv6", "[::ffff:127.0.0.1]:7000"},
	{"a name that begins like loopback", "127.0.0.1.aldermoor.example:7000"},
}

// everywhere is a place to listen at and no place to call.
const everywhere = ":7000"

// addressRow is what the table says of a flag: places on the machine are let
// in, a socket only where the flag takes one, and all others are refused with
// words.
type addressRow struct {
	flag   string
	set    func(*Config, string)
	socket bool                 // takes unix:PATH
	calls  bool                 // is called, and not listened at
	words  string               // of the refusal off the machine
	named  func(*Config)        // the operator says so by name; nil: cannot be
	secure func(*Config, tool)  // TLS; nil: there is none
	beyond func(c Config) error // what is checked after the configuration
}

// tool is what TLS is made of in the table.
type tool struct {
	keeper *certificates.Keeper
	roots  *tls.Config
}

// TestNoAddressLeavesTheMachineInPlainTextUnlessToldByName holds each flag that
// takes an address against each place an address may lead to.
func TestNoAddressLeavesTheMachineInPlainTextUnlessToldByName(t *testing.T) {
	keys := aTool(t)
	rows := []addressRow{
		{
			flag: "listen", set: func(c *Config, a string) { c.Listen = a },
			words:  "a loopback address, or a TLS certificate for it: --tls-cert and --tls-key",
			secure: func(c *Config, k tool) { c.TLS = k.keeper },
		},
		{
			flag: "http", set: func(c *Config, a string) { c.HTTP = a },
			words: "where a proxy speaks TLS before it, --http-plain-off-loopback",
			named: func(c *Config) { c.HTTPPlain = true }, secure: func(c *Config, k tool) { c.HTTPTLS = k.keeper },
		},
		{
			flag: "http", set: func(c *Config, a string) { c.HTTP = a },
			words: "--http-tls-cert and --http-tls-key", secure: func(c *Config, k tool) { c.TLS = k.keeper },
		},
		{
			flag: "desk", words: "where a proxy speaks TLS before it, --desk-plain-off-loopback",
			set:   func(c *Config, a string) { c.Desk = DeskConfig{Listen: a, URL: "https://desk.aldermoor.example"} },
			named: func(c *Config) { c.Desk.Plain = true }, secure: func(c *Config, k tool) { c.HTTPTLS = k.keeper },
		},
		{
			flag: "desk-url", calls: true, words: "https://HOST without a path, or http://localhost:PORT",
			set:    func(c *Config, a string) { c.Desk = DeskConfig{Listen: "127.0.0.1:7463", URL: "http://" + a} },
			secure: func(c *Config, _ tool) { c.Desk.URL = strings.Replace(c.Desk.URL, "http://", "https://", 1) },
		},
		{
			flag: "openid-issuer", calls: true, words: "openid-issuer: got",
			set: func(c *Config, a string) {
				c.Desk = DeskConfig{Listen: "127.0.0.1:7463", OpenID: OpenIDConfig{
					Issuer: "http://" + a, Client: "desk", Allow: []string{"localhost", "127.0.0.1", "::1", "::ffff:127.0.0.1"},
				}}
			},
			secure: func(c *Config, _ tool) {
				c.Desk.OpenID.Issuer = strings.Replace(c.Desk.OpenID.Issuer, "http://", "https://", 1)
			},
		},
		{flag: "metrics", set: func(c *Config, a string) { c.Metrics = a }, words: "a loopback address: they are for a collector on this machine"},
		{
			flag: "peers", socket: true, words: "a loopback address or unix socket, or TLS for the connection: --peer-ca",
			set:    func(c *Config, a string) { c.Peers, c.ServiceKey = map[string]string{Build: a}, "key" },
			secure: func(c *Config, k tool) { c.TLS, c.PeerTLS = k.keeper, k.roots },
		},
		{
			flag: "etcd", socket: true, words: "--etcd-plain-off-loopback lets records cross the network for all to read",
			set: func(c *Config, a string) { c.Etcd = []string{"127.0.0.1:2379", a} }, named: func(c *Config) { c.EtcdPlain = true },
			secure: func(c *Config, k tool) { c.EtcdTLS = k.roots },
		},
		{
			flag: "etcd", words: "https://HOST:PORT", named: func(c *Config) { c.EtcdPlain = true }, socket: false,
			set:    func(c *Config, a string) { c.Etcd = []string{"http://" + strings.TrimPrefix(a, "unix:")} },
			secure: func(c *Config, _ tool) { c.Etcd[0] = strings.Replace(c.Etcd[0], "http://", "https://", 1) },
		},
		{
			flag: "return-smtp", socket: true, words: "--return-smtp-plain-off-loopback takes mail without",
			set: func(c *Config, a string) { c.Returns.SMTP = a }, named: func(c *Config) { c.Returns.SMTPPlain = true },
			secure: func(c *Config, k tool) { c.TLS = k.keeper },
		},
		{flag: "return-lmtp", socket: true, set: func(c *Config, a string) { c.Returns.LMTP = a }, words: "LMTP is not for the network"},
		{
			flag: "public-url", calls: true, set: func(c *Config, a string) { c.Works.PublicURL = "http://" + a }, words: "--public-url-plain-off-loopback lets it be http",
			named: func(c *Config) { c.Works.PlainURL = true },
			secure: func(c *Config, _ tool) {
				c.Works.PublicURL = strings.Replace(c.Works.PublicURL, "http://", "https://", 1)
			},
		},
		{
			flag: "smtp.security", calls: true, words: "plain text goes only to", beyond: func(c Config) error { _, _, err := c.mail(); return err },
			set: func(c *Config, a string) {
				c.Mail = MailConfig{Server: a, From: "care@aldermoor.example", Security: "plain"}
			},
			named: func(c *Config) { c.Mail.AllowPlain = true }, secure: func(c *Config, _ tool) { c.Mail.Security = "starttls" },
		},
		{
			flag: "text.url", calls: true, words: "https: without it only this machine is reached", beyond: func(c Config) error { _, _, err := c.channels(links.Ring{}); return err },
			set: func(c *Config, a string) {
				c.Text = TextConfig{Gateway: "http://" + a + "/send", Secret: "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", Allow: []string{"localhost", "127.0.0.1", "::1", "::ffff:127.0.0.1"}}
			},
			secure: func(c *Config, _ tool) { c.Text.Gateway = strings.Replace(c.Text.Gateway, "http://", "https://", 1) },
		},
		{
			flag: "server", socket: true, words: "is not on this machine: give the certificate authority of its TLS certificate",
			set: func(c *Config, a string) { c.Works.Name = a }, // a client has no configuration but its address
			beyond: func(c Config) error {
				conn, err := Dial(c.Works.Name, c.PeerTLS)
				if err == nil {
					conn.Close()
				}
				return err
			},
			secure: func(c *Config, k tool) { c.TLS, c.PeerTLS = k.keeper, k.roots },
		},
	}
	for _, row := range rows {
		for _, place := range places {
			onMachine := strings.HasPrefix(place.address, "unix:") || local(place.address)
			socket := strings.HasPrefix(place.address, "unix:")
			try := func(change ...func(*Config)) string {
				c := Config{Data: "d", Clock: time.Now}
				row.set(&c, place.address)
				for _, f := range change {
					f(&c)
				}
				_, err := c.normal()
				if err == nil && row.beyond != nil {
					err = row.beyond(c)
				}
				if err == nil {
					return ""
				}
				return err.Error()
			}
			t.Run(row.flag+" at "+place.name, func(t *testing.T) {
				got := try()
				switch {
				case socket && !row.socket:
					if got == "" {
						t.Error("a socket is taken")
					}
					return
				case row.calls && place.address == everywhere:
					if got == "" || row.named != nil && try(row.named) == "" {
						t.Error("it is no place to call, and taken")
					}
					return
				case onMachine:
					if got != "" {
						t.Errorf("refused: %s", got)
					}
					return
				case !strings.Contains(got, row.words):
					t.Errorf("got %q, want a refusal with %q", got, row.words)
				}
				if row.named != nil {
					if got := try(row.named); got != "" {
						t.Errorf("though named: %s", got)
					}
				}
				if row.secure != nil {
					if got := try(func(c *Config) { row.secure(c, keys) }); got != "" {
						t.Errorf("though over TLS: %s", got)
					}
				}
			})
		}
	}
}

func aTool(t *testing.T) tool {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "authority")
	a, err := certificates.Create(dir, "works", time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Issue(certificates.Request{Name: "records", Hosts: []string{"records.aldermoor.example"}, For: certificates.ForProcess}, time.Now()); err != nil {
		t.Fatal(err)
	}
	keeper, err := certificates.Load(a.Files("records"))
	if err != nil {
		t.Fatal(err)
	}
	roots, err := Trust("peer-ca", certificates.CAFile(dir))
	if err != nil {
		t.Fatal(err)
	}
	return tool{keeper, roots}
}

func TestAFileThatIsNoAuthorityIsNamedByItsFlag(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(path, []byte("no certificate"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Trust("etcd-ca", path)
	if f := fault.FieldsOf("", err); len(f) != 1 || f[0].Name != "etcd-ca" || f[0].Got != path {
		t.Errorf("got %v", err)
	}
	if trust, err := Trust("etcd-ca", ""); trust != nil || err != nil {
		t.Errorf("without a file: got %v, %v", trust, err)
	}
}
