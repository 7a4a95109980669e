package reminderjob

import (
	"bytes"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-message/mail"
	"github.com/emersion/go-smtp"

	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
)

// mute is a real SMTP server that keeps what it gets and, as long as dead is
// set, hangs up after the final dot without a word.
type mute struct {
	mu   sync.Mutex
	dead bool
	got  map[string][][]byte // by recipient
}

type muteSession struct {
	m  *mute
	c  *smtp.Conn
	to string
}

func (m *mute) NewSession(c *smtp.Conn) (smtp.Session, error) { return &muteSession{m: m, c: c}, nil }

func (*muteSession) Mail(string, *smtp.MailOptions) error        { return nil }
func (s *muteSession) Rcpt(to string, _ *smtp.RcptOptions) error { s.to = to; return nil }
func (*muteSession) Reset()                                      {}
func (*muteSession) Logout() error                               { return nil }

func (s *muteSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	s.m.got[s.to] = append(s.m.got[s.to], raw)
	if s.m.dead {
		return s.c.Conn().Close()
	}
	return nil
}

func (m *mute) lives(alive bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.dead = !alive
}

func (m *mute) copies(to string) [][]byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.got[to]
}

// mutely lets an office send to such a server.
func mutely(t *testing.T, o *office) *mute {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m := &mute{dead: true, got: map[string][][]byte{}}
	server := smtp.NewServer(m)
	server.Domain = "localhost"
	ended := make(chan struct{})
	go func() { defer close(ended); _ = server.Serve(listener) }()
	t.Cleanup(func() { server.Close(); listener.Close(); <-ended }) // the server may not know its listener yet
	o.Mail, err = remindermail.NewSender(remindermail.Server{Address: listener.Addr().String(), Security: remindermail.Plain}, o.Works.From)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestALostAnswerRepeatsTheSameMessage: the message may have arrived, so what
// goes out again is the same to the byte, and mail programs know it by its
// Message-ID (RFC 5322 section 3.6.4: one for each version of a message).
func TestALostAnswerRepeatsTheSameMessage(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	m := mutely(t, o)
	r := o.want(t, "the answer was lost", "claimed 1 waiting 1")
	kept, err := o.Store.Notice(t.Context(), r.Notices[0].ID)
	if err != nil || kept.ServerAnswer != reminder.AnswerLost || !kept.MayHaveArrived() || !kept.NextAttempt.After(noon) {
		t.Fatalf("kept as %+v, %v", kept, err)
	}
	o.want(t, "before the back-off is over it waits", "waiting 1")
	if n := len(m.copies("p1@harbour.example")); n != 1 {
		t.Errorf("%d copies before the back-off is over", n)
	}
	m.lives(true)
	o.now = kept.NextAttempt
	o.want(t, "after it", "sent 1")
	o.now = o.now.Add(time.Hour)
	o.want(t, "and no third time", "")
	copies := m.copies("p1@harbour.example")
	if len(copies) != 2 || !bytes.Equal(copies[0], copies[1]) {
		t.Fatalf("%d copies, want two alike:\n%s", len(copies), bytes.Join(copies, []byte("\n=====\n")))
	}
	message, err := mail.CreateReader(bytes.NewReader(copies[1]))
	if err != nil {
		t.Fatal(err)
	}
	if id, err := message.Header.MessageID(); err != nil || "<"+id+">" != reminder.MessageID(kept.ID, "aldermoor.example") {
		t.Errorf("Message-ID %q, %v", id, err)
	}
	if to, err := message.Header.AddressList("To"); err != nil || len(to) != 1 || to[0].Address != "p1@harbour.example" {
		t.Errorf("To: %v, %v", to, err)
	}
	if got := message.Header.Get("List-Unsubscribe-Post"); got != "List-Unsubscribe=One-Click" { // RFC 8058 section 3.1
		t.Errorf("List-Unsubscribe-Post: %q", got)
	}
	if got := message.Header.Get("Auto-Submitted"); got != "auto-generated" { // RFC 3834 section 5
		t.Errorf("Auto-Submitted: %q", got)
	}
}

// TestALostAnswerAndThenAnOptOutIsSilence: nothing more goes out, and the stage
// stays told.
func TestALostAnswerAndThenAnOptOutIsSilence(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	m := mutely(t, o)
	o.want(t, "the answer was lost", "claimed 1 waiting 1")
	if _, err := o.Store.OptOut(t.Context(), reminderRequest(), reminder.OptOut{Serial: serial(1), Person: "p1", Created: o.now, Way: "one-click"}); err != nil {
		t.Fatal(err)
	}
	m.lives(true)
	o.now = noon.Add(time.Hour)
	o.want(t, "opted out", "silenced 1")
	o.want(t, "and nothing after it", "")
	if n := len(m.copies("p1@harbour.example")); n != 1 || len(o.Store.Claims(serial(1))) != 1 {
		t.Errorf("%d copies and the claims %v", n, o.Store.Claims(serial(1)))
	}
}
