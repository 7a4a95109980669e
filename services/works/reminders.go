package works

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/mail"
	"path/filepath"
	"time"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderrpc"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwords"
)

// openReminders makes the reminder service with its job and, where an address
// is given, the pages that the links in its mails open.
func (p *Process) openReminders(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	ring, err := links.OpenRing(filepath.Join(c.Data, linkKeyPath), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("open the keys of the links: %w", err)
	}
	appearance, sender, err := c.mail()
	if err != nil {
		return nil, err
	}
	notices, err := reminderstore.Open(ctx, store, p.group, c.Logger)
	if err != nil {
		return nil, err
	}
	config := reminderjob.Config{
		Store: notices, Schedules: clients.Schedules, Owners: clients.Owners, Parts: clients.Parts,
		Works: appearance, Links: ring, BaseURL: c.Works.PublicURL, Clock: c.Clock, Logger: c.Logger,
	}
	if sender != nil {
		config.Mail = sender
	}
	job, err := reminderjob.New(config)
	if err != nil {
		notices.Close()
		return nil, err
	}
	spec := c.Passes
	if spec == Never || sender == nil {
		spec = ""
	}
	p.background.Go(func() error { return job.Lead(ctx, p.client, store, spec) })
	if c.HTTP != "" {
		pages := ownerpages.New(ownerpages.Config{
			Links: ring, Schedules: clients.Schedules, Reminders: clients.Reminders,
			AsOwner: func(ctx context.Context, person string) context.Context {
				return access.NewContext(ctx, access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: "people/" + person})
			},
			AsService: func(ctx context.Context) context.Context {
				return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "owner pages"})
			},
			Works: c.Works.Name, Telephone: c.Works.Telephone, Clock: c.Clock, Logger: c.Logger,
		})
		if err := p.servePages(ctx, pages); err != nil {
			notices.Close()
			return nil, err
		}
	}
	return reminderrpc.New(reminderrpc.Config{Store: notices, Job: job, Clock: c.Clock, Logger: c.Logger}), nil
}

// mail reads how the works appears in its mail, and how mail leaves; no sender
// without a server.
func (c Config) mail() (reminderwords.Works, *remindermail.Sender, error) {
	if c.Mail.Server == "" {
		return reminderwords.Works{}, nil, nil
	}
	from, err := mail.ParseAddress(c.Mail.From)
	if err != nil {
		return reminderwords.Works{}, nil, fault.InvalidField("mail from", c.Mail.From, "an address: 'Aldermoor Works <care@aldermoor.example>'")
	}
	appearance := reminderwords.Works{Name: c.Works.Name, From: from.Address, ReplyTo: c.Works.Mail, Phone: c.Works.Telephone}
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

// servePages answers the owner pages until the process stops.
func (p *Process) servePages(ctx context.Context, pages http.Handler) error {
	listener, err := net.Listen("tcp", p.config.HTTP)
	if err != nil {
		return fmt.Errorf("listen for the pages: %w", err)
	}
	p.httpAddress = listener.Addr()
	server := &http.Server{
		Handler: pages, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 15 * time.Second,
		WriteTimeout: 30 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
	}
	stop := context.AfterFunc(ctx, func() {
		limit, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		if server.Shutdown(limit) != nil {
			server.Close()
		}
	})
	p.background.Go(func() error {
		defer stop()
		if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return nil
	})
	return nil
}
