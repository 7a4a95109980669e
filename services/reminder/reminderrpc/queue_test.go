package reminderrpc

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// newQueueDesk has two vehicles with work that is due and one owner.
func newQueueDesk(t *testing.T) *desk {
	d := newDesk(t)
	d.town.vehicle(serial1, dueItem("E01", "Engine oil and filter", today), dueItem("B02", "Brake fluid", today.AddDays(5)))
	d.town.vehicle(serial2, dueItem("E01", "Engine oil and filter", today.AddDays(10)))
	d.town.owner(serial1, "p1")
	d.town.owner(serial2, "p1")
	return d
}

func TestADryRunIsComparedWithTheDayBefore(t *testing.T) {
	d := newQueueDesk(t)
	d.leads(t)
	dry, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{DryRun: true})
	if err != nil || dry.GetClaimed() != 2 || len(dry.GetNotices()) != 2 || dry.GetCounts().GetByStage()["due"] != 1 || dry.GetDayBefore().GetName() != "passDays/2026-05-17" {
		t.Fatalf("got %v, %v", dry, err)
	}
	if len(dry.GetDifferences()) != 3 || !strings.HasPrefix(dry.GetDifferences()[0], "2 notices more than yesterday") ||
		!strings.Contains(dry.GetDifferences()[2], "AM0147P: engine oil and filter and 1 more, due, to be told to people/p1 by mail; yesterday nothing") {
		t.Errorf("the differences are %q", dry.GetDifferences())
	}
	ran, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{})
	if err != nil || ran.GetSent() != 2 || ran.GetNotices()[0].GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || ran.GetCounts().GetSent() != 2 || ran.GetDayBefore() != nil {
		t.Fatalf("the pass: %v, %v", ran, err)
	}
	next, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{DryRun: true, OnDate: on(today.AddDays(1))})
	if err != nil || next.GetClaimed() != 0 || next.GetDayBefore().GetCounts().GetClaimed() != 2 || len(next.GetDayBefore().GetTold()) != 3 ||
		len(next.GetDifferences()) != 1 || next.GetDifferences()[0] != "2 notices less than the day before: 1 fewer early, 1 fewer due" {
		t.Errorf("tomorrow: %v, %v", next, err)
	}
	for name, r := range map[string]*reminderv1.RunPassRequest{
		"a pass of another day":  {OnDate: on(today.AddDays(1))},
		"a dry run of yesterday": {DryRun: true, OnDate: on(today.AddDays(-1))},
		"a day that is none":     {DryRun: true, OnDate: &date.Date{Year: 2026, Month: 2, Day: 30}},
	} {
		_, err := d.RunPass(d.staff(t), r)
		if f, ok := err.(*fault.Error); !ok || f.Kind != fault.Invalid || f.Fields[0].Name != "on_date" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWhatIsHeldBackIsSaidWithItsReason(t *testing.T) {
	d := newQueueDesk(t)
	if _, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial2, Answer: booked(oil)}); err != nil {
		t.Fatal(err)
	}
	d.now = now.Add(10 * time.Hour) // 23:00 in London
	r, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{DryRun: true})
	if err != nil || r.GetClaimed() != 0 || r.GetHeldForHours() != 1 {
		t.Fatalf("got %v, %v", r, err)
	}
	var got []string
	for _, p := range r.GetHeld() {
		got = append(got, strings.TrimPrefix(p.GetVehicle(), "vehicles/")+" "+p.GetItemId()+" "+p.GetReason())
		if p.GetSentence() == "" || p.GetPerson() != "people/p1" {
			t.Errorf("a line without words: %v", p)
		}
	}
	if want := "AM0093L E01 BOOKED; AM0147P E01 OUTSIDE_HOURS; AM0147P B02 OUTSIDE_HOURS"; strings.Join(got, "; ") != want {
		t.Errorf("got %v", got)
	}
}

func TestPendingAndPastDaysAreListedInPages(t *testing.T) {
	d := newQueueDesk(t)
	d.leads(t)
	var lines []string
	pending := &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1}
	for {
		page, err := d.ListPending(d.staff(t), pending)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range page.GetLines() {
			lines = append(lines, p.GetVehicle()+" "+p.GetItemId())
		}
		if pending.PageToken = page.GetNextPageToken(); pending.PageToken == "" {
			break
		}
	}
	if want := "vehicles/AM0093L E01; vehicles/AM0147P E01; vehicles/AM0147P B02"; strings.Join(lines, "; ") != want {
		t.Errorf("got %v", lines)
	}
	one, err := d.ListPending(d.staff(t), &reminderv1.ListPendingRequest{Parent: "vehicles/" + serial1, OnDate: on(today.AddDays(40))})
	if err != nil || len(one.GetLines()) != 2 || one.GetLines()[0].GetStage() != reminderv1.Stage_STAGE_OVERDUE {
		t.Errorf("of one vehicle on a day to come: %v, %v", one, err)
	}
	for range 3 {
		if _, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{}); err != nil {
			t.Fatal(err)
		}
		d.now = d.now.AddDate(0, 0, 1)
	}
	var days []string
	past := &reminderv1.ListPassDaysRequest{PageSize: 2}
	for {
		page, err := d.ListPassDays(d.staff(t), past)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range page.GetPassDays() {
			days = append(days, strings.TrimPrefix(p.GetName(), "passDays/"))
		}
		if past.PageToken = page.GetNextPageToken(); past.PageToken == "" {
			break
		}
	}
	if want := "2026-05-20; 2026-05-19; 2026-05-18"; strings.Join(days, "; ") != want {
		t.Errorf("got %v", days)
	}
}

func TestAPreviewIsOfAVehicleADayAndAChannel(t *testing.T) {
	d := newQueueDesk(t)
	r, err := d.PreviewNotice(d.staff(t), &reminderv1.PreviewNoticeRequest{Parent: "vehicles/" + serial1})
	if err != nil || !r.GetWouldGo() || len(r.GetLines()) != 2 || !bytes.Contains(r.GetMessage(), []byte("Subject:")) ||
		r.GetNotice().GetSealedBody() != nil || !strings.HasSuffix(r.GetNotice().GetName(), ".preview") {
		t.Fatalf("got %v, %v", r, err)
	}
	letter, err := d.PreviewNotice(d.staff(t), &reminderv1.PreviewNoticeRequest{
		Parent: "vehicles/" + serial1, Person: "people/p1", Channel: reminderv1.Channel_CHANNEL_LETTER, OnDate: on(today.AddDays(40)),
	})
	if err != nil || letter.GetWouldGo() || !bytes.HasPrefix(letter.GetMessage(), []byte("%PDF-")) || letter.GetNotice().GetStage() != reminderv1.Stage_STAGE_OVERDUE {
		t.Errorf("a letter: %v, %v", letter.GetNotice(), err)
	}
	for field, bad := range map[string]*reminderv1.PreviewNoticeRequest{
		"parent":  {Parent: "vehicles/-"},
		"on_date": {Parent: "vehicles/" + serial1, OnDate: &date.Date{Year: 2026}},
		"person":  {Parent: "vehicles/" + serial1, Person: "p1"},
		"channel": {Parent: "vehicles/" + serial1, Channel: 9},
		"purpose": {Parent: "vehicles/" + serial1, Purpose: 9},
	} {
		_, err := d.PreviewNotice(d.staff(t), bad)
		f, ok := err.(*fault.Error)
		if !ok || f.Kind != fault.Invalid || !strings.HasPrefix(f.Fields[0].Name, field) {
			t.Errorf("%s: %v", field, err)
		}
	}
}

func TestLettersArePrintedAndMarkedThroughTheAPI(t *testing.T) {
	d := newQueueDesk(t)
	k := d.notice(t, serial1, "p1", reminder.Letter, oil)
	other := d.notice(t, serial2, "p1", reminder.Letter, oil)
	r, err := d.PrintLetters(d.staff(t), &reminderv1.PrintLettersRequest{PageSize: 1})
	if err != nil || len(r.GetNotices()) != 1 || r.GetWaiting() != 1 || !bytes.HasPrefix(r.GetPdf(), []byte("%PDF-")) {
		t.Fatalf("got %v, %v", r.GetNotices(), err)
	}
	name := "notices/" + k.ID
	mark := &reminderv1.MarkPostedRequest{Notices: []string{name}, PostedDate: on(today), RequestId: uuid.NewString()}
	for range 2 {
		posted, err := d.MarkPosted(d.staff(t), mark)
		if err != nil || posted.GetNotices()[0].GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || posted.GetNotices()[0].GetEtag() == "" {
			t.Fatalf("got %v, %v", posted, err)
		}
	}
	for why, bad := range map[string]*reminderv1.MarkPostedRequest{
		"none":                              {},
		"one twice":                         {Notices: []string{name, name}},
		"a name that is none":               {Notices: []string{k.ID}},
		"tomorrow":                          {Notices: []string{"notices/" + other.ID}, PostedDate: on(today.AddDays(1))},
		"the request id of another request": {Notices: []string{"notices/" + other.ID}, RequestId: mark.GetRequestId()},
		"a request id that is none":         {Notices: []string{name}, RequestId: "again"},
		"too many":                          {Notices: make([]string, mostLetters+1)},
	} {
		if _, err := d.MarkPosted(d.staff(t), bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", why, err)
		}
	}
	if _, err := d.PrintLetters(d.staff(t), &reminderv1.PrintLettersRequest{Notices: []string{"notices/AM0147P.x"}}); !fault.Is(err, fault.NotFound) {
		t.Errorf("a letter that is not there: %v", err)
	}
}

func TestARequestIDOfTheNewerMethodsIsAUUIDOrNone(t *testing.T) {
	d := newQueueDesk(t)
	for name, call := range map[string]func() error{
		"CreateAnswer": func() error {
			_, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{RequestId: "x"})
			return err
		},
		"WithdrawAnswer": func() error {
			_, err := d.WithdrawAnswer(d.staff(t), &reminderv1.WithdrawAnswerRequest{RequestId: "x"})
			return err
		},
		"UpdateCadence": func() error {
			_, err := d.UpdateCadence(d.staff(t), &reminderv1.UpdateCadenceRequest{RequestId: "x"})
			return err
		},
		"CreateCalendarFeed": func() error {
			_, err := d.CreateCalendarFeed(d.staff(t), &reminderv1.CreateCalendarFeedRequest{RequestId: "x"})
			return err
		},
		"EndCalendarFeed": func() error {
			_, err := d.EndCalendarFeed(d.staff(t), &reminderv1.EndCalendarFeedRequest{RequestId: "x"})
			return err
		},
		"WithdrawLinks": func() error {
			_, err := d.WithdrawLinks(d.staff(t), &reminderv1.WithdrawLinksRequest{RequestId: "x"})
			return err
		},
		"MarkPosted": func() error {
			_, err := d.MarkPosted(d.staff(t), &reminderv1.MarkPostedRequest{RequestId: "x"})
			return err
		},
	} {
		if err := call(); !complainsOfRequestID(err) {
			t.Errorf("%s with a request id that is none: %v", name, err)
		}
	}
}

// TestAListOfAllVehiclesIsOfOneMoment: however many pages it has, everybody is
// asked once, and it goes on as it began.
func TestAListOfAllVehiclesIsOfOneMoment(t *testing.T) {
	d := newQueueDesk(t)
	ask := func(r *reminderv1.ListPendingRequest) *reminderv1.ListPendingResponse {
		t.Helper()
		page, err := d.ListPending(d.staff(t), r)
		if err != nil {
			t.Fatal(err)
		}
		return page
	}
	all := &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1}
	page := ask(all)
	next := &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1, PageToken: page.GetNextPageToken()}
	delete(d.town.schedules, serial1) // it is done meanwhile
	if page := ask(next); len(page.GetLines()) != 1 || d.town.asked != 1 {
		t.Errorf("the second page: %v, after %d askings", page, d.town.asked)
	}
	if ask(&reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1, PageToken: ask(next).GetNextPageToken()}); d.town.asked != 1 {
		t.Errorf("the last page: %d askings", d.town.asked)
	}
	if d.listed.lines != nil {
		t.Error("the lines are remembered after the last page")
	}

	page = ask(all)
	if page.GetNextPageToken() != "" || d.town.asked != 2 {
		t.Errorf("the list begun anew: %v, after %d askings", page, d.town.asked)
	}
	d.town.vehicle(serial1, dueItem("E01", "Engine oil and filter", today))
	ask(all)
	next = &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1, PageToken: ask(all).GetNextPageToken()}
	d.now = now.Add(listedFor)
	if ask(next); d.town.asked != 5 {
		t.Errorf("long after the first page: %d askings", d.town.asked)
	}
	tomorrow := &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1, OnDate: on(today.AddDays(1))}
	token := ask(tomorrow).GetNextPageToken()
	ask(all)
	tomorrow = &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 1, OnDate: on(today.AddDays(1)), PageToken: token}
	if page := ask(tomorrow); d.town.asked != 8 || len(page.GetLines()) != 1 {
		t.Errorf("of another day: %v, after %d askings", page, d.town.asked)
	}
}

// TestAReportOfAnyFleetFitsAnAnswer: 600 vehicles of 600 people.
func TestAReportOfAnyFleetFitsAnAnswer(t *testing.T) {
	d := newDesk(t)
	why := strings.Repeat("Because. ", 150)
	n := 0
	for number := 0; n < 600; number++ {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", number))
		if err != nil {
			continue
		}
		n++
		i := dueItem("E01", "Engine oil and filter", today)
		i.Sentence = why
		d.town.vehicle(string(serial), i)
		if person := d.town.owner(string(serial), fmt.Sprintf("p%d", n)); n > 590 {
			person.TimeZone = "Pacific/Auckland" // it is 1 at night there
		}
	}
	r, err := d.RunPass(d.staff(t), &reminderv1.RunPassRequest{DryRun: true})
	if err != nil || r.GetClaimed() != 590 || r.GetHeldLines() != 10 || len(r.GetHeld()) != 10 || r.GetCounts().GetByStage()["due"] != 590 {
		t.Fatalf("claimed %d, held %d of %d, %v, %v", r.GetClaimed(), len(r.GetHeld()), r.GetHeldLines(), r.GetCounts(), err)
	}
	if n := len(r.GetNotices()); n < 400 || n > mostInReport || proto.Size(r) > 2<<20 {
		t.Errorf("%d notices, %d bytes", n, proto.Size(r))
	}
}

func TestTheFirstOfALongListGoIntoAReport(t *testing.T) {
	for _, c := range []struct{ entries, bytes, want int }{
		{0, 1, 0}, {3, 100, 3}, {mostInReport, 100, mostInReport}, {mostInReport + 1, 100, mostInReport}, {100, 100 << 10, 10},
	} {
		out, err := first(make([]struct{}, c.entries), func(struct{}) (*wrapperspb.BytesValue, error) {
			return wrapperspb.Bytes(make([]byte, c.bytes)), nil
		})
		if err != nil || len(out) != c.want {
			t.Errorf("%d of %d bytes: %d, %v", c.entries, c.bytes, len(out), err)
		}
	}
}
