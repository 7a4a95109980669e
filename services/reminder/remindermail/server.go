package remindermail

import (
	"crypto/tls"
	"net"
	"strings"
	"time"

	"halfshaft/services/fault"
)

// Security says how the connection to the mail server is protected.
type Security string

// The ways. The zero value is StartTLS.
const (
	StartTLS    Security = "starttls" // plain at first, then TLS or nothing (RFC 3207)
	ImplicitTLS Security = "tls"      // TLS from the first byte (RFC 8314)
	// Plain is for a server on this machine. Any other must be named in
	// PlainHost, so that nobody sends owners' mail in the clear by accident.
	Plain Security = "plain"
)

// Server is the mail server that takes the works' mail.
type Server struct {
	Address   string // "mail.aldermoor.example:587"
	Security  Security
	PlainHost string // the host to which plain text may go although it is not this machine
	Username  string // "" logs in as nobody
	Password  string
	LocalName string      // how we greet; "" is localhost
	TLS       *tls.Config // nil: the system's trust; ServerName is set when empty
	Timeouts  Timeouts
}

// Timeouts are how long each answer may take. Zero is the value of RFC 5321
// section 4.5.3.2, which gives servers that much.
type Timeouts struct {
	Dial    time.Duration // connecting; zero is 30 s, about which the RFC says nothing
	Command time.Duration // greeting, MAIL, RCPT and the rest: 5 minutes
	Data    time.Duration // sending the message: 3 minutes
	// Dot is the answer to the final dot: 10 minutes. Giving up sooner sends
	// the message twice when the server was only slow.
	Dot time.Duration
}

func (t Timeouts) orStandard() Timeouts {
	set := func(d *time.Duration, standard time.Duration) {
		if *d == 0 {
			*d = standard
		}
	}
	set(&t.Dial, 30*time.Second)
	set(&t.Command, 5*time.Minute)
	set(&t.Data, 3*time.Minute)
	set(&t.Dot, 10*time.Minute)
	return t
}

// check refuses a server that mail must not be handed to.
func (s Server) check() error {
	host, port, err := net.SplitHostPort(s.Address)
	if err != nil || host == "" || port == "" {
		return fault.InvalidField("smtp.address", s.Address, "host:port")
	}
	switch s.Security {
	case "", StartTLS, ImplicitTLS:
		return nil
	case Plain:
		if loopback(host) || s.PlainHost != "" && strings.EqualFold(host, s.PlainHost) {
			return nil
		}
		return fault.InvalidField("smtp.security", string(Plain),
			"starttls or tls: plain text goes only to this machine; --smtp-plain-off-loopback lets it go to another")
	}
	return fault.InvalidField("smtp.security", string(s.Security), "starttls, tls or plain")
}

// loopback reports whether the host is this machine. Only "localhost" is
// believed by name: any other name is whatever the resolver says today.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}
