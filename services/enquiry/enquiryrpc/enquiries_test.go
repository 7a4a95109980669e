package enquiryrpc

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// office is every other service, as far as enquiries need them: vehicles of one
// release, people whose keys can be destroyed, one bulletin.
type office struct {
	away
	erased map[string]bool
	sealed byte // how often something was
	gone   bool // whether nobody answers about bulletins
}

func (o *office) GetConfiguration(_ context.Context, r *buildv1.GetConfigurationRequest, _ ...grpc.CallOption) (*buildv1.Configuration, error) {
	if r.GetName() == "builds/AM0103C" {
		return nil, status.Error(codes.NotFound, "There is no vehicle AM0103C here.")
	}
	return &buildv1.Configuration{Release: "releases/R3"}, nil
}

// mirrored stands for sealing: the bytes backwards, and whose they are.
func mirrored(b []byte) []byte {
	out := bytes.Clone(b)
	slices.Reverse(out)
	return out
}

func (o *office) SealForPerson(_ context.Context, r *ownerv1.SealForPersonRequest, _ ...grpc.CallOption) (*ownerv1.SealForPersonResponse, error) {
	if o.erased[r.GetPerson()] {
		return nil, status.Error(codes.NotFound, "There is no such person here.")
	}
	o.sealed++ // never the same twice
	return &ownerv1.SealForPersonResponse{Sealed: append(mirrored(r.GetPlaintext()), o.sealed)}, nil
}

func (o *office) OpenForPerson(_ context.Context, r *ownerv1.OpenForPersonRequest, _ ...grpc.CallOption) (*ownerv1.OpenForPersonResponse, error) {
	if o.erased[r.GetPerson()] {
		return nil, status.Error(codes.NotFound, "There is no such person here.")
	}
	return &ownerv1.OpenForPersonResponse{Plaintext: mirrored(r.GetSealed()[:len(r.GetSealed())-1])}, nil
}

func (o *office) GetBulletin(_ context.Context, r *bulletinv1.GetBulletinRequest, _ ...grpc.CallOption) (*bulletinv1.Bulletin, error) {
	switch {
	case o.gone:
		return nil, status.Error(codes.Unavailable, "no")
	case strings.HasPrefix(r.GetName(), "bulletins/C-2026-02/"):
		return &bulletinv1.Bulletin{Name: "bulletins/C-2026-02/versions/1"}, nil
	}
	return nil, status.Error(codes.NotFound, "There is no such bulletin here.")
}

// works is the service in a works, with a clock to be set.
type works struct {
	*Service
	*office
	at time.Time
}

// noon is 18 May 2026, 12:00 by UTC.
var noon = time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC)

func newWorks(t testing.TB, zone string) *works {
	t.Helper()
	place, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	w := &works{office: &office{erased: map[string]bool{}}, at: noon}
	w.Service, err = New(t.Context(), Config{
		Store: kv.NewStore(etcdtest.Client(t)), Group: &projection.Group{}, Clock: func() time.Time { return w.at }, Zone: place,
		Builds: w.office, Schedules: w.office, Owners: w.office, Warranties: w.office, Bulletins: w.office, Access: w.office,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Service.Close() })
	return w
}

func desk(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Support, Bearer: "front desk"})
}

func engineer(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Engineer, Bearer: "ida"})
}

// drip is a question that is asked of AM0147P.
func drip(change func(*enquiryv1.CreateEnquiryRequest)) *enquiryv1.CreateEnquiryRequest {
	r := &enquiryv1.CreateEnquiryRequest{Parent: "vehicles/AM0147P", Enquiry: &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_OWNER,
		Question: "Is this drip normal?", Symptom: "weep at the seal"}}
	if change != nil {
		change(r)
	}
	return r
}

// created records a question that is to be taken.
func (w *works) created(t testing.TB, change func(*enquiryv1.CreateEnquiryRequest)) *enquiryv1.Enquiry {
	t.Helper()
	e, err := w.CreateEnquiry(desk(t.Context()), drip(change))
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func fieldNames(err error) string {
	var names []string
	for _, f := range fault.FieldsOf("", err) {
		names = append(names, f.Name)
	}
	return strings.Join(names, " ")
}

// An answer rests on records of the vehicle that was asked about, and on such as
// are there; who says a bulletin's while nobody can look is believed.
func TestAnAnswerRestsOnRecordsThatAreThere(t *testing.T) {
	w := newWorks(t, "UTC")
	if _, err := w.CreateAnswerNote(engineer(t.Context()), &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{Name: "answerNotes/drip", Title: "A drip", Text: "A film is normal."}}); err != nil {
		t.Fatal(err)
	}
	for link, good := range map[string]bool{
		"vehicles/AM0147P": true, "vehicles/AM0147P/serviceEntries/0192f0": true, "builds/AM0147P/driveLine": true,
		"vehicles/AM0101G": false, "vehicles/AM0101G/serviceEntries/0192f0": false, "builds/AM0101G": false, "vehicles/AM0147X": false, "vehicles/-": false,
		"answerNotes/drip": true, "answerNotes/drop": false, "answerNotes/drip/more": false,
		"bulletins/C-2026-02": true, "bulletins/C-2026-02/versions/1": true, "bulletins/C-2026-03": false, "bulletins/C-2026-03/versions/1": false,
		"parts/AP-1063": true, "https://aldermoor.example/x": false,
	} {
		answer := &enquiryv1.EnquiryAnswer{Text: "So.", Links: []string{"vehicles/AM0147P", link}}
		_, atOnce := w.CreateEnquiry(desk(t.Context()), drip(func(r *enquiryv1.CreateEnquiryRequest) { r.Answer = answer }))
		_, later := w.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: w.created(t, nil).GetName(), Answer: answer})
		for when, err := range map[string]error{"at once": atOnce, "later": later} {
			if want := map[bool]string{true: "", false: "answer.links[1]"}[good]; fieldNames(err) != want {
				t.Errorf("%s, %s: complained of %q (%v), want %q", link, when, fieldNames(err), err, want)
			}
		}
	}
	w.gone = true
	if _, err := w.CreateEnquiry(desk(t.Context()), drip(func(r *enquiryv1.CreateEnquiryRequest) {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: "So.", Links: []string{"bulletins/C-2026-03"}}
	})); err != nil {
		t.Errorf("while nobody can look: %v", err)
	}
}

// What is to be come back to today is so by the clock of the works, west and
// east of Greenwich.
func TestADayToComeBackOnIsByTheWorksClock(t *testing.T) {
	for _, c := range []struct {
		zone        string
		at          time.Time
		day         *date.Date
		taken       bool
		description string
	}{
		{"America/New_York", time.Date(2026, 5, 19, 1, 0, 0, 0, time.UTC), &date.Date{Year: 2026, Month: 5, Day: 18}, true, "today, in the evening"},
		{"America/New_York", time.Date(2026, 5, 19, 1, 0, 0, 0, time.UTC), &date.Date{Year: 2026, Month: 5, Day: 17}, false, "yesterday"},
		{"Pacific/Auckland", time.Date(2026, 5, 18, 20, 0, 0, 0, time.UTC), &date.Date{Year: 2026, Month: 5, Day: 18}, false, "yesterday, in the morning"},
		{"Pacific/Auckland", time.Date(2026, 5, 18, 20, 0, 0, 0, time.UTC), &date.Date{Year: 2026, Month: 5, Day: 19}, true, "today, in the morning"},
	} {
		w := newWorks(t, c.zone)
		w.at = c.at
		_, err := w.CreateEnquiry(desk(t.Context()), drip(func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.FollowUpDate = c.day }))
		if (err == nil) != c.taken {
			t.Errorf("asked, %s, %s: %v", c.zone, c.description, err)
		}
		_, err = w.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: w.created(t, nil).GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: "So."}, FollowUpDate: c.day})
		if (err == nil) != c.taken {
			t.Errorf("answered, %s, %s: %v", c.zone, c.description, err)
		}
	}
}

// The time to answer is from the question to the first answer, whatever comes
// later; a question is not asked after its answer.
func TestTimeToAnswerIsToTheFirstAnswer(t *testing.T) {
	w := newWorks(t, "Europe/London")
	e := w.created(t, nil)
	answer := func(close bool) (*enquiryv1.Enquiry, error) {
		return w.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: "So."}, Close: close})
	}
	w.at = noon.Add(90*time.Minute + time.Second)
	if got, err := answer(true); err != nil || got.GetMinutesToAnswer() != 91 || !got.GetClosed() {
		t.Fatalf("answered: %v, %v", got, err)
	}
	if _, err := answer(false); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("a closed one is answered: %v", err)
	}
	got, err := w.GetEnquiry(desk(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	got.Closed = false
	if got, err = w.UpdateEnquiry(desk(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: got}); err != nil || got.GetClosed() || got.GetMinutesToAnswer() != 91 {
		t.Fatalf("opened again: %v, %v", got, err)
	}
	w.at = noon.AddDate(0, 0, 3)
	if again, err := answer(true); err != nil || len(again.GetAnswers()) != 2 || again.GetMinutesToAnswer() != 91 {
		t.Errorf("answered twice: %v, %v", again, err)
	}
	got, _ = w.GetEnquiry(desk(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()})
	for _, at := range []time.Time{noon.Add(2 * time.Hour), w.at.Add(time.Second), time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC)} {
		to := proto.Clone(got).(*enquiryv1.Enquiry)
		to.AskTime = timestamppb.New(at)
		if _, err := w.UpdateEnquiry(desk(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: to}); fieldNames(err) != "enquiry.ask_time" {
			t.Errorf("asked at %s and answered at %s: %v", at, got.GetAnswers()[0].GetAnswerTime().AsTime(), err)
		}
	}
	got.AskTime = timestamppb.New(noon.Add(-time.Hour))
	if got, err = w.UpdateEnquiry(desk(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: got}); err != nil || got.GetMinutesToAnswer() != 151 {
		t.Errorf("asked an hour earlier: %v, %v", got, err)
	}
}

// Who asked was erased: their words are gone, and what is technical can still be
// put right, so that nobody is asked to come back to it for ever.
func TestAnEnquiryOfSomebodyErasedCanBeClosed(t *testing.T) {
	w := newWorks(t, "UTC")
	e := w.created(t, func(r *enquiryv1.CreateEnquiryRequest) {
		r.Enquiry.Person, r.Enquiry.FollowUpDate = "people/p0003", &date.Date{Year: 2026, Month: 6, Day: 1}
	})
	w.erased["people/p0003"] = true
	got, err := w.GetEnquiry(desk(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()})
	if err != nil || got.GetQuestion() != "" || got.GetSymptom() == "" {
		t.Fatalf("after the erasure: %v, %v", got, err)
	}
	words := proto.Clone(got).(*enquiryv1.Enquiry)
	words.Question = "Invented afterwards."
	if _, err := w.UpdateEnquiry(desk(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: words}); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("words are put into the mouth of somebody who was erased: %v", err)
	}
	if _, err := w.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: "So."}}); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("an answer: %v", err)
	}
	for who, ctx := range map[string]context.Context{"the desk": desk(t.Context()), "an engineer": engineer(t.Context())} {
		got, err := w.GetEnquiry(ctx, &enquiryv1.GetEnquiryRequest{Name: e.GetName()})
		if err != nil {
			t.Fatal(err)
		}
		got.Closed, got.FollowUpDate = true, nil
		got.Symptom = "weep at the seal, " + who
		if got, err = w.UpdateEnquiry(ctx, &enquiryv1.UpdateEnquiryRequest{Enquiry: got}); err != nil || !got.GetClosed() || got.GetQuestion() != "" {
			t.Errorf("%s cannot close it: %v, %v", who, got, err)
		}
	}
	due, err := w.ListEnquiries(desk(t.Context()), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", FollowUpByDate: &date.Date{Year: 2027, Month: 1, Day: 1}})
	if err != nil || len(due.GetEnquiries()) > 0 {
		t.Errorf("to come back to: %v, %v", due, err)
	}
}

// Whoever may not read people leaves who asked, and what they said, as it is,
// and is told so where they would not.
func TestWhoMayNotReadPeopleLeavesTheirWordsAsTheyAre(t *testing.T) {
	w := newWorks(t, "UTC")
	e := w.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.Person = "people/p0003" })
	seen, err := w.GetEnquiry(engineer(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	for what, change := range map[string]func(*enquiryv1.Enquiry){
		"the asker":    func(e *enquiryv1.Enquiry) { e.Person = "people/p0004" },
		"the question": func(e *enquiryv1.Enquiry) { e.Question = "Another." },
	} {
		to := proto.Clone(seen).(*enquiryv1.Enquiry)
		change(to)
		if _, err := w.UpdateEnquiry(engineer(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: to}); !fault.Is(err, fault.Denied) {
			t.Errorf("%s: %v", what, err)
		}
	}
	seen.Symptom = "howl"
	if _, err := w.UpdateEnquiry(engineer(t.Context()), &enquiryv1.UpdateEnquiryRequest{Enquiry: seen}); err != nil {
		t.Fatal(err)
	}
	if now, err := w.GetEnquiry(desk(t.Context()), &enquiryv1.GetEnquiryRequest{Name: e.GetName()}); err != nil || now.GetQuestion() != e.GetQuestion() || now.GetPerson() != e.GetPerson() || now.GetSymptom() != "howl" {
		t.Errorf("now %v, %v", now, err)
	}
}

// Whoever may not read people does not learn by a filter who asked.
func TestAFilterTellsNobodyWhoAsked(t *testing.T) {
	w := newWorks(t, "UTC")
	w.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.Person = "people/p0003" })
	ask := &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", Person: "people/p0003"}
	if r, err := w.ListEnquiries(desk(t.Context()), ask); err != nil || len(r.GetEnquiries()) != 1 {
		t.Errorf("the desk: %v, %v", r, err)
	}
	if r, err := w.ListEnquiries(engineer(t.Context()), ask); !fault.Is(err, fault.Denied) {
		t.Errorf("an engineer is told %v, %v", r, err)
	}
}

// Page by page each enquiry comes once, however close together they were asked,
// while others are recorded and answered.
func TestPagesHoldEachOnceWhileOthersAreWritten(t *testing.T) {
	w := newWorks(t, "UTC")
	want := map[string]bool{}
	for i := range 12 {
		at := noon.Add(-time.Hour + time.Duration(i*300)) // within four microseconds
		e := w.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.AskTime = timestamppb.New(at) })
		want[e.GetName()] = true
	}
	lists := map[string]func(token string) ([]*enquiryv1.Enquiry, string, error){
		"listed": func(token string) ([]*enquiryv1.Enquiry, string, error) {
			r, err := w.ListEnquiries(desk(t.Context()), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", PageSize: 1, PageToken: token})
			return r.GetEnquiries(), r.GetNextPageToken(), err
		},
		"found": func(token string) ([]*enquiryv1.Enquiry, string, error) {
			r, err := w.SearchEnquiries(desk(t.Context()), &enquiryv1.SearchEnquiriesRequest{Query: "drip", PageSize: 1, PageToken: token})
			return r.GetEnquiries(), r.GetNextPageToken(), err
		},
	}
	for how, next := range lists {
		times := map[string]int{}
		for token, more := "", true; more; more = token != "" {
			page, following, err := next(token)
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range page {
				times[e.GetName()]++
			}
			w.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.RequestId = uuid.NewString() }) // the latest: on no later page
			token = following
		}
		for name := range want {
			if times[name] != 1 {
				t.Errorf("%s: %s comes %d times", how, name, times[name])
			}
		}
	}
}

// A vehicle that is not there has no enquiries, in the words of the build
// service; neither has a serial that is none.
func TestOfAVehicleThatIsNotThereNothingIsAsked(t *testing.T) {
	w := newWorks(t, "UTC")
	ctx := desk(t.Context())
	for parent, want := range map[string]string{"vehicles/AM0103C": "There is no vehicle AM0103C here.", "vehicles/AM0103X": "not its check character"} {
		_, asked := w.CreateEnquiry(ctx, drip(func(r *enquiryv1.CreateEnquiryRequest) { r.Parent = parent }))
		_, suggested := w.SuggestAnswers(ctx, &enquiryv1.SuggestAnswersRequest{Parent: parent, Question: "a drip"})
		_, listed := w.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: parent})
		for what, err := range map[string]error{"asked": asked, "suggested": suggested, "listed": listed} {
			if err == nil || !strings.Contains(fmt.Sprint(err), want) {
				t.Errorf("%s, %s: got %v, want %q", parent, what, err, want)
			}
		}
	}
	e, err := w.CreateEnquiry(ctx, drip(func(r *enquiryv1.CreateEnquiryRequest) { r.Parent = "vehicles/alpha mike zero one four seven papa" }))
	if err != nil || !strings.HasPrefix(e.GetName(), "vehicles/AM0147P/enquiries/") {
		t.Errorf("as spoken: %v, %v", e.GetName(), err)
	}
}
