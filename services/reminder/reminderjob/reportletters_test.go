package reminderjob

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle/vehiclewire"
)

// again puts another process in the place of the office's.
func (o *office) again(t *testing.T) {
	t.Helper()
	job, err := New(o.Config)
	if err != nil {
		t.Fatal(err)
	}
	o.Job = job
}

func wantTold(t *testing.T, when string, f *bulletinv1.FollowUp, want ...string) {
	t.Helper()
	if got := toldOf(f); !slices.Equal(got, want) {
		t.Errorf("%s: the list has the letters %v, want %v", when, got, want)
	}
}

func TestALetterIsToldOnceForAllWhoGetIt(t *testing.T) {
	o := newOffice(t)
	b := campaigned(o)
	o.town.owner(serial(1), "p1")
	o.town.owner(serial(1), "p2")
	f := b.enter(serial(1), stopUse, today)
	o.want(t, "both get their letter", "claimed 2 sent 2")
	wantTold(t, "after the first letter", f, "C-2026-02.1")
	s := f.GetSteps()[0]
	if day := vehiclewire.DateProto(today); s.GetStepDate().String() != day.String() || s.GetText() != "It went out by mail." {
		t.Errorf("the step is %v", s)
	}
	asked := b.asked
	o.want(t, "nothing more goes out", "")
	if b.asked != asked {
		t.Errorf("a pass with nothing new asked %d times", b.asked-asked)
	}
	o.again(t)
	o.want(t, "nor from another process", "")
	wantTold(t, "which told nothing", f, "C-2026-02.1")
	o.now = noon.AddDate(0, 0, 30)
	o.want(t, "the next letter", "claimed 2 sent 2")
	wantTold(t, "after the second", f, "C-2026-02.1", "C-2026-02.1-2")
}

// TestALetterThatWentToOneIsNoReasonToWithholdItFromAnother: what is told moves
// no letter, so that another person's, which had to wait, goes out all the same.
func TestALetterThatWentToOneIsNoReasonToWithholdItFromAnother(t *testing.T) {
	o := newOffice(t)
	b := campaigned(o)
	o.town.owner(serial(1), "p1")
	o.town.owner(serial(1), "p2")
	o.post.does = func(to string, _ []byte) reminder.Attempt {
		if strings.HasPrefix(to, "p2") {
			return reminder.Attempt{Outcome: reminder.TryLater, Text: "451 later"}
		}
		return reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}
	}
	f := b.enter(serial(1), stopUse, today)
	o.want(t, "one is taken", "claimed 2 sent 1 waiting 1")
	wantTold(t, "it is told", f, "C-2026-02.1")
	o.post.does = nil
	o.now = noon.AddDate(0, 0, 1)
	o.want(t, "and the other goes out", "sent 1")
	wantTold(t, "it is told once", f, "C-2026-02.1")
}

func TestWhatAKilledProcessDidNotTellIsToldByTheNext(t *testing.T) {
	for _, lost := range []bool{false, true} {
		t.Run(fmt.Sprintf("the answer lost %v", lost), func(t *testing.T) {
			o := newOffice(t)
			b := campaigned(o)
			o.town.owner(serial(1), "p1")
			f := b.enter(serial(1), stopUse, today)
			b.deaf, b.lost = !lost, lost // as it is to a process that dies after it sent
			o.want(t, "it is sent", "claimed 1 sent 1")
			if before := len(toldOf(f)); before == 1 != lost {
				t.Errorf("%d letters are told before the next process begins", before)
			}
			b.deaf, b.lost = false, false
			b.step(f, bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, today)
			o.now = noon.AddDate(0, 0, 2)
			o.again(t)
			o.want(t, "the next process sends nothing", "")
			wantTold(t, "and tells, of a vehicle that was put right too", f, "C-2026-02.1")
			for _, s := range f.GetSteps() {
				if s.GetLetter() != "" && s.GetStepDate().String() != vehiclewire.DateProto(today).String() {
					t.Errorf("it went out on %v, want the day of the sending", s.GetStepDate())
				}
			}
			if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
				t.Errorf("it stands as %v", f.GetState())
			}
		})
	}
}

func TestWhatWasNotTakenIsNotTold(t *testing.T) {
	o := newOffice(t)
	b := campaigned(o)
	o.town.owner(serial(1), "p1")
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 no"}
	}
	f := b.enter(serial(1), stopUse, today)
	o.run(t)
	wantTold(t, "refused for good", f)
	o.now = noon.AddDate(0, 0, 1)
	o.run(t)
	wantTold(t, "a day later", f)
}

// TestALetterOnPaperIsToldOnceItWasPosted, with the day of the post.
func TestALetterOnPaperIsToldOnceItWasPosted(t *testing.T) {
	o := newOffice(t)
	b := campaigned(o)
	p := o.town.owner(serial(1), "p1")
	p.Email, p.Phone = "", ""
	p.PostalLines = []string{"1 Mill Lane", "Ferncombe"}
	o.Letters, o.Works.Postal = true, []string{"Works Lane", "Aldermoor"}
	f := b.enter(serial(1), stopUse, today)
	o.want(t, "it waits to be posted", "claimed 1 letters 1")
	wantTold(t, "it was not posted", f)
	var ids []string
	for _, k := range o.Store.Unfinished() {
		ids = append(ids, k.ID)
	}
	o.now = noon.AddDate(0, 0, 3)
	if _, err := o.PrintLetters(t.Context(), ids, 10); err != nil {
		t.Fatal(err)
	}
	if _, err := o.MarkPosted(t.Context(), reminderRequest(), ids, today.AddDays(2)); err != nil {
		t.Fatal(err)
	}
	o.run(t)
	wantTold(t, "it was posted", f, "C-2026-02.1")
	if s := f.GetSteps()[0]; s.GetStepDate().String() != vehiclewire.DateProto(today.AddDays(2)).String() || s.GetText() != "It went out by letter." {
		t.Errorf("the step is %v", s)
	}
}

// TestAVehicleOfAnUnknownOwnerMakesOneTaskUntilItIsKnown, and another when it is
// unknown again; where the bulletins cannot be asked nothing changes.
func TestAVehicleOfAnUnknownOwnerMakesOneTaskUntilItIsKnown(t *testing.T) {
	o := newOffice(t)
	b := campaigned(o)
	f := b.enter(serial(1), stopUse, today)
	unknown := func(day int) {
		b.step(f, bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_OWNER_UNKNOWN, today.AddDays(day))
	}
	open := func() (texts []string) {
		tasks, err := o.Store.Tasks(t.Context(), "", 100, func(k reminder.Task) bool { return k.Completed.IsZero() })
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range tasks {
			texts = append(texts, k.Text)
		}
		return texts
	}
	unknown(0)
	o.want(t, "the works is told", "tasks 1")
	if got := open(); len(got) != 1 || !strings.HasPrefix(got[0], "Find the owner of "+string(serial(1))+": campaign C-2026-02, Relay arm. Nobody knows whose it is since 18 May 2026") {
		t.Errorf("the tasks are %q", got)
	}
	for _, day := range []int{0, 30, 90, 455} {
		o.now = noon.AddDate(0, 0, day)
		o.again(t)
		o.want(t, "once", "")
	}
	b.away = true
	b.step(f, bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED, today.AddDays(455))
	o.run(t)
	if got := open(); len(got) != 1 {
		t.Errorf("while the bulletins are away the tasks are %q", got)
	}
	b.away = false
	o.town.owner(serial(1), "p1")
	o.want(t, "its owner is known", "claimed 1 sent 1")
	if got := open(); len(got) != 0 {
		t.Errorf("it is known, and the tasks are %q", got)
	}
	o.now = noon.AddDate(0, 0, 500)
	unknown(500)
	o.want(t, "unknown again", "tasks 1")
	b.step(f, bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, today.AddDays(500))
	o.run(t)
	done, err := o.Store.Tasks(t.Context(), "", 100, func(reminder.Task) bool { return true })
	if err != nil || len(done) != 2 || done[0].Outcome != "halfshaft: the campaign knows the owner again, or where the vehicle went" ||
		done[1].Outcome != "halfshaft: nothing is to be done about the campaign any more" {
		t.Errorf("the tasks are %+v, %v", done, err)
	}
}

// refusing refuses every report, as bulletins of a former program do.
type refusing struct{ *bulletins }

func (r refusing) RecordFollowUpStep(context.Context, *bulletinv1.RecordFollowUpStepRequest, ...grpc.CallOption) (*bulletinv1.FollowUp, error) {
	return nil, status.Error(codes.InvalidArgument, "step.kind")
}

func TestBulletinsThatRefuseAReportHoldUpNoLetter(t *testing.T) {
	o := newOffice(t)
	o.Bulletins = refusing{campaigned(o)}
	o.town.owner(serial(1), "p1")
	o.Bulletins.(refusing).enter(serial(1), stopUse, today)
	o.want(t, "it is sent", "claimed 1 sent 1")
	o.want(t, "once", "")
	if !strings.Contains(o.log.String(), "was not told that a letter went out") {
		t.Errorf("the log: %s", o.log)
	}
}
