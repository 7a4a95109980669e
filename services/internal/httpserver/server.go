// Package httpserver is the one server of pages: those that links in messages
// open, those of the desk, and the metrics. It bounds what a stranger may take
// of it, time, connections and bytes, so that no page needs to think of it.
package httpserver

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"regexp"
	"strings"
	"time"

	"golang.org/x/net/netutil"
)

// Limits bound what one caller may take. The zero value is good.
type Limits struct {
	Header time.Duration // until the TLS handshake is done, and for the header of a request; 0 is 5 s
	Body   time.Duration // for a request, its body read; 0 is 2 minutes
	Write  time.Duration // from the header of a request to the end of its answer; 0 is 150 s
	Idle   time.Duration // between two requests; 0 is 1 minute
	Stop   time.Duration // for answers to finish at the end; 0 is 1 s

	MostBody    int64 // bytes of a request's body; 0 is 48 MiB, for pages have smaller limits of their own
	PerAddress  int   // connections at once from one address (of IPv6: one /64), loopback aside; 0 is 32
	Connections int   // connections at once, more wait; 0 is 512
}

// The limits where nothing is said. A photograph of 8 MiB over a poor line
// takes two minutes; both times count from the beginning of the request. A
// browser opens six connections at most, and a household or an office may
// share an address.
const (
	standardHeader      = 5 * time.Second
	standardBody        = 2 * time.Minute
	standardWrite       = 150 * time.Second
	standardIdle        = time.Minute
	standardStop        = time.Second
	standardMostBody    = 48 << 20
	standardPerAddress  = 32
	standardConnections = 512

	mostHeader = 16 << 10 // bytes of a request's header
)

func (l Limits) normal() Limits {
	l.Header, l.Body = cmp.Or(l.Header, standardHeader), cmp.Or(l.Body, standardBody)
	l.Write, l.Idle, l.Stop = cmp.Or(l.Write, standardWrite), cmp.Or(l.Idle, standardIdle), cmp.Or(l.Stop, standardStop)
	l.MostBody = cmp.Or(l.MostBody, standardMostBody)
	l.PerAddress, l.Connections = cmp.Or(l.PerAddress, standardPerAddress), cmp.Or(l.Connections, standardConnections)
	return l
}

// Config is what a server answers, and how.
type Config struct {
	Handler http.Handler
	Address string                // "127.0.0.1:7461"
	TLS     *tls.Config           // ForBrowsers; nil: plain text, for loopback or a proxy before it
	Trusted func(netip.Addr) bool // addresses whose connections are not counted, for they are a proxy of ours; nil: none
	Proxied bool                  // who reads comes by https all the same, through a proxy before it
	Limits  Limits
	Logger  *slog.Logger // nil: say nothing
}

// Server has its address open. Serve answers on it.
type Server struct {
	listener net.Listener
	server   *http.Server
	secure   bool
	stop     time.Duration
}

// Listen opens the address.
func Listen(c Config) (*Server, error) {
	l, err := net.Listen("tcp", c.Address)
	if err != nil {
		return nil, fmt.Errorf("listen for pages: %w", err)
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	limits := c.Limits.normal()
	// HTTP/1.1 and nothing else: pages of a few files gain nothing by HTTP/2, most
	// of whose history is faults that let one caller take a server's memory.
	only := new(http.Protocols)
	only.SetHTTP1(true)
	handler := http.MaxBytesHandler(c.Handler, limits.MostBody)
	if c.TLS != nil || c.Proxied {
		handler = onlyEncrypted(handler)
	}
	return &Server{
		listener: netutil.LimitListener(fair(l, limits.PerAddress, c.Trusted), limits.Connections),
		secure:   c.TLS != nil, stop: limits.Stop,
		server: &http.Server{
			Handler: handler, TLSConfig: c.TLS,
			ReadHeaderTimeout: limits.Header, ReadTimeout: limits.Body, WriteTimeout: limits.Write, IdleTimeout: limits.Idle,
			MaxHeaderBytes: mostHeader, Protocols: only,
			ErrorLog: log.New(quiet{c.Logger}, "", 0),
		},
	}, nil
}

// Addr is where the server answers.
func (s *Server) Addr() net.Addr { return s.listener.Addr() }

// Serve answers until ctx ends, and then gives what is being answered a moment.
func (s *Server) Serve(ctx context.Context) error {
	ended := make(chan struct{})
	stop := context.AfterFunc(ctx, func() {
		defer close(ended)
		limit, cancel := context.WithTimeout(context.Background(), s.stop)
		defer cancel()
		if s.server.Shutdown(limit) != nil {
			s.server.Close()
		}
	})
	serve := func() error { return s.server.Serve(s.listener) }
	if s.secure {
		serve = func() error { return s.server.ServeTLS(s.listener, "", "") }
	}
	err := serve()
	if !stop() {
		<-ended
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// twoYears is how long a browser is told to come back by https only (RFC 6797),
// and to all below the name of the pages as well (ASVS 5.0.0, 3.4.1): one there
// in plain text could be anybody's. So the pages want a name of their own, as
// OPERATIONS.md says.
const twoYears = "max-age=63072000; includeSubDomains"

func onlyEncrypted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Strict-Transport-Security", twoYears)
		next.ServeHTTP(w, r)
	})
}

// ForBrowsers is what TLS for browsers and mail servers keeps to. Between
// processes of ours it is TLS 1.3 and nothing else; an owner's telephone of ten
// years ago and many a mail server know 1.2 at best, and are let in with the
// suites of it that have forward secrecy and authenticated encryption (the
// recommended ones of RFC 9325 section 4.2 and its like for elliptic keys).
func ForBrowsers() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		CipherSuites: []uint16{ // TLS 1.3 has none to choose
			tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256,
			tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384,
			tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
		},
		NextProtos: []string{"http/1.1"},
	}
}

// quiet writes what net/http complains of to our log, without the address of
// whoever called: that is a person's.
type quiet struct{ logger *slog.Logger }

var callersAddress = regexp.MustCompile(`\b(from|serving) \S+: `)

// Write implements io.Writer.
func (q quiet) Write(line []byte) (int, error) {
	text := callersAddress.ReplaceAllString(strings.TrimSpace(string(line)), "")
	if strings.Contains(text, "panic") {
		q.logger.Error(text)
	} else {
		q.logger.Debug(text)
	}
	return len(line), nil
}
