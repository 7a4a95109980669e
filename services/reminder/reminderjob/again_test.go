package reminderjob

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle/vehiclewire"
)

// stored gives everything in the store, by key.
func (o *office) stored(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	_, err := kv.Scan(t.Context(), o.kv.Client(), strings.TrimSuffix(kv.Prefix("x"), "x/"), func(e kv.Entry) error { all[e.Key] = string(e.Value); return nil })
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// TestAStopThatIsReportedAgainStopsEverybody: two people share a number, the
// owners' service is away after the first, and the gateway reports once more,
// later, when even the language of the first is another.
func TestAStopThatIsReportedAgainStopsEverybody(t *testing.T) {
	for name, at := range map[string]*timestamppb.Timestamp{
		"with its time": timestamppb.New(noon.Add(-time.Minute)), "without": nil, "by a clock that is fast": timestamppb.New(noon.Add(30 * time.Second)),
	} {
		t.Run(name, func(t *testing.T) {
			e := newExchange(t)
			one, two := e.reachable(serial(1), "p1", phoneOne, wayText), e.reachable(serial(2), "p2", phoneOne, wayText)
			stop := saidBy("1", phoneOne, "STOP\r\n")
			stop.GetSaid().EventTime = at
			e.town.away = 2
			if _, err := e.TakeText(t.Context(), stop); rpcerr.FromStatus(err).Kind != fault.Unavailable {
				t.Fatalf("the owners' service is away: %v", err)
			}
			one.Language, two.Language = "de", "de"
			e.now = e.now.Add(time.Minute)
			for range 2 {
				e.event(t, stop)
			}
			for _, p := range []string{"people/p1", "people/p2"} {
				all := e.town.people[p].Consents
				if len(all) != 2 || all[1].Given || all[1].Wording != "STOP" {
					t.Errorf("%s: %v", p, all)
					continue
				}
				if all[1].ConsentTime.AsTime().After(noon) && p == "people/p1" || all[1].ConsentTime.AsTime().After(e.now) || name == "with its time" && !proto.Equal(all[1].ConsentTime, at) {
					t.Errorf("%s: said at %v", p, all[1].ConsentTime)
				}
			}
		})
	}
}

// fussy is an owners' service that refuses every consent and every mark.
type fussy struct {
	owners
	err error
}

func (f fussy) RecordConsent(context.Context, *ownerv1.RecordConsentRequest, ...grpc.CallOption) (*ownerv1.Consent, error) {
	return nil, f.err
}

func (f fussy) MarkUndeliverable(context.Context, *ownerv1.MarkUndeliverableRequest, ...grpc.CallOption) (*ownerv1.Person, error) {
	return nil, f.err
}

// TestWhatAnotherServiceFindsInvalidMayComeAgain: Invalid of ours would tell the
// gateway, or the mail server, not to bring it again.
func TestWhatAnotherServiceFindsInvalidMayComeAgain(t *testing.T) {
	e, n := sentOne(t)
	e.Owners = fussy{owners{town: e.town}, rpcerr.Status(t.Context(), nil, fault.InvalidField("consent.wording", "x", "y")).Err()}
	_, stop := e.TakeText(t.Context(), saidBy("1", phoneOne, "STOP"))
	_, back := e.TakeReturn(t.Context(), []string{e.path.Address(n.Reference)}, bounce("failed", "5.1.1", "550 5.1.1 no such user"))
	for what, err := range map[string]error{"a stop": stop, "a failure": back} {
		if err == nil || rpcerr.FromStatus(rpcerr.Status(t.Context(), nil, err).Err()).Kind == fault.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	e.Owners = owners{town: e.town} // it was mended
	e.event(t, saidBy("1", phoneOne, "STOP"))
	e.take(t, e.path.Address(n.Reference), bounce("failed", "5.1.1", "550 5.1.1 no such user"))
	if p := e.town.people["people/p1"]; len(p.Consents) != 2 || len(e.town.dead) != 1 {
		t.Errorf("consents %v, marked %v", p.Consents, e.town.dead)
	}
}

// TestAStopOfSomebodyWhoIsErasedMeanwhileIsTakenIn: there is nobody left whose
// consent could be taken back.
func TestAStopOfSomebodyWhoIsErasedMeanwhileIsTakenIn(t *testing.T) {
	e := newExchange(t)
	e.reachable(serial(1), "p1", phoneOne, wayText)
	e.Owners = fussy{owners{town: e.town}, status.Error(codes.NotFound, "no such person")}
	if reply := e.event(t, saidBy("1", phoneOne, "STOP")); !strings.Contains(reply, "no more text messages") {
		t.Errorf("the answer is %q", reply)
	}
}

func TestNothingIsKeptOfWhatIsNothingOfOurs(t *testing.T) {
	e := newExchange(t)
	before := len(e.stored(t))
	for n := range 5 {
		e.take(t, "complaints@aldermoor.example", written("From: x@spam.example\n", strings.Repeat("x", n+1)))
		e.take(t, "returns@aldermoor.example", bounce("failed", "5.1.1", fmt.Sprintf("550 5.1.1 no such user %d", n)))
		e.event(t, receiptOf(fmt.Sprintf("r%d", n), strings.Repeat("a", 26), "failed"))
		for _, word := range []string{"STOP", "help", "who are you?"} {
			e.event(t, saidBy(fmt.Sprintf("s%d%s", n, word), "+447700900999", word))
		}
	}
	if after := e.stored(t); len(after) != before {
		t.Errorf("%d records were made", len(after)-before)
	}
}

// TestTheSameReturnOnceMoreIsNotWritten, not by its own message and not by
// another that says the same.
func TestTheSameReturnOnceMoreIsNotWritten(t *testing.T) {
	e, n := sentOne(t)
	message := bounce("delayed", "4.4.1", "421 try later")
	e.take(t, e.path.Address(n.Reference), message)
	before := e.stored(t)
	e.take(t, e.path.Address(n.Reference), message)
	e.take(t, e.path.Address(n.Reference), append(message, "\r\n"...))
	if after := e.stored(t); len(after) != len(before) || fmt.Sprint(after) != fmt.Sprint(before) {
		t.Errorf("%d records became %d", len(before), len(after))
	}
}

// TestAReturnThatRepeatsAnEarlierOneLosesNoMark: it reaches us between the
// gateway's acceptance and our mark.
func TestAReturnThatRepeatsAnEarlierOneLosesNoMark(t *testing.T) {
	for _, again := range []string{"delayed", "relayed"} {
		t.Run(again, func(t *testing.T) {
			e := newExchange(t)
			e.town.vehicle(serial(1), item("E01", today))
			e.reachable(serial(1), "p1", phoneOne, wayText)
			e.texts.status = http.StatusServiceUnavailable
			e.run(t)
			reference := e.texts.all()[0].Reference
			e.event(t, receiptOf("a", reference, "delayed"))
			e.texts.status = http.StatusAccepted
			e.texts.before = func() {
				if _, err := e.TakeText(t.Context(), receiptOf("b", reference, again)); err != nil {
					t.Error(err)
				}
			}
			e.now = e.now.Add(time.Hour)
			e.want(t, "it is taken", "sent 1")
			if open := e.Store.Unfinished(); len(open) > 0 {
				t.Errorf("accepted and not marked: %+v\n%s", open, e.log)
			}
			e.now = e.now.Add(time.Hour)
			e.want(t, "and nothing more goes out", "")
		})
	}
}

// TestWhatComesBackOfSomebodyErased is taken in, and asks nobody for anything.
func TestWhatComesBackOfSomebodyErased(t *testing.T) {
	for name, message := range map[string][]byte{
		"a failure": bounce("failed", "5.1.1", "550 5.1.1 no such user"), "a full mailbox": bounce("failed", "5.2.2", "552 5.2.2 full"),
		"an answer": written("", "Who are you?"),
	} {
		t.Run(name, func(t *testing.T) {
			e, n := sentOne(t)
			delete(e.town.people, "people/p1") // the record, the key and the tie go
			e.town.ties[string(serial(1))][0].EndDate = vehiclewire.DateProto(today)
			r := e.take(t, e.path.Address(n.Reference), message)
			kept, err := e.Store.Notice(t.Context(), n.ID)
			if err != nil || r.Notice != "notices/"+n.ID || kept.State != reminder.Sent || len(kept.Returns) != 1 {
				t.Errorf("taken for %q, kept as %+v, %v", r.Notice, kept, err)
			}
			if kinds := e.tasks(t); kinds != "" || len(e.town.dead) > 0 {
				t.Errorf("tasks %s, marked %v", kinds, e.town.dead)
			}
			e.take(t, e.path.StopAddress(n.Reference), message)
			if len(e.Store.OptedOutOf(serial(1), reminder.Service)) > 0 {
				t.Error("somebody who is nobody is opted out")
			}
			if to, err := e.sentTo(t.Context(), kept.Notice); to != "" || err != nil {
				t.Errorf("the address it went to: %q, %v", to, err)
			}
		})
	}
}

// The replies are of RFC 5321 section 4.2.3, their codes of RFC 3463.
func TestAnAddressThatTheServerRefusesIsMarked(t *testing.T) {
	refusal := func(code int, enhanced smtp.EnhancedCode, words string) *smtp.SMTPError {
		return &smtp.SMTPError{Code: code, EnhancedCode: enhanced, Message: words}
	}
	for _, c := range []struct {
		name    string
		refusal *smtp.SMTPError
		dead    bool
	}{
		{"no such user", noSuchUser, true},
		{"a mailbox that is disabled", refusal(550, smtp.EnhancedCode{5, 2, 1}, "disabled"), true},
		{"a full mailbox", refusal(552, smtp.EnhancedCode{5, 2, 2}, "full"), false},
		{"a fault of the server", refusal(554, smtp.EnhancedCode{5, 3, 0}, "not here"), false},
		{"a policy", refusal(550, smtp.EnhancedCode{5, 7, 1}, "relaying denied"), false},
		{"a bare reply, which may be a policy", refusal(550, smtp.NoEnhancedCode, "no relaying here"), false},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := newExchange(t)
			e.town.vehicle(serial(1), item("E01", today))
			person := e.reachable(serial(1), "p1", phoneOne, wayMail, wayText)
			e.mails.refuse["p1@harbour.example"] = c.refusal
			e.want(t, "it is refused", "claimed 1 tasks 1 rerouted 1")
			e.want(t, "and goes by text message", "claimed 1 sent 1")
			want, marked := "NOTICE_PARKED", 0
			if c.dead {
				want, marked = "ADDRESS_DEAD", 1
			}
			if kinds := e.tasks(t); kinds != want || len(e.town.dead) != marked || len(person.Undeliverable) != marked {
				t.Errorf("tasks %s, marked %v; want %s, %d", kinds, e.town.dead, want, marked)
			}
			if len(e.town.dead) == 1 && (e.town.dead[0].Address != "p1@harbour.example" || e.town.dead[0].Way != wayMail) {
				t.Errorf("marked %v", e.town.dead[0])
			}
		})
	}
}

// TestTheMessageThatTheServerRefusesIsNotTheAddress: what it says once it has
// seen the message is about the message.
func TestTheMessageThatTheServerRefusesIsNotTheAddress(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 5.1.1 we do not like it"}
	}
	o.want(t, "it is refused", "claimed 1 parked 1 tasks 1")
	if len(o.town.dead) > 0 {
		t.Errorf("marked %v", o.town.dead)
	}
}

// TestWhatIsNotMarkedIsNotCounted: the leader was deposed while the server took
// the message.
func TestWhatIsNotMarkedIsNotCounted(t *testing.T) {
	for name, attempt := range map[string]reminder.Attempt{
		"taken": {Outcome: reminder.Accepted, Text: "250 ok"}, "refused": {Outcome: reminder.RefusedIt, Text: "554 5.6.0 no"},
	} {
		o := newOffice(t)
		o.town.vehicle(serial(1), item("E01", today))
		o.town.owner(serial(1), "p1")
		fence := o.elect(t)
		o.post.does = func(string, []byte) reminder.Attempt { o.depose(t, fence); return attempt }
		r, err := o.pass(t.Context(), fence)
		if err == nil || counts(r) != "claimed 1" {
			t.Errorf("%s: counted %q, %v", name, counts(r), err)
		}
	}
}

// TestATextMessageThatIsTakenUpIsAnotherToTheGateway: one that keeps what it had
// under a webhook-id would not send it a second time (Standard Webhooks 1.0.0,
// "Idempotency"). What is still reported of the first sending is past.
func TestATextMessageThatIsTakenUpIsAnotherToTheGateway(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	person := e.reachable(serial(1), "p1", phoneOne, wayText)
	n := e.want(t, "sent", "claimed 1 sent 1").Notices[0]
	e.event(t, receiptOf("r1", n.Reference, "expired"))
	for nth := 2; nth <= 3; nth++ {
		kept, err := e.Store.Notice(t.Context(), n.ID)
		if err != nil || kept.State != reminder.Parked {
			t.Fatalf("kept as %+v, %v", kept, err)
		}
		if _, err := e.Store.Put(t.Context(), reminderRequest(), kept.TakenUp(e.now), kept.Revision); err != nil {
			t.Fatal(err)
		}
		e.want(t, "taken up", "sent 1")
		got := e.texts.all()
		if last := got[len(got)-1]; len(got) != nth || last.Reference != fmt.Sprintf("%s-%d", n.Reference, nth) || last.Text != got[0].Text {
			t.Fatalf("the gateway got %+v", got)
		}
		e.event(t, receiptOf(fmt.Sprint("late", nth), n.Reference, "failed"))
		if kept, err = e.Store.Notice(t.Context(), n.ID); err != nil || kept.State != reminder.Sent || len(e.town.dead) > 0 || len(person.Undeliverable) > 0 {
			t.Fatalf("the first sending failed, late: %+v, %v, marked %v", kept, err, e.town.dead)
		}
		e.event(t, receiptOf(fmt.Sprint("r", nth), got[nth-1].Reference, "expired"))
	}
}
