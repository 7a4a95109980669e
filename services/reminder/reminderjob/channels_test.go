package reminderjob

import (
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderreturn"
	"halfshaft/services/reminder/remindertext"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
)

// exchange is a real mail server and a real gateway for text messages, with an
// office that sends by them and by letter.
type exchange struct {
	*office
	mails *mailServer
	texts *gateway
	path  reminderreturn.Path
}

func newExchange(t *testing.T) *exchange {
	t.Helper()
	o := newOffice(t)
	e := &exchange{office: o, mails: newMailServer(t), texts: &gateway{status: http.StatusAccepted}, path: reminderreturn.Path{
		Local: "returns", Domain: "aldermoor.example", Secret: []byte(strings.Repeat("s", 32)),
	}}
	server := httptest.NewServer(e.texts)
	t.Cleanup(server.Close)
	sender, err := remindermail.NewSender(remindermail.Server{Address: e.mails.address, Security: remindermail.Plain}, o.Works.From)
	if err != nil {
		t.Fatal(err)
	}
	text, err := remindertext.New(remindertext.Config{
		URL: server.URL, Secret: "whsec_" + strings.Repeat("c2Vj", 11), AllowPrivate: []string{"127.0.0.1"}, Clock: o.Clock,
	})
	if err != nil {
		t.Fatal(err)
	}
	o.Mail, o.Text, o.ReturnPath = sender, text, e.path
	return e
}

// reachable is somebody with every address, who agreed to text messages.
func (e *exchange) reachable(s vehicle.Serial, id, phone string, ways ...ownerv1.ContactWay) *ownerv1.Person {
	p := e.town.owner(s, id)
	p.Phone, p.PostalLines, p.ContactWays = phone, []string{"1 Quay", "Harbour"}, ways
	p.Consents = append(p.Consents, &ownerv1.Consent{
		Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_TEXT, Given: true,
	})
	return p
}

// The ways, in short.
const (
	wayMail   = ownerv1.ContactWay_CONTACT_WAY_MAIL
	wayText   = ownerv1.ContactWay_CONTACT_WAY_TEXT
	wayLetter = ownerv1.ContactWay_CONTACT_WAY_LETTER
)

// Numbers from the range that Ofcom keeps for drama, 07700 900000 to 900999.
const (
	phoneOne = "+447700900001"
	phoneTwo = "+447700900002"
)

// taken is a mail as the server took it.
type taken struct {
	from, to string
	data     []byte
}

// mailServer is a real SMTP server. refuse answers for a recipient; before, where
// it is set, is called before a message is accepted.
type mailServer struct {
	address string
	mu      sync.Mutex
	got     []taken
	refuse  map[string]*smtp.SMTPError
	before  func()
}

type mailSession struct {
	s    *mailServer
	mail taken
}

func newMailServer(t *testing.T) *mailServer {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m := &mailServer{address: listener.Addr().String(), refuse: map[string]*smtp.SMTPError{}}
	server := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &mailSession{s: m}, nil }))
	server.Domain = "localhost"
	ended := make(chan struct{})
	go func() { defer close(ended); _ = server.Serve(listener) }()
	t.Cleanup(func() { server.Close(); listener.Close(); <-ended }) // the server may not know its listener yet
	return m
}

func (s *mailSession) Mail(from string, _ *smtp.MailOptions) error { s.mail.from = from; return nil }

func (s *mailSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.s.mu.Lock()
	defer s.s.mu.Unlock()
	if refused := s.s.refuse[to]; refused != nil {
		return refused
	}
	s.mail.to = to
	return nil
}

func (s *mailSession) Data(r io.Reader) (err error) {
	if s.mail.data, err = io.ReadAll(r); err != nil {
		return err
	}
	if s.s.before != nil {
		s.s.before()
	}
	s.s.mu.Lock()
	defer s.s.mu.Unlock()
	s.s.got = append(s.s.got, s.mail)
	return nil
}

func (*mailSession) Reset()        {}
func (*mailSession) Logout() error { return nil }

func (m *mailServer) all() []taken {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.got)
}

// sms is a text message as the gateway took it.
type sms struct{ Reference, To, Text string }

// gateway is what takes text messages over HTTP. It keeps everything that it
// is asked for, whatever it answers.
type gateway struct {
	mu     sync.Mutex
	got    []sms
	status int
	before func()
}

func (g *gateway) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var in struct{ Data sms }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil || r.Header.Get("webhook-id") != in.Data.Reference {
		http.Error(w, "not a message", http.StatusBadRequest)
		return
	}
	if g.before != nil {
		g.before()
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.got = append(g.got, in.Data)
	w.WriteHeader(g.status)
}

func (g *gateway) all() []sms {
	g.mu.Lock()
	defer g.mu.Unlock()
	return slices.Clone(g.got)
}

// noSuchUser is what a server says of an address that is none (RFC 3463
// section 3.2, X.1.1).
var noSuchUser = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such user"}

func TestARefusedNoticeGoesByTheNextWayUntilNoneIsLeft(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	person := e.reachable(serial(1), "p1", phoneOne, wayMail, wayText, wayLetter)
	e.mails.refuse["p1@harbour.example"] = noSuchUser
	e.texts.status = http.StatusUnprocessableEntity

	e.want(t, "the mail server refuses", "claimed 1 tasks 1 rerouted 1")
	e.now = e.now.Add(time.Hour)
	e.want(t, "the gateway refuses", "claimed 1 tasks 1 rerouted 1")
	e.now = e.now.Add(time.Hour)
	r := e.want(t, "a letter waits to be printed", "claimed 1 letters 1")
	e.now = e.now.Add(time.Hour)
	e.want(t, "and nothing is told twice", "letters 1")

	kept, err := e.Store.Notice(t.Context(), r.Notices[0].ID)
	if err != nil || kept.Channel != reminder.Letter || kept.State != reminder.Claimed {
		t.Fatalf("kept as %+v, %v", kept, err)
	}
	var sheet reminderwords.Sheet
	body, err := e.Body(t.Context(), kept.Notice)
	if err != nil || json.Unmarshal(body, &sheet) != nil || sheet.Serial != string(serial(1)) || len(sheet.Blocks) == 0 {
		t.Errorf("the letter is %s, %v", body, err)
	}
	if texts := e.texts.all(); len(texts) != 1 || texts[0].To != person.Phone || texts[0].Reference != reference(t, e, 1) {
		t.Errorf("the gateway got %+v", texts)
	}
	failed := 0
	for _, c := range e.Store.Claims(serial(1)) {
		if c.Failed != (c.Channel != reminder.Letter) {
			t.Errorf("a claim by %s: failed is %v", c.Channel, c.Failed)
		}
		if c.Failed {
			failed++
		}
	}
	if failed != 2 || len(e.Store.Recent("p1", noon.Add(-time.Hour), e.now)) != 1 {
		t.Errorf("%d claims failed; counted towards the limit: %v", failed, e.Store.Recent("p1", noon.Add(-time.Hour), e.now))
	}
}

// reference gives the reference of the nth notice of the first vehicle by
// identifier: letter, mail, text.
func reference(t *testing.T, e *exchange, nth int) string {
	t.Helper()
	all, err := e.Store.Notices(t.Context(), serial(1), "", 10, func(reminder.Notice) bool { return true })
	if err != nil || len(all) <= nth {
		t.Fatalf("%d notices, %v", len(all), err)
	}
	for _, n := range all {
		if n.Channel == reminder.Text && nth == 1 {
			return n.Reference
		}
	}
	return all[nth].Reference
}

func TestOneWayOnlyIsParkedAndTakenUp(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.reachable(serial(1), "p1", phoneOne, wayText)
	e.texts.status = http.StatusUnprocessableEntity
	r := e.want(t, "the gateway refuses", "claimed 1 parked 1 tasks 1")
	e.texts.status = http.StatusAccepted
	kept, err := e.Store.Notice(t.Context(), r.Notices[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := e.Store.Put(t.Context(), reminderRequest(), kept.TakenUp(e.now), kept.Revision); err != nil {
		t.Fatal(err)
	}
	e.want(t, "taken up", "sent 1")
	if got := e.texts.all(); len(got) != 2 || got[0].Text != got[1].Text || got[1].Reference != got[0].Reference+"-2" {
		t.Errorf("the gateway got %+v, want the same words under another reference", got)
	}
}

// TestACrashRepeatsTheSameTextMessage ends a leader's term once before the
// gateway has the message and once after: what goes out again is the same
// words under the same reference, by which the gateway knows it.
func TestACrashRepeatsTheSameTextMessage(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.reachable(serial(1), "p1", phoneOne, wayText)
	fence := e.elect(t)
	e.texts.before = func() { e.depose(t, fence) }
	if _, err := e.pass(t.Context(), fence); err == nil {
		t.Fatal("the deposed leader went on")
	}
	e.texts.before = nil
	e.now = e.now.Add(time.Minute)
	e.want(t, "the next leader", "sent 1")
	e.want(t, "and no third", "")
	got := e.texts.all()
	if len(got) != 2 || got[0] != got[1] || got[0].Reference == "" {
		t.Errorf("the gateway got %+v, want the same twice", got)
	}
}

func TestAMailCarriesItsOwnReturnPath(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.town.owner(serial(1), "p1")
	r := e.want(t, "a mail", "claimed 1 sent 1")
	got := e.mails.all()
	ref, stop, ok := e.path.Read(got[0].from)
	if !ok || stop || ref != reminder.Reference(r.Notices[0].ID) {
		t.Errorf("it came from %q: %s, %v, %v", got[0].from, ref, stop, ok)
	}
	if !strings.Contains(strings.ReplaceAll(string(got[0].data), "\r\n ", " "), "mailto:"+e.path.StopAddress(ref)) {
		t.Errorf("no address to unsubscribe at in\n%s", got[0].data)
	}
}

func TestAMailGoesToTheAddressOfTheDay(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	person := e.town.owner(serial(1), "p1")
	e.mails.refuse["p1@harbour.example"] = &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "later"}
	r := e.want(t, "the server asks to wait", "claimed 1 waiting 1")
	person.Email = "p1@new.example"
	e.now = e.now.Add(time.Hour)
	e.want(t, "the address changed meanwhile", "sent 1")
	if got := e.mails.all(); len(got) != 1 || got[0].to != "p1@new.example" {
		t.Errorf("taken: %+v", got)
	}
	kept, err := e.Store.Notice(t.Context(), r.Notices[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	if to, err := e.sentTo(t.Context(), kept.Notice); err != nil || to != "p1@new.example" {
		t.Errorf("it is kept that it went to %q, %v", to, err)
	}
}

func TestAWayThatIsGoneIsChosenAnew(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	person := e.reachable(serial(1), "p1", phoneOne, wayText, wayMail)
	e.texts.status = http.StatusServiceUnavailable
	e.want(t, "the gateway is down", "claimed 1 waiting 1")
	person.Consents = nil // they took it back meanwhile
	e.now = e.now.Add(time.Hour)
	e.want(t, "it goes by mail instead", "claimed 1 sent 1 silenced 1")
	if texts, mails := e.texts.all(), e.mails.all(); len(texts) != 1 || len(mails) != 1 {
		t.Errorf("%d text messages and %d mails", len(texts), len(mails))
	}
}

// TestTheLimitHoldsOverAllVehiclesOfAPass: four messages in 30 days is the
// works' usual number (common practice, no source).
func TestTheLimitHoldsOverAllVehiclesOfAPass(t *testing.T) {
	e := newExchange(t)
	for n := range 6 {
		e.town.vehicle(serial(n), item("E01", today))
		e.town.owner(serial(n), "p1")
	}
	e.want(t, "six vehicles of one person", "claimed 4 sent 4")
	e.now = noon.AddDate(0, 0, 29)
	e.want(t, "on the thirtieth day", "")
	e.now = noon.AddDate(0, 0, 30)
	r := e.want(t, "after thirty days", "claimed 4 sent 4")
	fresh := 0
	for _, n := range r.Notices {
		if len(e.Store.Claims(n.Serial)) == 1 {
			fresh++
		}
	}
	if fresh == 0 {
		t.Errorf("nobody of those who waited was told: %+v", r.Notices)
	}
	held := slices.ContainsFunc(r.Lines, func(p reminder.Pending) bool { return p.Reason == reminder.MonthlyLimit })
	if !held {
		t.Errorf("no line is held for the limit: %+v", r.Lines)
	}
}

func TestAScrappedVehicleIsSilent(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.town.owner(serial(1), "p1")
	e.texts.status = http.StatusAccepted
	name := "vehicles/" + string(serial(1)) + "/standing"
	e.town.standings[name] = &ownerv1.Standing{Name: name, State: ownerv1.StandingState_STANDING_STATE_SCRAPPED}
	e.want(t, "a scrapped vehicle", "")
}
