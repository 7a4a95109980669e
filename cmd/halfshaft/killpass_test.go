package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"math/rand/v2"
	"net"
	"net/mail"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

const shortPassKills, longPassKills = 8, 300

// TestAKilledPassLosesNoNoticeAndRepeatsOnlyTheSameBytes kills the process
// that sends at random moments of its passes. Each restart is some days later,
// so that there is always something to send. The promise of the README: no
// notice lost, at most one extra copy for each kill, the same bytes and the
// same Message-ID.
func TestAKilledPassLosesNoNoticeAndRepeatsOnlyTheSameBytes(t *testing.T) {
	killPasses(t, shortPassKills)
}

func killPasses(t *testing.T, kills int) {
	data := demoData(t)
	server := newMailServer(t)
	random := rand.New(rand.NewPCG(2, uint64(kills)))
	day := aldermoor.Today
	done := map[string]bool{}
	for range kills {
		p := serveMail(t, data, day, server)
		session := p.session(t)
		doTheWork(t, session, day, done)
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			session.Reminders.RunPass(context.Background(), &reminderv1.RunPassRequest{}) //nolint:errcheck // it is killed
		}()
		select {
		case <-server.arrived: // a message is under way: kill at random around it
			time.Sleep(time.Duration(random.IntN(14_000)) * time.Microsecond)
		case <-ended:
		}
		p.kill()
		<-ended
		session.Close()
		select { // what a killed pass still said belongs to no later one
		case <-server.arrived:
		default:
		}
		day = day.AddDays(1 + random.IntN(9))
	}
	finish(t, data, day, server)
	notices := settled(t, data, day, server)
	extra := server.check(t, notices)
	if extra > kills {
		t.Errorf("%d extra copies for %d kills: want at most one for each", extra, kills)
	}
	t.Logf("%d kills: %d notices, %d messages taken, %d extra copies, none lost, all copies the same bytes",
		kills, len(notices), server.count(), extra)
}

// doTheWork records what the notices that are due asked for, so that new rounds
// begin and the years bring new notices.
func doTheWork(t *testing.T, s *works.Session, day vehicle.Date, done map[string]bool) {
	t.Helper()
	for _, n := range listNotices(t, s) {
		if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
			continue
		}
		if done[n.GetName()] || n.GetStage() < reminderv1.Stage_STAGE_DUE {
			continue
		}
		done[n.GetName()] = true
		entry := &schedulev1.ServiceEntry{ServiceDate: vehiclewire.DateProto(day), DoneBy: "a test"}
		for _, l := range n.GetLines() {
			if l.GetItemId() != "READ" { // a request for a reading is no work
				entry.Items = append(entry.Items, &schedulev1.ItemDone{ItemId: l.GetItemId()})
			}
		}
		_, err := s.Schedules.RecordService(context.Background(), &schedulev1.RecordServiceRequest{
			Parent: n.GetVehicle(), ServiceEntry: entry, RequestId: uuid.NewString(),
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func serveMail(t *testing.T, data string, day vehicle.Date, server *mailServer) *process {
	t.Helper()
	return serve(t, data, "--date", day.String(), "--smtp", server.address, "--smtp-security", "plain",
		"--mail-from", "Aldermoor Works <care@aldermoor.example>", "--works", "Aldermoor Works",
		"--public-url", "https://care.aldermoor.example")
}

// finish lets one pass run to its end.
func finish(t *testing.T, data string, day vehicle.Date, server *mailServer) {
	t.Helper()
	p := serveMail(t, data, day, server)
	session := p.session(t)
	if _, err := session.Reminders.RunPass(context.Background(), &reminderv1.RunPassRequest{}); err != nil {
		t.Fatal(err)
	}
	session.Close()
	p.stop(t)
}

// listNotices gives every notice.
func listNotices(t *testing.T, s *works.Session) []*reminderv1.Notice {
	t.Helper()
	var all []*reminderv1.Notice
	for token := ""; ; {
		r, err := s.Reminders.ListNotices(context.Background(), &reminderv1.ListNoticesRequest{
			Parent: "vehicles/-", PageSize: 500, PageToken: token,
		})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, r.GetNotices()...)
		if token = r.GetNextPageToken(); token == "" {
			return all
		}
	}
}

// settled gives every notice, none of which may be open any more.
func settled(t *testing.T, data string, day vehicle.Date, server *mailServer) []*reminderv1.Notice {
	t.Helper()
	p := serveMail(t, data, day, server)
	session := p.session(t)
	defer session.Close()
	all := listNotices(t, session)
	for _, n := range all {
		switch n.GetState() {
		case reminderv1.NoticeState_NOTICE_STATE_SENT, reminderv1.NoticeState_NOTICE_STATE_SILENCED:
		default:
			t.Errorf("%s is still %v", n.GetName(), n.GetState())
		}
	}
	p.stop(t)
	return all
}

// mailServer is a real SMTP server that remembers what it acknowledged.
type mailServer struct {
	address string
	arrived chan struct{} // told when a client begins to speak of a message
	mu      sync.Mutex
	taken   map[string][][]byte // by Message-ID
}

func newMailServer(t *testing.T) *mailServer {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m := &mailServer{address: listener.Addr().String(), taken: map[string][][]byte{}, arrived: make(chan struct{}, 1)}
	server := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &mailSession{m}, nil }))
	server.Domain = "localhost"
	go server.Serve(listener) //nolint:errcheck // it ends with an error when closed
	t.Cleanup(func() { server.Close() })
	return m
}

func (m *mailServer) count() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := 0
	for _, copies := range m.taken {
		n += len(copies)
	}
	return n
}

// check compares what was taken with the notices and gives the number of extra
// copies.
func (m *mailServer) check(t *testing.T, notices []*reminderv1.Notice) (extra int) {
	t.Helper()
	m.mu.Lock()
	defer m.mu.Unlock()
	known := map[string]*reminderv1.Notice{}
	for _, n := range notices {
		known[n.GetMessageId()] = n
		copies := m.taken[n.GetMessageId()]
		if n.GetState() == reminderv1.NoticeState_NOTICE_STATE_SENT && len(copies) == 0 {
			t.Errorf("%s is marked sent, and the server never took it", n.GetName())
		}
	}
	for id, copies := range m.taken {
		n := known[id]
		if n == nil {
			t.Errorf("the server took %s, of which there is no notice", id)
			continue
		}
		for _, c := range copies {
			if sum := sha256.Sum256(c); !bytes.Equal(sum[:], n.GetBodySha256()) {
				t.Errorf("%s: a copy has other bytes than were claimed", n.GetName())
			}
		}
		extra += len(copies) - 1
	}
	return extra
}

// mailSession is one SMTP session.
type mailSession struct{ server *mailServer }

func (s *mailSession) Mail(string, *smtp.MailOptions) error {
	select {
	case s.server.arrived <- struct{}{}:
	default:
	}
	return nil
}

func (*mailSession) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (*mailSession) Reset()                               {}
func (*mailSession) Logout() error                        { return nil }

func (s *mailSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	parsed, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return errors.Join(&smtp.SMTPError{Code: 554, Message: "not a message"}, err)
	}
	// A mail server takes its time, before it keeps a message and before it says
	// so; a kill must be able to fall into either.
	defer time.Sleep(time.Duration(rand.IntN(6)) * time.Millisecond)
	time.Sleep(time.Duration(rand.IntN(6)) * time.Millisecond)
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	id := parsed.Header.Get("Message-Id")
	s.server.taken[id] = append(s.server.taken[id], raw)
	return nil
}
