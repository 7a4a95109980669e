package reminderjob

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
)

func (o *office) preview(t *testing.T, ask PreviewAsk) *Preview {
	t.Helper()
	p, err := o.Job.Preview(t.Context(), ask)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestAPreviewSaysWhatThePassSends(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today), item("B02", today.AddDays(10)))
	o.town.owner(serial(1), "p1")
	p := o.preview(t, PreviewAsk{Serial: serial(1)})
	if !p.WouldGo || p.Notice == nil || p.Notice.Stage != reminder.Due || len(p.Lines) != 2 || p.Lines[0].Reason != reminder.Told {
		t.Fatalf("got %+v", p)
	}
	if o.post.total() != 0 || len(o.Store.Unfinished()) != 0 || len(o.Store.Claims(serial(1))) != 0 {
		t.Error("a preview left something behind")
	}
	if _, err := o.Store.Notice(t.Context(), p.Notice.ID); !fault.Is(err, fault.NotFound) {
		t.Errorf("the preview's name is that of a notice: %v", err)
	}
	r := o.want(t, "the pass", "claimed 1 sent 1")
	sent := o.post.taken["p1@harbour.example"][0]
	if got, want := bare(t, p.Message), bare(t, sent); got != want {
		t.Errorf("the preview reads\n%s\nand the mail\n%s", got, want)
	}
	if r.Notices[0].ID == p.Notice.ID {
		t.Error("the notice has the preview's name")
	}
	// Afterwards it would not go again, and still can be looked at.
	again := o.preview(t, PreviewAsk{Serial: serial(1)})
	if again.WouldGo || again.Notice == nil || bare(t, again.Message) != bare(t, sent) || again.Lines[0].Reason != reminder.Told || again.Lines[0].Notice != r.Notices[0].ID {
		t.Errorf("afterwards: would go %v, lines %+v", again.WouldGo, again.Lines)
	}
}

// bare is the text of a mail without what differs from copy to copy: its
// links, its Message-ID and its time.
func bare(t *testing.T, message []byte) string {
	t.Helper()
	var out []string
	for _, line := range strings.Split(decoded(t, message), "\n") {
		if !strings.Contains(line, "https://") && !strings.HasPrefix(line, "Message-") && !strings.HasPrefix(line, "Date:") && !strings.Contains(line, "boundary") && !strings.HasPrefix(line, "--") {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

func TestTheLinksOfAPreviewAreSeenToBeOnesAndOpenNothing(t *testing.T) {
	o := newOffice(t)
	o.Links = links.Ring{{ID: 7, Secret: bytes.Repeat([]byte("k"), links.KeySize)}}
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	text := decoded(t, o.preview(t, PreviewAsk{Serial: serial(1)}).Message)
	found := 0
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \n\r<>\"", r) }) {
		if !strings.HasPrefix(word, "https://owners.aldermoor.example/") {
			continue
		}
		found++
		token, preview := strings.CutPrefix(word, "https://owners.aldermoor.example/preview/l/")
		if !preview {
			t.Errorf("%s does not look like a preview", word)
		}
		if _, err := o.Links.Read(token, noon); err == nil {
			t.Errorf("%s opens something", word)
		}
	}
	if found < 4 {
		t.Errorf("%d links in\n%s", found, text)
	}
}

func TestAPreviewOfAnyDayPersonAndChannel(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today.AddDays(100)))
	for _, id := range []string{"p1", "p2"} {
		p := o.town.owner(serial(1), id)
		p.PostalLines, p.Phone = []string{"1 Quay Road", "Harbour"}, "+441632960983"
	}
	if p := o.preview(t, PreviewAsk{Serial: serial(1)}); p.Notice != nil || p.Message != nil || p.WouldGo || len(p.Lines) != 1 ||
		p.Lines[0].Reason != reminder.NotYet || p.Lines[0].Next != today.AddDays(70) {
		t.Errorf("today nothing comes up: %+v", p)
	}
	for _, c := range []struct {
		ask   PreviewAsk
		stage reminder.Stage
		would bool
		begin string
	}{
		{PreviewAsk{Day: today.AddDays(70)}, reminder.Early, true, "From:"},
		{PreviewAsk{Day: today.AddDays(100), Person: "p2"}, reminder.Due, true, "From:"},
		{PreviewAsk{Day: today.AddDays(131), Channel: reminder.Mail}, reminder.Overdue, true, "From:"},
		{PreviewAsk{Day: today.AddDays(100), Channel: reminder.Letter}, reminder.Due, false, "%PDF-"},
		{PreviewAsk{Day: today.AddDays(100), Channel: reminder.Text}, reminder.Due, false, ""},
	} {
		c.ask.Serial = serial(1)
		p := o.preview(t, c.ask)
		if p.Notice == nil || p.Notice.Stage != c.stage || p.WouldGo != c.would || len(p.Message) == 0 {
			t.Errorf("%+v: got %+v", c.ask, p)
			continue
		}
		if c.begin == "From:" && !bytes.Contains(p.Message, []byte("\r\nFrom:")) && !bytes.HasPrefix(p.Message, []byte("From:")) || c.begin == "%PDF-" && !bytes.HasPrefix(p.Message, []byte(c.begin)) {
			t.Errorf("%+v: the message begins %.60q", c.ask, p.Message)
		}
		if c.ask.Channel == reminder.Text && (p.Notice.Segments < 1 || bytes.Contains(p.Message, []byte("From:"))) {
			t.Errorf("a text message of %d segments: %q", p.Notice.Segments, p.Message)
		}
		if want := max(c.ask.Person, "p1"); p.Notice.Person != want || p.Lines[0].Person != want {
			t.Errorf("%+v: to %s, lines of %s", c.ask, p.Notice.Person, p.Lines[0].Person)
		}
	}
}

func TestAPreviewSaysWhyItWouldNotGo(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	if _, err := o.Store.OptOut(t.Context(), reminderRequest(), reminder.OptOut{Serial: serial(1), Person: "p1", Way: "page", Created: noon}); err != nil {
		t.Fatal(err)
	}
	p := o.preview(t, PreviewAsk{Serial: serial(1)})
	if p.WouldGo || p.Notice == nil || p.Lines[0].Reason != reminder.OptedOut {
		t.Errorf("got %+v", p)
	}
	for name, ask := range map[string]PreviewAsk{
		"somebody who is nothing to it": {Serial: serial(1), Person: "p9"},
		"a vehicle that nobody has":     {Serial: serial(2)},
		"a letter to no address":        {Serial: serial(1), Channel: reminder.Letter},
	} {
		o.town.vehicle(serial(2), item("E01", today))
		if _, err := o.Job.Preview(t.Context(), ask); !fault.Is(err, fault.FailedPrecondition) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAPreviewOfTodayCountsTheHoursThatAreLeft(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	for _, c := range []struct {
		hour  int
		would bool
	}{{3, true}, {12, true}, {16, true}, {17, false}, {22, false}} { // by UTC; London is an hour ahead, and its day ends at 18
		o.now = today.Start(time.UTC).Add(time.Duration(c.hour) * time.Hour)
		if p := o.preview(t, PreviewAsk{Serial: serial(1)}); p.WouldGo != c.would || p.Notice == nil {
			t.Errorf("at %d: would go %v, %+v", c.hour, p.WouldGo, p.Lines)
		}
	}
}

func TestTheLetterOfAYearCanBeLookedAtAtAnyTime(t *testing.T) {
	o := newOffice(t)
	o.Schedules = yearless{schedules{town: o.town}}
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	for _, day := range []vehicle.Date{{}, vehicle.MustDate(2026, 12, 28)} {
		p := o.preview(t, PreviewAsk{Serial: serial(1), Purpose: reminder.YearLetter, Day: day})
		if day.IsZero() != (p.Notice == nil) || p.WouldGo {
			t.Errorf("on %s: %+v", day, p)
		}
	}
}

// yearless is a schedule of a vehicle of which nothing is recorded.
type yearless struct{ schedules }

func (yearless) ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	return &schedulev1.ListReadingsResponse{}, nil
}

func (yearless) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	return &schedulev1.ListServiceEntriesResponse{}, nil
}

func (yearless) ListMeasuredSeries(context.Context, *schedulev1.ListMeasuredSeriesRequest, ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error) {
	return &schedulev1.ListMeasuredSeriesResponse{}, nil
}

func (yearless) GetProgramme(context.Context, *schedulev1.GetProgrammeRequest, ...grpc.CallOption) (*schedulev1.Programme, error) {
	return &schedulev1.Programme{}, nil
}

func (yearless) GetVisitPlan(context.Context, *schedulev1.GetVisitPlanRequest, ...grpc.CallOption) (*schedulev1.VisitPlan, error) {
	return &schedulev1.VisitPlan{}, nil
}

func TestWithoutSettingsAPreviewStandsInForThemAndNothingElseDoes(t *testing.T) {
	o := newOffice(t)
	o.Works, o.BaseURL, o.Mail, o.Letters = reminderwords.Works{}, "", nil, false
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	o.town.people["people/p1"].PostalLines = []string{"1 Quay Road", "Harbour"}
	for _, channel := range []reminder.Channel{"", reminder.Mail, reminder.Text, reminder.Letter} {
		p := o.preview(t, PreviewAsk{Serial: serial(1), Channel: channel})
		if p.WouldGo || p.Notice == nil || len(p.Message) == 0 || p.Lines[0].Sentence != sendsNothing {
			t.Fatalf("by %q: would go %v, notice %v, lines %+v", channel, p.WouldGo, p.Notice, p.Lines)
		}
		if channel == reminder.Letter {
			continue // a PDF
		}
		text := string(p.Message)
		if channel != reminder.Text {
			text = decoded(t, p.Message)
		}
		for _, want := range []string{noName, noBase + "/preview/"} {
			if !strings.Contains(text, want) {
				t.Errorf("by %q it does not say %q:\n%s", channel, want, text)
			}
		}
		if channel != reminder.Text && !strings.Contains(text, "<"+noFrom+">") {
			t.Errorf("by %q it comes from somewhere:\n%.600s", channel, text)
		}
	}
	if o.Works.Name != "" || o.Works.From != "" || o.BaseURL != "" {
		t.Errorf("the job itself has %+v and %q by now", o.Works, o.BaseURL)
	}
	lines, err := o.Pending(t.Context(), serial(1), vehicle.Date{})
	if err != nil || len(lines) != 1 || lines[0].Sentence != sendsNothing {
		t.Errorf("what comes up: %+v, %v", lines, err)
	}
	o.town.vehicle(serial(1), item("E01", today.AddDays(-400))) // long since a task
	if r, err := o.DryRunOn(t.Context(), vehicle.Date{}); err != nil || r.Claimed != 0 || r.Tasks != 0 || r.Lines[0].Sentence != sendsNothing {
		t.Errorf("a dry run: %+v, %v", r, err)
	}
}
