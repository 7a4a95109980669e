package ownerpages_test

import (
	"bytes"
	"context"
	"html"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
)

var (
	now  = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)
	ring = links.Ring{{ID: 1, Secret: make([]byte, links.KeySize)}}
)

// desk is the services behind the pages; it keeps what they are asked to do.
type desk struct {
	schedulev1.ScheduleServiceClient
	reminderv1.ReminderServiceClient

	mu       sync.Mutex
	readings []*schedulev1.RecordReadingRequest
	optOuts  []*reminderv1.OptOut
	state    schedulev1.ReadingState
	owner    string // whose vehicle it is
	refuse   error
}

type asked struct{}

func (d *desk) mine(ctx context.Context) error {
	if ctx.Value(asked{}) != d.owner {
		return status.Error(codes.NotFound, "no such vehicle")
	}
	return d.refuse
}

func (d *desk) GetSchedule(ctx context.Context, _ *schedulev1.GetScheduleRequest, _ ...grpc.CallOption) (*schedulev1.Schedule, error) {
	return &schedulev1.Schedule{Pace: &schedulev1.Pace{Unit: "km"}}, d.mine(ctx)
}

func (d *desk) RecordReading(ctx context.Context, r *schedulev1.RecordReadingRequest, _ ...grpc.CallOption) (*schedulev1.Reading, error) {
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.readings = append(d.readings, r)
	r.Reading.State = d.state
	return r.GetReading(), nil
}

func (d *desk) CreateOptOut(ctx context.Context, r *reminderv1.CreateOptOutRequest, _ ...grpc.CallOption) (*reminderv1.OptOut, error) {
	if ctx.Value(asked{}) != "the pages" {
		return nil, status.Error(codes.PermissionDenied, "who asks?")
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.optOuts = append(d.optOuts, r.GetOptOut())
	return r.GetOptOut(), nil
}

func (d *desk) changes() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.readings) + len(d.optOuts)
}

func newDesk(t *testing.T) (*desk, *httptest.Server) {
	t.Helper()
	d := &desk{state: schedulev1.ReadingState_READING_STATE_COUNTED, owner: "p0031"}
	server := httptest.NewServer(ownerpages.New(ownerpages.Config{
		Links: ring, Schedules: d, Reminders: d,
		AsOwner: func(ctx context.Context, person string) context.Context {
			return context.WithValue(ctx, asked{}, person)
		},
		AsService: func(ctx context.Context) context.Context { return context.WithValue(ctx, asked{}, "the pages") },
		Works:     "Aldermoor Works", Telephone: "+44 1632 960983",
		Clock: func() time.Time { return now }, Logger: slog.New(slog.DiscardHandler),
	}))
	t.Cleanup(server.Close)
	return d, server
}

func token(t *testing.T, purpose links.Purpose, expires time.Time) string {
	t.Helper()
	text, err := ring.Token(links.Link{Purpose: purpose, Subject: links.Target{Serial: "AM0147P", Person: "p0031"}.Subject(), Expires: expires}, links.Nonce{})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func do(t *testing.T, method, address, contentType, body string) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", contentType)
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(text)
}

const formType = "application/x-www-form-urlencoded"

func TestLookingChangesNothing(t *testing.T) {
	d, server := newDesk(t)
	for _, purpose := range []links.Purpose{links.Odometer, links.Unsubscribe} {
		for _, method := range []string{"GET", "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH"} {
			// A body as for one click, which only POST may obey (RFC 8058
			// section 3.2; checks.md O-46).
			resp, _ := do(t, method, server.URL+"/l/"+token(t, purpose, now.Add(time.Hour)), formType, "List-Unsubscribe=One-Click")
			want := http.StatusMethodNotAllowed
			if method == "GET" || method == "HEAD" {
				want = http.StatusOK
			}
			if resp.StatusCode != want {
				t.Errorf("%s: got %d, want %d", method, resp.StatusCode, want)
			}
		}
	}
	if d.changes() != 0 {
		t.Errorf("%d changes were made by looking", d.changes())
	}
}

func TestOneClickUnsubscribes(t *testing.T) {
	// RFC 8058 section 3.2: the body is these 26 octets, or the same as
	// multipart/form-data; checks.md O-46.
	const body = "List-Unsubscribe=One-Click"
	if len(body) != 26 {
		t.Fatal("not the body of RFC 8058")
	}
	var multi bytes.Buffer
	writer := multipart.NewWriter(&multi)
	if err := writer.WriteField("List-Unsubscribe", "One-Click"); err != nil {
		t.Fatal(err)
	}
	writer.Close()
	for contentType, body := range map[string]string{formType: body, writer.FormDataContentType(): multi.String()} {
		d, server := newDesk(t)
		resp, text := do(t, "POST", server.URL+"/l/"+token(t, links.Unsubscribe, now.Add(time.Hour)), contentType, body)
		// Section 3.1: no redirect, no cookie, nothing to do but this.
		if resp.StatusCode != http.StatusOK || strings.Contains(text, "<") || len(resp.Cookies()) > 0 {
			t.Errorf("%s: got %d, %q", contentType, resp.StatusCode, text)
		}
		if len(d.optOuts) != 1 || d.optOuts[0].GetWay() != "one-click" || d.optOuts[0].GetVehicle() != "vehicles/AM0147P" || d.optOuts[0].GetPerson() != "people/p0031" {
			t.Errorf("%s: opted out %v", contentType, d.optOuts)
		}
	}
}

func TestTheStopPageStopsWhenItsFormIsSent(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/l/" + token(t, links.Unsubscribe, now.Add(time.Hour))
	resp, text := do(t, "GET", address, "", "")
	if resp.StatusCode != http.StatusOK || !strings.Contains(text, "Safety campaigns still reach you") {
		t.Errorf("got %d, %s", resp.StatusCode, text)
	}
	resp, text = do(t, "POST", address, formType, "")
	if resp.StatusCode != http.StatusOK || !strings.Contains(text, "Safety campaigns still reach you") || len(d.optOuts) != 1 || d.optOuts[0].GetWay() != "page" {
		t.Errorf("got %d, %s, %v", resp.StatusCode, text, d.optOuts)
	}
}

var hidden = regexp.MustCompile(`name="request" value="([^"]+)"`)

func TestTheOdometerIsReported(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/l/" + token(t, links.Odometer, now.Add(time.Hour))
	_, text := do(t, "GET", address, "", "")
	request := hidden.FindStringSubmatch(text)
	if request == nil || !strings.Contains(text, `value="km" selected`) || !strings.Contains(text, `value="2026-05-18"`) {
		t.Fatalf("the form is %s", text)
	}
	form := url.Values{"value": {"12 345.6"}, "unit": {"km"}, "date": {"2026-05-17"}, "request": {request[1]}}
	resp, text := do(t, "POST", address, formType, form.Encode())
	if resp.StatusCode != http.StatusOK || !strings.Contains(text, "We have 12345.6 km for AM0147P.") {
		t.Errorf("got %d, %s", resp.StatusCode, text)
	}
	r := d.readings[0]
	if r.GetRequestId() != request[1] || r.GetParent() != "vehicles/AM0147P" || r.GetReading().GetSource() != schedulev1.ReadingSource_READING_SOURCE_OWNER ||
		r.GetReading().GetValue().GetEnteredValue() != "12345.6" || r.GetReading().GetReadingDate().GetDay() != 17 {
		t.Errorf("recorded %v", r)
	}
	d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
	if _, text = do(t, "POST", address, formType, form.Encode()); !strings.Contains(text, "somebody here looks at it first") {
		t.Errorf("a doubtful one: %s", text)
	}
}

func TestWhatIsWrongIsSaidBesideWhatWasTyped(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/l/" + token(t, links.Odometer, now.Add(time.Hour))
	good := url.Values{"value": {"12345"}, "unit": {"mi"}, "date": {"2026-05-17"}, "request": {"0192f0c4-5a4e-7000-8000-000000000001"}}
	for _, c := range []struct{ name, field, value, want string }{
		{"no figures", "value", "", "digits only"},
		{"a flood of figures", "value", strings.Repeat("1", 5000), "digits only"},
		{"words", "value", "about 12000", "digits only"},
		{"a comma, which may be either mark", "value", "12,345", "digits only"},
		{"markup", "value", `"><script>alert(1)</script>`, "digits only"},
		{"no unit", "unit", "", "digits only"},
		{"a date that is none", "date", "31/02/2026", "the day on which you read it"},
		{"a form of another kind", "request", "x", "open the link in our mail again"},
	} {
		form := url.Values{}
		for k, v := range good {
			form[k] = v
		}
		form.Set(c.field, c.value)
		resp, text := do(t, "POST", address, formType, form.Encode())
		if resp.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(text, c.want) || strings.Contains(text, "<script") {
			t.Errorf("%s: got %d, %s", c.name, resp.StatusCode, text)
		}
	}
	if d.changes() != 0 {
		t.Errorf("%d changes", d.changes())
	}
	// What the service refuses is said the same way.
	refused, err := status.New(codes.InvalidArgument, "no").WithDetails(&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
		{Field: "reading.reading_date", Description: "got 2027-01-01, want today or earlier"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	d.refuse = refused.Err()
	// The page is shown again with what was typed, so asking for it must work.
	if resp, text := do(t, "POST", address, formType, good.Encode()); resp.StatusCode != http.StatusUnprocessableEntity ||
		!strings.Contains(text, "not later than today") || !strings.Contains(text, `value="12345"`) {
		t.Errorf("refused by the service: got %d, %s", resp.StatusCode, text)
	}
}

func TestLinksThatAreNoKey(t *testing.T) {
	d, server := newDesk(t)
	good := token(t, links.Odometer, now.Add(time.Hour))
	forged := "A" + good[1:len(good)-1] + "A"
	for _, c := range []struct {
		name, path string
		want       int
		says       string
	}{
		{"expired", "/l/" + token(t, links.Odometer, now), http.StatusGone, "too old"},
		{"forged", "/l/" + forged, http.StatusNotFound, "do not know this link"},
		{"cut off", "/l/" + good[:20], http.StatusNotFound, "do not know this link"},
		{"of a purpose that nobody knows", "/l/" + token(t, 'z', now.Add(time.Hour)), http.StatusNotFound, "do not know this link"},
		{"no link", "/", http.StatusNotFound, "no such page"},
		{"elsewhere", "/admin", http.StatusNotFound, "no such page"},
	} {
		for _, method := range []string{"GET", "POST"} {
			resp, text := do(t, method, server.URL+c.path, formType, "List-Unsubscribe=One-Click")
			if resp.StatusCode != c.want || !strings.Contains(text, c.says) || !strings.Contains(html.UnescapeString(text), "+44 1632 960983") {
				t.Errorf("%s by %s: got %d, %s", c.name, method, resp.StatusCode, text)
			}
		}
	}
	d.owner = "p0099" // sold
	for _, method := range []string{"GET", "POST"} {
		form := url.Values{"value": {"12345"}, "unit": {"mi"}, "date": {"2026-05-17"}, "request": {"0192f0c4-5a4e-7000-8000-000000000001"}}
		if resp, text := do(t, method, server.URL+"/l/"+good, formType, form.Encode()); resp.StatusCode != http.StatusGone || strings.Contains(text, "km") {
			t.Errorf("a former owner by %s: got %d, %s", method, resp.StatusCode, text)
		}
	}
	if d.changes() != 0 {
		t.Errorf("%d changes", d.changes())
	}
}

func TestEveryAnswerIsGuarded(t *testing.T) {
	d, server := newDesk(t)
	for _, path := range []string{"/", "/l/x", "/l/" + token(t, links.Odometer, now.Add(time.Hour))} {
		resp, text := do(t, "GET", server.URL+path, "", "")
		for header, want := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "Referrer-Policy": "no-referrer", "X-Content-Type-Options": "nosniff", "Cache-Control": "no-store",
		} {
			if got := resp.Header.Get(header); !strings.HasPrefix(got, want) || strings.Contains(got, "unsafe") {
				t.Errorf("%s: %s: got %q", path, header, got)
			}
		}
		if strings.Contains(text, "<script") || strings.Contains(text, "http://") || strings.Contains(text, "https://") {
			t.Errorf("%s fetches or runs something: %s", path, text)
		}
	}
	long := "value=" + strings.Repeat("1", 8<<10)
	if resp, _ := do(t, "POST", server.URL+"/l/"+token(t, links.Odometer, now.Add(time.Hour)), formType, long); resp.StatusCode != http.StatusBadRequest || d.changes() != 0 {
		t.Errorf("a huge form: got %d", resp.StatusCode)
	}
}
