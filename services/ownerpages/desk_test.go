package ownerpages_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
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
	mu       sync.Mutex
	now      time.Time
	owner    string // whose vehicle it is
	epoch    int32
	person   *ownerv1.Person
	notice   *reminderv1.Notice
	dialUnit string
	refuse   error // of everything that changes something
	state    schedulev1.ReadingState
	layUpEnd string
	wanted   string // the round of a request for a reading; "" for none

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
	code      string
	feed      string // the secret; "" for none
	events    []*reminderv1.TakeTextEventRequest
	reply     string
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

// handler makes the pages before a desk; change may alter the configuration.
func handler(t testing.TB, d *desk, change func(*ownerpages.Config)) http.Handler {
	t.Helper()
	c := ownerpages.Config{
		Links: ring, Schedules: schedules{desk: d}, Reminders: reminders{desk: d}, Owners: owners{desk: d},
		AsOwner: func(ctx context.Context, person string) context.Context {
			return context.WithValue(ctx, asked{}, person)
		},
		AsService: func(ctx context.Context) context.Context { return context.WithValue(ctx, asked{}, pagesThemselves) },
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
	return out, nil
}

// item is one item of the desk's programme.
type item struct {
	id, title, since, due string
	months                int
	class                 schedulev1.ItemClass
	caution, mix          string
}

var programme = []item{
	{"E01", "Change engine oil and filter", "2025-06-10", "2026-06-10", 12, schedulev1.ItemClass_ITEM_CLASS_ROUTINE, "Hot oil burns. Let the engine cool for half an hour.", ""},
	{"B01", "Change brake fluid", "2024-06-20", "2026-06-20", 24, schedulev1.ItemClass_ITEM_CLASS_SAFETY, "Brake fluid eats paint and skin.", "silicone fluid"},
	{"T01", "Check the end float of the transfer-case output bearing", "2024-09-01", "2027-09-01", 36, schedulev1.ItemClass_ITEM_CLASS_ROUTINE, "", ""},
}

func date(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// doneOn is the day an item was last stated done, by the entries that stand.
func (d *desk) doneOn(id string) (vehicle.Date, bool) {
	for i := len(d.entries) - 1; i >= 0; i-- {
		for _, done := range d.entries[i].GetItems() {
			if done.GetItemId() == id && d.entries[i].GetVoidReason() == "" {
				on, _ := vehiclewire.Date(d.entries[i].GetServiceDate())
				return on, true
			}
		}
	}
	return vehicle.Date{}, false
}

func (d *desk) GetSchedule(ctx context.Context, _ *schedulev1.GetScheduleRequest, _ ...grpc.CallOption) (*schedulev1.Schedule, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	today := vehicle.DateOf(d.now)
	s := &schedulev1.Schedule{Sample: true, Pace: &schedulev1.Pace{
		Unit: d.dialUnit, HighPerYear: vehiclewire.DistanceProto(2000 * vehicle.Kilometre),
	}}
	for _, it := range programme {
		since, due := date(it.since), date(it.due)
		if on, ok := d.doneOn(it.id); ok {
			since, due = on, on.AddMonths(it.months)
		}
		if it.id == "E01" && len(d.readings) > 1 {
			due = due.AddDays(-10) // the readings brought it nearer
		}
		state := schedulev1.DueState_DUE_STATE_NOT_YET
		switch days := today.DaysUntil(due); {
		case days < 0:
			state = schedulev1.DueState_DUE_STATE_OVERDUE
		case days < 30:
			state = schedulev1.DueState_DUE_STATE_DUE
		case days < 60:
			state = schedulev1.DueState_DUE_STATE_COMING
		}
		s.Items = append(s.Items, &schedulev1.ItemStatus{
			ItemId: it.id, Title: it.title, State: state, DueDate: vehiclewire.DateProto(due), ActByDate: vehiclewire.DateProto(due),
			LastDoneDate: vehiclewire.DateProto(since), DistanceSince: vehiclewire.DistanceProto(300 * vehicle.Kilometre),
			Cycle:    it.id + "." + since.String(),
			Sentence: fmt.Sprintf("%s is due on %s: %d months since it was last done.", it.title, due.Long(), it.months),
			Item:     &schedulev1.Item{ItemId: it.id, ItemClass: it.class, Caution: it.caution, Why: "It wears.", Fluid: &schedulev1.FluidNeed{NeverMix: it.mix}},
		})
	}
	if d.wanted != "" {
		s.ReadingRequest = &schedulev1.ReadingRequest{Cycle: d.wanted}
	}
	if d.layUpEnd != "" {
		s.LayUp = &schedulev1.LayUp{StartDate: vehiclewire.DateProto(today), EndDate: vehiclewire.DateProto(date(d.layUpEnd))}
	}
	return s, nil
}

func (d *desk) GetVisitPlan(ctx context.Context, r *schedulev1.GetVisitPlanRequest, _ ...grpc.CallOption) (*schedulev1.VisitPlan, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetName() != theVehicle+"/visitPlan" || r.GetMonths() != 24 {
		return nil, status.Error(codes.InvalidArgument, "want two years")
	}
	return &schedulev1.VisitPlan{Visits: []*schedulev1.Visit{
		{VisitDate: vehiclewire.DateProto(date("2026-06-10")), Tasks: []*schedulev1.VisitTask{{ItemId: "E01", Title: programme[0].title}, {ItemId: "B01", Title: programme[1].title}}},
		{VisitDate: vehiclewire.DateProto(date("2027-06-10")), Tasks: []*schedulev1.VisitTask{{ItemId: "E01", Title: programme[0].title}}},
	}}, nil
}

func (d *desk) ListReadings(ctx context.Context, _ *schedulev1.ListReadingsRequest, _ ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return &schedulev1.ListReadingsResponse{Readings: d.readings}, nil
}

// read adds a reading that counts.
func (d *desk) read(on, value, unit string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.readings = append(d.readings, &schedulev1.Reading{
		ReadingDate: vehiclewire.DateProto(date(on)), State: schedulev1.ReadingState_READING_STATE_COUNTED,
		Value: &vehiclev1.Distance{EnteredValue: value, EnteredUnit: unit},
	})
}

func (d *desk) RecordReading(ctx context.Context, r *schedulev1.RecordReadingRequest, _ ...grpc.CallOption) (*schedulev1.Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*schedulev1.Reading, error) {
		kept := proto.CloneOf(r.GetReading())
		kept.State = d.state
		d.readings = append(d.readings, kept)
		return kept, nil
	})
}

func (d *desk) RecordService(ctx context.Context, r *schedulev1.RecordServiceRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*schedulev1.ServiceEntry, error) {
		kept := proto.CloneOf(r.GetServiceEntry())
		kept.Name, kept.Etag, kept.OwnerStatement = fmt.Sprintf("%s/serviceEntries/%d", theVehicle, len(d.entries)), "e1", true
		d.entries = append(d.entries, kept)
		return kept, nil
	})
}

func (d *desk) ListServiceEntries(ctx context.Context, _ *schedulev1.ListServiceEntriesRequest, _ ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: d.entries}, d.mine(ctx)
}

func (d *desk) VoidServiceEntry(ctx context.Context, r *schedulev1.VoidServiceEntryRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*schedulev1.ServiceEntry, error) {
		for _, e := range d.entries {
			if e.GetName() == r.GetName() && e.GetEtag() == r.GetEtag() {
				e.VoidReason = r.GetReason()
				return e, nil
			}
		}
		return nil, notFound()
	})
}

func (d *desk) CreateAnswer(ctx context.Context, r *reminderv1.CreateAnswerRequest, _ ...grpc.CallOption) (*reminderv1.Answer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.Answer, error) {
		kept := proto.CloneOf(r.GetAnswer())
		kept.Name, kept.CreateTime = fmt.Sprintf("%s/answers/%d", theVehicle, len(d.answers)), timestamppb.New(d.now)
		d.answers = append(d.answers, kept)
		return kept, nil
	})
}

func (d *desk) ListAnswers(ctx context.Context, _ *reminderv1.ListAnswersRequest, _ ...grpc.CallOption) (*reminderv1.ListAnswersResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &reminderv1.ListAnswersResponse{Answers: d.answers}, d.mine(ctx)
}

func (d *desk) WithdrawAnswer(ctx context.Context, r *reminderv1.WithdrawAnswerRequest, _ ...grpc.CallOption) (*reminderv1.Answer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.Answer, error) {
		for _, a := range d.answers {
			if a.GetName() == r.GetName() {
				a.WithdrawTime = timestamppb.New(d.now)
				return a, nil
			}
		}
		return nil, notFound()
	})
}

func (d *desk) CreateOptOut(ctx context.Context, r *reminderv1.CreateOptOutRequest, _ ...grpc.CallOption) (*reminderv1.OptOut, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.OptOut, error) {
		o := proto.CloneOf(r.GetOptOut())
		o.Name = "optOuts/" + strings.TrimPrefix(o.GetVehicle(), "vehicles/") + "." + strings.TrimPrefix(o.GetPerson(), "people/")
		if o.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
			o.Name += ".year-letter"
		}
		d.optOuts[o.GetName()] = o
		return o, nil
	})
}

func (d *desk) EndOptOut(ctx context.Context, r *reminderv1.EndOptOutRequest, _ ...grpc.CallOption) (*reminderv1.EndOptOutResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.EndOptOutResponse, error) {
		if d.optOuts[r.GetName()] == nil {
			return nil, notFound()
		}
		delete(d.optOuts, r.GetName())
		return &reminderv1.EndOptOutResponse{}, nil
	})
}

func (d *desk) StoreDocument(ctx context.Context, r *ownerv1.StoreDocumentRequest, _ ...grpc.CallOption) (*ownerv1.Document, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Document, error) {
		d.documents = append(d.documents, r)
		return &ownerv1.Document{Name: fmt.Sprintf("%s/documents/%d", r.GetParent(), len(d.documents))}, nil
	})
}

func (d *desk) OfferTransfer(ctx context.Context, r *ownerv1.OfferTransferRequest, _ ...grpc.CallOption) (*ownerv1.OfferTransferResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	_, again := d.requests[r.GetRequestId()]
	offer, err := once(d, r, func() (*ownerv1.Transfer, error) {
		offer := &ownerv1.Transfer{
			Name: fmt.Sprintf("%s/transfers/%d", theVehicle, len(d.offers)), State: ownerv1.TransferState_TRANSFER_STATE_OFFERED,
			OfferedBy: r.GetOfferedBy(), ExpireTime: timestamppb.New(d.now.Add(14 * 24 * time.Hour)),
		}
		d.offers = append(d.offers, offer)
		return offer, nil
	})
	if err != nil {
		return nil, err
	}
	out := &ownerv1.OfferTransferResponse{Transfer: offer, Code: d.code}
	if again {
		out.Code = ""
	}
	return out, nil
}

func (d *desk) CancelTransfer(ctx context.Context, r *ownerv1.CancelTransferRequest, _ ...grpc.CallOption) (*ownerv1.Transfer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Transfer, error) {
		for _, offer := range d.offers {
			if offer.GetName() == r.GetName() {
				if offer.GetState() != ownerv1.TransferState_TRANSFER_STATE_OFFERED {
					return nil, status.Error(codes.FailedPrecondition, "it is over")
				}
				offer.State = ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF
				return offer, nil
			}
		}
		return nil, notFound()
	})
}

func (d *desk) AcceptTransfer(ctx context.Context, r *ownerv1.AcceptTransferRequest, _ ...grpc.CallOption) (*ownerv1.AcceptTransferResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.AcceptTransferResponse, error) {
		if r.GetParent() != theVehicle || r.GetCode() != d.code {
			return nil, notFound()
		}
		d.accepted = append(d.accepted, r)
		d.owner = "p0077"
		return &ownerv1.AcceptTransferResponse{Tie: &ownerv1.Tie{Person: "people/p0077"}}, nil
	})
}

func (d *desk) CreateCalendarFeed(ctx context.Context, r *reminderv1.CreateCalendarFeedRequest, _ ...grpc.CallOption) (*reminderv1.CreateCalendarFeedResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	_, again := d.requests[r.GetRequestId()]
	feed, err := once(d, r, func() (*reminderv1.CreateCalendarFeedResponse, error) {
		d.feed = fmt.Sprintf("secret-%d", d.changes)
		return &reminderv1.CreateCalendarFeedResponse{Secret: d.feed}, nil
	})
	if err == nil && again {
		feed.Secret = ""
	}
	return feed, err
}

func (d *desk) EndCalendarFeed(ctx context.Context, r *reminderv1.EndCalendarFeedRequest, _ ...grpc.CallOption) (*reminderv1.EndCalendarFeedResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.EndCalendarFeedResponse, error) {
		if d.feed == "" || r.GetName() != theVehicle+"/calendarFeeds/p0031" {
			return nil, notFound()
		}
		d.feed = ""
		return &reminderv1.EndCalendarFeedResponse{}, nil
	})
}

const theCalendar = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n"

func (d *desk) ReadCalendar(ctx context.Context, r *reminderv1.ReadCalendarRequest, _ ...grpc.CallOption) (*reminderv1.ReadCalendarResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	if d.refuse != nil {
		return nil, d.refuse
	}
	if d.feed == "" || r.GetSecret() != d.feed {
		return nil, notFound()
	}
	return &reminderv1.ReadCalendarResponse{Calendar: []byte(theCalendar), EntityTag: "abc"}, nil
}

func (d *desk) TakeTextEvent(ctx context.Context, r *reminderv1.TakeTextEventRequest, _ ...grpc.CallOption) (*reminderv1.TakeTextEventResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	if d.refuse != nil {
		return nil, d.refuse
	}
	d.events = append(d.events, r)
	return &reminderv1.TakeTextEventResponse{Reply: d.reply}, nil
}
