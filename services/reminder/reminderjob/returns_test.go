package reminderjob

import (
	"fmt"
	"strings"
	"testing"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

// bounce is a report in the form of RFC 3464 appendix E.
func bounce(action, status, diagnostic string) []byte {
	return []byte(strings.ReplaceAll(fmt.Sprintf(`From: Mail Delivery Subsystem <MAILER-DAEMON@harbour.example>
To: <returns@aldermoor.example>
Subject: Returned mail
Date: Mon, 18 May 2026 12:00:05 +0000
Message-ID: <bounce-1@harbour.example>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="b"

--b

The message was not delivered.

--b
Content-Type: message/delivery-status

Reporting-MTA: dns; mx.harbour.example

Final-Recipient: rfc822; p1@harbour.example
Action: %s
Status: %s
Diagnostic-Code: smtp; %s

--b--
`, action, status, diagnostic), "\n", "\r\n"))
}

// written is a mail that somebody wrote, with more fields in its head.
func written(head, text string) []byte {
	return []byte(strings.ReplaceAll("From: Owner P1 <p1@harbour.example>\nTo: <returns@aldermoor.example>\nSubject: Re: reminder\n"+
		"Date: Mon, 18 May 2026 13:00:00 +0000\nMessage-ID: <1@harbour.example>\n"+head+"\n"+text+"\n", "\n", "\r\n"))
}

// sentOne lets an exchange send one mail to somebody who has other ways.
func sentOne(t *testing.T) (*exchange, reminder.Notice) {
	t.Helper()
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.reachable(serial(1), "p1", phoneOne, wayMail, wayText)
	r := e.want(t, "a mail", "claimed 1 sent 1")
	e.now = e.now.Add(time.Hour)
	return e, r.Notices[0]
}

func (e *exchange) take(t *testing.T, to string, message []byte) *reminderv1.TakeReturnResponse {
	t.Helper()
	r, err := e.TakeReturn(t.Context(), []string{to}, message)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tasks gives the kinds of all tasks, in order of identifier.
func (e *exchange) tasks(t *testing.T) string {
	t.Helper()
	all, err := e.Store.Tasks(t.Context(), "", 100, func(reminder.Task) bool { return true })
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for _, task := range all {
		kinds = append(kinds, string(task.Kind))
		if strings.Contains(task.Text, "@") || strings.Contains(task.Text, phoneOne) || strings.Contains(task.Text, "secret") {
			t.Errorf("a task tells what is personal: %s", task.Text)
		}
	}
	return strings.Join(kinds, " ")
}

func TestAMailThatCameBackGoesByTheNextWay(t *testing.T) {
	e, n := sentOne(t)
	message := bounce("failed", "5.1.1", "550 5.1.1 <p1@harbour.example>: no such user")
	for range 2 { // the second time nothing changes
		r := e.take(t, e.path.Address(n.Reference), message)
		if r.Kind != reminderv1.ReturnKind_RETURN_KIND_FAILED || r.Notice != "notices/"+n.ID {
			t.Errorf("it was taken for %v of %s", r.Kind, r.Notice)
		}
	}
	kept, err := e.Store.Notice(t.Context(), n.ID)
	if err != nil || kept.State != reminder.Rerouted || len(kept.Returns) != 1 || strings.Contains(kept.Returns[0].Text, "@") {
		t.Fatalf("kept as %+v, %v", kept, err)
	}
	if dead := e.town.dead; len(dead) != 1 || dead[0].Way != wayMail || dead[0].Address != "p1@harbour.example" || strings.Contains(dead[0].Reason, "@") {
		t.Errorf("marked as dead: %v", dead)
	}
	if kinds := e.tasks(t); kinds != "ADDRESS_DEAD" {
		t.Errorf("tasks: %s", kinds)
	}
	e.want(t, "the next pass", "claimed 1 sent 1")
	if texts := e.texts.all(); len(texts) != 1 || texts[0].To != phoneOne {
		t.Errorf("the gateway got %+v", texts)
	}
	e.now = e.now.Add(time.Hour)
	e.want(t, "and no more", "")
}

func TestWhatChangesNothingIsKept(t *testing.T) {
	for _, c := range []struct {
		name    string
		message []byte
		kind    reminder.ReturnKind
	}{
		{"delayed", bounce("delayed", "4.4.1", "421 try later"), reminder.Delayed},
		{"relayed", bounce("relayed", "2.1.9", "250 relayed"), reminder.Relayed},
		{"delivered", bounce("delivered", "2.1.5", "250 ok"), reminder.Delivered},
		{"somebody's machine", written("Auto-Submitted: auto-replied\n", "I am away until June."), reminder.AutoReply},
	} {
		t.Run(c.name, func(t *testing.T) {
			e, n := sentOne(t)
			e.take(t, e.path.Address(n.Reference), c.message)
			kept, err := e.Store.Notice(t.Context(), n.ID)
			if err != nil || kept.State != reminder.Sent || len(kept.Returns) != 1 || kept.Returns[0].Kind != c.kind || len(e.town.dead) > 0 || e.tasks(t) != "" {
				t.Errorf("kept as %+v, %v; tasks %s", kept, err, e.tasks(t))
			}
			e.want(t, "nothing more goes out", "")
		})
	}
}

func TestAFullMailboxIsReroutedAndTheAddressStays(t *testing.T) {
	e, n := sentOne(t)
	e.take(t, e.path.Address(n.Reference), bounce("failed", "5.2.2", "552 mailbox full")) // RFC 3463 section 3.3, X.2.2
	if len(e.town.dead) > 0 || e.tasks(t) != "" {
		t.Errorf("marked %v, tasks %s", e.town.dead, e.tasks(t))
	}
	e.want(t, "the next pass", "claimed 1 sent 1")
}

func TestAnAnswerIsForTheWorksToRead(t *testing.T) {
	e, n := sentOne(t)
	for n2 := range 2 {
		e.take(t, e.path.Address(n.Reference), written("", fmt.Sprintf("My secret answer %d.", n2)))
	}
	if kinds := e.tasks(t); kinds != "REPLY REPLY" {
		t.Errorf("tasks: %s", kinds)
	}
}

func TestAComplaintOptsOut(t *testing.T) {
	e, n := sentOne(t)
	mail := e.mails.all()[0]
	// RFC 5965 section 2, at the address to which the provider was told to send.
	message := []byte(strings.ReplaceAll(`From: <abuse@harbour.example>
To: <complaints@aldermoor.example>
Subject: complaint
Date: Mon, 18 May 2026 12:30:00 +0000
MIME-Version: 1.0
Content-Type: multipart/report; report-type=feedback-report; boundary="b"

--b

This is unwanted.

--b
Content-Type: message/feedback-report

Feedback-Type: abuse
User-Agent: Example/1.0
Version: 1

--b
Content-Type: message/rfc822

`, "\n", "\r\n") + string(mail.data) + "\r\n--b--\r\n")
	r := e.take(t, "complaints@aldermoor.example", message)
	if r.Kind != reminderv1.ReturnKind_RETURN_KIND_COMPLAINT || r.Notice != "notices/"+n.ID {
		t.Errorf("taken for %v of %q", r.Kind, r.Notice)
	}
	if !e.Store.OptedOutOf(serial(1), reminder.Service)["p1"] || e.tasks(t) != "COMPLAINT" {
		t.Errorf("opted out: %v, tasks %s", e.Store.OptedOutOf(serial(1), reminder.Service), e.tasks(t))
	}
}

func TestAMailToTheStopAddressOptsOut(t *testing.T) {
	e, n := sentOne(t)
	e.take(t, e.path.StopAddress(n.Reference), written("", "unsubscribe"))
	if !e.Store.OptedOutOf(serial(1), reminder.Service)["p1"] || e.tasks(t) != "" {
		t.Errorf("opted out: %v, tasks %s", e.Store.OptedOutOf(serial(1), reminder.Service), e.tasks(t))
	}
	kept, err := e.Store.Notice(t.Context(), n.ID)
	if err != nil || kept.State != reminder.Sent || len(kept.Returns) != 0 {
		t.Errorf("kept as %+v, %v", kept, err)
	}
}

func TestAForgedReturnPathNamesNoNotice(t *testing.T) {
	e, n := sentOne(t)
	forged := strings.Replace(e.path.Address(n.Reference), ".", ".a", 1)
	for name, to := range map[string]string{"forged": forged, "another's": "returns@aldermoor.example", "none": ""} {
		r := e.take(t, to, bounce("failed", "5.1.1", "550 no such user"))
		if r.Notice != "" || len(e.town.dead) > 0 {
			t.Errorf("%s: it is taken for %s", name, r.Notice)
		}
	}
	if _, err := e.TakeReturn(t.Context(), []string{e.path.Address(n.Reference)}, make([]byte, 1<<20)); !fault.Is(err, fault.Invalid) {
		t.Errorf("a message that is too long: %v", err)
	}
}

// TestABounceThatIsQuickerThanOurMarkIsNotLost: the report is taken in before
// the mail server has answered the final dot.
func TestABounceThatIsQuickerThanOurMarkIsNotLost(t *testing.T) {
	for _, c := range []struct {
		name    string
		message []byte
		state   reminder.State
	}{
		{"a failure", bounce("failed", "5.1.1", "550 5.1.1 no such user"), reminder.Rerouted},
		{"a delay", bounce("delayed", "4.4.1", "421 later"), reminder.Sent},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := newExchange(t)
			e.town.vehicle(serial(1), item("E01", today))
			e.reachable(serial(1), "p1", phoneOne, wayMail, wayText)
			id := string(serial(1)) + ".E01.2025-05-01.due.mail.p1"
			e.mails.before = func() {
				if _, err := e.TakeReturn(t.Context(), []string{e.path.Address(reminder.Reference(id))}, c.message); err != nil {
					t.Error(err)
				}
			}
			e.run(t)
			kept, err := e.Store.Notice(t.Context(), id)
			if err != nil || kept.State != c.state || len(kept.Returns) != 1 || kept.Attempts != 1 || kept.Sent.IsZero() {
				t.Errorf("kept as %+v, %v\n%s", kept, err, e.log)
			}
			e.now = e.now.Add(time.Hour)
			e.mails.before = nil
			e.run(t)
			if mails := len(e.mails.all()); mails != 1 {
				t.Errorf("%d mails", mails)
			}
		})
	}
}

// receiptOf is what the gateway reports of a message of ours.
func receiptOf(id, reference, status string) *reminderv1.TakeTextEventRequest {
	return &reminderv1.TakeTextEventRequest{EventId: id, Event: &reminderv1.TakeTextEventRequest_Receipt{
		Receipt: &reminderv1.TextReceipt{Reference: reference, Status: status, Detail: "unknown subscriber"},
	}}
}

func saidBy(id, phone, text string) *reminderv1.TakeTextEventRequest {
	return &reminderv1.TakeTextEventRequest{EventId: id, Event: &reminderv1.TakeTextEventRequest_Said{
		Said: &reminderv1.TextSaid{Phone: phone, Text: text},
	}}
}

func (e *exchange) event(t *testing.T, r *reminderv1.TakeTextEventRequest) string {
	t.Helper()
	answer, err := e.TakeText(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	return answer.GetReply()
}

func TestReceiptsOfTextMessages(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.reachable(serial(1), "p1", phoneOne, wayText, wayMail)
	n := e.want(t, "a text message", "claimed 1 sent 1").Notices[0]
	if n.Segments < 1 {
		t.Errorf("%d segments", n.Segments)
	}
	e.event(t, receiptOf("1", n.Reference, "delayed"))
	for range 2 {
		e.event(t, receiptOf("2", n.Reference, "failed"))
	}
	e.event(t, receiptOf("3", strings.Repeat("a", 26), "failed")) // of nothing of ours
	kept, err := e.Store.Notice(t.Context(), n.ID)
	if err != nil || kept.State != reminder.Rerouted || len(kept.Returns) != 2 || e.tasks(t) != "ADDRESS_DEAD" {
		t.Errorf("kept as %+v, %v, tasks %s", kept, err, e.tasks(t))
	}
	if dead := e.town.dead; len(dead) != 1 || dead[0].Way != wayText || dead[0].Address != phoneOne {
		t.Errorf("marked as dead: %v", dead)
	}
	e.now = e.now.Add(time.Hour)
	e.want(t, "by mail", "claimed 1 sent 1")
	for name, bad := range map[string]*reminderv1.TakeTextEventRequest{
		"no event id": receiptOf("", n.Reference, "failed"), "no event": {EventId: "4"}, "another word": receiptOf("5", n.Reference, "eaten"),
	} {
		if _, err := e.TakeText(t.Context(), bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestStopEndsTextMessagesAndStartBeginsThemAgain(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	person := e.reachable(serial(1), "p1", phoneOne, wayText, wayMail)
	e.reachable(serial(2), "p2", phoneTwo, wayText)
	for range 2 {
		if reply := e.event(t, saidBy("1", phoneOne, " Stop. ")); !strings.Contains(reply, "no more text messages") || !strings.Contains(reply, "safety campaigns still come") {
			t.Errorf("the answer is %q", reply)
		}
	}
	if len(person.Consents) != 2 || person.Consents[1].Given || person.Consents[1].Wording != "Stop" || len(e.town.people["people/p2"].Consents) != 1 {
		t.Errorf("consents %v, and of another number %v", person.Consents, e.town.people["people/p2"].Consents)
	}
	e.want(t, "it goes by mail", "claimed 1 sent 1")
	if len(e.texts.all()) > 0 || len(e.mails.all()) != 1 {
		t.Errorf("%d text messages, %d mails", len(e.texts.all()), len(e.mails.all()))
	}
	e.now = e.now.Add(24 * time.Hour)
	if reply := e.event(t, saidBy("2", phoneOne, "START")); !strings.Contains(reply, "again") || !person.Consents[2].Given {
		t.Errorf("the answer is %q, consents %v", reply, person.Consents)
	}
	if reply := e.event(t, saidBy("3", phoneOne, "help")); !strings.Contains(reply, "Aldermoor Works") {
		t.Errorf("the answer is %q", reply)
	}
	if reply := e.event(t, saidBy("4", "+447700900999", "stop")); !strings.Contains(reply, "in none of our records") {
		t.Errorf("the answer is %q", reply)
	}
	if kinds := e.tasks(t); kinds != "" {
		t.Errorf("tasks: %s", kinds)
	}
	for range 2 {
		e.event(t, saidBy("5", phoneOne, "my secret question"))
	}
	if kinds := e.tasks(t); kinds != "REPLY" {
		t.Errorf("tasks: %s", kinds)
	}
	if log := e.log.String(); strings.Contains(log, "secret") || strings.Contains(log, phoneOne) {
		t.Errorf("the log tells what is personal: %s", log)
	}
}

// TestATaskSaysWhyItCameBack: the mail server took the message, and what counts
// is what came back of it.
func TestATaskSaysWhyItCameBack(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	e.town.owner(serial(1), "p1")
	n := e.want(t, "a mail", "claimed 1 sent 1").Notices[0]
	e.take(t, e.path.Address(n.Reference), bounce("failed", "5.2.2", "552 5.2.2 mailbox full"))
	all, err := e.Store.Tasks(t.Context(), "", 10, func(reminder.Task) bool { return true })
	if err != nil || len(all) != 1 || all[0].Kind != reminder.NoticeParked || !strings.Contains(all[0].Text, "mailbox full") || !strings.Contains(all[0].Text, "take the notice up again") {
		t.Errorf("tasks %+v, %v", all, err)
	}
}
