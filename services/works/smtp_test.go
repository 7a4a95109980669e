package works_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"io"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/works"
)

// behaviour is what the mail server does with a message to one recipient.
type behaviour int

const (
	takes         behaviour = iota
	laterAtRcpt             // 450
	neverAtRcpt             // 550
	laterAfterDot           // 451
	neverAfterDot           // 554
	dropsAtData             // closes the connection
	stalls                  // says nothing after the dot until the test ends
)

// fickleServer is a real SMTP server that treats each recipient as told.
type fickleServer struct {
	address string
	end     chan struct{}

	mu    sync.Mutex
	does  func(to string) behaviour
	taken map[string][][]byte // by recipient
}

func newFickleServer(t *testing.T) *fickleServer {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	f := &fickleServer{address: listener.Addr().String(), end: make(chan struct{}), taken: map[string][][]byte{}}
	server := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &fickleSession{f: f, c: c}, nil }))
	server.Domain = "localhost"
	go server.Serve(listener) //nolint:errcheck // it ends with an error when closed
	t.Cleanup(func() { close(f.end); server.Close() })
	return f
}

func (f *fickleServer) behave(does func(to string) behaviour) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.does = does
}

func (f *fickleServer) copies(to string) [][]byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.taken[to]
}

type fickleSession struct {
	f  *fickleServer
	c  *smtp.Conn
	to string
}

func (*fickleSession) Mail(string, *smtp.MailOptions) error { return nil }
func (*fickleSession) Reset()                               {}
func (*fickleSession) Logout() error                        { return nil }

func (s *fickleSession) behaviour() behaviour {
	s.f.mu.Lock()
	defer s.f.mu.Unlock()
	return s.f.does(s.to)
}

func (s *fickleSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.to = to
	switch s.behaviour() {
	case laterAtRcpt:
		return &smtp.SMTPError{Code: 450, EnhancedCode: smtp.EnhancedCode{4, 2, 1}, Message: "mailbox of " + to + " busy"}
	case neverAtRcpt:
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no mailbox " + to}
	}
	return nil
}

func (s *fickleSession) Data(r io.Reader) error {
	does := s.behaviour()
	if does == dropsAtData {
		return s.c.Conn().Close()
	}
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	switch does {
	case laterAfterDot:
		return &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "try later"}
	case neverAfterDot:
		return &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "not wanted"}
	case stalls:
		<-s.f.end
		return io.ErrClosedPipe
	}
	s.f.mu.Lock()
	defer s.f.mu.Unlock()
	s.f.taken[s.to] = append(s.f.taken[s.to], raw)
	return nil
}

// reminding is a works with the demo's files and a fickle mail server, at a
// time of day at which several owners may be told.
func reminding(t *testing.T, server *fickleServer) (context.Context, works.Clients, *handclock.Clock, map[string]string) {
	t.Helper()
	clock := atDemo()
	_, ctx, c := startDemo(t, works.Config{
		Clock: clock.Now,
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "https://care.aldermoor.example"},
		Mail: works.MailConfig{Server: server.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain",
			Timeout: 2 * time.Second, FinalTimeout: 300 * time.Millisecond},
	})
	people, err := c.Owners.ListPeople(ctx, &ownerv1.ListPeopleRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	addresses := map[string]string{} // by resource name
	for _, p := range people.GetPeople() {
		if p.GetEmail() != "" { // one of them can only be telephoned
			addresses[p.GetName()] = p.GetEmail()
		}
	}
	return ctx, c, clock, addresses
}

func pass(t *testing.T, ctx context.Context, c works.Clients) *reminderv1.PassReport {
	t.Helper()
	r, err := c.Reminders.RunPass(ctx, &reminderv1.RunPassRequest{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func notice(t *testing.T, ctx context.Context, c works.Clients, name string) *reminderv1.Notice {
	t.Helper()
	r, err := c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	return r.GetNotice()
}

// TestEachAnswerOfTheMailServerHasItsOwnOutcome sends the notices of one pass
// to a server that treats every recipient differently.
func TestEachAnswerOfTheMailServerHasItsOwnOutcome(t *testing.T) {
	server := newFickleServer(t)
	ctx, c, clock, addresses := reminding(t, server)
	dry, err := c.Reminders.RunPass(ctx, &reminderv1.RunPassRequest{DryRun: true})
	if err != nil || len(dry.GetNotices()) < 6 {
		t.Fatalf("got %d notices, %v; want six and more for this test", len(dry.GetNotices()), err)
	}
	treats := map[string]behaviour{}
	order := []behaviour{laterAtRcpt, neverAtRcpt, laterAfterDot, neverAfterDot, dropsAtData, stalls}
	for i, n := range dry.GetNotices() {
		if i < len(order) {
			treats[addresses[n.GetPerson()]] = order[i]
		}
	}
	server.behave(func(to string) behaviour { return treats[to] })

	report := pass(t, ctx, c)
	outcome := map[behaviour]*reminderv1.Notice{}
	for _, n := range report.GetNotices() {
		outcome[treats[addresses[n.GetPerson()]]] = n
		if n.GetState() == reminderv1.NoticeState_NOTICE_STATE_PARKED && n.GetNextAttemptTime() != nil {
			t.Errorf("%s is parked and has a next attempt", n.GetName())
		}
		if strings.Contains(n.GetServerAnswer(), "@") {
			t.Errorf("the answer kept for %s names an address: %s", n.GetName(), n.GetServerAnswer())
		}
	}
	for _, later := range []behaviour{laterAtRcpt, laterAfterDot, dropsAtData, stalls} {
		if n := outcome[later]; n.GetState() != reminderv1.NoticeState_NOTICE_STATE_WAITING || !n.GetNextAttemptTime().AsTime().After(clock.Now()) {
			t.Errorf("behaviour %d: got %v, next attempt %v; want WAITING for later", later, n.GetState(), n.GetNextAttemptTime().AsTime())
		}
	}
	for _, never := range []behaviour{neverAtRcpt, neverAfterDot} {
		if n := outcome[never]; n.GetState() != reminderv1.NoticeState_NOTICE_STATE_PARKED {
			t.Errorf("behaviour %d: got %v, want PARKED", never, n.GetState())
		}
	}
	// What is refused at RCPT for want of a mailbox is the address's fault, and
	// a task of its own kind.
	tasksOf(t, ctx, c, "NOTICE_PARKED", 1)
	tasksOf(t, ctx, c, "ADDRESS_DEAD", 1)

	// Six hours on everybody is taken; the parked ones stay until a person acts.
	server.behave(func(string) behaviour { return takes })
	clock.Move(time.Hour)
	pass(t, ctx, c)
	for _, later := range []behaviour{laterAtRcpt, laterAfterDot, dropsAtData, stalls} {
		n := notice(t, ctx, c, outcome[later].GetName())
		copies := server.copies(addresses[n.GetPerson()])
		if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || len(copies) != 1 {
			t.Errorf("behaviour %d: got %v and %d copies, want SENT and one", later, n.GetState(), len(copies))
			continue
		}
		if sum := sha256.Sum256(copies[0]); !bytes.Equal(sum[:], n.GetBodySha256()) {
			t.Errorf("behaviour %d: other bytes went out than were claimed", later)
		}
	}
	tasksOf(t, ctx, c, "NOTICE_PARKED", 1)
	tasksOf(t, ctx, c, "ADDRESS_DEAD", 1)
	parked := notice(t, ctx, c, outcome[neverAtRcpt].GetName())
	person, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: parked.GetPerson()})
	if err != nil {
		t.Fatal(err)
	}
	person.Email = "corrected@harbour.example"
	if _, err := c.Owners.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: person, RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Reminders.RetryNotice(ctx, &reminderv1.RetryNoticeRequest{Name: parked.GetName(), Etag: parked.GetEtag(), RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	pass(t, ctx, c)
	if n := notice(t, ctx, c, parked.GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
		t.Errorf("taken up again: got %v, want SENT", n.GetState())
	}
}

// tasksOf wants so many open tasks of a kind.
func tasksOf(t *testing.T, ctx context.Context, c works.Clients, kind string, want int) {
	t.Helper()
	r, err := c.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	got := 0
	for _, task := range r.GetTasks() {
		if task.GetKind() == kind {
			got++
		}
	}
	if got != want {
		t.Errorf("%d tasks %s, want %d", got, kind, want)
	}
}

func TestWorkThatIsRecordedWhileANoticeWaitsSilencesIt(t *testing.T) {
	server := newFickleServer(t)
	server.behave(func(string) behaviour { return laterAtRcpt })
	ctx, c, clock, addresses := reminding(t, server)
	waiting := pass(t, ctx, c).GetNotices()[0]
	entry := &schedulev1.ServiceEntry{ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 18}, DoneBy: "a test"}
	for _, l := range waiting.GetLines() {
		if l.GetItemId() != "READ" { // a request for a reading is no work
			entry.Items = append(entry.Items, &schedulev1.ItemDone{ItemId: l.GetItemId()})
		}
	}
	if _, err := c.Schedules.RecordService(ctx, &schedulev1.RecordServiceRequest{Parent: waiting.GetVehicle(), ServiceEntry: entry, RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	server.behave(func(string) behaviour { return takes })
	clock.Move(time.Hour)
	pass(t, ctx, c)
	if n := notice(t, ctx, c, waiting.GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SILENCED {
		t.Errorf("got %v, want SILENCED", n.GetState())
	}
	if copies := server.copies(addresses[waiting.GetPerson()]); len(copies) != 0 {
		t.Errorf("%d copies went out after the work was recorded", len(copies))
	}
}

func TestEveryMailIsWellFormedAndNamesNobodyElse(t *testing.T) {
	racetest.Skip(t, "its passes follow each other, and others here are watched")
	server := newFickleServer(t)
	server.behave(func(string) behaviour { return takes })
	ctx, c, clock, addresses := reminding(t, server)
	sent := 0
	for hour := range 24 {
		clock.Set(atDemo().Now().Add(time.Duration(hour-12) * time.Hour))
		sent += int(pass(t, ctx, c).GetSent())
	}
	if sent < 10 {
		t.Fatalf("only %d mails in a day", sent)
	}
	for to, copies := range server.taken {
		if len(copies) != 1 {
			t.Errorf("%d mails to one person in a day", len(copies))
		}
		wellFormed(t, copies[0], to)
		for _, other := range addresses {
			if other != to && bytes.Contains(copies[0], []byte(other)) {
				t.Errorf("the mail to %s holds the address %s", to, other)
			}
		}
	}
}

// wellFormed checks what RFC 5322, 2369, 8058 and 3834 ask of the message.
func wellFormed(t *testing.T, raw []byte, to string) {
	t.Helper()
	for line := range bytes.SplitSeq(raw, []byte("\r\n")) {
		if len(line) > 998 { // RFC 5322, 2.1.1
			t.Errorf("a line of %d bytes", len(line))
		}
	}
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := mail.ParseAddress(m.Header.Get("To")); err != nil || got.Address != to {
		t.Errorf("To: got %v, %v; want %s", got, err, to)
	}
	if _, err := m.Header.Date(); err != nil {
		t.Errorf("Date: %v", err)
	}
	for header, want := range map[string]string{
		"List-Unsubscribe-Post": "List-Unsubscribe=One-Click", // RFC 8058, 3.1
		"Auto-Submitted":        "auto-generated",             // RFC 3834, 5
		"Mime-Version":          "1.0",
	} {
		if got := m.Header.Get(header); got != want {
			t.Errorf("%s: got %q, want %q", header, got, want)
		}
	}
	if got := m.Header.Get("List-Unsubscribe"); !strings.HasPrefix(strings.TrimSpace(got), "<https://") { // RFC 8058: an HTTPS URI
		t.Errorf("List-Unsubscribe: got %q", got)
	}
	if id := m.Header.Get("Message-Id"); !strings.HasPrefix(id, "<") || !strings.HasSuffix(id, "@aldermoor.example>") {
		t.Errorf("Message-ID: got %q", id)
	}
}
