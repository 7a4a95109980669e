package reminderjob

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// lettered is an office with letters to n people that wait, the oldest to p0.
func lettered(t *testing.T, n int) *office {
	t.Helper()
	o := newOffice(t)
	o.Works.Postal = []string{"Works Lane", "Aldermoor"}
	for k := range n {
		o.town.vehicle(serial(k), item("E01", today))
		p := o.town.owner(serial(k), fmt.Sprintf("p%d", k))
		p.Email, p.PostalLines = "", []string{"1 Quay Road", "Harbour"}
		o.now = o.now.Add(time.Minute)
		o.run(t)
	}
	return o
}

func (o *office) print(t *testing.T, most int, ids ...string) *Batch {
	t.Helper()
	b, err := o.PrintLetters(t.Context(), ids, most)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func people(b *Batch) string {
	var all []string
	for _, k := range b.Notices {
		all = append(all, k.Person)
	}
	return strings.Join(all, " ")
}

func post(ids []string) reminderstore.Request {
	r := &reminderv1.MarkPostedRequest{}
	for _, id := range ids {
		r.Notices = append(r.Notices, "notices/"+id)
	}
	return reminderstore.Request{ID: uuid.NewString(), Payload: r}
}

func TestLettersArePrintedUntilTheyArePosted(t *testing.T) {
	o := lettered(t, 3)
	b := o.print(t, 2)
	if people(b) != "p0 p1" || b.Waiting != 1 || !bytes.HasPrefix(b.PDF, []byte("%PDF-")) {
		t.Fatalf("printed %s, %d wait", people(b), b.Waiting)
	}
	if again := o.print(t, 2); people(again) != "p0 p1" || !bytes.Equal(again.PDF, b.PDF) {
		t.Errorf("printed again: %s", people(again))
	}
	ids := []string{b.Notices[0].ID, b.Notices[1].ID}
	q := post(ids)
	for range 2 { // the second is the same request again
		posted, err := o.MarkPosted(t.Context(), q, ids, vehicle.Date{})
		if err != nil || len(posted) != 2 || posted[1].State != reminder.Sent || !posted[1].Sent.Equal(o.now) {
			t.Fatalf("posted %+v, %v", posted, err)
		}
	}
	if left := o.print(t, 50); people(left) != "p2" || left.Waiting != 0 {
		t.Errorf("left: %s", people(left))
	}
	if again := o.print(t, 50, ids[1]); people(again) != "p1" || again.Waiting != 1 || len(again.PDF) == 0 {
		t.Errorf("a posted one printed again: %s, %d wait", people(again), again.Waiting)
	}
	if none := lettered(t, 0).print(t, 50); none.PDF != nil || none.Waiting != 0 {
		t.Errorf("no letter makes %d bytes", len(none.PDF))
	}
}

func TestALetterThatIsCoveredIsNotPrinted(t *testing.T) {
	o := lettered(t, 3)
	recorded := clone(o.town.due[string(serial(0))])
	recorded.Items[0].Cycle = "E01.2026-05-18"
	o.town.now[string(serial(0))] = recorded // the work of the first is recorded
	o.town.ties[string(serial(1))] = nil     // the second sold it
	open := o.Store.Unfinished()
	b := o.print(t, 50)
	if people(b) != "p2" || b.Waiting != 0 {
		t.Fatalf("printed %s, %d wait", people(b), b.Waiting)
	}
	for _, k := range open[:2] {
		now, err := o.Store.Notice(t.Context(), k.ID)
		if err != nil || now.State != reminder.Silenced {
			t.Errorf("%s is %v, %v", k.ID, now.State, err)
		}
		if claims := o.Store.Claims(k.Serial); len(claims) != 0 {
			t.Errorf("%s still holds its stages: %+v", k.ID, claims)
		}
	}
	if _, err := o.PrintLetters(t.Context(), []string{open[0].ID}, 50); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("the silenced one by name: %v", err)
	}
}

func TestOneAddressThatCannotBePrintedHoldsUpNobody(t *testing.T) {
	o := lettered(t, 2)
	o.town.people["people/p0"].PostalLines = slices.Repeat([]string{strings.Repeat("a very long line ", 12)}, 9)
	first := o.Store.Unfinished()[0]
	if b := o.print(t, 50); people(b) != "p1" || b.Waiting != 0 {
		t.Fatalf("printed %s, %d wait", people(b), b.Waiting)
	}
	now, err := o.Store.Notice(t.Context(), first.ID)
	if err != nil || now.State != reminder.Parked || !strings.Contains(now.ServerAnswer, "does not fit") {
		t.Errorf("the first is %v %q, %v", now.State, now.ServerAnswer, err)
	}
	tasks, err := o.Store.Tasks(t.Context(), "", 10, func(reminder.Task) bool { return true })
	if err != nil || len(tasks) != 1 || tasks[0].Kind != reminder.NoticeParked || tasks[0].Notice != first.ID {
		t.Errorf("tasks %+v, %v", tasks, err)
	}
}

func TestTheDayOfPostingLiesBetweenTheClaimAndToday(t *testing.T) {
	o := lettered(t, 1)
	id := o.Store.Unfinished()[0].ID
	o.now = o.now.AddDate(0, 0, 5)
	for _, c := range []struct {
		day  vehicle.Date
		want fault.Kind
	}{{today.AddDays(-1), fault.Invalid}, {today.AddDays(6), fault.Invalid}} {
		if _, err := o.MarkPosted(t.Context(), post([]string{id}), []string{id}, c.day); !fault.Is(err, c.want) {
			t.Errorf("posted on %s: %v", c.day, err)
		}
	}
	posted, err := o.MarkPosted(t.Context(), post([]string{id}), []string{id}, today.AddDays(2))
	if err != nil || vehicle.DateOf(posted[0].Sent) != today.AddDays(2) {
		t.Fatalf("got %+v, %v", posted, err)
	}
	// One that was posted stays as it was, whatever day is said.
	if again, err := o.MarkPosted(t.Context(), post([]string{id}), []string{id}, vehicle.Date{}); err != nil || !again[0].Sent.Equal(posted[0].Sent) {
		t.Errorf("posted again: %+v, %v", again, err)
	}
	day, _, err := o.Store.PassDay(t.Context(), vehicle.DateOf(o.now))
	if err != nil || day.GetCounts().GetSent() != 1 {
		t.Errorf("the day counts %v, %v", day, err)
	}
}

func TestOnlyLettersArePosted(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1").ContactWays = []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_MAIL}
	id := o.want(t, "a mail", "claimed 1 sent 1").Notices[0].ID
	if _, err := o.MarkPosted(t.Context(), post([]string{id}), []string{id}, vehicle.Date{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a mail: %v", err)
	}
	if _, err := o.MarkPosted(t.Context(), post([]string{"AM0147P.x"}), []string{"AM0147P.x"}, vehicle.Date{}); !fault.Is(err, fault.NotFound) {
		t.Errorf("a letter that is not there: %v", err)
	}
}

// TestAPrintedLetterIsNotToldAgain prints a letter about two items. One of them
// is recorded while the letter is on its way to the post: nothing tells the
// other again, and the letter can still be marked as posted, as can those that
// are silenced by then.
func TestAPrintedLetterIsNotToldAgain(t *testing.T) {
	for name, c := range map[string]struct {
		left []string // items that are still to be done
		next string   // the next pass; one of the other letters is withdrawn, and its vehicle has nobody
	}{
		"a part is recorded":  {[]string{"E01"}, "silenced 1 tasks 1 letters 2"},
		"all is recorded":     {nil, "silenced 2 tasks 1 letters 1"},
		"nothing is recorded": {[]string{"E01", "E02"}, "silenced 1 tasks 1 letters 2"},
	} {
		t.Run(name, func(t *testing.T) {
			o := lettered(t, 2)
			o.town.vehicle(serial(3), item("E01", today), item("E02", today))
			p := o.town.owner(serial(3), "p3")
			p.Email, p.PostalLines = "", []string{"3 Quay Road", "Harbour"}
			o.now = o.now.Add(time.Minute)
			o.want(t, "a letter about two items", "claimed 1 letters 3")
			all := o.print(t, 10)
			if people(all) != "p0 p1 p3" {
				t.Fatalf("printed %s", people(all))
			}
			var left []*schedulev1.ItemStatus
			for _, id := range c.left {
				left = append(left, item(id, today))
			}
			o.town.vehicle(serial(3), left...)
			o.town.ties[string(serial(1))] = nil
			o.now = o.now.Add(time.Hour)
			o.want(t, "the next pass", c.next)
			ids := []string{all.Notices[0].ID, all.Notices[1].ID, all.Notices[2].ID}
			posted, err := o.MarkPosted(t.Context(), post(ids), ids, vehicle.Date{})
			if err != nil || len(posted) != 3 {
				t.Fatalf("posted %v, %v", posted, err)
			}
			for _, k := range posted {
				if k.State != reminder.Sent {
					t.Errorf("%s is %v", k.ID, k.State)
				}
			}
			o.now = o.now.Add(time.Hour)
			o.want(t, "afterwards", "")
			if again := o.print(t, 10); len(again.Notices) > 0 {
				t.Errorf("a second letter: %s", again.Notices[0].ID)
			}
		})
	}
}

func TestALetterIsMarkedWhenItIsFirstPrinted(t *testing.T) {
	o := lettered(t, 2)
	first := o.print(t, 1)
	at := o.now
	o.now = at.Add(time.Hour)
	again := o.print(t, 5)
	for n, want := range []time.Time{at, o.now} {
		kept := o.kept(t, again.Notices[n].ID)
		if !kept.Printed.Equal(want) || kept.Revision != again.Notices[n].Revision {
			t.Errorf("letter %d: printed %v, want %v; given out at %d of %d", n, kept.Printed, want, again.Notices[n].Revision, kept.Revision)
		}
	}
	if again.Notices[0].Revision != first.Notices[0].Revision {
		t.Error("printing again changed the letter")
	}
}

// TestWhatWasNeverPrintedIsNotPosted names a silenced letter that was never
// given out beside one that was.
func TestWhatWasNeverPrintedIsNotPosted(t *testing.T) {
	o := lettered(t, 2)
	ids := []string{o.Store.Unfinished()[0].ID, o.Store.Unfinished()[1].ID}
	o.town.ties[string(serial(0))] = nil
	if b := o.print(t, 5); people(b) != "p1" {
		t.Fatalf("printed %s", people(b))
	}
	posted, err := o.MarkPosted(t.Context(), post(ids), ids, vehicle.Date{})
	if err != nil || len(posted) != 2 || posted[0].State != reminder.Silenced || posted[1].State != reminder.Sent {
		t.Errorf("got %+v, %v", posted, err)
	}
}

// TestAPassThatDecidedBeforeThePrintingChangesNothing lets a pass look at a
// letter, which is then printed before the pass can withdraw it.
func TestAPassThatDecidedBeforeThePrintingChangesNothing(t *testing.T) {
	o := lettered(t, 1)
	before := o.Store.Unfinished()[0]
	o.print(t, 5)
	after := before.Notice
	after.State = reminder.Silenced
	if err := o.mark(t.Context(), o.elect(t), before, after, reminderstore.Marking{Withdrawn: true}); !fault.Is(err, fault.Aborted) {
		t.Errorf("the withdrawal: %v", err)
	}
	if kept := o.kept(t, before.ID); kept.State != reminder.Claimed || kept.Printed.IsZero() || len(o.Store.Claims(serial(0))) != 1 {
		t.Errorf("kept as %+v", kept)
	}
}

// TestAPrintedLetterWithAnAddressThatNoLongerFitsIsParked: it may have arrived
// at the address of before, so that it is handed on to no other way.
func TestAPrintedLetterWithAnAddressThatNoLongerFitsIsParked(t *testing.T) {
	for printed, want := range map[bool]reminder.State{true: reminder.Parked, false: reminder.Rerouted} {
		o := lettered(t, 1)
		id := o.Store.Unfinished()[0].ID
		if printed {
			o.print(t, 5)
		}
		p := o.town.people["people/p0"]
		p.Email, p.PostalLines = "p0@harbour.example", slices.Repeat([]string{strings.Repeat("a very long line ", 12)}, 9)
		p.ContactWays = []ownerv1.ContactWay{wayLetter, wayMail}
		if b := o.print(t, 5); len(b.Notices) != 0 {
			t.Fatalf("printed %s", people(b))
		}
		if kept := o.kept(t, id); kept.State != want {
			t.Errorf("printed before: %v; it is %v, want %v", printed, kept.State, want)
		}
		posted, err := o.MarkPosted(t.Context(), post([]string{id}), []string{id}, vehicle.Date{})
		if err != nil || (posted[0].State == reminder.Sent) != printed {
			t.Errorf("printed before: %v; then posted: %v, %v", printed, posted, err)
		}
	}
}

func TestALetterThatCannotBeLookedAtStaysOutOfTheBatch(t *testing.T) {
	o := lettered(t, 2)
	id := o.Store.Unfinished()[0].ID
	o.town.cannotGet["people/p0"] = true
	if b := o.print(t, 5); people(b) != "p1" || b.Waiting != 1 {
		t.Errorf("printed %s, %d wait", people(b), b.Waiting)
	}
	if !strings.Contains(o.log.String(), id) {
		t.Errorf("the log: %s", o.log)
	}
	if _, err := o.PrintLetters(t.Context(), []string{id}, 5); err == nil {
		t.Error("it was named, and nothing was said")
	}
}

// TestALetterPrintedAgainIsLookedAtAsOneThatMayHaveArrived: what is over is not
// printed again and stays told; of what is over in part the same letter is.
func TestALetterPrintedAgainIsLookedAtAsOneThatMayHaveArrived(t *testing.T) {
	for left, want := range map[string]string{"E01": "p0", "": ""} {
		o := newOffice(t)
		o.Works.Postal = []string{"Works Lane", "Aldermoor"}
		o.town.vehicle(serial(0), item("E01", today), item("E02", today))
		p := o.town.owner(serial(0), "p0")
		p.Email, p.PostalLines = "", []string{"1 Quay Road", "Harbour"}
		o.want(t, "a letter about two items", "claimed 1 letters 1")
		first := o.print(t, 5)
		o.town.vehicle(serial(0))
		if left != "" {
			o.town.vehicle(serial(0), item(left, today))
		}
		again := o.print(t, 5)
		if people(again) != want || want != "" && !bytes.Equal(again.PDF, first.PDF) {
			t.Errorf("%q is left: printed again to %q, want %q", left, people(again), want)
		}
		if claims := o.Store.Claims(serial(0)); len(claims) != 2 {
			t.Errorf("%q is left: the letter tells %+v", left, claims)
		}
	}
}

// TestALetterWithoutSomeOfItsCharactersIsPrintedAndTold: the fonts have no Han
// characters.
func TestALetterWithoutSomeOfItsCharactersIsPrintedAndTold(t *testing.T) {
	o := lettered(t, 2)
	o.town.people["people/p0"].FullName = "田中 Ann"
	b := o.print(t, 50)
	o.print(t, 50)
	if people(b) != "p0 p1" {
		t.Errorf("printed %s", people(b))
	}
	tasks, err := o.Store.Tasks(t.Context(), "", 10, func(reminder.Task) bool { return true })
	if err != nil || len(tasks) != 1 || tasks[0].Kind != reminder.LetterIncomplete || tasks[0].Notice != b.Notices[0].ID || strings.Contains(tasks[0].Text, "田") {
		t.Fatalf("tasks %+v, %v", tasks, err)
	}
	ids := []string{b.Notices[1].ID}
	if _, err := o.MarkPosted(t.Context(), post(ids), ids, vehicle.Date{}); err != nil {
		t.Fatal(err)
	}
	o.town.people["people/p1"].FullName = "田中 Ann" // after it was posted
	if again := o.print(t, 50, ids...); people(again) != "p1" {
		t.Errorf("the posted one again: %s", people(again))
	}
	if tasks, _ := o.Store.Tasks(t.Context(), "", 10, func(reminder.Task) bool { return true }); len(tasks) != 1 {
		t.Errorf("tasks %+v", tasks)
	}
}
