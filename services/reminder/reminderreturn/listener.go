package reminderreturn

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-smtp"
	"golang.org/x/net/netutil"

	"halfshaft/services/fault"
)

// Take keeps one message for good, or gives an error, after which it comes
// again: Invalid says that it never can be kept. The recipients are those of
// the envelope. The same message may come twice, when the answer was lost.
type Take func(ctx context.Context, recipients []string, message []byte) error

// Protocol is how a mail server hands over.
type Protocol string

// The protocols.
const (
	LMTP Protocol = "lmtp" // RFC 2033, from a mail server on this machine
	SMTP Protocol = "smtp" // RFC 5321
)

// ListenerConfig is what a listener needs.
type ListenerConfig struct {
	Protocol Protocol
	Address  string   // "127.0.0.1:2424", or "unix:/run/halfshaft/returns.sock"; LMTP on this machine only
	Path     Path     // whose addresses are taken
	Also     []string // further addresses: the one to which providers were told to send complaints
	Take     Take
	// TLS is offered to whoever sends (STARTTLS, RFC 3207); nil offers none. It is
	// for the sender to use it: mail between strangers is encrypted where both
	// can, and one who refused plain text would lose reports.
	TLS     *tls.Config
	Name    string        // how we greet; "" is localhost
	Most    int           // connections at once; 0 is 20, more wait
	Timeout time.Duration // for a command or a message; 0 is 5 minutes (RFC 5321 section 4.5.3.2.7)
	Logger  *slog.Logger
}

// Listener takes messages that a mail server hands over. It takes mail for the
// addresses of its Path only, so that it relays for nobody and sends nothing
// back to anybody.
type Listener struct {
	config   ListenerConfig
	listener net.Listener
	taking   sync.RWMutex // read-held by each message that is being taken
}

// NewListener opens the address. Serve answers on it.
func NewListener(c ListenerConfig) (*Listener, error) {
	if err := c.Path.Check(); err != nil {
		return nil, err
	}
	network, address := "tcp", c.Address
	if path, ok := strings.CutPrefix(c.Address, "unix:"); ok {
		network, address = "unix", path
	}
	switch {
	case c.Protocol != LMTP && c.Protocol != SMTP:
		return nil, fault.InvalidField("returns.protocol", string(c.Protocol), "lmtp or smtp")
	case c.Protocol == LMTP && network == "tcp" && !onThisMachine(address):
		// RFC 2033 is not meant for use over wide area networks.
		return nil, fault.InvalidField("returns.address", c.Address, "unix:PATH or an address of this machine, for LMTP is not for the network")
	}
	l, err := listen(network, address)
	if err != nil {
		return nil, fmt.Errorf("listen for returned mail: %w", err)
	}
	if c.Most == 0 {
		c.Most = 20
	}
	if c.Timeout == 0 {
		c.Timeout = 5 * time.Minute
	}
	if c.Name == "" {
		c.Name = "localhost"
	}
	return &Listener{config: c, listener: netutil.LimitListener(l, c.Most)}, nil
}

func onThisMachine(address string) bool {
	host, _, err := net.SplitHostPort(address)
	ip := net.ParseIP(host)
	return err == nil && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// listen opens a socket. One that an earlier process left is put away; a file
// that is no socket is somebody's. Everybody on the machine may connect who
// can reach the directory: what is taken is decided by the address alone.
func listen(network, address string) (net.Listener, error) {
	if network == "unix" {
		if info, err := os.Stat(address); err == nil && info.Mode()&fs.ModeSocket != 0 {
			if err := os.Remove(address); err != nil {
				return nil, err
			}
		}
	}
	l, err := net.Listen(network, address)
	if err != nil || network != "unix" {
		return l, err
	}
	if err := os.Chmod(address, 0o666); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// Addr is where the listener answers.
func (l *Listener) Addr() net.Addr { return l.listener.Addr() }

// mostRecipients is how many one message may have. A report has one.
const mostRecipients = 10

// room is what is left for the Return-Path that we add.
const room = 1 << 10

// Serve answers until ctx ends, then waits for what is being taken.
func (l *Listener) Serve(ctx context.Context) error {
	server := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) {
		return &session{listener: l, ctx: ctx}, nil
	}))
	server.LMTP = l.config.Protocol == LMTP
	server.Domain = l.config.Name
	server.MaxMessageBytes = MostBytes - room
	server.MaxLineLength = MostBytes // old servers break the limit of RFC 5321 section 4.5.3.1.6
	server.MaxRecipients = mostRecipients
	server.EnableSMTPUTF8 = true
	server.TLSConfig = l.config.TLS
	server.ReadTimeout, server.WriteTimeout = l.config.Timeout, l.config.Timeout
	server.ErrorLog = smtpLog{l.config.Logger}
	closed := make(chan struct{})
	end := func() {
		defer close(closed)
		server.Close()
		l.listener.Close() // which the server may not know yet
	}
	stop := context.AfterFunc(ctx, end)
	err := server.Serve(l.listener)
	if stop() {
		end()
	}
	<-closed
	l.taking.Lock()
	defer l.taking.Unlock()
	if err != nil && ctx.Err() == nil {
		return fmt.Errorf("take returned mail: %w", err)
	}
	return nil
}

// session is one message after another from one client.
type session struct {
	listener   *Listener
	ctx        context.Context
	from       string
	recipients []string
}

func (s *session) Reset()        { s.from, s.recipients = "", nil }
func (s *session) Logout() error { return nil }

// Mail takes every sender: reports come from the null one, people from theirs.
func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	s.from = from
	return nil
}

// nobody is the answer for an address that is not ours, whatever is wrong with
// it.
var nobody = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such address"}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	_, _, signed := s.listener.config.Path.Read(to)
	also := slices.ContainsFunc(s.listener.config.Also, func(a string) bool { return strings.EqualFold(a, to) })
	if !signed && !also {
		return nobody
	}
	s.recipients = append(s.recipients, to)
	return nil
}
