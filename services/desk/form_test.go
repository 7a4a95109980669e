package desk

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// signedIn is a session of somebody of a role.
type signedIn struct {
	accessv1.SignInServiceClient
	role accessv1.Role
}

func (s signedIn) CheckSession(context.Context, *accessv1.CheckSessionRequest, ...grpc.CallOption) (*accessv1.CheckSessionResponse, error) {
	return &accessv1.CheckSessionResponse{Account: &accessv1.Account{Role: s.role}, Session: &accessv1.Session{}, Fresh: true}, nil
}

// overtaken are owners whose records somebody else changes while a page is open.
type overtaken struct {
	ownerv1.OwnerServiceClient
	etags []string // of what was sent
}

func (o *overtaken) ListTies(context.Context, *ownerv1.ListTiesRequest, ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	return &ownerv1.ListTiesResponse{Ties: []*ownerv1.Tie{{Name: "vehicles/AM0101G/ties/t1", Person: "people/p1", Role: ownerv1.Role_ROLE_OWNER}}}, nil
}

func (o *overtaken) GetPerson(context.Context, *ownerv1.GetPersonRequest, ...grpc.CallOption) (*ownerv1.Person, error) {
	return &ownerv1.Person{Name: "people/p1", FullName: "Ada Nettlefold", Email: "new@nettlefold.example", PostalLines: []string{"1 Same Row", "Fictionbury"}, Etag: "2"}, nil
}

func (o *overtaken) UpdatePerson(_ context.Context, r *ownerv1.UpdatePersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	o.etags = append(o.etags, r.GetPerson().GetEtag())
	if r.GetPerson().GetEtag() != "2" {
		return nil, fault.New(fault.Aborted, "ETAG_MISMATCH", "The person changed since it was read; read it again.")
	}
	return r.GetPerson(), nil
}

// useNow has a use that lasts, one that is to end and one that ended, and refuses
// each end.
type useNow struct {
	schedulev1.ScheduleServiceClient
}

func (useNow) ListUseFacts(context.Context, *schedulev1.ListUseFactsRequest, ...grpc.CallOption) (*schedulev1.ListUseFactsResponse, error) {
	until := func(y, m, d int32) *date.Date { return &date.Date{Year: y, Month: m, Day: d} }
	return &schedulev1.ListUseFactsResponse{UseFacts: []*schedulev1.UseFact{
		{Name: "vehicles/AM0101G/useFacts/u1", Kind: schedulev1.UseKind_USE_KIND_DUST, Etag: "7"},
		{Name: "vehicles/AM0101G/useFacts/u2", Kind: schedulev1.UseKind_USE_KIND_LAID_UP, EndDate: until(2026, 5, 18), Etag: "8"},
		{Name: "vehicles/AM0101G/useFacts/u3", Kind: schedulev1.UseKind_USE_KIND_TOWING, EndDate: until(2026, 5, 17), Etag: "9"},
	}}, nil
}

func (useNow) EndUse(_ context.Context, r *schedulev1.EndUseRequest, _ ...grpc.CallOption) (*schedulev1.UseFact, error) {
	return nil, fault.InvalidField("use_fact.end_date", "", "not before the first day, "+r.GetUseFact().GetEtag())
}

// sendTo sends a form, or opens a page where there is none, as somebody of a role.
func sendTo(t *testing.T, c Config, role accessv1.Role, path string, form url.Values) *httptest.ResponseRecorder {
	t.Helper()
	plain := func(ctx context.Context) context.Context { return ctx }
	c.SignIn, c.URL, c.Logger, c.AsService = signedIn{role: role}, "https://desk.aldermoor.example", slog.New(slog.DiscardHandler), plain
	c.As = func(ctx context.Context, _ Signed) context.Context { return ctx }
	c.Clock = func() time.Time { return time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC) }
	h, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodGet, c.URL+path, nil)
	if form != nil {
		r = httptest.NewRequest(http.MethodPost, c.URL+path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	r.AddCookie(&http.Cookie{Name: sessionCookie, Value: "s"})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func stands(t *testing.T, page string, want ...string) {
	t.Helper()
	for _, text := range want {
		if !strings.Contains(page, text) {
			t.Errorf("%q does not stand in it:\n%s", text, page)
		}
	}
}

func TestWhatWasEnteredCanBeSentAgainWhereSomebodyElseChangedTheRecord(t *testing.T) {
	o := &overtaken{}
	entered := url.Values{"etag": {"1"}, "person.full_name": {"Ada Nettlefold"}, "person.email": {"old@nettlefold.example"}, "person.postal_lines": {"1 Same Row\r\nFictionbury"}}
	w := sendTo(t, Config{Owners: o}, accessv1.Role_ROLE_SUPPORT, "/vehicles/AM0101G/people/p1", entered)
	if w.Code != http.StatusConflict {
		t.Errorf("got %d", w.Code)
	}
	page := w.Body.String()
	stands(t, page, "Somebody else changed this meanwhile", `value="old@nettlefold.example"`, "On record now: new@nettlefold.example.", `name="etag" value="2"`)
	if n := strings.Count(page, "On record now"); n != 1 {
		t.Errorf("%d fields are said to be others, want that of the mail address", n)
	}
	entered.Set("etag", "2")
	if w := sendTo(t, Config{Owners: o}, accessv1.Role_ROLE_SUPPORT, "/vehicles/AM0101G/people/p1", entered); w.Code != http.StatusSeeOther {
		t.Errorf("sent again: %d", w.Code)
	}
}

func TestTheDayStaysWhereTheEndOfAUseIsRefused(t *testing.T) {
	w := sendTo(t, Config{Schedules: useNow{}}, accessv1.Role_ROLE_SUPPORT, "/vehicles/AM0101G/use", url.Values{"ended": {"u1"}, "use_fact.etag": {"7"}, "use_fact.end_date": {"2020-02-03"}})
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("got %d", w.Code)
	}
	stands(t, w.Body.String(), `value="2020-02-03"`, `<p class="wrong" id="end-u1-use_fact.end_date-wrong">Please enter not before the first day, 7.</p>`)
}

func TestAUseIsEndedAsLongAsItLasts(t *testing.T) {
	page := sendTo(t, Config{Schedules: useNow{}}, accessv1.Role_ROLE_SUPPORT, "/vehicles/AM0101G/use", nil).Body.String()
	stands(t, page, "it lasts", "18 May 2026", "17 May 2026", `name="ended" value="u1"`, `name="ended" value="u2"`)
	if strings.Contains(page, `value="u3"`) {
		t.Error("a use that has ended can be ended")
	}
}

// Pages of people's records are for those who keep them: others would fill in what
// is refused.
func TestPagesOfPeoplesRecordsAreForThoseWhoKeepThem(t *testing.T) {
	for _, path := range []string{"/people/p1", "/new-owner", "/standing"} {
		if w := sendTo(t, Config{}, accessv1.Role_ROLE_ENGINEER, "/vehicles/AM0101G"+path, nil); w.Code != http.StatusNotFound {
			t.Errorf("an engineer opens %s: %d", path, w.Code)
		}
	}
	if w := sendTo(t, Config{Owners: &overtaken{}}, accessv1.Role_ROLE_ADMINISTRATOR, "/vehicles/AM0101G/new-owner", nil); w.Code != http.StatusOK {
		t.Errorf("an administrator opens it: %d", w.Code)
	}
}

// A service asks for the name of a record where nothing was chosen, which is
// nothing that somebody could enter.
func TestAChoiceThatWasNotMadeIsAskedForWithoutTheFormOfAName(t *testing.T) {
	f := &form{Fields: []field{
		{Name: "dealer", Options: []option{{Label: toChoose, Chosen: true}, {Value: "organisations/f", Label: "Ferncombe"}}},
		{Name: "kind", Options: []option{{Label: toChoose}, {Value: "DUST", Label: "on dust", Chosen: true}}},
	}}
	f.wrong(fault.InvalidField("dealer", "", "organisations/{organisation}"))
	f.wrong(fault.InvalidField("kind", "DUST", "a kind that lasts"))
	for i, want := range []string{"Please choose from the list.", "Please enter a kind that lasts."} {
		if got := f.Fields[i].Error; got != want {
			t.Errorf("%s: got %q, want %q", f.Fields[i].Name, got, want)
		}
	}
}

// noItems has a programme without items.
type noItems struct {
	schedulev1.ScheduleServiceClient
}

func (noItems) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	return &schedulev1.Schedule{}, nil
}

func (noItems) ListMeasuredSeries(context.Context, *schedulev1.ListMeasuredSeriesRequest, ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error) {
	return &schedulev1.ListMeasuredSeriesResponse{}, nil
}

func TestWhereNoItemCanBeDoneThePageSaysSoAndAsksForNone(t *testing.T) {
	page := sendTo(t, Config{Schedules: noItems{}}, accessv1.Role_ROLE_SUPPORT, "/vehicles/AM0101G/service", nil).Body.String()
	stands(t, page, "has no items for this vehicle", "Back to the vehicle")
	if strings.Contains(page, "Which items were done?") {
		t.Errorf("it asks which items were done:\n%s", page)
	}
}

func TestARefusalIsAWholeSentence(t *testing.T) {
	for said, want := range map[string]string{"there is no such reading": "There is no such reading.", "Read it again.": "Read it again."} {
		if got := sentence(fault.New(fault.NotFound, "NONE", "%s", said)); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
