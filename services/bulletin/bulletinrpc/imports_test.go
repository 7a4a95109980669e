package bulletinrpc_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

var reminders = access.Caller{Role: access.Service, Bearer: "reminder"}

// recorded is all that a works has of bulletins, the lists first, without etags
// and without what is of one store.
func (w *works) recorded(t testing.TB) []*bulletinv1.BulletinRow {
	t.Helper()
	var rows []*bulletinv1.BulletinRow
	for _, m := range must(w.ListFollowUps(t.Context(), &bulletinv1.ListFollowUpsRequest{Parent: "vehicles/-"}))(t).GetFollowUps() {
		m.Etag, m.ImportTime, m.Letter = "", nil, nil
		rows = append(rows, &bulletinv1.BulletinRow{Row: &bulletinv1.BulletinRow_FollowUp{FollowUp: m}})
	}
	for _, m := range must(w.ListBulletins(t.Context(), &bulletinv1.ListBulletinsRequest{}))(t).GetBulletins() {
		m.Etag = ""
		rows = append(rows, &bulletinv1.BulletinRow{Row: &bulletinv1.BulletinRow_Bulletin{Bulletin: m}})
	}
	return rows
}

// imported stages and commits rows.
func (w *works) imported(t testing.TB, id string, rows ...*bulletinv1.BulletinRow) (*bulletinv1.CommitImportResponse, error) {
	t.Helper()
	w.as(engineer)
	if _, err := w.StageImport(t.Context(), &bulletinv1.StageImportRequest{ImportId: id, Rows: rows}); err != nil {
		return nil, err
	}
	return w.CommitImport(t.Context(), &bulletinv1.CommitImportRequest{ImportId: id, Chunks: 1})
}

// storied is a works with a campaign of two versions, one that was withdrawn, a
// draft, and three vehicles: one booked, one written to, and one nobody has told.
func storied(t *testing.T) (*works, []string) {
	t.Helper()
	w := start(t)
	serials := w.fleet(t, 4, 3)
	ctx := t.Context()
	w.issued(t, ofLot("C-2026-01"))
	next := ofLot("C-2026-01")
	next.Name, next.Title, next.FollowUp = "bulletins/C-2026-01/versions/2", "Gearboxes of lot L7, in better words", &bulletinv1.FollowUpPlan{LetterDays: []int32{0, 30}, RepeatDays: -1}
	w.issued(t, next)
	gone := w.issued(t, ofLot("C-2026-02"))
	must(w.WithdrawBulletin(ctx, &bulletinv1.WithdrawBulletinRequest{Name: gone.GetName(), Etag: gone.GetEtag(), Reason: "the lot was right"}))(t)
	must(w.RefreshSets(ctx, &bulletinv1.RefreshSetsRequest{}))(t)
	must(w.CreateBulletin(ctx, &bulletinv1.CreateBulletinRequest{Bulletin: ofLot("C-2026-03")}))(t)
	step := func(serial string, step *bulletinv1.FollowUpStep) {
		f := must(w.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + serial + "/followUps/C-2026-01"}))(t)
		if step.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_WRITTEN {
			step.Letter = f.GetLetter().GetCycle()
		}
		must(w.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: f.GetEtag(), Step: step}))(t)
	}
	step(serials[0], &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_BOOKED, StepDate: on(2026, 12, 9), Text: "with the\nservice"})
	w.as(reminders)
	step(serials[1], &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_WRITTEN})
	w.as(engineer)
	return w, serials
}

func TestBulletinsAndListsComeBackAsTheyWereAndNoLetterGoesOutAgain(t *testing.T) {
	from, serials := storied(t)
	want := from.recorded(t)
	if len(want) != 6+4 {
		t.Fatalf("%d records", len(want))
	}
	letter := func(w *works, serial string) string {
		f := must(w.GetFollowUp(t.Context(), &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + serial + "/followUps/C-2026-01"}))(t)
		return f.GetLetter().GetCycle()
	}
	if letter(from, serials[1]) == "" {
		t.Fatal("the letter that was written is claimed by the reminder service, and not told by the follow-up")
	}
	to := start(t)
	if got := must(to.imported(t, "one", want...))(t); got.GetWritten() != 10 || got.GetUnchanged() != 0 {
		t.Fatalf("got %v", got)
	}
	to.fleet(t, 4, 3)
	if diff := cmp.Diff(want, to.recorded(t), protocmp.Transform()); diff != "" {
		t.Errorf("(-there +here)\n%s", diff)
	}
	if got := letter(to, serials[1]); got != "" {
		t.Errorf("the letter %s was written, and is to be written again", got)
	}
	if letter(to, serials[2]) == "" {
		t.Error("the letter that nobody has written yet is lost")
	}
	// A pass finds nobody to enter and nothing to record.
	if got := must(to.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t); len(got.GetEntered()) != 0 || got.GetSteps() != 0 {
		t.Errorf("the pass entered %v and made %d steps", got.GetEntered(), got.GetSteps())
	}
	if diff := cmp.Diff(want, to.recorded(t), protocmp.Transform()); diff != "" {
		t.Errorf("after a pass (-there +here)\n%s", diff)
	}
	// The next letter of the written one goes out on its day.
	to.day.Store(31)
	if letter(to, serials[1]) == "" {
		t.Error("the next letter does not go out")
	}
	to.day.Store(0)
	if got := must(to.imported(t, "two", want...))(t); got.GetWritten() != 0 || got.GetUnchanged() != 10 {
		t.Errorf("the second time %v", got)
	}
}

// A list is looked over while nobody is on it; then the service enters everybody,
// and only then it is applied.
func TestAVehicleThatTheServiceEnteredMeanwhileIsOnTheListOnceWithWhatIsImported(t *testing.T) {
	from, serials := storied(t)
	rows := from.recorded(t)
	lists := slices.DeleteFunc(slices.Clone(rows), func(r *bulletinv1.BulletinRow) bool { return r.GetFollowUp() == nil })
	to := start(t)
	to.fleet(t, 4, 3)
	must(to.imported(t, "versions", slices.DeleteFunc(slices.Clone(rows), func(r *bulletinv1.BulletinRow) bool { return r.GetBulletin() == nil })...))(t)
	must(to.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t)
	// To whoever looks it over now it is another record.
	_, err := to.imported(t, "late", lists...)
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 3 || !strings.Contains(f.Fields[0].Want, "never imported over") {
		t.Errorf("looked over afterwards: %v", f.Fields)
	}
	chunk := must(proto.Marshal(&bulletinv1.StageImportRequest{Rows: lists}))(t)
	if err := to.service.Apply(t.Context(), chunk); err != nil {
		t.Fatal(err)
	}
	got := to.listed(t, "C-2026-01")
	if len(got) != 3 {
		t.Fatalf("%d on the list", len(got))
	}
	steps := func(of []*bulletinv1.FollowUp) (out []*bulletinv1.FollowUpStep) {
		for _, f := range of {
			out = append(out, f.GetSteps()...)
		}
		return out
	}
	if diff := cmp.Diff(steps(from.listed(t, "C-2026-01")), steps(got), protocmp.Transform()); diff != "" {
		t.Errorf("(-there +here)\n%s", diff)
	}
	// Once somebody has recorded something it is left alone, whatever comes again.
	f := must(to.GetFollowUp(t.Context(), &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + serials[2] + "/followUps/C-2026-01"}))(t)
	f = must(to.RecordFollowUpStep(t.Context(), &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: f.GetEtag(),
		Step: &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REFUSED, Text: "no time"}}))(t)
	if err := to.service.Apply(t.Context(), chunk); err != nil {
		t.Fatal(err)
	}
	if again := must(to.GetFollowUp(t.Context(), &bulletinv1.GetFollowUpRequest{Name: f.GetName()}))(t); again.GetEtag() != f.GetEtag() {
		t.Errorf("it was written over: %v", again)
	}
}

func TestAnImportOfBulletinsIsRefusedWholeWithEveryFaultAtItsField(t *testing.T) {
	from, _ := storied(t)
	to := start(t)
	rows := from.recorded(t)
	listed := rows[slices.IndexFunc(rows, func(r *bulletinv1.BulletinRow) bool { return len(r.GetFollowUp().GetSteps()) == 2 })].GetFollowUp()
	issued := rows[slices.IndexFunc(rows, func(r *bulletinv1.BulletinRow) bool {
		return r.GetBulletin().GetName() == "bulletins/C-2026-01/versions/2"
	})].GetBulletin()
	for _, c := range []struct {
		name  string
		spoil func(*bulletinv1.FollowUp, *bulletinv1.Bulletin)
		want  []string
	}{
		{"steps that nobody recorded and that never happened", func(f *bulletinv1.FollowUp, _ *bulletinv1.Bulletin) {
			f.Steps[0].RecordedBy, f.Steps[1].StepDate, f.Steps[1].CreateTime = "", on(2036, 1, 1), timestamppb.New(clock().AddDate(-1, 0, 0))
		}, []string{"rows[0].follow_up.steps[0].recorded_by", "rows[0].follow_up.steps[1].step_date", "rows[0].follow_up.steps[1].create_time"}},
		{"no entry", func(f *bulletinv1.FollowUp, _ *bulletinv1.Bulletin) { f.Steps = f.Steps[1:] }, []string{"rows[0].follow_up.steps"}},
		{"two entries", func(f *bulletinv1.FollowUp, _ *bulletinv1.Bulletin) { f.Steps[1] = f.Steps[0] }, []string{"rows[0].follow_up.steps[1].kind"}},
		{"a version of another campaign", func(f *bulletinv1.FollowUp, _ *bulletinv1.Bulletin) { f.Bulletin = "bulletins/C-2026-02/versions/1" }, []string{"rows[0].follow_up.bulletin"}},
		{"a list without the day of the entry, of a version without the day of its issue", func(f *bulletinv1.FollowUp, b *bulletinv1.Bulletin) {
			f.EnterDate, b.IssueDate = nil, nil
		}, []string{"rows[0].follow_up.enter_date", "rows[1].bulletin.issue_date"}},
		{"a version that nobody signed, taken back without a reason", func(_ *bulletinv1.FollowUp, b *bulletinv1.Bulletin) {
			b.Sample, b.State = false, bulletinv1.BulletinState_BULLETIN_STATE_WITHDRAWN
		}, []string{"rows[1].bulletin.signed_by", "rows[1].bulletin.withdraw_reason"}},
		{"a version superseded by nothing", func(_ *bulletinv1.FollowUp, b *bulletinv1.Bulletin) {
			b.State = bulletinv1.BulletinState_BULLETIN_STATE_SUPERSEDED
		}, []string{"rows[1].bulletin.superseded_by"}},
		{"the second version without the first, and a list of the first", func(*bulletinv1.FollowUp, *bulletinv1.Bulletin) {},
			[]string{"rows[" + issued.GetName() + "].bulletin.name", "rows[" + listed.GetName() + "].follow_up.bulletin"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, b := proto.CloneOf(listed), proto.CloneOf(issued)
			c.spoil(f, b)
			_, err := to.imported(t, "spoilt"+strings.Map(func(r rune) rune {
				if r == ' ' || r == ',' {
					return -1
				}
				return r
			}, c.name), &bulletinv1.BulletinRow{Row: &bulletinv1.BulletinRow_FollowUp{FollowUp: f}},
				&bulletinv1.BulletinRow{Row: &bulletinv1.BulletinRow_Bulletin{Bulletin: b}})
			refusal := refused(t, err, fault.Invalid, "INVALID_FIELD")
			for _, want := range c.want {
				if !slices.ContainsFunc(refusal.Fields, func(f fault.Field) bool { return f.Name == want }) {
					t.Errorf("%s is not told of: %v", want, refusal.Fields)
				}
			}
		})
	}
	if all := must(to.ListBulletins(t.Context(), &bulletinv1.ListBulletinsRequest{}))(t).GetBulletins(); len(all) != 0 {
		t.Errorf("%d versions were kept", len(all))
	}
}
