// Package works puts the services together in one process: on its own etcd or
// on a cluster, all of them or a share.
package works

import (
	"crypto/tls"
	"log/slog"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/access/accessgate"
	"halfshaft/services/fault"
	"halfshaft/services/internal/certificates"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/webguard"
)

// The services that a process can run.
const (
	Access   = "access"
	Owner    = "owner"
	Build    = "build"
	Parts    = "parts"
	Schedule = "schedule"
	Reminder = "reminder"
	Warranty = "warranty"
	Bulletin = "bulletin"
	Enquiry  = "enquiry"
	Handbook = "handbook"
	JobSheet = "jobsheet"
)

// AllServices is what a process runs when nobody says otherwise.
var AllServices = []string{Access, Owner, Build, Parts, Schedule, Reminder, Bulletin, Warranty, Enquiry, Handbook, JobSheet}

// Config says what one process runs, and on what. Data is the only field
// without a working default.
type Config struct {
	Data string // data directory: secrets, sockets, and the embedded etcd's files

	Etcd    []string    // endpoints of a cluster; none: etcd runs inside
	EtcdTLS *tls.Config // the authority of the cluster; nil: the system's, where an endpoint is https
	// EtcdPlain lets the cluster be spoken to in plain text off loopback,
	// because the operator said so by name.
	EtcdPlain bool
	Services  []string          // the share to run; none: all
	Peers     map[string]string // where the other services are: name to address

	ServiceKey string      // the key this process shows its peers; see ServiceKeyFile
	PeerTLS    *tls.Config // the authority of all processes of the split; nil: peers on loopback and unix sockets only

	Listen     string               // gRPC address; empty: only the unix socket in Data
	TLS        *certificates.Keeper // for Listen, and shown to peers; nil: only loopback addresses
	HTTP       string               // address of the owner pages; empty: none
	HTTPTLS    *certificates.Keeper // for pages; nil: TLS where they leave the machine
	HTTPPlain  bool                 // pages in plain text off loopback, because the operator said so by name
	Reflection bool                 // let gRPC clients list the services

	// TrustedProxies are the addresses and ranges of proxies before the pages,
	// believed in whom they say they speak for; none: nobody is.
	TrustedProxies []string
	proxies        *webguard.Proxies // made of them

	Desk DeskConfig // the pages that people sign in to

	CallLimits       accessgate.Limits // how often callers may call; what is zero has its standard
	ConnectionLimits grpcserver.Limits // what clients may hold; likewise

	Works   WorksConfig   // who the works is, for messages and pages
	Mail    MailConfig    // how mail leaves; without a server none does
	Text    TextConfig    // how text messages leave; without a gateway none does
	Returns ReturnsConfig // how what comes back reaches us; without a path bounces go to the sender
	Metrics string        // address of the metrics, loopback only; empty: none
	Passes  string        // cron expression of the reminder pass, UTC; empty: every 15 minutes; Never: none

	FormerYears int // how long people who are nothing to any vehicle are kept; 0: three years

	Snapshots bool // take a proved snapshot each night, below Data; embedded etcd only

	Clock  func() time.Time // nil: the machine's
	Logger *slog.Logger     // nil: say nothing
}

// WorksConfig is who the works is, in mails and on pages.
type WorksConfig struct {
	Name      string // "Aldermoor Works"
	Telephone string // as printed: "+44 1632 960100"
	Mail      string // address that answers: "care@aldermoor.example"
	PublicURL string // where the owner pages are reached: "https://care.aldermoor.example"
	PlainURL  bool   // PublicURL may be http off this machine, because the operator said so by name
	Postal    []string
	Words     string // directory with the works' own phrases and translations; empty: the built-in ones
	Zone      string // whose midnight is the works': "Europe/London"; empty: UTC
	Paper     string // of letters: "A4", or "Letter" as in North America; empty is A4
	Letters   bool   // letters are printed and posted; without it nobody is told by one
}

// TextConfig is the gateway that takes our text messages.
type TextConfig struct {
	Gateway string   // its address; empty: no text message leaves
	Secret  string   // whsec_…, signs what is sent
	Receive []string // secrets that sign what the gateway reports; the first may be the one above
	Allow   []string // hosts and ranges that may be reached though they are not public
}

// ReturnsConfig is how bounces, complaints and answers reach us.
type ReturnsConfig struct {
	Path string // "returns@care.aldermoor.example": mail to returns+…@ there must be handed to us
	LMTP string // address to listen on for a mail server on this machine: "127.0.0.1:2424", "unix:PATH"
	SMTP string // address to listen on for mail itself
	// SMTPPlain takes mail in plain text off loopback without even offering TLS,
	// because the operator said so by name.
	SMTPPlain bool
	Maildir   string // directory that a mail server puts messages into
	Also      []string
}

// DKIMConfig signs our mail (RFC 6376).
type DKIMConfig struct {
	Domain   string // empty: that of the sender
	Selector string
	Key      []byte // PEM; empty: mail is not signed
}

// MailConfig is the mail server that takes our mail.
type MailConfig struct {
	Server       string // host:port; empty: no mail leaves
	From         string // sender, "Aldermoor Works <care@aldermoor.example>"
	Username     string // empty: no authentication
	Password     string
	Security     string        // "starttls" (standard), "tls", or "plain" (loopback only)
	AllowPlain   bool          // plain text off loopback, because the operator said so by name
	TLS          *tls.Config   // nil: the system's roots
	Timeout      time.Duration // for each step but the last; 0: 1 minute
	FinalTimeout time.Duration // after the final dot; 0: 10 minutes (RFC 5321, 4.5.3.2.6)
	DKIM         DKIMConfig
}

// Never is a Config.Passes for a process that must send nothing by itself.
const Never = "never"

// defaultPasses is often enough to meet the first hour of anybody's day.
const defaultPasses = "*/15 * * * *"

// normal fills what was left out and refuses what cannot work, all at once.
func (c Config) normal() (Config, error) {
	var wrong []fault.Field
	bad := func(name, got, want string) { wrong = append(wrong, fault.Field{Name: name, Got: got, Want: want}) }
	if c.Data == "" {
		bad("data", "", "the path of a data directory")
	}
	if len(c.Services) == 0 {
		c.Services = AllServices
	}
	for _, s := range c.Services {
		if !slices.Contains(AllServices, s) {
			bad("services", s, "names among "+strings.Join(AllServices, ", "))
		}
	}
	for _, s := range AllServices {
		if !slices.Contains(c.Services, s) && c.Peers[s] == "" && c.needs(s) {
			bad("peers", "no address for "+s, s+"=HOST:PORT, because this process does not run "+s)
		}
	}
	for s := range c.Peers {
		if !slices.Contains(AllServices, s) {
			bad("peers", s, "names among "+strings.Join(AllServices, ", "))
		}
	}
	c.addresses(bad)
	if len(c.Peers) > 0 && c.ServiceKey == "" {
		bad("service key", "", "the key that the process with access wrote to "+filepath.Join("DATA", serviceKeyPath))
	}
	switch {
	case c.PeerTLS == nil:
	case c.TLS == nil:
		bad("tls-cert", "", "a certificate that the authority of the peers signed, because they will ask for it")
	default:
		if err := provable(c.TLS.Current(), c.PeerTLS); err != nil {
			bad("tls-cert", c.TLS.Current().Leaf.Subject.String(), "a certificate that the authority of the peers signed, for a server and for a client: "+err.Error())
		}
		c.PeerTLS = c.TLS.Client(c.PeerTLS) // shows its peers what it shows its callers
	}
	if c.FormerYears < 0 || c.FormerYears > 100 {
		bad("former years", strconv.Itoa(c.FormerYears), "1 to 100, or 0 for three")
	}
	if c.Passes == "" {
		c.Passes = defaultPasses
	}
	if c.Passes != Never { // also where no mail goes out yet
		for _, f := range fault.FieldsOf("", leader.CheckSpec("passes", c.Passes)) {
			bad(f.Name, f.Got, f.Want+", or "+Never)
		}
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	c.named(bad)
	if _, err := time.LoadLocation(c.Works.Zone); err != nil {
		bad("zone", c.Works.Zone, "a time zone, as Europe/London, or nothing for UTC")
	}
	return c, fault.InvalidFields(wrong)
}

// named makes the proxies of their addresses.
func (c *Config) named(bad func(name, got, want string)) {
	proxies, err := webguard.ParseProxies("trusted-proxy", c.TrustedProxies, c.Logger)
	for _, f := range fault.FieldsOf("", err) {
		bad(f.Name, f.Got, f.Want)
	}
	c.proxies = proxies
}

// needs says whether this process calls a service.
func (c Config) needs(service string) bool {
	for _, mine := range c.Services {
		if slices.Contains(calls[mine], service) {
			return true
		}
	}
	return service == Access || service == Owner // the door asks both
}

// calls says which services each one asks or follows, and cannot do without.
// Parts ask Schedule too, where something was used; without a peer for it that
// one question is answered by UNAVAILABLE. Access asks Build whether a vehicle
// is there that a dealer is to see, and answers the same without a peer for it.
// Build asks Bulletin before a vehicle leaves the works, and records the delivery
// unasked without a peer for it. Enquiry asks Access who can do the work; without
// a peer for it the page for the telephone says that it does not know. Reminder
// asks Handbook when somebody sends a handbook, and nothing else of it. None is
// among these, because the process that runs access makes the key for peers at
// its first start, and could not have one by then.
var calls = map[string][]string{
	Parts:    {Build},
	Schedule: {Build},
	Reminder: {Build, Schedule, Parts, Owner},
	Warranty: {Build, Schedule, Owner},
	Bulletin: {Build, Schedule, Owner},
	Enquiry:  {Build, Schedule, Owner},
	Handbook: {Build, Parts, Schedule, Warranty},
	JobSheet: {Build, Parts, Schedule, Bulletin},
}
