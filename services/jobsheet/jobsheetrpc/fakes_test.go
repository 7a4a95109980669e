package jobsheetrpc

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetstore"
	"halfshaft/services/jobsheet/jobsheetwire"
	"halfshaft/services/vehicle"
)

// others stand for the services that carry a return out: they keep what they are
// asked to, once for each request id, as the real ones do. away says which step
// fails, and whether before it has its effect or only its answer is lost.
type others struct {
	effects []string // "entry", "changes", "step", "void", in order
	seen    map[string]bool
	away    string // the step that fails
	after   bool   // it has its effect before
	refused string // the step that is refused for good
	voided  string // the reason on the entry
	gone    error  // what asking for a campaign is answered
	back    bool   // the dealer gave the vehicle back: of it nothing is there for them
	entry   *schedulev1.ServiceEntry
}

// there refuses a dealer who gave the vehicle back, as the gate does.
func (o *others) there(ctx context.Context) error {
	if o.back && access.CallerFrom(ctx).Role == access.Dealer {
		return status.Error(codes.NotFound, "there is no such vehicle")
	}
	return nil
}

// Each of them, by its own API.
type (
	schedules struct {
		schedulev1.ScheduleServiceClient
		*others
	}
	builds struct {
		buildv1.BuildServiceClient
		*others
	}
	bulletins struct {
		bulletinv1.BulletinServiceClient
		*others
	}
)

// does is one call that has an effect.
func (o *others) does(step, id string) error {
	lost := o.away == step
	if lost && !o.after {
		o.away = ""
		return status.Error(codes.Unavailable, step+" is away")
	}
	if o.refused == step {
		return status.Error(codes.FailedPrecondition, "the vehicle was changed meanwhile")
	}
	if !o.seen[id] {
		o.seen[id] = true
		o.effects = append(o.effects, step)
	}
	if lost {
		o.away = ""
		return status.Error(codes.Unavailable, "the answer of "+step+" is lost")
	}
	return nil
}

func (o schedules) RecordService(ctx context.Context, r *schedulev1.RecordServiceRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	if err := o.there(ctx); err != nil {
		return nil, err
	}
	o.entry = r.GetServiceEntry()
	if r.GetValidateOnly() {
		return r.GetServiceEntry(), nil
	}
	return &schedulev1.ServiceEntry{Name: r.GetParent() + "/serviceEntries/e1"}, o.does("entry", r.GetRequestId())
}

func (o schedules) VoidServiceEntry(ctx context.Context, r *schedulev1.VoidServiceEntryRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	if err := o.there(ctx); err != nil {
		return nil, err
	}
	err := o.does("void", r.GetRequestId())
	if slices.Contains(o.effects, "void") {
		o.voided = r.GetReason()
	}
	return &schedulev1.ServiceEntry{}, err
}

func (o schedules) ListServiceEntries(ctx context.Context, _ *schedulev1.ListServiceEntriesRequest, _ ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	if err := o.there(ctx); err != nil {
		return nil, err
	}
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: []*schedulev1.ServiceEntry{{Name: "vehicles/AM0147P/serviceEntries/e1", VoidReason: o.voided, Etag: "7"}}}, nil
}

func (o schedules) RecordReading(_ context.Context, r *schedulev1.RecordReadingRequest, _ ...grpc.CallOption) (*schedulev1.Reading, error) {
	return &schedulev1.Reading{State: schedulev1.ReadingState_READING_STATE_COUNTED}, nil
}

func (o builds) RecordChanges(_ context.Context, r *buildv1.RecordChangesRequest, _ ...grpc.CallOption) (*buildv1.RecordChangesResponse, error) {
	if r.GetValidateOnly() {
		return &buildv1.RecordChangesResponse{}, nil
	}
	return &buildv1.RecordChangesResponse{Changes: []*buildv1.Change{{Name: "builds/AM0147P/changes/c1"}}}, o.does("changes", r.GetRequestId())
}

func (o bulletins) GetFollowUp(context.Context, *bulletinv1.GetFollowUpRequest, ...grpc.CallOption) (*bulletinv1.FollowUp, error) {
	if o.gone != nil {
		return nil, o.gone
	}
	f := &bulletinv1.FollowUp{Etag: "3"}
	if slices.Contains(o.effects, "step") {
		f.Steps = []*bulletinv1.FollowUpStep{{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, Evidence: "vehicles/AM0147P/serviceEntries/e1"}}
		f.Etag, f.State = "4", bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE
	}
	if slices.Contains(o.effects, "reopen") {
		f.Etag, f.State = "5", bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG
	}
	return f, nil
}

func (o bulletins) RecordFollowUpStep(_ context.Context, r *bulletinv1.RecordFollowUpStepRequest, _ ...grpc.CallOption) (*bulletinv1.FollowUp, error) {
	if r.GetValidateOnly() {
		return &bulletinv1.FollowUp{}, nil
	}
	if r.GetStep().GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG {
		return &bulletinv1.FollowUp{}, o.does("reopen", r.GetRequestId())
	}
	return &bulletinv1.FollowUp{}, o.does("step", r.GetRequestId())
}

// atWork is a service with one open sheet: an item of the programme and the
// remedy of a campaign.
type atWork struct {
	*Service
	others *others
	sheet  *jobsheetv1.JobSheet
}

func work(t *testing.T) *atWork {
	t.Helper()
	o := &others{seen: map[string]bool{}}
	store := kv.NewStore(etcdtest.Client(t))
	s, err := New(t.Context(), Config{
		Store: store, Group: &projection.Group{}, Builds: builds{nil, o}, Schedules: schedules{nil, o}, Bulletins: bulletins{nil, o}, Works: "Aldermoor Works",
		Clock: func() time.Time { return time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC) },
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	made, err := jobsheet.Make(jobsheet.Facts{
		Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Items: []jobsheet.Item{{ID: "T01", Title: "Transfer-case oil change", Group: "transfer case"}},
		Remedies: []jobsheet.Remedy{{FollowUp: "vehicles/AM0147P/followUps/C-2026-02", Campaign: "C-2026-02", Title: "A nut works loose",
			Items: []jobsheet.RemedyItem{{ID: "C1", Title: "Fit the second nut", Parts: []jobsheet.Part{{Number: "AP-301016A", Quantity: 1}}}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	made.Number = 1
	k, err := s.store.Put(t.Context(), jobsheetstore.Request{}, jobsheetstore.Kept{Serial: "AM0147P", Number: 1, Message: &jobsheetv1.KeptJobSheet{JobSheet: jobsheetwire.SheetProto(&made)}})
	if err != nil {
		t.Fatal(err)
	}
	return &atWork{s, o, k.Sheet()}
}

// request is what came back on the sheet: both jobs done, a part and a change.
func (w *atWork) request() *jobsheetv1.ReturnJobSheetRequest {
	return &jobsheetv1.ReturnJobSheetRequest{Name: w.sheet.GetName(), Etag: w.sheet.GetEtag(), RequestId: uuid.NewString(), JobReturn: &jobsheetv1.JobReturn{
		ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 18}, DoneBy: "Ned", Reading: &vehiclev1.Distance{EnteredValue: "1600", EnteredUnit: "mi"},
		Jobs:    []*jobsheetv1.JobDone{{Number: 1, Done: true}, {Number: 2, Done: true}},
		Parts:   []*schedulev1.PartUsed{{Part: "AP-301016A", Quantity: 1, Lot: "7731"}},
		Changes: []*buildv1.Change{{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Component: &buildv1.Component{Position: "transfer-case"}}},
	}}
}

func dealer(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Dealer, Bearer: "ned", Organisation: "organisations/ferncombe", Account: "accounts/ned", Credential: "sessions/1"})
}

// now is the sheet as it is kept.
func (w *atWork) now(t *testing.T) *jobsheetv1.JobSheet {
	t.Helper()
	k, err := w.store.Sheet("AM0147P", 1)
	if err != nil {
		t.Fatal(err)
	}
	return k.Sheet()
}
