package accessauditrpc_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accessauditrpc"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var march = time.Date(2026, time.March, 3, 10, 15, 0, 0, time.UTC)

// desk is the service over a store, and the one that seals.
type desk struct {
	*accessauditrpc.Service
	kv    *kv.Store
	now   time.Time
	fence kv.Fence
}

func open(t *testing.T) *desk {
	t.Helper()
	d := &desk{kv: kv.NewStore(etcdtest.Client(t)), now: march}
	d.Service = accessauditrpc.New(accessauditrpc.Config{Store: d.kv, Clock: func() time.Time { return d.now }})
	// A fence is a key that stands: nobody contests this one.
	r, err := d.kv.Commit(t.Context(), kv.NewTxn().PutBytes("/halfshaft/v1/elections/test", nil))
	if err != nil {
		t.Fatal(err)
	}
	d.fence = kv.Fence{Key: "/halfshaft/v1/elections/test", CreateRevision: r.Revision}
	return d
}

// pend writes lines that wait, in their order.
func (d *desk) pend(t *testing.T, lines ...audit.Line) {
	t.Helper()
	r := accessaudit.NewRecorder(accessaudit.RecorderConfig{Store: d.kv})
	for i, l := range lines {
		txn := kv.NewTxn().PutBytes(fmt.Sprintf("/halfshaft/v1/build/x/%d", i), nil)
		if _, err := d.kv.Commit(kv.WithWitness(t.Context(), r.Witness(l)), txn); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}

// seal puts what waits into the chain.
func (d *desk) seal(t *testing.T) {
	t.Helper()
	for more := true; more; {
		var err error
		if _, more, _, err = accessaudit.NewStore(d.kv).Seal(t.Context(), d.now, d.fence); err != nil {
			t.Fatal(err)
		}
	}
}

// line is a change of a build by an actor, n minutes later.
func line(n int, actor, object string, outcome audit.Outcome) audit.Line {
	return audit.Line{
		Time: march.Add(time.Duration(n) * time.Minute), Actor: actor, Role: access.Engineer, Outcome: outcome,
		Method: "/halfshaft.build.v1.BuildService/AmendBuild", Objects: []string{object}, Because: fmt.Sprint("reason ", n),
	}
}

// story is twelve lines of three actors about two vehicles and a person.
func story() []audit.Line {
	var lines []audit.Line
	for n := range 12 {
		l := line(n, []string{"front desk", "bench 2", "bench 3"}[n%3],
			[]string{"builds/AM0147P", "vehicles/AM0148R/readings/r1"}[n%2], audit.Changed)
		switch {
		case n%4 == 3:
			l.Outcome = audit.Refused
		case n%4 == 2:
			l.Outcome, l.Objects = audit.Read, []string{"people/p0031"}
		}
		lines = append(lines, l)
	}
	return lines
}

// list asks for all pages and gives the reasons, which number the story's lines.
func (d *desk) list(t *testing.T, r *accessv1.ListAuditLinesRequest) []string {
	t.Helper()
	var got []string
	for {
		out, err := d.ListAuditLines(context.Background(), r)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range out.GetLines() {
			got = append(got, strings.TrimPrefix(l.GetBecause(), "reason "))
		}
		if r.PageToken = out.GetNextPageToken(); r.PageToken == "" {
			return got
		}
	}
}

func TestLinesAreListedByFiltersOverAnyPages(t *testing.T) {
	d := open(t)
	d.pend(t, story()[:10]...)
	d.seal(t)
	d.pend(t, story()[10:]...) // these wait for their place and come last
	for name, c := range map[string]struct {
		ask  func(*accessv1.ListAuditLinesRequest)
		want string
	}{
		"all":             {func(*accessv1.ListAuditLinesRequest) {}, "0 1 2 3 4 5 6 7 8 9 10 11"},
		"after a place":   {func(r *accessv1.ListAuditLinesRequest) { r.After = 8 }, "8 9 10 11"},
		"since a time":    {func(r *accessv1.ListAuditLinesRequest) { r.SinceTime = timestamppb.New(march.Add(9 * time.Minute)) }, "9 10 11"},
		"until a time":    {func(r *accessv1.ListAuditLinesRequest) { r.UntilTime = timestamppb.New(march.Add(2 * time.Minute)) }, "0 1"},
		"of an actor":     {func(r *accessv1.ListAuditLinesRequest) { r.Actor = "bench 2" }, "1 4 7 10"},
		"about a vehicle": {func(r *accessv1.ListAuditLinesRequest) { r.Object = "vehicles/AM0147P" }, "0 4 8"},
		"about a build":   {func(r *accessv1.ListAuditLinesRequest) { r.Object = "builds/AM0147P" }, "0 4 8"},
		"below a vehicle": {func(r *accessv1.ListAuditLinesRequest) { r.Object = "vehicles/AM0148R/readings" }, "1 3 5 7 9 11"},
		"about a person":  {func(r *accessv1.ListAuditLinesRequest) { r.Object = "people/p0031" }, "2 6 10"},
		"about nothing":   {func(r *accessv1.ListAuditLinesRequest) { r.Object = "people/p0032" }, ""},
		"with an outcome": {func(r *accessv1.ListAuditLinesRequest) {
			r.Outcomes = []accessv1.AuditOutcome{accessv1.AuditOutcome_AUDIT_OUTCOME_REFUSED}
		}, "3 7 11"},
		"with two of them": {func(r *accessv1.ListAuditLinesRequest) { r.Outcomes = []accessv1.AuditOutcome{3, 4} }, "2 3 6 7 10 11"},
		"all filters": {func(r *accessv1.ListAuditLinesRequest) {
			r.Actor, r.Object, r.Outcomes, r.After = "front desk", "vehicles/AM0148R", []accessv1.AuditOutcome{1, 4}, 1
		}, "3 9"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, size := range []int32{0, 1, 3, 12} {
				r := &accessv1.ListAuditLinesRequest{PageSize: size}
				c.ask(r)
				if got := strings.Join(d.list(t, r), " "); got != c.want {
					t.Errorf("pages of %d: got %s, want %s", size, got, c.want)
				}
				r = &accessv1.ListAuditLinesRequest{PageSize: size, LatestFirst: true}
				c.ask(r)
				back := d.list(t, r)
				slices.Reverse(back)
				if got := strings.Join(back, " "); got != c.want {
					t.Errorf("the latest first, pages of %d: got reversed %s, want %s", size, got, c.want)
				}
			}
		})
	}
}

func TestTheHistoryOfAnObjectIsItsChangesTheLatestFirst(t *testing.T) {
	d := open(t)
	d.pend(t, story()...)
	failed := line(12, "bench 2", "builds/AM0147P", audit.Failed)
	d.pend(t, failed)
	d.seal(t)
	d.pend(t, line(13, "front desk", "vehicles/AM0147P", audit.Changed), line(14, "front desk", "vehicles/AM0147P", audit.Read),
		line(15, "front desk", "builds/AM0147P", audit.Changed))
	for _, size := range []int32{0, 1, 2, 6} {
		r := &accessv1.ListHistoryRequest{Parent: "vehicles/AM0147P", PageSize: size}
		var got []string
		for {
			out, err := d.ListHistory(t.Context(), r)
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range out.GetLines() {
				got = append(got, strings.TrimPrefix(l.GetBecause(), "reason "))
			}
			if r.PageToken = out.GetNextPageToken(); r.PageToken == "" {
				break
			}
		}
		if !slices.Equal(got, []string{"15", "13", "12", "8", "4", "0"}) {
			t.Errorf("pages of %d: got %v", size, got)
		}
	}
	out, err := d.ListHistory(t.Context(), &accessv1.ListHistoryRequest{Parent: "builds/AM0147P"})
	if err != nil || out.GetLines()[0].GetSentence() != "Amended by front desk on 3 March 2026, because reason 15." || out.GetLines()[0].GetSequence() != 0 {
		t.Errorf("got %v, %v", out.GetLines()[0], err)
	}
}

func TestALongHistoryHasAllItsChanges(t *testing.T) {
	d := open(t)
	const n = 1300 // more than the index gives at once
	var lines []audit.Line
	for i := range n {
		lines = append(lines, line(i, "bench", "builds/AM0147P", []audit.Outcome{audit.Changed, audit.Read}[i%2]))
	}
	d.pend(t, lines...)
	d.seal(t)
	r := &accessv1.ListHistoryRequest{Parent: "vehicles/AM0147P", PageSize: 500}
	for want := n - 2; ; {
		out, err := d.ListHistory(t.Context(), r)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range out.GetLines() {
			if l.GetBecause() != fmt.Sprint("reason ", want) {
				t.Fatalf("got %s, want reason %d", l.GetBecause(), want)
			}
			want -= 2
		}
		if r.PageToken = out.GetNextPageToken(); r.PageToken == "" {
			if want != -2 {
				t.Errorf("it ended before reason %d", want)
			}
			return
		}
	}
}

func TestWhatCannotBeAskedIsRefusedWithItsField(t *testing.T) {
	d := open(t)
	for name, ask := range map[string]func() error{
		"an object without an identifier": func() error {
			_, err := d.ListAuditLines(t.Context(), &accessv1.ListAuditLinesRequest{Object: "builds"})
			return err
		},
		"an outcome that is none": func() error {
			_, err := d.ListAuditLines(t.Context(), &accessv1.ListAuditLinesRequest{Outcomes: []accessv1.AuditOutcome{9}})
			return err
		},
		"a place below none": func() error {
			_, err := d.ListAuditLines(t.Context(), &accessv1.ListAuditLinesRequest{After: -1})
			return err
		},
		"a time that is none": func() error {
			_, err := d.ListAuditLines(t.Context(), &accessv1.ListAuditLinesRequest{SinceTime: &timestamppb.Timestamp{Nanos: -1}})
			return err
		},
		"a token of another list": func() error {
			_, err := d.ListAuditLines(t.Context(), &accessv1.ListAuditLinesRequest{PageToken: "abc"})
			return err
		},
		"a history of nothing": func() error {
			_, err := d.ListHistory(t.Context(), &accessv1.ListHistoryRequest{})
			return err
		},
		"a negative page": func() error {
			_, err := d.ListHistory(t.Context(), &accessv1.ListHistoryRequest{Parent: "builds/AM0147P", PageSize: -1})
			return err
		},
		"a checkpoint without a hash": func() error {
			_, err := d.CheckAudit(t.Context(), &accessv1.CheckAuditRequest{Checkpoints: []*accessv1.AuditCheckpoint{{Sequence: 1}}})
			return err
		},
	} {
		if err := ask(); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestTheProofTellsOfLinesThatWaitAndOfCheckpoints(t *testing.T) {
	d := open(t)
	empty, err := d.GetAuditCheckpoint(t.Context(), &accessv1.GetAuditCheckpointRequest{})
	if err != nil || empty.GetSequence() != 0 || empty.GetHash() != strings.Repeat("0", 64) {
		t.Errorf("of nothing: %v, %v", empty, err)
	}
	d.pend(t, story()...)
	d.seal(t)
	taken, err := d.GetAuditCheckpoint(t.Context(), &accessv1.GetAuditCheckpointRequest{})
	if err != nil || taken.GetSequence() != 12 || !taken.GetCheckpointTime().AsTime().Equal(march) {
		t.Fatal(taken, err)
	}
	d.pend(t, story()...)
	got, err := d.CheckAudit(t.Context(), &accessv1.CheckAuditRequest{Checkpoints: []*accessv1.AuditCheckpoint{empty, taken}})
	if err != nil || got.GetLines() != 12 || got.GetPendingLines() != 12 || len(got.GetFaults()) != 0 ||
		got.GetCheckpoint().GetHash() != taken.GetHash() {
		t.Errorf("got %v, %v", got, err)
	}
	// Somebody cuts the end off and puts the head back to fit.
	client := d.kv.Client()
	if _, err := client.Delete(t.Context(), "/halfshaft/v1/audit/lines/0000000000000012"); err != nil {
		t.Fatal(err)
	}
	if got, err = d.CheckAudit(t.Context(), &accessv1.CheckAuditRequest{}); err != nil || len(got.GetFaults()) != 1 ||
		got.GetFaults()[0].GetSentence() != "Line 12 is missing: the store says that the chain ends there." {
		t.Errorf("got %v, %v", got, err)
	}
	if _, err := client.Put(t.Context(), "/halfshaft/v1/audit/lines/0000000000000003", "nonsense"); err != nil {
		t.Fatal(err)
	}
	got, err = d.CheckAudit(t.Context(), &accessv1.CheckAuditRequest{})
	if err != nil || !slices.ContainsFunc(got.GetFaults(), func(f *accessv1.AuditFault) bool { return f.GetSequence() == 3 }) {
		t.Errorf("got %v, %v", got, err)
	}
}

func TestTheHistoryOfAPartOfAVehicleIsThatPartAlone(t *testing.T) {
	d := open(t)
	d.pend(t, line(0, "a", "builds/AM0147P", audit.Changed), line(1, "a", "vehicles/AM0147P/readings/r1", audit.Changed),
		line(2, "a", "vehicles/AM0147P/readings/r12", audit.Changed), line(3, "a", "vehicles/AM0147P", audit.Changed))
	d.seal(t)
	for parent, want := range map[string]string{
		"vehicles/AM0147P": "3 2 1 0", "vehicles/AM0147P/readings": "2 1", "vehicles/AM0147P/readings/r1": "1", "builds/AM0147P": "0",
	} {
		out, err := d.ListHistory(t.Context(), &accessv1.ListHistoryRequest{Parent: parent})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, l := range out.GetLines() {
			got = append(got, strings.TrimPrefix(l.GetBecause(), "reason "))
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: got %v, want %s", parent, got, want)
		}
	}
}
