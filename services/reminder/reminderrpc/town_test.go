package reminderrpc

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// town is what the service asks of others, in memory: one schedule and one plan
// for each vehicle, ties and people.
type town struct {
	mu        sync.Mutex
	schedules map[string]*schedulev1.Schedule
	plans     map[string]*schedulev1.VisitPlan
	ties      map[string][]*ownerv1.Tie
	people    map[string]*ownerv1.Person
	entries   map[string][]*schedulev1.ServiceEntry
	asked     int          // how often anybody asked what is due
	askedOn   vehicle.Date // the day of which a schedule was last asked
}

type (
	townSchedules struct {
		schedulev1.ScheduleServiceClient
		*town
	}
	townOwners struct {
		ownerv1.OwnerServiceClient
		*town
	}
	townParts struct{ partsv1.PartsServiceClient }
)

func (w townSchedules) ListDue(context.Context, *schedulev1.ListDueRequest, ...grpc.CallOption) (*schedulev1.ListDueResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.asked++
	out := &schedulev1.ListDueResponse{}
	for _, s := range w.schedules {
		out.Schedules = append(out.Schedules, s)
	}
	return out, nil
}

func (w townSchedules) GetSchedule(ctx context.Context, r *schedulev1.GetScheduleRequest, _ ...grpc.CallOption) (*schedulev1.Schedule, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if access.CallerFrom(ctx).Role != access.Service {
		return nil, status.Error(codes.PermissionDenied, "not as the service")
	}
	w.askedOn, _ = vehiclewire.Date(r.GetOnDate())
	if s := w.schedules[strings.Split(r.GetName(), "/")[1]]; s != nil {
		return s, nil
	}
	return nil, status.Error(codes.NotFound, "no such vehicle")
}

func (w townSchedules) GetVisitPlan(_ context.Context, r *schedulev1.GetVisitPlanRequest, _ ...grpc.CallOption) (*schedulev1.VisitPlan, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.plans[strings.Split(r.GetName(), "/")[1]], nil
}

func (w townOwners) ListTies(_ context.Context, r *ownerv1.ListTiesRequest, _ ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
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

func (w townOwners) ListStandings(context.Context, *ownerv1.ListStandingsRequest, ...grpc.CallOption) (*ownerv1.ListStandingsResponse, error) {
	return &ownerv1.ListStandingsResponse{}, nil
}

func (w townOwners) GetStanding(context.Context, *ownerv1.GetStandingRequest, ...grpc.CallOption) (*ownerv1.Standing, error) {
	return &ownerv1.Standing{}, nil
}

func (w townOwners) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.people[r.GetName()]; p != nil {
		return p, nil
	}
	return nil, status.Error(codes.NotFound, "no such person")
}

// ListServiceEntries gives one entry a page.
func (w townSchedules) ListServiceEntries(ctx context.Context, r *schedulev1.ListServiceEntriesRequest, _ ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if access.CallerFrom(ctx).Role != access.Service {
		return nil, status.Error(codes.PermissionDenied, "not as the service")
	}
	all := w.entries[r.GetParent()]
	n, _ := strconv.Atoi(r.GetPageToken())
	if n >= len(all) {
		return &schedulev1.ListServiceEntriesResponse{}, nil
	}
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: all[n : n+1], NextPageToken: strconv.Itoa(n + 1)}, nil
}

// entry records that items were done to a vehicle.
func (w *town) entry(serial, id string, items ...string) *schedulev1.ServiceEntry {
	parent := "vehicles/" + serial
	e := &schedulev1.ServiceEntry{Name: parent + "/serviceEntries/" + id, ServiceDate: vehiclewire.DateProto(today)}
	for _, item := range items {
		e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: item})
	}
	w.entries[parent] = append(w.entries[parent], e)
	return e
}

const sealMark = "sealed\x00"

// SealForPerson hides nothing, but knows again for whom and what for it sealed.
func (w townOwners) SealForPerson(ctx context.Context, r *ownerv1.SealForPersonRequest, _ ...grpc.CallOption) (*ownerv1.SealForPersonResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if access.CallerFrom(ctx).Role != access.Service {
		return nil, status.Error(codes.PermissionDenied, "not as the service")
	}
	if w.people[r.GetPerson()] == nil {
		return nil, status.Error(codes.NotFound, "no such person")
	}
	return &ownerv1.SealForPersonResponse{Sealed: append([]byte(sealMark+r.GetPerson()+"|"+r.GetPurpose()+"|"), turned(r.GetPlaintext())...)}, nil
}

func (w townOwners) OpenForPerson(ctx context.Context, r *ownerv1.OpenForPersonRequest, _ ...grpc.CallOption) (*ownerv1.OpenForPersonResponse, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.people[r.GetPerson()] == nil {
		return nil, status.Error(codes.NotFound, "no such person")
	}
	if !bytes.HasPrefix(r.GetSealed(), []byte(sealMark)) { // the message of a notice that a test made
		return &ownerv1.OpenForPersonResponse{Plaintext: r.GetSealed()}, nil
	}
	hidden, ok := bytes.CutPrefix(r.GetSealed(), []byte(sealMark+r.GetPerson()+"|"+r.GetPurpose()+"|"))
	if !ok {
		return nil, rpcerr.Status(ctx, slog.Default(), fault.New(fault.Invalid, "NOT_SEALED_HERE", "not sealed for this person and purpose")).Err()
	}
	return &ownerv1.OpenForPersonResponse{Plaintext: turned(hidden)}, nil
}

// turned is bytes that cannot be read, and those again that can.
func turned(b []byte) []byte {
	out := make([]byte, len(b))
	for i := range b {
		out[i] = ^b[i]
	}
	return out
}

// vehicle adds a vehicle with items to act on by a day.
func (w *town) vehicle(serial string, items ...*schedulev1.ItemStatus) {
	w.schedules[serial] = &schedulev1.Schedule{Name: "vehicles/" + serial + "/schedule", Items: items}
	w.plans[serial] = &schedulev1.VisitPlan{}
}

func dueItem(id, title string, by vehicle.Date) *schedulev1.ItemStatus {
	return &schedulev1.ItemStatus{
		ItemId: id, Title: title, Cycle: id + ".2025-05-01", ActByDate: vehiclewire.DateProto(by),
		State: schedulev1.DueState_DUE_STATE_DUE, Item: &schedulev1.Item{Why: "Because."},
	}
}

// visit is a visit with the present rounds of items.
func visit(day vehicle.Date, items ...*schedulev1.ItemStatus) *schedulev1.Visit {
	v := &schedulev1.Visit{VisitDate: vehiclewire.DateProto(day)}
	for _, i := range items {
		v.Tasks = append(v.Tasks, &schedulev1.VisitTask{ItemId: i.GetItemId(), Title: i.GetTitle(), DueDate: i.GetActByDate(), Round: 1})
	}
	return v
}

// owner ties a person to a vehicle from the first of 2020.
func (w *town) owner(serial, id string) *ownerv1.Person {
	p := w.people["people/"+id]
	if p == nil {
		p = &ownerv1.Person{
			Name: "people/" + id, FullName: "Margaret " + id, Email: id + "@harbour.example", Phone: "+441632960983",
			PostalLines: []string{"1 Quay Road", "Harbour"}, TimeZone: "Europe/London",
		}
		w.people[p.Name] = p
	}
	w.ties[serial] = append(w.ties[serial], &ownerv1.Tie{
		Name: fmt.Sprintf("vehicles/%s/ties/%s", serial, id), Person: p.Name, Role: ownerv1.Role_ROLE_OWNER, Notices: true,
		StartDate: vehiclewire.DateProto(vehicle.MustDate(2020, 1, 1)),
	})
	return p
}

// ends ends a person's ties to a vehicle on a day.
func (w *town) ends(serial, id string, day vehicle.Date) {
	for _, t := range w.ties[serial] {
		if t.GetPerson() == "people/"+id {
			t.EndDate = vehiclewire.DateProto(day)
		}
	}
}

// desk is a service over a real etcd and a town, with a clock that the test
// sets.
type desk struct {
	*Service
	town *town
	kv   *kv.Store
	now  time.Time
	post []string // to whom mail went
}

const serial1, serial2 = "AM0147P", "AM0093L"

var today = vehicle.DateOf(now)

func newDesk(t testing.TB) *desk {
	t.Helper()
	d := &desk{kv: kv.NewStore(etcdtest.Client(t)), now: now, town: &town{
		schedules: map[string]*schedulev1.Schedule{}, plans: map[string]*schedulev1.VisitPlan{},
		ties: map[string][]*ownerv1.Tie{}, people: map[string]*ownerv1.Person{},
		entries: map[string][]*schedulev1.ServiceEntry{},
	}}
	store, err := reminderstore.Open(t.Context(), d.kv, &projection.Group{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	clock := func() time.Time { return d.now }
	job, err := reminderjob.New(reminderjob.Config{
		Store: store, Schedules: townSchedules{town: d.town}, Owners: townOwners{town: d.town}, Parts: townParts{}, Mail: d, Letters: true,
		Works: reminderwords.Works{Name: "Aldermoor Works", From: "service@aldermoor.example", Postal: []string{"Works Lane", "Aldermoor"}},
		Links: links.Ring{{ID: 1, Secret: []byte("0123456789abcdef0123456789abcdef")}}, BaseURL: "https://care.aldermoor.example",
		Clock: clock, Logger: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		t.Fatal(err)
	}
	d.Service = New(Config{Store: store, Job: job, Clock: clock})
	t.Cleanup(func() { d.Close() })
	return d
}

// Send takes a mail.
func (d *desk) Send(_ context.Context, _, to string, _ []byte) reminder.Attempt {
	d.post = append(d.post, to)
	return reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}
}

// leads makes this process lead until the test ends.
func (d *desk) leads(t testing.TB) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Job.Lead(ctx, d.kv.Client(), d.kv, "") }()
	t.Cleanup(func() { cancel(); <-done })
}

func (d *desk) staff(t testing.TB) context.Context {
	return access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "front desk"})
}

func (d *desk) as(t testing.TB, person string) context.Context {
	return access.NewContext(t.Context(), access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/" + person})
}

// notice makes a notice about a vehicle to a person and leaves it claimed.
func (d *desk) notice(t testing.TB, serial, person string, channel reminder.Channel, cycles ...string) reminderstore.Kept {
	t.Helper()
	resp, err := d.kv.Client().Put(t.Context(), "/fence", "us")
	if err != nil {
		t.Fatal(err)
	}
	get, err := d.kv.Client().Get(t.Context(), "/fence")
	if err != nil || resp == nil {
		t.Fatal(err)
	}
	draft := reminder.Draft{
		Vehicle: reminder.Vehicle{Serial: vehicle.Serial(serial)}, To: reminder.Recipient{Person: person}, Channel: channel, Stage: reminder.Early,
	}
	for _, c := range cycles {
		id, _, _ := strings.Cut(c, ".")
		draft.Lines = append(draft.Lines, reminder.Line{Item: reminder.Item{ID: id, Cycle: c, Title: "Service " + id}, Stage: reminder.Early})
	}
	body := []byte(`{"Title":"A letter"}`)
	n := draft.ToClaimed(draft.NoticeID(1), "<a@b.example>", body, d.now)
	kept, err := d.Store.Claim(t.Context(), kv.Fence{Key: "/fence", CreateRevision: get.Kvs[0].CreateRevision}, n, reminderstore.Sealed{Body: body})
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// tasks gives the open tasks' kinds, in order.
func (d *desk) tasks(t testing.TB) []string {
	t.Helper()
	open, err := d.Store.Tasks(t.Context(), "", 100, func(task reminder.Task) bool { return task.Completed.IsZero() })
	if err != nil {
		t.Fatal(err)
	}
	var kinds []string
	for _, k := range open {
		kinds = append(kinds, string(k.Kind))
	}
	slices.Sort(kinds)
	return kinds
}

// reminderRequest is a request of nobody in particular.
func reminderRequest() reminderstore.Request { return reminderstore.Request{} }

func (w townOwners) ListContactChanges(context.Context, *ownerv1.ListContactChangesRequest, ...grpc.CallOption) (*ownerv1.ListContactChangesResponse, error) {
	return &ownerv1.ListContactChangesResponse{}, nil
}
