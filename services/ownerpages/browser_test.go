package ownerpages_test

import (
	"cmp"
	"context"
	"log/slog"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
)

// noon is the time of the test: the browser's own clock is not asked.
var noon = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)

// dials stands for the schedule service and keeps what is reported.
type dials struct {
	schedulev1.ScheduleServiceClient
	mu       sync.Mutex
	reported []*schedulev1.RecordReadingRequest
}

func (*dials) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	return &schedulev1.Schedule{Pace: &schedulev1.Pace{Unit: "km"}}, nil
}

func (d *dials) RecordReading(_ context.Context, r *schedulev1.RecordReadingRequest, _ ...grpc.CallOption) (*schedulev1.Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.reported = append(d.reported, r)
	kept := proto.CloneOf(r.GetReading())
	kept.State = schedulev1.ReadingState_READING_STATE_COUNTED
	return kept, nil
}

func (d *dials) all() []*schedulev1.RecordReadingRequest {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.reported
}

// browser starts a headless browser, or skips the test where there is none.
func browser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath(cmp.Or(os.Getenv("HALFSHAFT_CHROMIUM"), "chromium"))
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no browser; set HALFSHAFT_CHROMIUM to one")
		}
		t.Skip("no browser: set HALFSHAFT_CHROMIUM to one, or have chromium in PATH")
	}
	ctx, stop := chromedp.NewContext(t.Context(), chromedp.WithAllocatorOptions(chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU))
	t.Cleanup(stop)
	// Only a browser that hangs meets this limit.
	ctx, stop = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(stop)
	return ctx
}

func look[T any](t *testing.T, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	seen, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return seen
}

// TestAnOwnerReportsTheOdometerInABrowser shows what no request by hand does:
// that the browser's own checks, the page's policy and the form go together.
func TestAnOwnerReportsTheOdometerInABrowser(t *testing.T) {
	ctx := browser(t)
	ring := links.Ring{{ID: 1, Secret: make([]byte, links.KeySize)}}
	d := &dials{}
	server := httptest.NewServer(ownerpages.New(ownerpages.Config{
		Links: ring, Schedules: d, Works: "Aldermoor Works",
		AsOwner: func(ctx context.Context, _ string) context.Context { return ctx },
		Clock:   func() time.Time { return noon }, Logger: slog.New(slog.DiscardHandler),
	}))
	defer server.Close()
	token, err := ring.Token(links.Link{Purpose: links.Odometer, Subject: links.Target{Serial: "AM0147P", Person: "p0031"}.Subject(), Expires: noon.Add(time.Hour)}, links.Nonce{1})
	if err != nil {
		t.Fatal(err)
	}

	value := chromedp.CSS("#value")
	do := func(steps ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		if err := chromedp.Do(ctx, steps...); err != nil {
			t.Fatal(err)
		}
	}
	do(chromedp.Navigate(server.URL + "/l/" + token))
	unit := look(t, ctx, chromedp.Value(chromedp.CSS("#unit")))
	border := look(t, ctx, chromedp.Evaluate[string](`getComputedStyle(document.querySelector("button")).borderTopWidth`))
	do(chromedp.SendKeys(value, "11l10"))
	letters := look(t, ctx, chromedp.Evaluate[bool](`document.querySelector("form").checkValidity()`))
	do(chromedp.Reload(), chromedp.SendKeys(value, "11410"))
	answer, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS("button")))
	if err != nil {
		t.Fatal(err)
	}
	heading, page := look(t, ctx, chromedp.Text(chromedp.CSS("h1"))), look(t, ctx, chromedp.Text(chromedp.CSS("main")))

	if unit != "km" {
		t.Errorf("the form asks in %q, and the dial counts km", unit)
	}
	if border != "0px" { // the style sheet takes it away
		t.Errorf("the page's policy keeps its own style out: the button has a border of %q", border)
	}
	if letters {
		t.Error("the browser lets letters pass")
	}
	if answer.Status != 200 || heading != "Thank you" || !strings.Contains(page, "11410 km") {
		t.Errorf("got %d, %q and %q", answer.Status, heading, page)
	}
	reported := d.all()
	if len(reported) != 1 || reported[0].GetParent() != "vehicles/AM0147P" || reported[0].GetReading().GetValue().GetEnteredValue() != "11410" ||
		reported[0].GetReading().GetReadingDate().GetDay() != 18 {
		t.Errorf("reported: %v", reported)
	}
}
