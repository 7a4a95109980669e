package remindermail

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"halfshaft/services/fault"
	"halfshaft/services/internal/selfsigned"
	"halfshaft/services/reminder"
)

const margaret = "margaret.hale@harbour.example"

var theMessage = []byte("From: a@aldermoor.example\r\nSubject: x\r\n\r\nA line.\r\n.hidden dot\r\n..\r\n.\r\nlast\r\n")

// mailbox is a real SMTP server that keeps what it takes.
type mailbox struct {
	mu         sync.Mutex
	taken      [][]byte
	senders    []string
	recipients []string
	loggedIn   string
	mechanisms []string
}

func (m *mailbox) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{m}, nil }

type session struct{ m *mailbox }

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	s.m.senders = append(s.m.senders, from)
	return nil
}
func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	s.m.recipients = append(s.m.recipients, to)
	return nil
}
func (s *session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	s.m.taken = append(s.m.taken, raw)
	return err
}
func (s *session) Reset()                   {}
func (s *session) Logout() error            { return nil }
func (s *session) AuthMechanisms() []string { return s.m.mechanisms }
func (s *session) Auth(mechanism string) (sasl.Server, error) {
	check := func(username, password string) error {
		if username != "works" || password != "secret" {
			return errors.New("who are you?")
		}
		s.m.loggedIn = mechanism
		return nil
	}
	if mechanism == sasl.Login {
		return &loginServer{check: check}, nil
	}
	return sasl.NewPlainServer(func(_, username, password string) error { return check(username, password) }), nil
}

// loginServer is LOGIN, which never became a standard: the server asks for
// the name and then for the password.
type loginServer struct {
	check    func(username, password string) error
	asked    int
	username string
}

func (l *loginServer) Next(response []byte) ([]byte, bool, error) {
	switch l.asked++; l.asked {
	case 1:
		return []byte("Username:"), false, nil
	case 2:
		l.username = string(response)
		return []byte("Password:"), false, nil
	}
	return nil, true, l.check(l.username, string(response))
}

// serve starts the mailbox; implicit wraps the listener in TLS.
func (m *mailbox) serve(t *testing.T, config *tls.Config, implicit bool) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := listener.Addr().String()
	server := smtp.NewServer(m)
	server.Domain = "localhost"
	server.AllowInsecureAuth = config == nil
	if implicit {
		listener = tls.NewListener(listener, config)
	} else {
		server.TLSConfig = config
	}
	ended := make(chan struct{})
	go func() { defer close(ended); _ = server.Serve(listener) }()
	t.Cleanup(func() { server.Close(); listener.Close(); <-ended }) // the server may not know its listener yet
	return address
}

func sender(t *testing.T, s Server) *Sender {
	t.Helper()
	made, err := NewSender(s, "service@aldermoor.example")
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func TestMailTravelsEncryptedAndUnchanged(t *testing.T) {
	cert, pool := selfsigned.New(t, "localhost", "127.0.0.1")
	config := &tls.Config{Certificates: []tls.Certificate{cert}}
	trust := &tls.Config{RootCAs: pool}
	for _, c := range []struct {
		name       string
		config     *tls.Config
		server     Server
		mechanisms []string
		loggedIn   string
	}{
		{"STARTTLS is what is done when nothing is said", config, Server{TLS: trust}, nil, ""},
		{"TLS from the first byte", config, Server{Security: ImplicitTLS, TLS: trust}, nil, ""},
		{"plain on this machine", nil, Server{Security: Plain}, nil, ""},
		{"logged in with PLAIN", config, Server{TLS: trust, Username: "works", Password: "secret"}, []string{"LOGIN", "PLAIN"}, "PLAIN"},
		{"logged in with LOGIN where there is no other", config, Server{TLS: trust, Username: "works", Password: "secret"}, []string{"LOGIN"}, "LOGIN"},
	} {
		m := &mailbox{mechanisms: c.mechanisms}
		c.server.Address = m.serve(t, c.config, c.server.Security == ImplicitTLS)
		answer := sender(t, c.server).Send(t.Context(), "", margaret, theMessage)
		if answer.Outcome != reminder.Accepted || !strings.HasPrefix(answer.Text, "250 ") {
			t.Errorf("%s: got %+v", c.name, answer)
			continue
		}
		if len(m.taken) != 1 || !bytes.Equal(m.taken[0], theMessage) || m.recipients[0] != margaret || m.loggedIn != c.loggedIn {
			t.Errorf("%s: taken %q for %v, logged in with %q", c.name, m.taken, m.recipients, m.loggedIn)
		}
	}
}

func TestEachMessageHasASenderOfItsOwn(t *testing.T) {
	m := &mailbox{}
	s := sender(t, Server{Address: m.serve(t, nil, false), Security: Plain})
	const own = "returns+abc.def@aldermoor.example"
	for _, from := range []string{own, ""} {
		if answer := s.Send(t.Context(), from, margaret, theMessage); answer.Outcome != reminder.Accepted {
			t.Errorf("from %q: %+v", from, answer)
		}
	}
	if want := []string{own, "service@aldermoor.example"}; !slices.Equal(m.senders, want) {
		t.Errorf("MAIL FROM: got %q, want %q", m.senders, want)
	}
	for _, from := range []string{"nobody", "a@b.example>\r\nRCPT TO:<c@d.example", "Name <a@b.example>"} {
		answer := s.Send(t.Context(), from, margaret, theMessage)
		if answer.Outcome != reminder.TryLater || answer.Text == reminder.AnswerLost || len(m.senders) != 2 {
			t.Errorf("from %q: %+v, %d messages", from, answer, len(m.senders))
		}
	}
}

func TestMailDoesNotLeaveUnprotected(t *testing.T) {
	cert, pool := selfsigned.New(t, "localhost", "127.0.0.1")
	config := &tls.Config{Certificates: []tls.Certificate{cert}}
	for _, c := range []struct {
		name   string
		config *tls.Config
		server Server
	}{
		{"a server that offers no encryption", nil, Server{}},
		{"a certificate that nobody vouches for", config, Server{TLS: &tls.Config{RootCAs: x509.NewCertPool()}}},
		{"a certificate of another name", config, Server{TLS: &tls.Config{RootCAs: pool, ServerName: "mail.else.example"}}},
		{"a wrong password refuses everybody's mail, not this one", config, Server{TLS: &tls.Config{RootCAs: pool}, Username: "works", Password: "wrong"}},
		{"no way to log in that we know", config, Server{TLS: &tls.Config{RootCAs: pool}, Username: "works", Password: "secret"}},
	} {
		m := &mailbox{mechanisms: []string{"PLAIN"}}
		if strings.HasPrefix(c.name, "no way") {
			m.mechanisms = []string{"XOAUTH2"}
		}
		c.server.Address = m.serve(t, c.config, false)
		answer := sender(t, c.server).Send(t.Context(), "", margaret, theMessage)
		if answer.Outcome != reminder.TryLater || answer.Text == reminder.AnswerLost || len(m.taken) != 0 || len(m.recipients) != 0 {
			t.Errorf("%s: got %+v, taken %d", c.name, answer, len(m.taken))
		}
	}
	for _, c := range []struct {
		server Server
		ok     bool
	}{
		{Server{Address: "127.0.0.1:25", Security: Plain}, true},
		{Server{Address: "[::1]:25", Security: Plain}, true},
		{Server{Address: "localhost:25", Security: Plain}, true},
		{Server{Address: "relay.aldermoor.example:25", Security: Plain}, false},
		{Server{Address: "relay.aldermoor.example:25", Security: Plain, PlainHost: "other.example"}, false},
		{Server{Address: "relay.aldermoor.example:25", Security: Plain, PlainHost: "relay.aldermoor.example"}, true},
		{Server{Address: "relay.aldermoor.example:25", Security: "none"}, false},
		{Server{Address: "relay.aldermoor.example"}, false},
	} {
		if _, err := NewSender(c.server, "a@b.example"); (err == nil) != c.ok || err != nil && !fault.Is(err, fault.Invalid) {
			t.Errorf("%+v: %v", c.server, err)
		}
	}
}

// scripted is a server that does one bad thing at one point of the talk.
type scripted struct{ stage, does string }

var stages = []string{"CONNECT", "EHLO", "MAIL", "RCPT", "DATA", "DOT"}

// bad does the bad thing and reports whether the talk is over.
func (s scripted) bad(stage string, conn net.Conn, end <-chan struct{}) bool {
	if stage != s.stage {
		return false
	}
	switch s.does {
	case "4yz":
		fmt.Fprintf(conn, "451 4.3.0 %s is busy\r\n", margaret)
		return false // the client decides what follows
	case "5yz":
		fmt.Fprintf(conn, "554 5.7.1 no thanks, Margaret.Hale\r\n")
		return false
	case "reset":
	case "stall":
		<-end
	}
	return true
}

func (s scripted) talk(conn net.Conn, end <-chan struct{}) {
	defer conn.Close()
	said := func(stage, reply string) bool {
		if s.bad(stage, conn, end) {
			return false
		}
		if stage != s.stage {
			io.WriteString(conn, reply) //nolint:errcheck // the client may be gone
		}
		return true
	}
	if !said("CONNECT", "220 localhost\r\n") {
		return
	}
	lines, data := bufio.NewScanner(conn), false
	for lines.Scan() {
		verb, _, _ := strings.Cut(strings.ToUpper(lines.Text()), " ")
		ok := true
		switch {
		case data && lines.Text() == ".":
			data, ok = false, said("DOT", "250 2.0.0 taken\r\n")
		case data:
		case verb == "EHLO" || verb == "HELO":
			ok = said("EHLO", "250 localhost\r\n")
		case verb == "DATA":
			ok = said("DATA", "354 go on\r\n")
			data = s.stage != "DATA"
		case verb == "QUIT":
			io.WriteString(conn, "221 bye\r\n") //nolint:errcheck // the client may be gone
		default:
			ok = said(verb, "250 ok\r\n")
		}
		if !ok {
			return
		}
	}
}

// TestEachFaultAtEachPoint goes through every point of the talk with every
// kind of fault.
func TestEachFaultAtEachPoint(t *testing.T) {
	var table strings.Builder
	for _, stage := range stages {
		for _, does := range []string{"4yz", "5yz", "reset", "stall"} {
			answer := sendTo(t, scripted{stage, does})
			fmt.Fprintf(&table, "%-8s %-6s %v %s\n", stage, does, answer.Outcome, answer.Text)
			// RFC 5321 section 4.2.1: 4yz later, 5yz for good. What is refused
			// before MAIL is refused to everybody, and mended on our side.
			want := reminder.TryLater
			if does == "5yz" && stage != "CONNECT" && stage != "EHLO" {
				want = reminder.RefusedIt
			}
			lost := stage == "DOT" && (does == "reset" || does == "stall")
			if answer.Outcome != want || (answer.Text == reminder.AnswerLost) != lost {
				t.Errorf("%s %s: got %+v, want outcome %d, answer lost %v", stage, does, answer, want, lost)
			}
			if recipient := stage == "RCPT" && does == "5yz"; answer.Recipient != recipient {
				t.Errorf("%s %s: it is the recipient that was refused: got %v", stage, does, answer.Recipient)
			}
			if strings.Contains(strings.ToLower(answer.Text), "hale") || answer.Text == "" {
				t.Errorf("%s %s: the answer kept is %q", stage, does, answer.Text)
			}
		}
	}
	if answer := sendTo(t, scripted{"RCPT", "4yz"}); answer.Text != "451 4.3.0 [address] is busy" {
		t.Errorf("the answer kept is %q", answer.Text)
	}
	if answer := sendTo(t, scripted{}); answer.Outcome != reminder.Accepted || answer.Text != "250 2.0.0 taken" {
		t.Errorf("no fault: got %+v", answer)
	}
	t.Logf("\n%s", table.String())
}

func sendTo(t *testing.T, s scripted) reminder.Attempt {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	end, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		if conn, err := listener.Accept(); err == nil {
			s.talk(conn, end)
		}
	}()
	defer func() { close(end); listener.Close(); <-ended }()
	limit := 100 * time.Millisecond
	return sender(t, Server{
		Address: listener.Addr().String(), Security: Plain,
		Timeouts: Timeouts{Dial: limit, Command: limit, Data: limit, Dot: limit},
	}).Send(t.Context(), "", margaret, theMessage)
}

func TestAServerThatIsNotThereIsForLater(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	listener.Close()
	answer := sender(t, Server{Address: listener.Addr().String(), Security: Plain}).Send(t.Context(), "", margaret, theMessage)
	if answer.Outcome != reminder.TryLater || !strings.Contains(answer.Text, "cannot be reached") {
		t.Errorf("got %+v", answer)
	}
}

func TestAnEndedContextEndsTheTalk(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		if conn, err := listener.Accept(); err == nil {
			defer conn.Close()
			cancel()                  // and never a word
			io.Copy(io.Discard, conn) //nolint:errcheck // until the client hangs up
		}
	}()
	// The timeouts are those of the RFC, minutes long: only the context can
	// end this in time.
	if answer := sender(t, Server{Address: listener.Addr().String(), Security: Plain}).Send(ctx, "", margaret, theMessage); answer.Outcome != reminder.TryLater {
		t.Errorf("got %+v", answer)
	}
}
