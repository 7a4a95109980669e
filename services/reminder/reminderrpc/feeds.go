package reminderrpc

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/url"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder/remindercalendar"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// secretBytes is how much chance is in the secret part of a feed's address: 256
// bits cannot be guessed.
const secretBytes = 32

// CreateCalendarFeed implements the ReminderService.
func (s *Service) CreateCalendarFeed(ctx context.Context, r *reminderv1.CreateCalendarFeedRequest) (*reminderv1.CreateCalendarFeedResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, _, err := resname.Serial("parent", reminderwire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	person, err := reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson())
	if err != nil {
		return nil, err
	}
	if _, tied, err := s.tied(ctx, serial, person); err != nil {
		return nil, err
	} else if !tied {
		return nil, fault.New(fault.FailedPrecondition, "NOT_TIED", "The person %s is nothing to the vehicle %s today.", person, serial)
	}
	var b [secretBytes]byte
	rand.Read(b[:]) // never fails
	secret := base64.RawURLEncoding.EncodeToString(b[:])
	feed := &reminderv1.CalendarFeed{
		Name: reminderwire.FeedName(serial, person), Person: reminderwire.PersonName(person), CreateTime: timestamppb.New(s.now()),
	}
	feed, before, err := s.Store.CreateFeed(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, serial, person, feed, sha256.Sum256([]byte(secret)))
	if err != nil {
		return nil, err
	}
	if before {
		return &reminderv1.CreateCalendarFeedResponse{CalendarFeed: feed}, nil
	}
	address, err := feedAddress(s.Job.BaseURL, secret)
	return &reminderv1.CreateCalendarFeedResponse{CalendarFeed: feed, Secret: secret, Address: address}, err
}

// feedAddress gives where a feed is read; "" where the works has no address.
func feedAddress(base, secret string) (string, error) {
	if base == "" {
		return "", nil
	}
	return url.JoinPath(base, "calendar", secret+".ics")
}

// EndCalendarFeed implements the ReminderService.
func (s *Service) EndCalendarFeed(ctx context.Context, r *reminderv1.EndCalendarFeedRequest) (*reminderv1.EndCalendarFeedResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, person, err := reminderwire.FeedOf("name", r.GetName())
	if err != nil {
		return nil, err
	}
	if caller := access.CallerFrom(ctx); caller.Role == access.Owner && caller.Person != reminderwire.PersonName(person) {
		return nil, reminderstore.NoFeed(serial, person)
	}
	if err := s.Store.EndFeed(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, serial, person); err != nil {
		return nil, err
	}
	return &reminderv1.EndCalendarFeedResponse{}, nil
}

// ListCalendarFeeds implements the ReminderService.
func (s *Service) ListCalendarFeeds(ctx context.Context, r *reminderv1.ListCalendarFeedsRequest) (*reminderv1.ListCalendarFeedsResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found, err := s.Store.Feeds(ctx, serial, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListCalendarFeedsResponse{}
	out.CalendarFeeds, out.NextPageToken = page.Cut(r, found, size, (*reminderv1.CalendarFeed).GetName)
	return out, nil
}

// noCalendar is the one refusal of an address, whatever is wrong with it.
func noCalendar() error {
	return fault.New(fault.NotFound, "CALENDAR_NOT_FOUND", "There is no calendar at this address.")
}

// ReadCalendar implements the ReminderService.
func (s *Service) ReadCalendar(ctx context.Context, r *reminderv1.ReadCalendarRequest) (*reminderv1.ReadCalendarResponse, error) {
	feed, found, err := s.Store.FeedAt(ctx, sha256.Sum256([]byte(r.GetSecret())))
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, noCalendar()
	}
	person, tied, err := s.tied(ctx, feed.Serial, feed.Person)
	if err != nil {
		return nil, err
	}
	if !tied {
		return nil, noCalendar()
	}
	calendar, err := s.calendar(ctx, feed, person)
	if err != nil {
		return nil, err
	}
	if err := s.Store.MarkRead(ctx, feed, vehicle.DateOf(s.now())); err != nil {
		return nil, err
	}
	return &reminderv1.ReadCalendarResponse{
		Calendar: calendar, EntityTag: strings.Trim(remindercalendar.Tag(calendar), `"`),
	}, nil
}

// calendarTries is how often a calendar is put together anew because somebody
// else read it at the same moment.
const calendarTries = 5

// calendar computes a calendar, keeps what it holds, and prints it.
func (s *Service) calendar(ctx context.Context, feed reminderstore.Feed, person *ownerv1.Person) ([]byte, error) {
	now := s.now()
	today := todayOf(person, now)
	recipient, _ := reminderwire.Recipient(person, time.LoadLocation) // an unknown zone is UTC
	v, err := s.vehicleOn(ctx, feed.Serial, today)
	if err != nil {
		return nil, err
	}
	plan, err := s.Job.Schedules.GetVisitPlan(reminderjob.AsService(ctx), &schedulev1.GetVisitPlanRequest{
		Name: reminderwire.VehicleName(feed.Serial) + "/visitPlan", OnDate: vehiclewire.DateProto(today), Months: monthsAhead,
	})
	if err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	answers, err := s.answersFor(ctx, s.Store.Answers(feed.Serial), feed.Person)
	if err != nil {
		return nil, err
	}
	v.Items = append(v.Items, s.Job.Campaigns(ctx, feed.Serial, today)...)
	d := s.reader(recipient)
	about := d.occasions(v, plan, answers, today)
	owner := string(feed.Serial) + "/" + feed.Person
	for try := 1; ; try++ {
		kept, revision, err := s.Store.Calendar(ctx, feed.Serial, feed.Person)
		if err != nil {
			return nil, err
		}
		events, next := following(kept, about, owner, today, now)
		if !proto.Equal(kept, next) {
			err = s.Store.PutCalendar(ctx, feed.Serial, feed.Person, next, revision)
		}
		switch {
		case err == nil:
			return remindercalendar.Render(d.printed(feed.Serial, events, s.uidDomain()))
		case try == calendarTries || !fault.Is(err, fault.Aborted):
			return nil, err
		}
	}
}

// uidDomain is what the identifiers of events end in.
func (s *Service) uidDomain() string {
	_, domain, _ := strings.Cut(s.Job.Works.From, "@")
	return domain
}

// printed is a calendar as it is shown.
func (d reader) printed(serial vehicle.Serial, events []event, domain string) remindercalendar.Calendar {
	name := map[string]string{"serial": string(serial)}
	c := remindercalendar.Calendar{
		Name:        d.Say("calendar.name", name),
		Description: d.Say("calendar.description", map[string]string{"serial": string(serial), "works": d.works}),
		Refresh:     24 * time.Hour,
	}
	for _, e := range events {
		uid := e.uid
		if domain != "" {
			uid += "@" + domain
		}
		status := remindercalendar.Tentative
		if e.booked {
			status = remindercalendar.Confirmed
		}
		c.Events = append(c.Events, remindercalendar.Event{
			UID: uid, Sequence: int(e.sequence), Stamp: e.changed, First: e.day, Last: e.day,
			Summary: e.summary, Description: e.description, Status: status,
		})
	}
	return c
}
