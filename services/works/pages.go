package works

import (
	"context"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"os"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"google.golang.org/protobuf/types/known/timestamppb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/httpserver"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/remindertext"
	"halfshaft/services/reminder/reminderwords"
)

// openPages answers the links in messages, the calendars, and the reports of
// the text-message gateway.
func (p *Process) openPages(ctx context.Context, ring links.Ring, words *reminderwords.Renderer, texts reminderjob.TextSender, clients Clients) error {
	c := p.config
	config := ownerpages.Config{
		Links: ring, Schedules: clients.Schedules, Reminders: clients.Reminders, Owners: clients.Owners, Builds: clients.Builds, Bulletins: clients.Bulletins, Handbooks: clients.Handbooks,
		AsOwner: func(ctx context.Context, person string) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: "people/" + person, Credential: "link"})
		},
		AsService: func(ctx context.Context) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "owner pages"})
		},
		Programme: words, Proxies: c.proxies, Address: c.Works.PublicURL, Works: c.Works.Name, Telephone: c.Works.Telephone, Clock: c.Clock, Logger: c.Logger,
	}
	if c.Works.Words != "" {
		over, err := fs.Sub(os.DirFS(c.Works.Words), "pages")
		if err != nil {
			return err
		}
		config.Phrases = over
	}
	if secrets := c.Text.textSecrets(); len(secrets) > 0 {
		receiver, err := remindertext.NewReceiver(secrets...)
		if err != nil {
			return err
		}
		config.Text, config.TextEvent = receiver, textEvent
		if texts != nil {
			config.TextReply = textReply(texts)
		}
	}
	pages, err := ownerpages.New(config)
	if err != nil {
		return err
	}
	return p.servePages(ctx, pages)
}

// textReply answers by the gateway. The reference is made of the report's, so
// that the gateway knows an answer that is sent twice.
func textReply(texts reminderjob.TextSender) func(ctx context.Context, report, to, text string) error {
	return func(ctx context.Context, report, to, text string) error {
		if a := texts.Send(ctx, reminder.Reference("answer to "+report), to, text); a.Outcome != reminder.Accepted {
			return errors.New("the gateway did not take it: " + a.Text)
		}
		return nil
	}
}

// textEvent reads what the gateway reports.
func textEvent(id string, body []byte) (*reminderv1.TakeTextEventRequest, error) {
	event, err := remindertext.ParseEvent(body)
	if err != nil {
		return nil, err
	}
	request := &reminderv1.TakeTextEventRequest{EventId: id}
	switch event.Kind {
	case remindertext.Receipt:
		request.Event = &reminderv1.TakeTextEventRequest_Receipt{Receipt: &reminderv1.TextReceipt{
			Reference: event.Reference, Status: receiptWords[event.Status], Detail: event.Text, EventTime: timestamppb.New(event.Time),
		}}
	case remindertext.Message:
		request.Event = &reminderv1.TakeTextEventRequest_Said{Said: &reminderv1.TextSaid{
			Phone: event.From, Text: event.Text, EventTime: timestamppb.New(event.Time),
		}}
	}
	return request, nil
}

// receiptWords are the API's words for what became of a text message.
var receiptWords = map[reminder.ReturnKind]string{
	reminder.Delivered: "delivered", reminder.Relayed: "relayed", reminder.Delayed: "delayed", reminder.GivenUp: "expired", reminder.Failed: "failed",
}

// servePages answers the owner pages until the process stops.
func (p *Process) servePages(ctx context.Context, pages http.Handler) error {
	c := p.config
	address, err := p.serveHTTP(ctx, httpserver.Config{
		Handler: pages, Address: c.HTTP, TLS: c.pagesTLS(c.HTTP, c.HTTPPlain), Proxied: strings.HasPrefix(c.Works.PublicURL, "https://"),
	})
	p.httpAddress = address
	return err
}

// serveMetrics answers a collector on this machine.
func (p *Process) serveMetrics(ctx context.Context, register func(prometheus.Registerer) error) error {
	registry := prometheus.NewRegistry()
	if err := register(registry); err != nil {
		return err
	}
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	p.registerCertificates(registry)
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	address, err := p.serveHTTP(ctx, httpserver.Config{Handler: mux, Address: p.config.Metrics})
	p.metricsAddress = address
	return err
}

// metricsWithoutReminders answers the collector in a process that does not run
// the reminders, whose figures are most of them.
func (p *Process) metricsWithoutReminders(ctx context.Context) error {
	if p.config.Metrics == "" || p.runs(Reminder) {
		return nil
	}
	return p.serveMetrics(ctx, func(prometheus.Registerer) error { return nil })
}

// serveHTTP answers at an address until the process stops: the one way in which
// this program listens for HTTP.
func (p *Process) serveHTTP(ctx context.Context, c httpserver.Config) (net.Addr, error) {
	c.Logger, c.Trusted = p.config.Logger, p.config.proxies.Trusts
	server, err := httpserver.Listen(c)
	if err != nil {
		return nil, err
	}
	p.background.Go(func() error { return server.Serve(ctx) })
	return server.Addr(), nil
}
