package reminderrpc

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/testing/protocmp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var now = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)

// opener opens what was never sealed.
type opener struct{ ownerv1.OwnerServiceClient }

func (opener) OpenForPerson(_ context.Context, r *ownerv1.OpenForPersonRequest, _ ...grpc.CallOption) (*ownerv1.OpenForPersonResponse, error) {
	if r.GetPerson() != "people/p1" || !strings.HasPrefix(r.GetPurpose(), "notice AM") {
		return nil, errors.New("sealed for something else")
	}
	return &ownerv1.OpenForPersonResponse{Plaintext: r.GetSealed()}, nil
}

type post struct{}

func (post) Send(context.Context, string, string, []byte) reminder.Attempt {
	panic("nothing is to be sent here")
}

// ListTies says that p1 and p2 are tied to every vehicle.
func (opener) ListTies(_ context.Context, r *ownerv1.ListTiesRequest, _ ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	return &ownerv1.ListTiesResponse{Ties: []*ownerv1.Tie{
		{Name: r.GetParent() + "/ties/1", Person: "people/p1"}, {Name: r.GetParent() + "/ties/2", Person: "people/p2"},
	}}, nil
}

// newService has notices of two vehicles and a task for each.
func newService(t *testing.T) (*Service, context.Context) {
	t.Helper()
	s, ctx, _ := newFenced(t)
	return s, ctx
}

// newFenced gives the fence too, for what only the leader writes.
func newFenced(t *testing.T) (*Service, context.Context, kv.Fence) {
	t.Helper()
	store := kv.NewStore(etcdtest.Client(t))
	notices, err := reminderstore.Open(t.Context(), store, &projection.Group{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	clock := func() time.Time { return now }
	job, err := reminderjob.New(reminderjob.Config{Store: notices, Owners: opener{}, Mail: post{}, Clock: clock, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	s := New(Config{Store: notices, Job: job, Clock: clock})
	t.Cleanup(func() { s.Close() })
	resp, err := store.Client().Put(t.Context(), "/fence", "us")
	if err != nil {
		t.Fatal(err)
	}
	fence := kv.Fence{Key: "/fence", CreateRevision: resp.Header.Revision}
	for _, v := range []string{"AM0147P", "AM0093L"} {
		for n := range 3 {
			notice(t, notices, fence, vehicle.Serial(v), n)
		}
	}
	return s, access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "front desk"}), fence
}

// notice makes the nth notice of a vehicle; the third is parked with its task.
func notice(t *testing.T, store *reminderstore.Store, fence kv.Fence, serial vehicle.Serial, nth int) {
	t.Helper()
	body := fmt.Appendf(nil, "the message %d of %s", nth, serial)
	d := reminder.Draft{
		Vehicle: reminder.Vehicle{Serial: serial}, To: reminder.Recipient{Person: "p1"}, Channel: reminder.Mail, Stage: reminder.Early,
		Lines: []reminder.Line{{Item: reminder.Item{ID: "E01", Cycle: fmt.Sprintf("E01.%d", nth)}, Stage: reminder.Early}},
	}
	n := d.ToClaimed(d.NoticeID(1), "<a@b.example>", body, now)
	kept, err := store.Claim(t.Context(), fence, n, reminderstore.Sealed{Body: body})
	if err != nil {
		t.Fatal(err)
	}
	after, marking := n.After(reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}, now), reminderstore.Marking{}
	if nth == 2 {
		after = n.After(reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 no"}, now)
		task := after.Task(reminder.NoticeParked, 1, now)
		marking.Tasks = []reminder.Task{task}
	}
	if err := store.Mark(t.Context(), fence, kept, after, marking); err != nil {
		t.Fatal(err)
	}
}

func TestNoticesAreListedInPages(t *testing.T) {
	s, ctx := newService(t)
	var names []string
	request := &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 2}
	for {
		r, err := s.ListNotices(ctx, request)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range r.GetNotices() {
			names = append(names, n.GetName())
			if n.GetSealedBody() != nil || n.GetEtag() == "" {
				t.Errorf("%s is listed with its message or without its etag", n.GetName())
			}
		}
		if request.PageToken = r.GetNextPageToken(); request.PageToken == "" {
			break
		}
	}
	want := []string{
		"notices/AM0093L.E01.0.early.mail.p1", "notices/AM0093L.E01.1.early.mail.p1", "notices/AM0093L.E01.2.early.mail.p1",
		"notices/AM0147P.E01.0.early.mail.p1", "notices/AM0147P.E01.1.early.mail.p1", "notices/AM0147P.E01.2.early.mail.p1",
	}
	if diff := cmp.Diff(want, names); diff != "" {
		t.Error(diff)
	}
	one, err := s.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/am-0147 p", State: reminderv1.NoticeState_NOTICE_STATE_PARKED})
	if err != nil || len(one.GetNotices()) != 1 || one.GetNotices()[0].GetName() != want[5] {
		t.Errorf("the parked ones of one vehicle: %v, %v", one, err)
	}
	for _, bad := range []*reminderv1.ListNoticesRequest{
		{Parent: "vehicles/AM0147Q"}, {Parent: ""}, {Parent: "vehicles/-", PageSize: -1}, {Parent: "vehicles/-", PageToken: "x"},
	} {
		if _, err := s.ListNotices(ctx, bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestANoticeIsShownWithItsMessage(t *testing.T) {
	s, ctx := newService(t)
	r, err := s.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: "notices/AM0147P.E01.1.early.mail.p1"})
	if err != nil || string(r.GetMessage()) != "the message 1 of AM0147P" {
		t.Fatalf("got %v, %v", r, err)
	}
	if sum := sha256.Sum256(r.GetMessage()); string(r.GetNotice().GetBodySha256()) != string(sum[:]) {
		t.Error("the digest is not the message's")
	}
	for _, name := range []string{"notices/AM0147P.E01.9.early.mail.p1", "notices/nonsense"} {
		if _, err := s.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: name}); !fault.Is(err, fault.NotFound) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAParkedNoticeIsTakenUpOnce(t *testing.T) {
	s, ctx := newService(t)
	get := func(name string) *reminderv1.Notice {
		r, err := s.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: name})
		if err != nil {
			t.Fatal(err)
		}
		return r.GetNotice()
	}
	parked := get("notices/AM0147P.E01.2.early.mail.p1")
	retry := &reminderv1.RetryNoticeRequest{Name: parked.GetName(), Etag: parked.GetEtag(), RequestId: uuid.NewString()}
	up, err := s.RetryNotice(ctx, retry)
	if err != nil || up.GetState() != reminderv1.NoticeState_NOTICE_STATE_WAITING || !up.GetRetryTime().AsTime().Equal(now) {
		t.Fatalf("got %v, %v", up, err)
	}
	again, err := s.RetryNotice(ctx, retry)
	if diff := cmp.Diff(up, again, protocmp.Transform()); diff != "" || err != nil {
		t.Errorf("asked again: %v\n%s", err, diff)
	}
	for _, c := range []struct {
		name string
		r    *reminderv1.RetryNoticeRequest
		want fault.Kind
	}{
		{"the request id of another request", &reminderv1.RetryNoticeRequest{Name: "notices/AM0093L.E01.2.early.mail.p1", Etag: parked.GetEtag(), RequestId: retry.GetRequestId()}, fault.Invalid},
		{"an old etag", &reminderv1.RetryNoticeRequest{Name: parked.GetName(), Etag: parked.GetEtag(), RequestId: uuid.NewString()}, fault.Aborted},
		{"no etag", &reminderv1.RetryNoticeRequest{Name: parked.GetName(), RequestId: uuid.NewString()}, fault.Invalid},
		{"one that is not parked", &reminderv1.RetryNoticeRequest{Name: "notices/AM0147P.E01.1.early.mail.p1", Etag: get("notices/AM0147P.E01.1.early.mail.p1").GetEtag(), RequestId: uuid.NewString()}, fault.FailedPrecondition},
	} {
		if _, err := s.RetryNotice(ctx, c.r); !fault.Is(err, c.want) {
			t.Errorf("%s: got %v, want kind %v", c.name, err, c.want)
		}
	}
}

func TestATaskIsClosedByName(t *testing.T) {
	s, ctx := newService(t)
	open, err := s.ListTasks(ctx, &reminderv1.ListTasksRequest{PageSize: 1})
	if err != nil || len(open.GetTasks()) != 1 || open.GetNextPageToken() == "" {
		t.Fatalf("got %v, %v", open, err)
	}
	task := open.GetTasks()[0]
	long := &reminderv1.CompleteTaskRequest{Name: task.GetName(), Outcome: strings.Repeat("ü", 2001), Etag: "none"}
	if _, err := s.CompleteTask(ctx, long); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "at most 2,000 characters") {
		t.Errorf("an outcome of 2,001 characters: %v", err)
	}
	long.Outcome = strings.Repeat("ü", 2000)
	if _, err := s.CompleteTask(ctx, long); !fault.Is(err, fault.Aborted) { // for its etag, which is looked at next
		t.Errorf("an outcome of 2,000 characters: %v", err)
	}
	complete := &reminderv1.CompleteTaskRequest{Name: task.GetName(), Outcome: "new address taken down", Etag: task.GetEtag(), RequestId: uuid.NewString()}
	done, err := s.CompleteTask(ctx, complete)
	if err != nil || done.GetOutcome() != "front desk: new address taken down" || !done.GetCompleteTime().AsTime().Equal(now) {
		t.Fatalf("got %v, %v", done, err)
	}
	if again, err := s.CompleteTask(ctx, complete); err != nil || again.GetEtag() != done.GetEtag() {
		t.Errorf("asked again: %v, %v", again, err)
	}
	complete = &reminderv1.CompleteTaskRequest{Name: task.GetName(), Outcome: "x", Etag: done.GetEtag(), RequestId: uuid.NewString()}
	if _, err := s.CompleteTask(ctx, complete); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("closed twice: %v", err)
	}
	for _, c := range []struct {
		include bool
		want    int
	}{{false, 1}, {true, 2}} {
		if r, err := s.ListTasks(ctx, &reminderv1.ListTasksRequest{IncludeCompleted: c.include}); err != nil || len(r.GetTasks()) != c.want {
			t.Errorf("with done ones %v: %v, %v", c.include, r, err)
		}
	}
}

func TestOptOutsComeAndGo(t *testing.T) {
	s, ctx := newService(t)
	create := func(way string) (*reminderv1.OptOut, error) {
		return s.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{
			OptOut: &reminderv1.OptOut{Vehicle: "vehicles/am0147p", Person: "people/p1", Way: way}, RequestId: uuid.NewString(),
		})
	}
	o, err := create("page")
	if err != nil || o.GetName() != "optOuts/AM0147P.p1" || !s.Store.OptedOutOf("AM0147P", reminder.Service)["p1"] {
		t.Fatalf("got %v, %v", o, err)
	}
	if again, err := create("one-click"); err != nil || again.GetWay() != "page" {
		t.Errorf("the one that is there: %v, %v", again, err)
	}
	if _, err := s.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{
		OptOut: &reminderv1.OptOut{Vehicle: "vehicles/am0147p", Person: "people/p9", Way: "staff"}, RequestId: uuid.NewString(),
	}); !fault.Is(err, fault.Invalid) {
		t.Errorf("somebody who never was anything to the vehicle: %v", err)
	}
	if _, err := create("by pigeon"); !fault.Is(err, fault.Invalid) {
		t.Errorf("an unknown way: %v", err)
	}
	end := &reminderv1.EndOptOutRequest{Name: o.GetName(), RequestId: uuid.NewString()}
	for range 2 { // the second is the same request again
		if _, err := s.EndOptOut(ctx, end); err != nil {
			t.Fatal(err)
		}
	}
	if s.Store.OptedOutOf("AM0147P", reminder.Service)["p1"] {
		t.Error("it did not end")
	}
	if _, err := s.EndOptOut(ctx, &reminderv1.EndOptOutRequest{Name: o.GetName(), RequestId: uuid.NewString()}); !fault.Is(err, fault.NotFound) {
		t.Errorf("ended twice: %v", err)
	}
}

func TestARequestIDIsAUUIDOrNone(t *testing.T) {
	s, ctx := newService(t)
	const notice, task, optOut = "notices/AM0147P.E01.2.early.mail.p1", "tasks/AM0147P.address", "optOuts/AM0147P.p1"
	for name, call := range map[string]func(id string) error{
		"taking a notice up": func(id string) error {
			_, err := s.RetryNotice(ctx, &reminderv1.RetryNoticeRequest{Name: notice, RequestId: id})
			return err
		},
		"closing a task": func(id string) error {
			_, err := s.CompleteTask(ctx, &reminderv1.CompleteTaskRequest{Name: task, Outcome: "done", RequestId: id})
			return err
		},
		"stopping notices": func(id string) error {
			_, err := s.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{RequestId: id})
			return err
		},
		"letting them go out again": func(id string) error {
			_, err := s.EndOptOut(ctx, &reminderv1.EndOptOutRequest{Name: optOut, RequestId: id})
			return err
		},
	} {
		for _, id := range []string{"again please", "{0190c5a2-7f3e-7b1d-9a44-2f6f0e6b8c11}", "0190c5a27f3e7b1d9a442f6f0e6b8c11"} {
			if !complainsOfRequestID(call(id)) {
				t.Errorf("%s with the request id %q: got %v, want a refusal that names request_id", name, id, call(id))
			}
		}
		for _, id := range []string{"", uuid.NewString()} {
			if err := call(id); complainsOfRequestID(err) {
				t.Errorf("%s with the request id %q: got %v", name, id, err)
			}
		}
	}
}

func complainsOfRequestID(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Kind == fault.Invalid && len(f.Fields) == 1 && f.Fields[0].Name == "request_id"
}

func TestAPassIsRefusedWhereNobodyLeads(t *testing.T) {
	s, ctx := newService(t)
	ctx, cancel := context.WithCancel(ctx)
	cancel() // or it would wait for an election that nobody holds
	if _, err := s.RunPass(ctx, &reminderv1.RunPassRequest{}); err == nil {
		t.Error("a pass ran")
	}
}

// TestAParkedNoticeIsNotTakenUpAfterALaterStage: the early notice is parked, and
// the one that the work is due went out since.
func TestAParkedNoticeIsNotTakenUpAfterALaterStage(t *testing.T) {
	s, ctx, fence := newFenced(t)
	parked, err := s.Store.Notice(ctx, "AM0147P.E01.2.early.mail.p1")
	if err != nil {
		t.Fatal(err)
	}
	later := parked.Notice
	later.ID, later.Stage, later.State = "AM0147P.E01.2.due.mail.p1", reminder.Due, reminder.Claimed
	later.Reference = reminder.Reference(later.ID)
	later.Lines = slices.Clone(later.Lines)
	later.Lines[0].Stage = reminder.Due
	kept, err := s.Store.Claim(ctx, fence, later, reminderstore.Sealed{Body: []byte("due")})
	if err != nil {
		t.Fatal(err)
	}
	request := &reminderv1.RetryNoticeRequest{Name: "notices/" + parked.ID, Etag: noticeProto(parked).GetEtag(), RequestId: uuid.NewString()}
	_, err = s.RetryNotice(ctx, request)
	if f, ok := err.(*fault.Error); !ok || f.Reason != "NOTICE_OVERTAKEN" {
		t.Errorf("after a later stage: %v", err)
	}
	failed := kept.After(reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 no"}, now)
	if err := s.Store.MarkReturn(ctx, reminderstore.Request{}, kept, failed, reminderstore.Marking{}, nil); err != nil {
		t.Fatal(err)
	}
	if taken, err := s.RetryNotice(ctx, request); err != nil || taken.GetState() != reminderv1.NoticeState_NOTICE_STATE_WAITING {
		t.Errorf("after the later one was parked too: %v, %v", taken, err)
	}
}
