package remindermail

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"regexp"
	"strings"
	"time"

	"github.com/wneessen/go-mail/smtp"

	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwords"
)

// Sender hands messages to one mail server, each over a connection of its own,
// so that nothing of one message can hold up another. It is safe for
// concurrent use.
type Sender struct {
	server Server
	host   string
	from   string
}

// NewSender checks the server's settings. from is the address that bounces of
// messages without one of their own go to.
func NewSender(s Server, from string) (*Sender, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	if !UsableAddress(from) {
		return nil, fmt.Errorf("mail cannot come from %q", from)
	}
	host, _, err := net.SplitHostPort(s.Address)
	if err != nil {
		return nil, err
	}
	s.Timeouts = s.Timeouts.orStandard()
	if s.TLS == nil {
		s.TLS = &tls.Config{MinVersion: tls.VersionTLS12}
	}
	if s.TLS.ServerName == "" {
		s.TLS = s.TLS.Clone()
		s.TLS.ServerName = host
	}
	return &Sender{s, host, from}, nil
}

// Send hands over one message as it is. from is the address that bounces of
// this message go to (the envelope's sender, RFC 5321 section 4.1.1.2); empty
// is the one for all messages. It always has an answer; a context that ends is
// TryLater, and AnswerLost when that was after the final dot.
//
// A refusal for good counts only when it is about this message: a server that
// refuses our greeting, our encryption or our password refuses everybody's
// mail, and that is mended on our side.
func (s *Sender) Send(ctx context.Context, from, to string, message []byte) reminder.Attempt {
	if from == "" {
		from = s.from
	}
	if !UsableAddress(from) {
		return s.later(to, "it cannot come from there", errors.New("no mail address for what comes back"))
	}
	conn, err := s.dial(ctx)
	if err != nil {
		return s.later(to, "the mail server cannot be reached", err)
	}
	defer conn.Close()
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	client, err := s.enter(conn)
	if err != nil {
		return s.later(to, "the mail server did not let us in", err)
	}
	return s.deliver(conn, client, from, to, message)
}

func (s *Sender) dial(ctx context.Context) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, s.server.Timeouts.Dial)
	defer cancel()
	if s.server.Security == ImplicitTLS {
		return (&tls.Dialer{Config: s.server.TLS}).DialContext(ctx, "tcp", s.server.Address)
	}
	return (&net.Dialer{}).DialContext(ctx, "tcp", s.server.Address)
}

// wait bounds what is read and written from now on.
func wait(conn net.Conn, d time.Duration) error { return conn.SetDeadline(time.Now().Add(d)) }

// enter greets, encrypts and logs in.
func (s *Sender) enter(conn net.Conn) (*smtp.Client, error) {
	if err := wait(conn, s.server.Timeouts.Command); err != nil {
		return nil, err
	}
	client, err := smtp.NewClient(conn, s.host)
	if err != nil {
		return nil, err
	}
	name := s.server.LocalName
	if name == "" {
		name = "localhost"
	}
	if err := client.Hello(name); err != nil {
		return nil, err
	}
	if s.server.Security == "" || s.server.Security == StartTLS {
		if ok, _ := client.Extension("STARTTLS"); !ok {
			return nil, errors.New("it offers no encryption")
		}
		if err := client.StartTLS(s.server.TLS); err != nil {
			return nil, err
		}
	}
	if s.server.Username == "" {
		return client, nil
	}
	auth, err := s.auth(client)
	if err != nil {
		return nil, err
	}
	return client, client.Auth(auth)
}

// auth chooses PLAIN (RFC 4616), or LOGIN where the server knows no other.
// Over plain text a password goes out only where PlainHost or this machine
// allows plain text at all.
func (s *Sender) auth(client *smtp.Client) (smtp.Auth, error) {
	_, offered := client.Extension("AUTH")
	plain := s.server.Security == Plain
	for _, mechanism := range strings.Fields(strings.ToUpper(offered)) {
		if mechanism == "PLAIN" {
			return smtp.PlainAuth("", s.server.Username, s.server.Password, s.host, plain), nil
		}
	}
	for _, mechanism := range strings.Fields(strings.ToUpper(offered)) {
		if mechanism == "LOGIN" {
			return smtp.LoginAuth(s.server.Username, s.server.Password, s.host, plain), nil
		}
	}
	return nil, errors.New("it offers no way to log in that we know")
}

// deliver speaks about the one message.
func (s *Sender) deliver(conn net.Conn, client *smtp.Client, from, to string, message []byte) reminder.Attempt {
	client.SkipSMTPUTF8(isASCII(to) && isASCII(from))
	if err := wait(conn, s.server.Timeouts.Command); err != nil {
		return s.later(to, "the connection broke", err)
	}
	if err := client.Mail("<" + from + ">"); err != nil {
		return s.answer(to, err)
	}
	if err := client.Rcpt("<" + to + ">"); err != nil {
		a := s.answer(to, err)
		a.Recipient = a.Outcome == reminder.RefusedIt
		return a
	}
	w, err := client.Data()
	if err != nil {
		return s.answer(to, err)
	}
	if err := wait(conn, s.server.Timeouts.Data); err != nil {
		return s.later(to, "the connection broke", err)
	}
	if _, err := w.Write(message); err != nil {
		return s.answer(to, err) // without the final dot nothing was accepted
	}
	if err := wait(conn, s.server.Timeouts.Dot); err != nil {
		return s.later(to, "the connection broke", err)
	}
	if err := w.Close(); err != nil {
		var said *textproto.Error
		if errors.As(err, &said) {
			return s.answer(to, err)
		}
		return reminder.Attempt{Outcome: reminder.TryLater, Text: reminder.AnswerLost}
	}
	text := "250"
	if said, ok := w.(*smtp.DataCloser); ok {
		text = s.clean(to, "250 "+said.ServerResponse())
	}
	s.part(conn, client)
	return reminder.Attempt{Outcome: reminder.Accepted, Text: text}
}

// part takes leave as a polite client does; the message is the server's by now
// and nothing can change that.
func (s *Sender) part(conn net.Conn, client *smtp.Client) {
	if err := wait(conn, min(s.server.Timeouts.Command, 10*time.Second)); err != nil {
		return
	}
	_ = client.Quit()
}

// answer reads what the server said of the message: 4yz is for later, 5yz for
// good (RFC 5321 section 4.2.1), and silence or a broken connection for later.
func (s *Sender) answer(to string, err error) reminder.Attempt {
	var said *textproto.Error
	if !errors.As(err, &said) {
		return s.later(to, "the connection broke", err)
	}
	outcome := reminder.TryLater
	if said.Code >= 500 && said.Code < 600 {
		outcome = reminder.RefusedIt
	}
	// Not said.Error(), which quotes the words.
	return reminder.Attempt{Outcome: outcome, Text: s.clean(to, fmt.Sprintf("%03d %s", said.Code, said.Msg))}
}

func (s *Sender) later(to, what string, err error) reminder.Attempt {
	return reminder.Attempt{Outcome: reminder.TryLater, Text: s.clean(to, what+": "+err.Error())}
}

// anAddress is anything with an at sign in it: answers quote the recipient.
var anAddress = regexp.MustCompile(`[^\s<>:;,"()]*@[^\s<>:;,"()]*`)

// mostAnswer is how much of an answer is kept, in characters.
const mostAnswer = 200

// clean takes addresses, the recipient's name and control characters out of
// what a server said.
func (s *Sender) clean(to, text string) string {
	text = anAddress.ReplaceAllString(reminderwords.OneLine(text), "[address]")
	if local, _, ok := strings.Cut(to, "@"); ok && len(local) > 2 {
		text = regexp.MustCompile(`(?i)`+regexp.QuoteMeta(local)).ReplaceAllString(text, "[address]")
	}
	if r := []rune(strings.ToValidUTF8(text, "?")); len(r) > mostAnswer {
		return string(r[:mostAnswer])
	}
	return strings.ToValidUTF8(text, "?")
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}
