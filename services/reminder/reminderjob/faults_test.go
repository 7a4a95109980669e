package reminderjob

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderstore"
)

// The points of an SMTP conversation (RFC 5321) and what goes wrong at them.
var (
	faultStages = []string{"connect", "MAIL", "RCPT", "DATA", "after the dot"}
	faultKinds  = []string{"4xx", "5xx", "reset", "stall"}
)

// troubled is a mail server that does one thing wrong at one point, as long as
// it is told to, and keeps what it was handed.
type troubled struct {
	mu          sync.Mutex
	stage, does string
	got         map[string][][]byte // by recipient: what stood before the final dot and was not refused
}

func (s *troubled) trouble(stage, does string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stage, s.does = stage, does
}

func (s *troubled) copies(to string) [][]byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.got[to]
}

// serve answers one connection after another until the test ends.
func (s *troubled) serve(t *testing.T) string {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var talks sync.WaitGroup
	talks.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			talks.Go(func() {
				defer conn.Close()
				s.mu.Lock()
				talk := &faultyTalk{s, s.stage, s.does, conn.(*net.TCPConn), ""}
				s.mu.Unlock()
				talk.run()
			})
		}
	})
	t.Cleanup(func() { listener.Close(); talks.Wait() })
	return listener.Addr().String()
}

type faultyTalk struct {
	server      *troubled
	stage, does string
	conn        *net.TCPConn
	to          string
}

// at answers at one point, well or as told; over ends the talk.
func (f *faultyTalk) at(stage, well string) (over, refused bool) {
	if stage != f.stage {
		_, err := io.WriteString(f.conn, well)
		return err != nil, false
	}
	switch f.does {
	case "4xx":
		_, err := fmt.Fprintf(f.conn, "451 4.3.0 not now\r\n")
		return err != nil, true
	case "5xx":
		_, err := fmt.Fprintf(f.conn, "554 5.3.0 not here\r\n")
		return err != nil, true
	case "reset":
		_ = f.conn.SetLinger(0) // closing then resets
	case "stall":
		_, _ = io.Copy(io.Discard, f.conn) // until the client hangs up
	}
	return true, false
}

func (f *faultyTalk) run() {
	if over, _ := f.at("connect", "220 localhost\r\n"); over {
		return
	}
	for lines := bufio.NewReader(f.conn); ; {
		line, err := lines.ReadString('\n')
		if err != nil {
			return
		}
		over := false
		switch verb := strings.ToUpper(strings.Fields(line + " -")[0]); verb {
		case "EHLO":
			over, _ = f.at("EHLO", "250 localhost\r\n")
		case "MAIL":
			over, _ = f.at("MAIL", "250 ok\r\n")
		case "RCPT":
			f.to = line[strings.Index(line, "<")+1 : strings.Index(line, ">")]
			over, _ = f.at("RCPT", "250 ok\r\n")
		case "DATA":
			refused := false
			if over, refused = f.at("DATA", "354 go on\r\n"); !over && !refused {
				over = f.message(lines)
			}
		case "QUIT":
			_, _ = io.WriteString(f.conn, "221 bye\r\n")
			return
		default:
			_, err = io.WriteString(f.conn, "250 ok\r\n")
			over = err != nil
		}
		if over {
			return
		}
	}
}

// message takes what stands before the final dot. A server that then breaks
// the connection, or says nothing, has it.
func (f *faultyTalk) message(lines *bufio.Reader) (over bool) {
	var body bytes.Buffer
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return true
		}
		if line == ".\r\n" {
			break
		}
		body.WriteString(strings.TrimPrefix(line, "."))
	}
	if f.stage != "after the dot" || f.does == "reset" || f.does == "stall" {
		f.server.mu.Lock()
		f.server.got[f.to] = append(f.server.got[f.to], body.Bytes())
		f.server.mu.Unlock()
	}
	over, _ = f.at("after the dot", "250 2.0.0 taken\r\n")
	return over
}

// faultCell is what became of one notice.
type faultCell struct {
	first   reminder.State // after the pass with the fault
	arrived int            // then
	last    reminder.State // when the server was well again
	copies  int            // then
}

// wantCell is the promise (DEVELOPERS.md, README): 4xx and silence are tried
// again, 5xx about the message is for a person (RFC 5321 section 4.2.1), a
// server that is refused to everybody at the greeting is mended on our side,
// and only after the final dot may there be a second copy of the same bytes.
func wantCell(stage, does string) faultCell {
	switch {
	case does == "5xx" && stage != "connect":
		return faultCell{reminder.Parked, 0, reminder.Parked, 0}
	case stage == "after the dot" && does != "4xx":
		return faultCell{reminder.Waiting, 1, reminder.Sent, 2}
	}
	return faultCell{reminder.Waiting, 0, reminder.Sent, 1}
}

// TestThePromiseHoldsAtEveryFaultOfTheMailServer goes through five stages and
// four faults with the job over a real etcd, and prints the table.
func TestThePromiseHoldsAtEveryFaultOfTheMailServer(t *testing.T) {
	o := newOffice(t)
	server := &troubled{got: map[string][][]byte{}}
	address := server.serve(t)
	hasty, patient := 250*time.Millisecond, time.Minute
	sender := func(limit time.Duration) *remindermail.Sender {
		s, err := remindermail.NewSender(remindermail.Server{
			Address: address, Security: remindermail.Plain,
			Timeouts: remindermail.Timeouts{Dial: limit, Command: limit, Data: limit, Dot: limit},
		}, o.Works.From)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	words := map[reminder.State]string{reminder.Waiting: "waits", reminder.Sent: "sent", reminder.Parked: "parked, a task for the works"}
	table := strings.Builder{}
	fmt.Fprintf(&table, "\n%-14s %-6s %-29s %-8s %-29s %-7s %s\n", "stage", "fault", "after the fault", "arrived", "when the server is well", "copies", "the server's answer as kept")
	for n, stage := range faultStages {
		for k, does := range faultKinds {
			person := fmt.Sprintf("f%dx%d", n, k)
			to := person + "@harbour.example"
			vehicle := serial(n*10 + k)
			o.town.vehicle(vehicle, item("E01", today))
			o.town.owner(vehicle, person)

			server.trouble(stage, does)
			o.Mail = sender(hasty)
			r := o.run(t)
			if len(r.Notices) != 1 {
				t.Fatalf("%s %s: %d notices\n%s", stage, does, len(r.Notices), o.log)
			}
			kept := o.kept(t, r.Notices[0].ID)
			got := faultCell{first: kept.State, arrived: len(server.copies(to))}
			answer := kept.ServerAnswer

			server.trouble("", "")
			o.Mail = sender(patient)
			if kept.NextAttempt.After(o.now) {
				o.now = kept.NextAttempt
			}
			o.run(t)
			o.run(t) // and once more, after which nothing may be left to do
			kept = o.kept(t, kept.ID)
			got.last, got.copies = kept.State, len(server.copies(to))
			o.sameMessage(t, kept, server.copies(to))
			fmt.Fprintf(&table, "%-14s %-6s %-29s %-8d %-29s %-7d %s\n", stage, does, words[got.first], got.arrived, words[got.last], got.copies, answer)
			if want := wantCell(stage, does); got != want {
				t.Errorf("%s %s: got %+v, want %+v (%s)", stage, does, got, want, answer)
			}
			if lost := answer == reminder.AnswerLost; lost != (got.arrived == 1) {
				t.Errorf("%s %s: the answer kept is %q and %d arrived", stage, does, answer, got.arrived)
			}
		}
	}
	tasks, err := o.Store.Tasks(t.Context(), "", 100, func(k reminder.Task) bool { return k.Kind == reminder.NoticeParked })
	if err != nil || len(tasks) != 4 {
		t.Errorf("%d tasks for what was refused, %v; want 4", len(tasks), err)
	}
	t.Log(table.String())
}

func (o *office) kept(t *testing.T, id string) reminderstore.Kept {
	t.Helper()
	kept, err := o.Store.Notice(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// sameMessage checks that every copy is the message that was claimed, to the
// byte, under its one Message-ID.
func (o *office) sameMessage(t *testing.T, kept reminderstore.Kept, copies [][]byte) {
	t.Helper()
	body, err := o.Body(t.Context(), kept.Notice)
	if err != nil {
		t.Fatal(err)
	}
	for _, copy := range copies {
		m, err := mail.ReadMessage(bytes.NewReader(copy))
		if err != nil || m.Header.Get("Message-Id") != kept.MessageID || !bytes.Equal(copy, body) {
			t.Errorf("%s went out as other bytes than were claimed: %v", kept.ID, err)
		}
	}
}
