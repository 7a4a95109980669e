package ownerpages_test

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/webguard"
	"halfshaft/services/ownerpages"
	"halfshaft/services/vehicle"
)

var (
	now  = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)
	ring = links.Ring{{ID: 1, Secret: make([]byte, links.KeySize)}}
)

const (
	theSerial  = "AM0147P"
	theVehicle = "vehicles/AM0147P"
	thePerson  = "people/p0031"
	theNotice  = "E01.2025-06-10.due.mail.p0031"
)

// desk is the services behind the pages, as far as the pages ask them. It
// remembers what it was asked by request, as they do.
type desk struct {
	mu         sync.Mutex
	now        time.Time
	owner      string // whose vehicle it is
	epoch      int32
	person     *ownerv1.Person
	notice     *reminderv1.Notice
	dialUnit   string
	dialDigits int32
	delivered  vehicle.Date
	dueAt      map[string]vehicle.Distance // by item
	plannedOn  vehicle.Date                // the day of which a plan was last asked
	askedOn    vehicle.Date                // and a schedule
	refuse     error                       // of everything that changes something
	state      schedulev1.ReadingState
	layUpEnd   string
	wanted     string // the round of a request for a reading; "" for none

	changes   int
	requests  map[string]proto.Message
	payloads  map[string]proto.Message
	readings  []*schedulev1.Reading
	entries   []*schedulev1.ServiceEntry
	answers   []*reminderv1.Answer
	optOuts   map[string]*reminderv1.OptOut
	documents []*ownerv1.StoreDocumentRequest
	offers    []*ownerv1.Transfer
	accepted  []*ownerv1.AcceptTransferRequest
	replaced  bool                            // the address that links went to
	confirmed []reminderv1.ConfirmationMatter // of which a link was sent
	code      string
	feed      string // the secret; "" for none
	events    []*reminderv1.TakeTextEventRequest
	reply     string

	bulletins []*bulletinv1.VehicleBulletin
	consents  []*ownerv1.Consent
	ties      []*ownerv1.Tie
	issues    []*handbookv1.HandbookIssue
	programme string // name of the service programme; "" for none
}

// The services as their clients see them: what the desk does not know panics.
type (
	schedules struct {
		*desk
		otherSchedules
	}
	reminders struct {
		*desk
		otherReminders
	}
	owners struct {
		*desk
		otherOwners
	}

	otherSchedules struct {
		schedulev1.ScheduleServiceClient
	}
	otherReminders struct {
		reminderv1.ReminderServiceClient
	}
	otherOwners struct{ ownerv1.OwnerServiceClient }
)

type asked struct{}

const pagesThemselves = "the pages"

// newDesk has a vehicle with its oil due and its brakes coming up.
func newDesk(t testing.TB) (*desk, *httptest.Server) {
	t.Helper()
	d := &desk{
		now: now, owner: "p0031", dialUnit: "km", state: schedulev1.ReadingState_READING_STATE_COUNTED,
		person:   &ownerv1.Person{Language: "en-GB", DistanceUnit: "km", TimeZone: "Europe/London"},
		requests: map[string]proto.Message{}, payloads: map[string]proto.Message{}, optOuts: map[string]*reminderv1.OptOut{}, code: "7Q4K-M2XW-9TRC",
		notice: &reminderv1.Notice{Name: "notices/" + theSerial + "." + theNotice, Lines: []*reminderv1.NoticeLine{
			{ItemId: "E01", Cycle: "E01.2025-06-10", Title: "Change engine oil and filter"},
			{ItemId: "B01", Cycle: "B01.2024-06-20", Title: "Change brake fluid"},
			{ItemId: "READ", Cycle: "READ.2026-05-01"},
		}},
	}
	server := httptest.NewServer(handler(t, d, nil))
	t.Cleanup(server.Close)
	return d, server
}

// proxyHere believes what a proxy on this machine says, as these tests do for
// senders of different addresses.
func proxyHere(t testing.TB) *webguard.Proxies {
	t.Helper()
	p, err := webguard.ParseProxies("", []string{"127.0.0.1", "::1"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// handler makes the pages before a desk; change may alter the configuration.
func handler(t testing.TB, d *desk, change func(*ownerpages.Config)) http.Handler {
	t.Helper()
	c := ownerpages.Config{
		Links: ring, Schedules: schedules{desk: d}, Reminders: reminders{desk: d}, Owners: owners{desk: d}, Builds: builds{desk: d}, Bulletins: bulletins{desk: d}, Handbooks: handbooks{desk: d},
		AsOwner: func(ctx context.Context, person string) context.Context {
			return context.WithValue(ctx, asked{}, person)
		},
		AsService: func(ctx context.Context) context.Context { return context.WithValue(ctx, asked{}, pagesThemselves) },
		Proxies:   proxyHere(t),
		Works:     "Aldermoor Works", Telephone: "+44 1632 960983",
		Clock: func() time.Time {
			d.mu.Lock()
			defer d.mu.Unlock()
			return d.now
		},
		Logger: slog.New(slog.DiscardHandler),
	}
	if change != nil {
		change(&c)
	}
	h, err := ownerpages.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// atAddress serves the pages under the address that the server has.
func atAddress(t testing.TB, d *desk, server *httptest.Server) {
	server.Config.Handler = handler(t, d, func(c *ownerpages.Config) { c.Address = server.URL })
}

func notFound() error { return status.Error(codes.NotFound, "there is no such thing") }

// mine lets the owner of the day pass.
func (d *desk) mine(ctx context.Context) error {
	if ctx.Value(asked{}) != d.owner {
		return notFound()
	}
	return nil
}

func (*desk) pages(ctx context.Context) error {
	if ctx.Value(asked{}) != pagesThemselves {
		return status.Error(codes.PermissionDenied, "who asks?")
	}
	return nil
}

// once does something for a request, or gives what it gave before. The same
// identifier with something else in the request is refused, as the services do.
func once[M proto.Message](d *desk, r interface {
	proto.Message
	GetRequestId() string
}, act func() (M, error),
) (M, error) {
	var none M
	id := r.GetRequestId()
	if first, ok := d.requests[id]; ok {
		if !proto.Equal(d.payloads[id], r) {
			return none, reused()
		}
		return proto.CloneOf(first).(M), nil
	}
	if d.refuse != nil {
		return none, d.refuse
	}
	made, err := act()
	if err != nil {
		return none, err
	}
	d.changes++
	d.requests[id], d.payloads[id] = proto.CloneOf(made), proto.CloneOf[proto.Message](r)
	return made, nil
}

func reused() error {
	st, err := status.New(codes.InvalidArgument, "no").WithDetails(
		&errdetails.ErrorInfo{Reason: "REQUEST_ID_REUSED", Domain: "halfshaft"},
		&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{{Field: "request_id", Description: "another one"}}})
	if err != nil {
		panic(err)
	}
	return st.Err()
}

func (d *desk) count() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.changes
}

func (d *desk) CheckLink(ctx context.Context, r *reminderv1.CheckLinkRequest, _ ...grpc.CallOption) (*reminderv1.CheckLinkResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	if r.GetVehicle() != theVehicle || r.GetPerson() != "people/"+d.owner || r.GetEpoch() != d.epoch ||
		r.GetNotice() != "" && r.GetNotice() != d.notice.GetName() {
		return nil, notFound()
	}
	out := &reminderv1.CheckLinkResponse{Person: proto.CloneOf(d.person)}
	if r.GetNotice() != "" {
		out.Notice = proto.CloneOf(d.notice)
	}
	out.AddressReplaced = d.replaced
	return out, nil
}
