package warrantyrpc_test

import (
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// The states, in short.
const (
	covered = warrantyv1.CoverState_COVER_STATE_COVERED
	not     = warrantyv1.CoverState_COVER_STATE_NOT_COVERED
	unknown = warrantyv1.CoverState_COVER_STATE_UNKNOWN
)

func TestCoverEndsAtItsBoundariesThroughTheWholeStack(t *testing.T) {
	for _, c := range []struct {
		name, delivered string
		said            *stub
		on              string // "" asks at the moment of now
		now             string
		want            warrantyv1.CoverState
	}{
		{name: "the last day is covered", delivered: "2025-03-03", on: "2026-03-03", want: covered, said: &stub{readings: []*schedulev1.Reading{counted("2026-06-01", "3000")}}},
		{name: "the day after it is not", delivered: "2025-03-03", on: "2026-03-04", want: not, said: &stub{readings: []*schedulev1.Reading{counted("2026-06-01", "3000")}}},
		{name: "from 29 February a year ends on 28 February", delivered: "2024-02-29", on: "2025-02-28", want: covered, said: &stub{readings: []*schedulev1.Reading{counted("2025-06-01", "3000")}}},
		{name: "and not on 1 March", delivered: "2024-02-29", on: "2025-03-01", want: not, said: &stub{readings: []*schedulev1.Reading{counted("2025-06-01", "3000")}}},
		{name: "before delivery nothing is", delivered: "2025-03-03", on: "2025-03-02", want: not},
		{name: "the limit of distance itself is covered", delivered: "2025-03-03", on: "2025-09-01", want: covered, said: &stub{readings: []*schedulev1.Reading{counted("2025-09-01", "12000")}}},
		{name: "a mile more is not", delivered: "2025-03-03", on: "2025-09-01", want: not, said: &stub{readings: []*schedulev1.Reading{counted("2025-09-01", "12001")}}},
		{name: "a doubtful reading decides nothing", delivered: "2025-03-03", on: "2025-09-01", want: covered, said: &stub{readings: []*schedulev1.Reading{
			{ReadingDate: calendar("2025-08-31"), State: schedulev1.ReadingState_READING_STATE_DOUBTFUL, LifeDistance: trueMiles("90000")}, counted("2025-10-01", "6000")}}},
		{name: "between two readings on either side of the limit it cannot be said", delivered: "2025-03-03", on: "2025-09-01", want: unknown,
			said: &stub{readings: []*schedulev1.Reading{counted("2025-08-01", "11900"), counted("2025-10-01", "12400")}}},
		{name: "nor after the last reading without a pace", delivered: "2025-03-03", on: "2025-09-01", want: unknown},
		{name: "a pace that stays below the limit decides", delivered: "2025-03-03", on: "2025-09-01", want: covered,
			said: &stub{pace: &schedulev1.Pace{PerYear: trueMiles("1500"), HighPerYear: trueMiles("6000")}}},
		{name: "one that may not does not", delivered: "2025-03-03", on: "2026-02-01", want: unknown,
			said: &stub{pace: &schedulev1.Pace{PerYear: trueMiles("9000"), HighPerYear: trueMiles("20000")}}},
		{name: "after its time a term is over whatever the distance", delivered: "2025-03-03", on: "2026-09-01", want: not},
		// At 23:30 UTC on 3 March it is the 3rd in London; in Auckland it is 12:30 on
		// the 4th, and in Los Angeles 15:30 on the 3rd.
		{name: "while it is the last day at the works, an owner ahead of it is covered", delivered: "2025-03-03", now: "2026-03-03T23:30:00Z", want: covered,
			said: &stub{readings: []*schedulev1.Reading{counted("2026-03-03", "3000")}, ties: tied, zones: map[string]string{"people/p0031": "Pacific/Auckland"}}},
		{name: "while it is the last day at the owner's, the works' next day does not count", delivered: "2025-03-03", now: "2026-03-04T03:30:00Z", want: covered,
			said: &stub{readings: []*schedulev1.Reading{counted("2026-03-04", "3000")}, ties: tied, zones: map[string]string{"people/p0031": "America/Los_Angeles"}}},
		{name: "when it is the next day at both it is over", delivered: "2025-03-03", now: "2026-03-04T08:30:00Z", want: not,
			said: &stub{readings: []*schedulev1.Reading{counted("2026-03-04", "3000")}, ties: tied, zones: map[string]string{"people/p0031": "America/Los_Angeles"}}},
		{name: "without an owner's zone the works' midnight counts", delivered: "2025-03-03", now: "2026-03-04T03:30:00Z", want: not,
			said: &stub{readings: []*schedulev1.Reading{counted("2026-03-04", "3000")}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.said == nil {
				c.said = &stub{}
			}
			w := start(t, c.delivered, c.said)
			if c.now != "" {
				w.at(c.now)
			}
			got := w.cover("gearbox", c.on)
			if got.GetState() != c.want {
				t.Errorf("got %v (%s), want %v", got.GetState(), got.GetSentence(), c.want)
			}
			if len(got.GetReasons()) == 0 || got.GetSentence() == "" {
				t.Errorf("it does not say why: %v", got)
			}
			if c.want == unknown && got.GetQuestion() == "" {
				t.Error("it does not say what to ask")
			}
		})
	}
}

var tied = []*ownerv1.Tie{{Name: theVehicle + "/ties/a1", Person: "people/p0031", Role: ownerv1.Role_ROLE_OWNER, StartDate: calendar("2025-03-03")}}

// Half the world knows neither who asks nor where the owner lives: the answer is
// the same for all.
func TestWhoseMidnightCountsDoesNotHangOnWhoAsks(t *testing.T) {
	w := start(t, "2025-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-03-04", "3000")}, ties: tied, zones: map[string]string{"people/p0031": "America/Los_Angeles"}})
	w.at("2026-03-04T03:30:00Z")
	for _, who := range []access.Caller{desk, engineer, ferry, keeper} {
		w.as(who)
		if got := w.cover("gearbox", ""); got.GetState() != covered {
			t.Errorf("as %v: %v", who, got.GetState())
		}
		if w.asker != who {
			t.Errorf("the schedule was asked as %v, not as %v", w.asker, who)
		}
	}
}

func TestDaysOutOfServiceAndAnotherOwnerChangeTheAnswer(t *testing.T) {
	said := &stub{readings: []*schedulev1.Reading{counted("2026-11-01", "3000")}, ties: []*ownerv1.Tie{
		{Name: theVehicle + "/ties/a1", Person: "people/p0031", Role: ownerv1.Role_ROLE_OWNER, StartDate: calendar("2025-03-03"), EndDate: calendar("2025-10-01")},
		{Name: theVehicle + "/ties/a2", Person: "people/p0032", Role: ownerv1.Role_ROLE_OWNER, StartDate: calendar("2025-10-01")},
	}}
	w := start(t, "2025-03-03", said)
	if got := w.cover("gearbox", "2026-03-10"); got.GetState() != not || !got.GetGoodwill() {
		t.Fatalf("a week after: %v", got)
	}
	span := must(w.CreateOutOfServiceSpan(t.Context(), &warrantyv1.CreateOutOfServiceSpanRequest{Parent: theVehicle, OutOfServiceSpan: &warrantyv1.OutOfServiceSpan{
		StartDate: calendar("2025-06-01"), EndDate: calendar("2025-06-10"), Reason: "waiting for a gearbox"}}))(t)
	if got := w.cover("gearbox", "2026-03-10"); got.GetState() != not {
		t.Errorf("days that do not count were added: %v", got)
	}
	span.Counts = true
	must(w.UpdateOutOfServiceSpan(t.Context(), &warrantyv1.UpdateOutOfServiceSpanRequest{OutOfServiceSpan: span}))(t)
	got := w.cover("gearbox", "2026-03-10")
	if got.GetState() != covered || got.GetTerms()[0].GetDaysAdded() != 10 {
		t.Errorf("ten days out of service: %v", got)
	}
	_, err := w.UpdateOutOfServiceSpan(t.Context(), &warrantyv1.UpdateOutOfServiceSpanRequest{OutOfServiceSpan: span})
	refused(t, err, fault.Aborted, "ETAG_MISMATCH")

	w.as(engineer) // a promise to the first owner only
	own := theTerm()
	own.Name, own.Transferable, own.Distance, own.Positions = "warrantyTerms/FIRST-24/versions/1", false, nil, []string{"gearbox"}
	own.Months = 24
	must(w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: own}))(t)
	for on, want := range map[string]warrantyv1.CoverState{"2025-09-30": covered, "2026-06-01": not} {
		if got := w.cover("gearbox", on); got.GetState() != want {
			t.Errorf("on %s: %s", on, got.GetSentence())
		}
	}
}

func TestASuppliersTermRunsFromTheFittingAndComesAlongWithAMovedUnit(t *testing.T) {
	said := &stub{readings: []*schedulev1.Reading{counted("2026-06-01", "2000"), counted("2026-11-01", "3000")},
		covered: []*schedulev1.ComponentDistance{{Position: "gearbox", PriorDistance: trueMiles("500")}}}
	w := start(t, "2020-03-03", said)
	w.as(engineer)
	must(w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/GEARS-24/versions/1", Title: "Two years, parts", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_SUPPLIER, Supplier: "Ferncombe Gears",
		Parts: []string{"AP-1100"}, Start: warrantyv1.WarrantyStart_WARRANTY_START_FITTING, Months: 24, CoversParts: true, EffectiveDate: calendar("2000-01-01"),
		SignedBy: "the supplier", Transferable: true}}))(t)
	if got := w.cover("gearbox", "2026-10-01"); got.GetState() != not {
		t.Errorf("a unit of the build, six years on: %s", got.GetSentence())
	}
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM01058", "2024-12-24")}))(t)
	must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{Source: "builds/AM01058", SourcePosition: "gearbox", Destination: "builds/AM0147P",
		DestinationPosition: "gearbox", MoveDate: calendar("2026-06-01"), Reason: "to try it"}))(t)
	for on, want := range map[string]warrantyv1.CoverState{"2026-05-31": not, "2026-11-20": covered} {
		if got := w.cover("gearbox", on); got.GetState() != want {
			t.Errorf("on %s: %s", on, got.GetSentence())
		}
	}
	got := w.cover("gearbox", "2026-11-20").GetTerms()[0]
	if got.GetStartDate().GetYear() != 2024 || got.GetLastDate().GetYear() != 2026 || got.GetLastDate().GetMonth() != 12 {
		t.Errorf("it began where the unit stood first: %v", got)
	}
	w.as(keeper)
	all := must(w.ListCovers(t.Context(), &warrantyv1.ListCoversRequest{Parent: theVehicle, OnDate: calendar("2026-11-20")}))(t)
	if strings.Contains(all.String(), "AM01058") {
		t.Errorf("an owner reads of another vehicle: %v", all)
	}
	if len(all.GetCovers()) != 2 || !strings.HasSuffix(all.GetCovers()[0].GetName(), "/vehicle") || !strings.HasSuffix(all.GetCovers()[1].GetName(), "/gearbox") {
		t.Errorf("the vehicle first, then what has a term of its own: %v", all.GetCovers())
	}
	page := must(w.ListCovers(t.Context(), &warrantyv1.ListCoversRequest{Parent: theVehicle, OnDate: calendar("2026-11-20"), PageSize: 1}))(t)
	next := must(w.ListCovers(t.Context(), &warrantyv1.ListCoversRequest{Parent: theVehicle, OnDate: calendar("2026-11-20"), PageSize: 1, PageToken: page.GetNextPageToken()}))(t)
	if len(next.GetCovers()) != 1 || next.GetCovers()[0].GetName() != all.GetCovers()[1].GetName() || next.GetNextPageToken() != "" {
		t.Errorf("the second page: %v", next)
	}
}

func TestTheDistanceOfTheCallerCountsAndWhatIsWrongIsSaid(t *testing.T) {
	w := start(t, "2025-03-03", &stub{})
	for mi, want := range map[string]warrantyv1.CoverState{"12000": covered, "12000.1": not} {
		got := must(w.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: theVehicle + "/covers/gearbox", OnDate: calendar("2025-09-01"), Distance: miles(mi)}))(t)
		if got.GetState() != want || got.GetDistanceEstimated() {
			t.Errorf("at %s: %v", mi, got)
		}
	}
	_, err := w.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: theVehicle + "/covers/gearbox", Distance: miles("-1")})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: "vehicles/AM01058/covers/gearbox"})
	refused(t, err, fault.NotFound, "BUILD_NOT_FOUND")
	_, err = w.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: theVehicle + "/cover/gearbox"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestADocumentIsOfTheVehicleAndSaysThatItIsASample(t *testing.T) {
	w := start(t, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-01", "900")}})
	d := must(w.GetWarrantyDocument(t.Context(), &warrantyv1.GetWarrantyDocumentRequest{Name: theVehicle + "/warrantyDocument"}))(t)
	text := d.String()
	for _, want := range []string{"3 March 2027", "12,000 miles", "Aldermoor Works", "sample", "Wear in ordinary use."} {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			t.Errorf("%q is not in it", want)
		}
	}
	if !d.GetSample() || len(d.GetSections()) < 5 {
		t.Errorf("got %v", d)
	}
}

func TestVersionsOfATermAreEnteredOnceAndNeverChange(t *testing.T) {
	w := start(t, "2026-03-03", &stub{})
	_, err := w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: theTerm()})
	if f := refused(t, err, fault.AlreadyExists, "TERM_VERSION"); f == nil {
		t.Fatal(err)
	}
	second := theTerm()
	second.Name, second.EffectiveDate, second.Months = "warrantyTerms/WORKS-12/versions/2", calendar("2026-06-01"), 24
	must(w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: second}))(t)
	latest := must(w.GetWarrantyTerm(t.Context(), &warrantyv1.GetWarrantyTermRequest{Name: "warrantyTerms/WORKS-12/versions/-"}))(t)
	if latest.GetMonths() != 24 || latest.GetDistance().GetMillimetres() == 0 || latest.GetEtag() == "" {
		t.Errorf("the latest: %v", latest)
	}
	if got := w.cover("gearbox", "2026-11-20").GetTerms()[0]; got.GetTerm() != "warrantyTerms/WORKS-12/versions/1" {
		t.Errorf("a vehicle has the version that was in force at its delivery: %v", got)
	}
	_, err = w.GetWarrantyTerm(t.Context(), &warrantyv1.GetWarrantyTermRequest{Name: "warrantyTerms/WORKS-12/versions/9"})
	refused(t, err, fault.NotFound, "WARRANTY_TERM_NOT_FOUND")
	_, err = w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: &warrantyv1.WarrantyTerm{Name: "x"}})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) < 1 || !strings.HasPrefix(f.Fields[0].Name, "warranty_term.") {
		t.Errorf("got %v", f.Fields)
	}
	first := must(w.ListWarrantyTerms(t.Context(), &warrantyv1.ListWarrantyTermsRequest{PageSize: 1}))(t)
	rest := must(w.ListWarrantyTerms(t.Context(), &warrantyv1.ListWarrantyTermsRequest{PageSize: 1, PageToken: first.GetNextPageToken()}))(t)
	if len(rest.GetWarrantyTerms()) != 1 || rest.GetWarrantyTerms()[0].GetName() != second.GetName() || rest.GetNextPageToken() != "" {
		t.Errorf("the second page: %v", rest)
	}
}
