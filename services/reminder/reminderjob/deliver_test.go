package reminderjob

import (
	"fmt"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle/vehiclewire"
)

// later is a mail server that asks to come back.
func later(string, []byte) reminder.Attempt {
	return reminder.Attempt{Outcome: reminder.TryLater, Text: "450 4.2.0 later"}
}

// TestWhatWaitsForAnErasedPersonIsSilenced: with the person their key is gone,
// so that neither the message nor its address can be opened any more.
func TestWhatWaitsForAnErasedPersonIsSilenced(t *testing.T) {
	for name, way := range map[string]ownerv1.ContactWay{"a mail": wayMail, "a text message": wayText, "a letter": wayLetter} {
		t.Run(name, func(t *testing.T) {
			e := newExchange(t)
			e.post.does = later
			e.Mail, e.texts.status = e.post, 503
			e.town.vehicle(serial(1), item("E01", today))
			e.reachable(serial(1), "p1", phoneOne, way)
			e.run(t)
			n := e.Store.Unfinished()[0]
			delete(e.town.people, "people/p1")
			e.town.ties[string(serial(1))][0].EndDate = vehiclewire.DateProto(today)
			e.now = e.now.Add(24 * time.Hour)
			if r := e.want(t, "erased, and nobody is left to tell", "silenced 1 tasks 1"); len(r.Alarms) > 0 {
				t.Errorf("alarms %+v", r.Alarms)
			}
			if kept := e.kept(t, n.ID); kept.State != reminder.Silenced || len(e.Store.Unfinished()) > 0 {
				t.Errorf("it is %v", kept.State)
			}
			e.take(t, e.path.Address(n.Reference), bounce("failed", "5.1.1", "smtp; 550 5.1.1 no such user"))
			if len(e.town.dead) > 0 {
				t.Errorf("marked as dead: %v", e.town.dead)
			}
		})
	}
}

// TestAnEarlierStageIsNotTakenUpAfterALaterOne: the early notice was parked, the
// one that it is due went out, and then somebody takes the early one up again.
func TestAnEarlierStageIsNotTakenUpAfterALaterOne(t *testing.T) {
	o := newOffice(t)
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "554 5.7.1 no"}
	}
	o.town.vehicle(serial(1), item("E01", today.AddDays(20)))
	o.town.owner(serial(1), "p1")
	early := o.want(t, "the early one", "claimed 1 parked 1 tasks 1").Notices[0]
	o.post.does = nil
	o.now = o.now.AddDate(0, 0, 20)
	o.want(t, "on its day", "claimed 1 sent 1")
	kept := o.kept(t, early.ID)
	if _, err := o.Store.Put(t.Context(), reminderRequest(), kept.TakenUp(o.now), kept.Revision); err != nil {
		t.Fatal(err)
	}
	o.now = o.now.Add(time.Hour)
	o.want(t, "the early one is taken up", "silenced 1")
	o.now = o.now.Add(time.Hour)
	o.want(t, "and nothing comes of it", "")
}

// TestTheLimitCountsFromTheSending: the first mail was claimed on 18 May and
// went out on the 23rd; with one message in 30 days at most, the next may go on
// 22 June.
func TestTheLimitCountsFromTheSending(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1").MostMessages = 1
	o.post.does = later
	o.want(t, "claimed", "claimed 1 waiting 1")
	o.town.vehicle(serial(2), item("E02", today))
	tie := clone(o.town.ties[string(serial(1))][0])
	tie.Name = "vehicles/" + string(serial(2)) + "/ties/x"
	o.town.ties[string(serial(2))] = append(o.town.ties[string(serial(2))], tie)
	for range 4 {
		o.now = o.now.AddDate(0, 0, 1)
		if r := o.run(t); r.Claimed > 0 || r.Waiting != 1 {
			t.Fatalf("while the first waits: %s", counts(r))
		}
	}
	if recent := o.Store.Recent("p1", o.now.Add(-time.Second), o.now); len(recent) != 1 || !recent[0].Equal(o.now) {
		t.Errorf("what waits counts as of %v", recent)
	}
	o.post.does = nil
	o.now = o.now.AddDate(0, 0, 1)
	sent := o.now
	o.want(t, "it goes out", "sent 1")
	o.now = noon.AddDate(0, 0, 30).Add(time.Hour)
	o.want(t, "30 days after the claim", "")
	o.now = sent.AddDate(0, 0, 30).Add(-time.Second)
	o.want(t, "a second too soon", "")
	o.now = sent.AddDate(0, 0, 30)
	o.want(t, "30 days after the sending", "claimed 1 sent 1")
}

// TestAStoreThatIsOpenedAnewKnowsWhenMessagesWentOut opens the same store by
// another process.
func TestAStoreThatIsOpenedAnewKnowsWhenMessagesWentOut(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	o.post.does = later
	o.want(t, "claimed", "claimed 1 waiting 1")
	o.post.does = nil
	o.now = o.now.AddDate(0, 0, 3)
	o.want(t, "sent", "sent 1")
	fresh, err := reminderstore.Open(t.Context(), o.kv, &projection.Group{}, o.Logger)
	if err != nil {
		t.Fatal(err)
	}
	defer fresh.Close()
	if recent := fresh.Recent("p1", noon, o.now); len(recent) != 1 || !recent[0].Equal(o.now) {
		t.Errorf("it went out at %v, want %v", recent, o.now)
	}
}

// TestAServerThatKeepsUsWaitingHoldsUpNoOtherChannel has 40 mails open, and new
// ones to make, before a server that says nothing after the final dot. A pass
// loses at most two for each of its hands, and letters and text messages go
// out.
func TestAServerThatKeepsUsWaitingHoldsUpNoOtherChannel(t *testing.T) {
	const open = 40
	e := newExchange(t)
	server := &troubled{got: map[string][][]byte{}}
	address := server.serve(t)
	limit := 200 * time.Millisecond
	sender, err := remindermail.NewSender(remindermail.Server{
		Address: address, Security: remindermail.Plain,
		Timeouts: remindermail.Timeouts{Dial: time.Minute, Command: time.Minute, Data: time.Minute, Dot: limit},
	}, e.Works.From)
	if err != nil {
		t.Fatal(err)
	}
	e.post.does = later
	e.Mail = e.post
	for n := range open {
		e.town.vehicle(serial(n), item("E01", today))
		e.reachable(serial(n), fmt.Sprintf("p%d", n), phoneOne, wayMail)
	}
	e.want(t, "mails that wait", fmt.Sprintf("claimed %d waiting %d", open, open))

	e.Mail, e.patience = sender, limit/4
	server.trouble("after the dot", "stall")
	for n, way := range []ownerv1.ContactWay{wayMail, wayText, wayLetter} {
		e.town.vehicle(serial(100+n), item("E01", today))
		e.reachable(serial(100+n), fmt.Sprintf("q%d", n), phoneTwo, way)
	}
	e.now = e.now.Add(time.Hour)
	r := e.run(t)
	tried := 0
	for _, k := range e.Store.Unfinished() {
		if k.ServerAnswer == reminder.AnswerLost {
			tried++
		}
	}
	if tried < mostStalled || tried >= mostStalled+workers {
		t.Errorf("%d mails were lost to the server, want from %d to less than %d", tried, mostStalled, mostStalled+workers)
	}
	if r.Claimed != 2 || r.Sent != 1 || r.Letters != 1 || r.Waiting != open {
		t.Errorf("the pass: %s", counts(r))
	}

	server.trouble("", "")
	e.patience = time.Minute
	e.now = e.now.Add(time.Hour)
	r = e.run(t)
	if r.Sent != open+1 || r.Claimed != 1 {
		t.Errorf("when it is well again: %s", counts(r))
	}
}
