package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

// serveFlags are what serve and demo share.
type serveFlags struct {
	Listen     string `help:"gRPC address. Off loopback it needs --tls-cert and --tls-key." default:"127.0.0.1:7460"`
	HTTP       string `name:"http" help:"Address of the pages that links in mails open." default:"127.0.0.1:7461"`
	Reflection bool   `help:"Let gRPC clients list the services."`
}

type serveCommand struct {
	serveFlags
	deskFlags

	Etcd       []string          `help:"Use the etcd cluster at these endpoints instead of the embedded one." placeholder:"ENDPOINT"`
	EtcdCA     string            `name:"etcd-ca" help:"Certificate authority of the cluster." type:"existingfile" placeholder:"FILE"`
	Services   []string          `help:"Run only these: access, owner, build, parts, schedule, reminder." placeholder:"NAME"`
	Peer       map[string]string `help:"Where a service is that this process does not run: build=HOST:PORT. May be repeated." placeholder:"NAME=ADDRESS"`
	PeerCA     string            `name:"peer-ca" help:"Certificate authority of the processes of a split. Each shows the others its --tls-cert, and serves services only if they do; people need just their API key." type:"existingfile" placeholder:"FILE"`
	ServiceKey string            `help:"File with the key for peers: DATA/secrets/service.key of the process that runs access." type:"existingfile" placeholder:"FILE"`
	TLSCert    string            `name:"tls-cert" help:"TLS certificate for --listen; with --peer-ca also shown to peers." type:"existingfile" placeholder:"FILE"`
	TLSKey     string            `name:"tls-key" help:"Its key. Both are read again when they change." type:"existingfile" placeholder:"FILE"`
	EtcdPlain  bool              `name:"etcd-plain-off-loopback" help:"Speak to etcd in plain text though it is not on this machine: whoever sits between reads and changes all records."`
	HTTPCert   string            `name:"http-tls-cert" help:"TLS certificate for --http, one that browsers know; off loopback --tls-cert serves without." type:"existingfile" placeholder:"FILE"`
	HTTPKey    string            `name:"http-tls-key" help:"Its key." type:"existingfile" placeholder:"FILE"`
	Trusted    []string          `name:"trusted-proxy" help:"Address or range of a proxy before the pages or the desk, on this machine too, that is believed in whom it says it speaks for (X-Forwarded-For). May be repeated. Without it, all who come by one proxy count as one sender." placeholder:"ADDRESS"`
	HTTPPlain  bool              `name:"http-plain-off-loopback" help:"Serve pages in plain text though others reach the address: for a proxy on another machine that speaks TLS before it, over a line that nobody else is on."`

	Works        string        `help:"Name of the works, in mails and on pages." placeholder:"NAME"`
	Telephone    string        `help:"Telephone of the works, as printed." placeholder:"NUMBER"`
	Zone         string        `help:"Time zone of the works, whose midnight counts beside the owner's: Europe/London. UTC when left out." placeholder:"ZONE"`
	PublicURL    string        `help:"Where owners reach the pages; https, for their links open what is theirs." placeholder:"URL"`
	PlainURL     bool          `name:"public-url-plain-off-loopback" help:"Let --public-url be http: whoever sits between reads what owners read, and no mail program offers one-click unsubscribe."`
	SMTP         string        `name:"smtp" help:"Mail server, HOST:PORT. Without one, no notice goes out." placeholder:"ADDRESS"`
	SMTPSecurity string        `name:"smtp-security" help:"starttls, tls, or plain (loopback only)." default:"starttls" enum:"starttls,tls,plain"`
	SMTPPlainOK  bool          `name:"smtp-plain-off-loopback" help:"Send mail in plain text to a server that is not on this machine."`
	SMTPUser     string        `name:"smtp-user" help:"Name for the mail server." placeholder:"NAME"`
	SMTPPassword string        `name:"smtp-password-file" help:"File with the password for it." type:"existingfile" placeholder:"FILE"`
	SMTPCA       string        `name:"smtp-ca" help:"Certificate authority of the mail server." type:"existingfile" placeholder:"FILE"`
	MailFrom     string        `help:"Sender of the mails, as 'Aldermoor Works <care@aldermoor.example>'." placeholder:"ADDRESS"`
	DKIMKey      string        `name:"dkim-key" help:"PEM file with the key that signs mail (DKIM); RSA or Ed25519." type:"existingfile" placeholder:"FILE"`
	DKIMDomain   string        `name:"dkim-domain" help:"Domain that signs; that of --mail-from when left out." placeholder:"DOMAIN"`
	DKIMSelector string        `name:"dkim-selector" help:"Selector of the key in the DNS." default:"halfshaft"`
	ReturnPath   string        `help:"Address that returned mail comes to, as in returns@care.aldermoor.example: mail to returns+…@ there must be handed to one of the three below." placeholder:"ADDRESS"`
	ReturnLMTP   string        `name:"return-lmtp" help:"Take returned mail by LMTP from a mail server on this machine: 127.0.0.1:2424 or unix:PATH." placeholder:"ADDRESS"`
	ReturnSMTP   string        `name:"return-smtp" help:"Take returned mail by SMTP. With --tls-cert TLS is offered; senders that know none are taken all the same, as between mail servers everywhere." placeholder:"ADDRESS"`
	ReturnPlain  bool          `name:"return-smtp-plain-off-loopback" help:"Take it off this machine without offering TLS."`
	ReturnDir    string        `name:"return-maildir" help:"Take returned mail from a directory that a mail server delivers to." type:"existingdir" placeholder:"DIR"`
	ReturnAlso   []string      `help:"Further address whose mail is taken in: the one that complaints are sent to." placeholder:"ADDRESS"`
	TextGateway  string        `help:"Web address of the gateway for text messages. Without one, none goes out." placeholder:"URL"`
	TextSecret   string        `name:"text-secret-file" help:"File with the secrets for it (whsec_…), one a line: the first signs what is sent, each may sign what it reports to PUBLIC-URL/in/text." type:"existingfile" placeholder:"FILE"`
	TextAllow    []string      `help:"Host or range of the gateway that may be reached though it is not public." placeholder:"HOST"`
	Letters      bool          `help:"Letters are printed and posted here, for those who cannot be reached otherwise or want them: see \"halfshaft letters\"."`
	Post         []string      `help:"Postal address of the works, line by line, for letters." placeholder:"LINE"`
	Paper        string        `help:"What letters are printed on." default:"A4" enum:"A4,Letter"`
	Words        string        `help:"Directory with the works' own phrases, and translations of its service programme." type:"existingdir" placeholder:"DIR"`
	Metrics      string        `help:"Address of the metrics for a collector on this machine." placeholder:"ADDRESS"`
	FormerYears  int           `help:"Years for which people who are nothing to any vehicle are kept, 1 to 100; common practice is three." default:"3" placeholder:"YEARS"`
	Passes       string        `help:"Cron expression of the reminder pass, in UTC; never for none, and for nothing that is removed by itself when its time is over." default:"*/15 * * * *"`
	NoSnapshots  bool          `help:"Take no snapshot each night."`
	MailTimeout  time.Duration `help:"For each step of the SMTP conversation but the last." default:"1m"`
	FinalTimeout time.Duration `help:"For the answer after the message." default:"10m"`
}

func (c *serveCommand) Run(ctx context.Context, g *globals) error {
	config, err := c.config(g)
	if err != nil {
		return err
	}
	begin := time.Now()
	process, err := works.Start(ctx, config)
	if err != nil {
		return err
	}
	if secret := process.FirstSecret(); secret != "" {
		fmt.Println("The administrator's key, shown this once and kept nowhere:")
		fmt.Println("  " + secret)
	}
	ready := time.Since(begin)
	works.Settle()
	fmt.Printf("halfshaft is ready after %d ms\n", ready.Milliseconds())
	fmt.Printf("  gRPC   %s and %s\n", process.Address(), works.SocketPath(config.Data))
	if process.HTTPAddress() != nil {
		scheme := "http"
		if process.HTTPSecure() {
			scheme = "https"
		}
		fmt.Printf("  pages  %s://%s\n", scheme, process.HTTPAddress())
	}
	if url := process.DeskURL(); url != "" {
		fmt.Printf("  desk   %s\n", url)
	}
	err = process.Wait(ctx)
	begin = time.Now()
	closed := process.Close()
	if err == nil {
		err = closed
	}
	if err == nil {
		fmt.Printf("halfshaft stopped in %d ms\n", time.Since(begin).Milliseconds())
	}
	return err
}

// config turns the flags into the configuration of a process.
func (c *serveCommand) config(g *globals) (works.Config, error) {
	var fields []fault.Field
	note := func(err error) { fields = append(fields, fault.FieldsOf("", err)...) }
	clock, err := g.clock()
	note(err)
	if c.FormerYears < 1 { // 0 would read as at once, or never
		note(fault.InvalidField("former-years", strconv.Itoa(c.FormerYears), "1 to 100 years"))
	}
	secure, err := works.CertificateFiles(c.TLSCert, c.TLSKey)
	note(err)
	pages, err := works.CertificateFiles(c.HTTPCert, c.HTTPKey)
	note(fault.Under("http", err))
	peers, err := works.Trust("peer-ca", c.PeerCA)
	note(err)
	cluster, err := works.Trust("etcd-ca", c.EtcdCA)
	note(err)
	mail, err := works.Trust("smtp-ca", c.SMTPCA)
	note(err)
	desk, err := c.deskFlags.config()
	note(err)
	config := works.Config{
		Data: g.Data, Desk: desk, Etcd: c.Etcd, EtcdTLS: cluster, EtcdPlain: c.EtcdPlain, Services: c.Services, Peers: c.Peer, PeerTLS: peers,
		Listen: c.Listen, TLS: secure, HTTP: c.HTTP, HTTPTLS: pages, HTTPPlain: c.HTTPPlain, TrustedProxies: c.Trusted, Reflection: c.Reflection,
		Works: works.WorksConfig{
			Name: c.Works, Telephone: c.Telephone, PublicURL: c.PublicURL, PlainURL: c.PlainURL, Postal: c.Post, Words: c.Words, Paper: c.Paper, Letters: c.Letters, Zone: c.Zone,
		},
		Text:    works.TextConfig{Gateway: c.TextGateway, Allow: c.TextAllow},
		Returns: works.ReturnsConfig{Path: c.ReturnPath, LMTP: c.ReturnLMTP, SMTP: c.ReturnSMTP, SMTPPlain: c.ReturnPlain, Maildir: c.ReturnDir, Also: c.ReturnAlso},
		Metrics: c.Metrics,
		Mail: works.MailConfig{
			Server: c.SMTP, From: c.MailFrom, Username: c.SMTPUser, Security: c.SMTPSecurity,
			AllowPlain: c.SMTPPlainOK, TLS: mail, Timeout: c.MailTimeout, FinalTimeout: c.FinalTimeout,
		},
		FormerYears: c.FormerYears, Passes: c.Passes, Snapshots: !c.NoSnapshots, Clock: clock, Logger: g.logger(),
	}
	if c.SMTPPassword != "" {
		config.Mail.Password, err = works.ReadSecret(c.SMTPPassword)
		note(err)
	}
	if c.TextSecret != "" {
		secrets, err := works.ReadSecret(c.TextSecret)
		note(err)
		config.Text.Receive = strings.Fields(secrets)
		if len(config.Text.Receive) > 0 {
			config.Text.Secret = config.Text.Receive[0]
		}
	}
	if c.DKIMKey != "" {
		config.Mail.DKIM = works.DKIMConfig{Domain: c.DKIMDomain, Selector: c.DKIMSelector}
		config.Mail.DKIM.Key, err = os.ReadFile(c.DKIMKey)
		note(err)
	}
	if c.ServiceKey != "" {
		config.ServiceKey, err = works.ReadSecret(c.ServiceKey)
		note(err)
	}
	return config, fault.InvalidFields(fields)
}

// clock is the machine's, or begins at noon UTC of the day that --date names
// and goes on from there.
func (g *globals) clock() (func() time.Time, error) {
	if g.Date == "" {
		return time.Now, nil
	}
	day, err := vehicle.ParseDate(g.Date)
	if err != nil {
		return nil, fault.Under("date", err)
	}
	return works.ClockFrom(day), nil
}

func (g *globals) logger() *slog.Logger {
	var level slog.Level
	if err := level.UnmarshalText([]byte(g.Log)); err != nil {
		level = slog.LevelWarn // kong has checked the word
	}
	return slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: level}))
}
