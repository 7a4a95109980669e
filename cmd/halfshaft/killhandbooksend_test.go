package main

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/testdata/aldermoor"
)

// TestAHandbookThatWasSentIsSentOnceInSpiteOfKills kills the serving process
// while it claims and sends handbooks. What was acknowledged is sent after the
// next start, and a request that was not answered is repeated and makes nothing
// twice; at most one extra copy of the same bytes goes out for each kill.
func TestAHandbookThatWasSentIsSentOnceInSpiteOfKills(t *testing.T) {
	const kills, parent = 6, "vehicles/" + aldermoor.TourSerial
	data := demoData(t)
	if out, ok := halfshaft(t, data, "book", "import", "../../testdata/aldermoor/books/packhorse.v1.yaml"); !ok {
		t.Fatalf("the demo's book was refused:\n%s", out)
	}
	server := newMailServer(t)
	random := rand.New(rand.NewPCG(3, kills))
	acknowledged := map[string]bool{} // notices
	unanswered := ""                  // the request that the kill cut off
	for range kills {
		p := serveTelephone(t, data, server)
		s := p.session(t)
		cut := make(chan string, 1)
		told := make(chan string, 10_000)
		go func() { // request after request, until the process is gone
			for {
				ask := &reminderv1.SendHandbookRequest{Parent: parent, Channel: reminderv1.Channel_CHANNEL_MAIL, RequestId: unanswered}
				if ask.RequestId == "" {
					ask.RequestId = uuid.NewString()
				}
				unanswered = ""
				sent, err := s.Reminders.SendHandbook(context.Background(), ask)
				if err != nil {
					cut <- ask.GetRequestId()
					return
				}
				for _, n := range sent.GetNotices() {
					told <- n.GetName()
				}
			}
		}()
		select {
		case <-server.arrived: // a message is under way: kill at random around it
			time.Sleep(time.Duration(random.IntN(60_000)) * time.Microsecond)
		case id := <-cut:
			t.Fatalf("the request %s was refused before the kill", id)
		}
		p.kill()
		unanswered = <-cut
		close(told)
		for name := range told {
			acknowledged[name] = true
		}
		s.Close()
		select { // what the killed process still said belongs to no later one
		case <-server.arrived:
		default:
		}
	}
	p := serveTelephone(t, data, server)
	s := p.session(t)
	again := &reminderv1.SendHandbookRequest{Parent: parent, Channel: reminderv1.Channel_CHANNEL_MAIL, RequestId: unanswered}
	last, err := s.Reminders.SendHandbook(context.Background(), again)
	if err != nil {
		t.Fatal(err)
	}
	if twice, err := s.Reminders.SendHandbook(context.Background(), again); err != nil || twice.GetNotices()[0].GetName() != last.GetNotices()[0].GetName() {
		t.Errorf("the request that was cut off, again: %v, %v", twice, err)
	}
	s.Close()
	p.stop(t)
	// Stopped in the middle of a message, it counts that as a try, and tries again
	// five minutes later: the next day, as clocks stand still here.
	next := aldermoor.Today.AddDays(1)
	finish(t, data, next, server)
	notices := settled(t, data, next, server)
	there := map[string]reminderv1.NoticeState{}
	for _, n := range notices {
		there[n.GetName()] = n.GetState()
	}
	for name := range acknowledged {
		if there[name] != reminderv1.NoticeState_NOTICE_STATE_SENT {
			t.Errorf("%s was acknowledged and is %v", name, there[name])
		}
	}
	if len(acknowledged) == 0 {
		t.Error("nothing was acknowledged before a kill: the test shows nothing")
	}
	extra := server.check(t, notices)
	if extra > kills {
		t.Errorf("%d extra copies for %d kills: want at most one for each", extra, kills)
	}
	t.Logf("%d kills: %d handbooks acknowledged, all sent; %d extra copies of the same bytes", kills, len(acknowledged), extra)
}

// serveTelephone serves a works that has all that a handbook says of it.
func serveTelephone(t *testing.T, data string, server *mailServer) *process {
	t.Helper()
	return serve(t, data, "--date", aldermoor.Today.String(), "--smtp", server.address, "--smtp-security", "plain",
		"--mail-from", "Aldermoor Works <care@aldermoor.example>", "--works", "Aldermoor Works", "--telephone", "+44 1632 960100",
		"--public-url", "https://care.aldermoor.example")
}
