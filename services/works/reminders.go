package works

import (
	"context"
	"crypto/rand"
	"fmt"
	"io/fs"
	"net"
	"net/mail"
	"os"
	"path/filepath"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/httpserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderreturn"
	"halfshaft/services/reminder/reminderrpc"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/remindertext"
	"halfshaft/services/reminder/reminderwords"
)

// openReminders makes the reminder service with its job, the ways in and out
// for messages and, where an address is given, the pages that links open.
func (p *Process) openReminders(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	if c.Passes != Never { // this process decides whose day has begun
		for _, stale := range staleZones() {
			c.Logger.Warn("time zones: " + stale)
		}
	}
	ring, err := links.OpenRing(filepath.Join(c.Data, linkKeyPath), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("open the keys of the links: %w", err)
	}
	config, sends, err := c.channels(ring)
	if err != nil {
		return nil, err
	}
	notices, err := reminderstore.Open(ctx, store, p.group, c.Logger)
	if err != nil {
		return nil, err
	}
	config.Store, config.Schedules, config.Owners, config.Parts = notices, clients.Schedules, clients.Owners, clients.Parts
	config.Bulletins, config.Handbooks = clients.Bulletins, clients.Handbooks
	job, err := reminderjob.New(config)
	if err == nil {
		err = p.openReturns(ctx, job, config.ReturnPath)
	}
	if err == nil && c.Metrics != "" {
		err = p.serveMetrics(ctx, job.Register)
	}
	if err == nil && c.HTTP != "" {
		err = p.openPages(ctx, ring, config.Words, config.Text, clients)
	}
	if err != nil {
		notices.Close()
		return nil, err
	}
	spec := c.Passes
	if spec == Never || !sends {
		spec = ""
	}
	p.background.Go(func() error { return job.Lead(ctx, p.client, store, spec) })
	return reminderrpc.New(reminderrpc.Config{Store: notices, Job: job, Clock: c.Clock, Logger: c.Logger}), nil
}

// channels reads by which ways messages leave, and how the works appears in
// them. sends says whether there is any.
func (c Config) channels(ring links.Ring) (out reminderjob.Config, sends bool, err error) {
	out = reminderjob.Config{
		Links: ring, BaseURL: c.Works.PublicURL, Letters: c.Works.Letters, Paper: c.Works.Paper, Clock: c.Clock, Logger: c.Logger,
		Ending: c.endingCertificate,
	}
	var over fs.FS
	if c.Works.Words != "" {
		if _, err := os.Stat(c.Works.Words); err != nil {
			return out, false, fault.InvalidField("words", c.Works.Words, "a directory with phrases: "+err.Error())
		}
		over = os.DirFS(c.Works.Words)
	}
	if out.Words, err = reminderwords.New(over); err != nil {
		return out, false, err
	}
	appearance, sender, err := c.mail()
	if err != nil {
		return out, false, err
	}
	out.Works = appearance
	if sender != nil {
		out.Mail = sender
	}
	if len(c.Mail.DKIM.Key) > 0 {
		domain := c.Mail.DKIM.Domain
		if domain == "" {
			_, domain, _ = strings.Cut(appearance.From, "@")
		}
		signer, err := remindermail.NewSigner(domain, c.Mail.DKIM.Selector, c.Mail.DKIM.Key)
		if err != nil {
			return out, false, err
		}
		out.Sign = signer.Sign
	}
	if c.Text.Gateway != "" {
		gateway, err := remindertext.New(remindertext.Config{
			URL: c.Text.Gateway, Secret: c.Text.Secret, AllowPrivate: c.Text.Allow, Clock: c.Clock,
		})
		if err != nil {
			return out, false, err
		}
		out.Text = gateway
	}
	if c.Returns.Path != "" {
		path, err := c.returnPath(ring)
		if err != nil {
			return out, false, err
		}
		out.ReturnPath = path
	}
	return out, sender != nil || out.Text != nil || c.Works.Letters, nil
}

// returnPath reads the address to which what comes back is sent. Its secrets
// are derived from those of the links, and rotate with them.
func (c Config) returnPath(ring links.Ring) (reminderreturn.Path, error) {
	local, domain, _ := strings.Cut(c.Returns.Path, "@")
	path := reminderreturn.Path{Local: local, Domain: domain}
	for i, key := range ring {
		secret, err := reminderreturn.Secret(key.Secret)
		if err != nil {
			return path, err
		}
		if i == 0 {
			path.Secret = secret
		} else {
			path.Former = append(path.Former, secret)
		}
	}
	return path, path.Check()
}

// openReturns begins to take in what comes back.
func (p *Process) openReturns(ctx context.Context, job *reminderjob.Job, read reminderjob.ReturnPath) error {
	c := p.config.Returns
	path, ok := read.(reminderreturn.Path)
	if !ok {
		if c.LMTP+c.SMTP+c.Maildir != "" {
			return fault.InvalidField("returns path", "", "the address that returned mail is sent to, as in returns@care.aldermoor.example")
		}
		return nil
	}
	take := func(ctx context.Context, recipients []string, message []byte) error {
		_, err := job.TakeReturn(ctx, recipients, message)
		return err
	}
	for protocol, address := range map[reminderreturn.Protocol]string{reminderreturn.LMTP: c.LMTP, reminderreturn.SMTP: c.SMTP} {
		if address == "" {
			continue
		}
		config := reminderreturn.ListenerConfig{
			Protocol: protocol, Address: address, Path: path, Also: c.Also, Take: take, Name: path.Domain, Logger: p.config.Logger,
		}
		if protocol == reminderreturn.SMTP && p.config.TLS != nil {
			secure := httpserver.ForBrowsers() // mail servers are as old as browsers
			secure.NextProtos = nil
			config.TLS = p.config.TLS.Server(secure)
		}
		listener, err := reminderreturn.NewListener(config)
		if err != nil {
			return err
		}
		p.returns = append(p.returns, listener.Addr())
		p.background.Go(func() error { return listener.Serve(ctx) })
	}
	if c.Maildir != "" {
		box := reminderreturn.Maildir{Dir: c.Maildir, Take: take, Logger: p.config.Logger}
		p.background.Go(func() error { return p.scan(ctx, box) })
	}
	return nil
}

// betweenScans is how long a returned message may lie in its directory.
const betweenScans = 30 * time.Second

// scan looks into the directory again and again until the process stops.
func (p *Process) scan(ctx context.Context, box reminderreturn.Maildir) error {
	ticker := time.NewTicker(betweenScans)
	defer ticker.Stop()
	for {
		if _, err := box.Scan(ctx); err != nil && ctx.Err() == nil {
			p.config.Logger.Error("returned mail could not be taken in; it is tried again", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
	}
}

// mail reads how the works appears in its messages, and how mail leaves; no
// sender without a server.
func (c Config) mail() (reminderwords.Works, *remindermail.Sender, error) {
	appearance := reminderwords.Works{Name: c.Works.Name, ReplyTo: c.Works.Mail, Phone: c.Works.Telephone, Postal: c.Works.Postal}
	if c.Mail.Server == "" {
		return appearance, nil, nil
	}
	from, err := mail.ParseAddress(c.Mail.From)
	if err != nil {
		return appearance, nil, fault.InvalidField("mail from", c.Mail.From, "an address: 'Aldermoor Works <care@aldermoor.example>'")
	}
	appearance.From = from.Address
	if appearance.Name == "" {
		appearance.Name = from.Name
	}
	server := remindermail.Server{
		Address: c.Mail.Server, Security: remindermail.Security(c.Mail.Security), Username: c.Mail.Username, Password: c.Mail.Password,
		TLS: c.Mail.TLS, Timeouts: remindermail.Timeouts{Dial: c.Mail.Timeout, Command: c.Mail.Timeout, Data: c.Mail.Timeout, Dot: c.Mail.FinalTimeout},
	}
	if c.Mail.AllowPlain {
		server.PlainHost, _, _ = net.SplitHostPort(c.Mail.Server)
	}
	sender, err := remindermail.NewSender(server, from.Address)
	return appearance, sender, err
}

// textSecrets are those that may sign a report of the gateway.
func (c TextConfig) textSecrets() []string {
	if len(c.Receive) > 0 {
		return c.Receive
	}
	if c.Secret != "" {
		return []string{c.Secret}
	}
	return nil
}
