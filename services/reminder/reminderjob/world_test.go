package reminderjob

import (
	"context"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// noon is the time of these tests, within everybody's hours in London.
var noon = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)

// town is everything that a pass asks of other services, in memory.
type town struct {
	mu          sync.Mutex
	due         map[string]*schedulev1.Schedule // what ListDue tells, by serial
	now         map[string]*schedulev1.Schedule // what GetSchedule tells where it differs
	ties        map[string][]*ownerv1.Tie
	people      map[string]*ownerv1.Person
	cannotPut   map[string]bool // people for whom nothing can be sealed
	cannotGet   map[string]bool // people whose record cannot be had
	standings   map[string]*ownerv1.Standing
	dead        []*ownerv1.MarkUndeliverableRequest
	requests    map[string]proto.Message // that the owners' service answered before
	changes     []*ownerv1.ContactChange // that nobody was told of yet
	keepChanges bool                     // none can be forgotten
	away        int                      // how many consents it takes before it is away once; 0: it never is
}

// The town's services. What a pass does not ask for is left nil.
type (
	schedules struct {
		schedulev1.ScheduleServiceClient
		*town
	}
	owners struct {
		ownerv1.OwnerServiceClient
		*town
	}
	catalogue struct{ partsv1.PartsServiceClient }
)

// clear empties the town.
func (w *town) clear() {
	w.due, w.now = map[string]*schedulev1.Schedule{}, map[string]*schedulev1.Schedule{}
	w.ties, w.people = map[string][]*ownerv1.Tie{}, map[string]*ownerv1.Person{}
	w.cannotGet = map[string]bool{}
	w.dead, w.requests = nil, map[string]proto.Message{}
	w.cannotPut, w.standings = map[string]bool{}, map[string]*ownerv1.Standing{}
}

func (w schedules) ListDue(context.Context, *schedulev1.ListDueRequest, ...grpc.CallOption) (*schedulev1.ListDueResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := &schedulev1.ListDueResponse{}
	for _, serial := range slices.Sorted(maps.Keys(w.due)) {
		out.Schedules = append(out.Schedules, w.due[serial])
	}
	return out, nil
}

func (w schedules) GetSchedule(_ context.Context, r *schedulev1.GetScheduleRequest, _ ...grpc.CallOption) (*schedulev1.Schedule, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	serial := strings.Split(r.GetName(), "/")[1]
	if s := w.now[serial]; s != nil {
		return s, nil
	}
	if w.due[serial] == nil {
		return nil, status.Error(codes.NotFound, "no such vehicle")
	}
	return w.due[serial], nil
}

func (w owners) ListTies(_ context.Context, r *ownerv1.ListTiesRequest, _ ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := &ownerv1.ListTiesResponse{}
	for serial, ties := range w.ties {
		if r.GetParent() == "vehicles/-" || r.GetParent() == "vehicles/"+serial {
			out.Ties = append(out.Ties, ties...)
		}
	}
	return out, nil
}

func (w owners) ListStandings(context.Context, *ownerv1.ListStandingsRequest, ...grpc.CallOption) (*ownerv1.ListStandingsResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return &ownerv1.ListStandingsResponse{Standings: slices.Collect(maps.Values(w.standings))}, nil
}

func (w owners) GetStanding(_ context.Context, r *ownerv1.GetStandingRequest, _ ...grpc.CallOption) (*ownerv1.Standing, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.standings[r.GetName()], nil
}

// MarkUndeliverable, like FindPeople and RecordConsent, does what the owners'
// service promises, and each request once.
func (w owners) MarkUndeliverable(_ context.Context, r *ownerv1.MarkUndeliverableRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	p := w.people[r.GetName()]
	if p == nil {
		return nil, status.Error(codes.NotFound, "no such person")
	}
	again, err := w.asked(r.GetRequestId(), r)
	if err != nil {
		return nil, err
	}
	if !again {
		w.dead = append(w.dead, r)
		if r.GetAddress() == p.Email || r.GetAddress() == p.Phone {
			p.Undeliverable = append(p.Undeliverable, &ownerv1.Undeliverable{Way: r.GetWay(), Reason: r.GetReason()})
		}
	}
	return p, nil
}

func (w owners) FindPeople(_ context.Context, r *ownerv1.FindPeopleRequest, _ ...grpc.CallOption) (*ownerv1.FindPeopleResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := &ownerv1.FindPeopleResponse{}
	for _, p := range w.people {
		if !strings.HasPrefix(p.Phone, r.GetQuery()[:len(r.GetQuery())-1]) { // like ones too
			continue
		}
		found := &ownerv1.FoundPerson{Person: p, Matched: "phone"}
		for _, ties := range w.ties {
			for _, t := range ties {
				if t.Person == p.Name {
					found.Ties = append(found.Ties, t)
				}
			}
		}
		out.People = append(out.People, found)
	}
	return out, nil
}

func (w owners) RecordConsent(_ context.Context, r *ownerv1.RecordConsentRequest, _ ...grpc.CallOption) (*ownerv1.Consent, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	p := w.people[r.GetParent()]
	if p == nil {
		return nil, status.Error(codes.NotFound, "no such person")
	}
	if words := r.GetConsent().GetWording(); strings.TrimSpace(words) != words {
		return nil, status.Error(codes.InvalidArgument, "consent.wording")
	}
	if w.away--; w.away == 0 {
		return nil, status.Error(codes.Unavailable, "not now")
	}
	again, err := w.asked(r.GetRequestId(), r)
	if err == nil && !again {
		p.Consents = append(p.Consents, r.GetConsent())
	}
	return r.GetConsent(), err
}

// asked remembers a request; the same identifier with another payload is
// refused, as it is by the store.
func (w *town) asked(id string, r proto.Message) (again bool, err error) {
	old := w.requests[id]
	if old != nil && !proto.Equal(old, r) {
		reused := &fault.Error{Kind: fault.Invalid, Reason: "REQUEST_ID_REUSED", Message: "this request id was used before for another request"}
		return true, rpcerr.Status(context.Background(), nil, reused).Err()
	}
	w.requests[id] = clone(r)
	return old != nil, nil
}

func (w owners) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.cannotGet[r.GetName()] {
		return nil, status.Error(codes.Internal, "the record is damaged")
	}
	if p := w.people[r.GetName()]; p != nil {
		return p, nil
	}
	return nil, status.Error(codes.NotFound, "no such person")
}

// SealForPerson writes who and what for in front, so that opening can check it.
func (w owners) SealForPerson(_ context.Context, r *ownerv1.SealForPersonRequest, _ ...grpc.CallOption) (*ownerv1.SealForPersonResponse, error) {
	if w.cannotPut[r.GetPerson()] {
		return nil, status.Error(codes.Unavailable, "not now")
	}
	return &ownerv1.SealForPersonResponse{Sealed: []byte(r.GetPerson() + "|" + r.GetPurpose() + "|" + string(r.GetPlaintext()))}, nil
}

func (w owners) OpenForPerson(_ context.Context, r *ownerv1.OpenForPersonRequest, _ ...grpc.CallOption) (*ownerv1.OpenForPersonResponse, error) {
	if w.people[r.GetPerson()] == nil { // erased, and the key with them
		return nil, status.Error(codes.NotFound, "no such person")
	}
	plain, ok := strings.CutPrefix(string(r.GetSealed()), r.GetPerson()+"|"+r.GetPurpose()+"|")
	if !ok {
		return nil, status.Error(codes.InvalidArgument, "sealed for another person or purpose")
	}
	return &ownerv1.OpenForPersonResponse{Plaintext: []byte(plain)}, nil
}

func (catalogue) GetPart(_ context.Context, r *partsv1.GetPartRequest, _ ...grpc.CallOption) (*partsv1.Part, error) {
	return &partsv1.Part{Name: r.GetName(), Title: "Clamp bolt"}, nil
}

func (catalogue) AnswerPart(_ context.Context, r *partsv1.AnswerPartRequest, _ ...grpc.CallOption) (*partsv1.PartAnswer, error) {
	serial := strings.TrimPrefix(r.GetBuild(), "builds/")
	return &partsv1.PartAnswer{Choices: []*partsv1.PartChoice{{
		Order: &partsv1.Part{Name: "parts/AP-" + serial, Title: "Filter of " + serial}, Quantity: 1,
	}}}, nil
}

// vehicle adds a vehicle with items to be done by a day.
func (w *town) vehicle(serial vehicle.Serial, items ...*schedulev1.ItemStatus) {
	w.due[string(serial)] = &schedulev1.Schedule{Name: "vehicles/" + string(serial) + "/schedule", Items: items}
}

func item(id string, by vehicle.Date) *schedulev1.ItemStatus {
	return &schedulev1.ItemStatus{
		ItemId: id, Title: "Service " + id, Cycle: id + ".2025-05-01", ActByDate: vehiclewire.DateProto(by),
		State: schedulev1.DueState_DUE_STATE_DUE, Item: &schedulev1.Item{Why: "Because."},
	}
}

// owner ties a person to a vehicle, with an address of their own.
func (w *town) owner(serial vehicle.Serial, id string) *ownerv1.Person {
	p := &ownerv1.Person{
		Name: "people/" + id, FullName: "Owner " + strings.ToUpper(id), Email: id + "@harbour.example", TimeZone: "Europe/London",
	}
	w.people[p.Name] = p
	w.ties[string(serial)] = append(w.ties[string(serial)], &ownerv1.Tie{
		Name: fmt.Sprintf("vehicles/%s/ties/%s", serial, id), Person: p.Name, Role: ownerv1.Role_ROLE_OWNER, Notices: true,
	})
	return p
}

// postOffice is a mail server in memory. does decides; nil takes everything.
type postOffice struct {
	mu    sync.Mutex
	taken map[string][][]byte
	does  func(to string, message []byte) reminder.Attempt
}

func (p *postOffice) Send(_ context.Context, _, to string, message []byte) reminder.Attempt {
	answer := reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}
	if p.does != nil {
		answer = p.does(to, message)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if answer.Outcome == reminder.Accepted {
		if p.taken == nil {
			p.taken = map[string][][]byte{}
		}
		p.taken[to] = append(p.taken[to], message)
	}
	return answer
}

func (p *postOffice) total() (n int) {
	for _, messages := range p.taken {
		n += len(messages)
	}
	return n
}

// office is a job over a real etcd and that town.
type office struct {
	*Job
	town *town
	post *postOffice
	kv   *kv.Store
	now  time.Time
	log  *strings.Builder
}

func newOffice(t testing.TB) *office {
	t.Helper()
	store := kv.NewStore(etcdtest.Client(t))
	notices, err := reminderstore.Open(t.Context(), store, &projection.Group{}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(notices.Close)
	o := &office{town: &town{}, post: &postOffice{}, kv: store, now: noon, log: &strings.Builder{}}
	o.town.clear()
	o.Job, err = New(Config{
		Store: notices, Schedules: schedules{town: o.town}, Owners: owners{town: o.town}, Parts: catalogue{},
		Works: reminderwords.Works{Name: "Aldermoor Works", From: "service@aldermoor.example"},
		Mail:  o.post, Letters: true, Links: links.Ring{{ID: 1, Secret: make([]byte, links.KeySize)}}, BaseURL: "https://owners.aldermoor.example",
		Clock:  func() time.Time { return o.now },
		Logger: slog.New(slog.NewTextHandler(&locked{w: o.log}, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

type locked struct {
	mu sync.Mutex
	w  *strings.Builder
}

func (l *locked) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(b)
}

// elect makes a fresh term of office.
func (o *office) elect(t testing.TB) kv.Fence {
	t.Helper()
	key := kv.Prefix("elections") + "test/" + uuid.NewString()
	resp, err := o.kv.Client().Put(t.Context(), key, "us")
	if err != nil {
		t.Fatal(err)
	}
	return kv.Fence{Key: key, CreateRevision: resp.Header.Revision}
}

// depose ends a term as a lost lease does.
func (o *office) depose(t testing.TB, fence kv.Fence) {
	t.Helper()
	if _, err := o.kv.Client().Delete(context.WithoutCancel(t.Context()), fence.Key); err != nil {
		t.Error(err)
	}
}

func (o *office) run(t testing.TB) *Report {
	t.Helper()
	r, err := o.pass(t.Context(), o.elect(t))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// counts prints a report: "claimed 1 sent 1".
func counts(r *Report) string {
	var words []string
	for _, c := range []struct {
		name string
		n    int
	}{
		{"claimed", r.Claimed}, {"sent", r.Sent}, {"waiting", r.Waiting}, {"parked", r.Parked},
		{"silenced", r.Silenced}, {"tasks", r.Tasks}, {"held", r.Held}, {"rerouted", r.Rerouted}, {"letters", r.Letters},
	} {
		if c.n > 0 {
			words = append(words, fmt.Sprintf("%s %d", c.name, c.n))
		}
	}
	return strings.Join(words, " ")
}

func (o *office) want(t testing.TB, what, want string) *Report {
	t.Helper()
	r := o.run(t)
	if got := counts(r); got != want {
		t.Fatalf("%s: got %q, want %q\n%s", what, got, want, o.log)
	}
	return r
}

func serial(n int) vehicle.Serial {
	for ; ; n += 1000 {
		if s, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", n)); err == nil {
			return s
		}
	}
}

func clone[M proto.Message](m M) M { return proto.Clone(m).(M) }

func (w owners) ListContactChanges(context.Context, *ownerv1.ListContactChangesRequest, ...grpc.CallOption) (*ownerv1.ListContactChangesResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return &ownerv1.ListContactChangesResponse{ContactChanges: slices.Clone(w.changes)}, nil
}

func (w owners) DeleteContactChange(_ context.Context, r *ownerv1.DeleteContactChangeRequest, _ ...grpc.CallOption) (*ownerv1.DeleteContactChangeResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.keepChanges {
		return nil, status.Error(codes.Unavailable, "away")
	}
	w.changes = slices.DeleteFunc(w.changes, func(c *ownerv1.ContactChange) bool { return c.GetName() == r.GetName() })
	return &ownerv1.DeleteContactChangeResponse{}, nil
}
