package exchangerun_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

func dayProto(d vehicle.Date) *date.Date {
	return &date.Date{Year: int32(d.Year), Month: int32(d.Month), Day: int32(d.Day)}
}

func must[M any](m M, err error) func(testing.TB) M {
	return func(t testing.TB) M {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
}

// promised is a works of few vehicles that promised something, found something
// wrong, and was claimed from: what no file of the demo brings.
func promised(t *testing.T) (context.Context, exchangerun.Clients) {
	t.Helper()
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	promise(t, ctx, c)
	campaign(t, ctx, c)
	claim(t, ctx, c)
	ask(t, ctx, c)
	return ctx, c
}

// ask has the desk asked by somebody on record, by somebody who is erased then,
// and by a dealer, and writes two notes.
func ask(t *testing.T, ctx context.Context, c exchangerun.Clients) {
	t.Helper()
	people := must(c.Owners.ListPeople(ctx, &ownerv1.ListPeopleRequest{PageSize: 2}))(t).GetPeople()
	gone := must(c.Owners.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{Name: "people/z0001", FullName: "Ida Penrose", TimeZone: "Europe/London"}}))(t)
	for _, e := range []*enquiryv1.Enquiry{
		{AskerKind: enquiryv1.AskerKind_ASKER_KIND_OWNER, Person: people[0].GetName(), Question: "=Is this\na drip; \"normal\"? ", Positions: []string{"gearbox", "engine"}},
		{AskerKind: enquiryv1.AskerKind_ASKER_KIND_BUYER, Person: gone.GetName(), Question: "Is it for sale?"},
		{AskerKind: enquiryv1.AskerKind_ASKER_KIND_DEALER, Organisation: "organisations/ferncombe", Symptom: "weep at the seal", FollowUpDate: dayProto(aldermoor.Today.AddDays(3))},
	} {
		e.Channel = enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE
		e = must(c.Enquiries.CreateEnquiry(ctx, &enquiryv1.CreateEnquiryRequest{Parent: tour, Enquiry: e,
			Answer: &enquiryv1.EnquiryAnswer{Text: "A film is normal.", Links: []string{tour, "builds/" + aldermoor.TourSerial}}}))(t)
		if e.GetFollowUpDate() == nil {
			must(c.Enquiries.RecordAnswer(ctx, &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Etag: e.GetEtag(), Answer: &enquiryv1.EnquiryAnswer{Text: "- and so it stays"}, Close: true}))(t)
		}
	}
	must(c.Owners.ErasePerson(ctx, &ownerv1.ErasePersonRequest{Name: gone.GetName(), Etag: gone.GetEtag(), Ground: "asked for"}))(t)
	for _, name := range []string{"drip", "knock"} {
		n := must(c.Enquiries.CreateAnswerNote(ctx, &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
			Name: "answerNotes/" + name, Title: "A " + name + "?", Text: "A film\nis normal.", Caution: "Hot oil burns.", Keywords: []string{"oil; wet", "weep"}, Releases: []string{"R1", "R2"}, Sample: true}}))(t)
		if name == "drip" {
			must(c.Enquiries.ReviewAnswerNote(ctx, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()}))(t)
		}
	}
}

func promise(t *testing.T, ctx context.Context, c exchangerun.Clients) {
	t.Helper()
	term := &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/WORKS-12/versions/1", Title: "One year: parts, \"labour\"", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_WORKS,
		Start: warrantyv1.WarrantyStart_WARRANTY_START_DELIVERY, Months: 12, Distance: &vehiclev1.Distance{EnteredValue: "12000", EnteredUnit: "mi"},
		CoversParts: true, CoversLabour: true, Releases: []string{"R1", "R2"}, EffectiveDate: dayProto(aldermoor.Today.AddDays(-20_000)), Sample: true,
		Exclusions: []*warrantyv1.WarrantyExclusion{{ExclusionId: "wear", Text: "What wears:\nlinings, bulbs."}}, Repair: &warrantyv1.RepairTerm{Months: 3},
	}
	must(c.Warranties.CreateWarrantyTerm(ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: term}))(t)
	term.Name, term.Months, term.EffectiveDate = "warrantyTerms/WORKS-12/versions/2", 24, dayProto(aldermoor.Today.AddDays(-400))
	must(c.Warranties.CreateWarrantyTerm(ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: term}))(t)
}

const tour = "vehicles/" + aldermoor.TourSerial

// campaign issues one, writes nobody a letter, and sees the tour's vehicle done.
func campaign(t *testing.T, ctx context.Context, c exchangerun.Clients) {
	t.Helper()
	b := &bulletinv1.Bulletin{
		Name: "bulletins/C-2026-09/versions/1", Kind: bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, Title: "Propshaft bolts",
		Fault: "The bolts may be of too soft a steel.", Consequence: "A bolt can shear.", Caution: "Chock the wheels.", Sample: true,
		Set: &bulletinv1.BulletinSet{Serials: []string{"AM0103C"}, Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Any{Any: &bulletinv1.SetConditions{Conditions: []*bulletinv1.SetCondition{
			{Condition: &bulletinv1.SetCondition_BuiltRelease{BuiltRelease: &bulletinv1.TextSet{Values: []string{"R1"}}}},
			{Condition: &bulletinv1.SetCondition_Not{Not: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Built{Built: &bulletinv1.DateRange{StartDate: dayProto(vehicle.MustDate(2000, 1, 1))}}}}},
		}}}}},
		Remedy: []*bulletinv1.RemedyItem{{ItemId: "C1", Title: "Replace the bolts", Minutes: 30, Parts: []*bulletinv1.RemedyPart{{Part: "AP-1010", Quantity: 1}},
			Measured:     []*schedulev1.MeasuredLimit{{Characteristic: "torque", Unit: "N.m", Lower: "40", Upper: "50.0"}},
			Reinspection: &bulletinv1.Reinspection{Days: 90, Distance: &vehiclev1.Distance{EnteredValue: "500", EnteredUnit: "mi"}}}},
		FollowUp: &bulletinv1.FollowUpPlan{LetterDays: []int32{0, 30}, RepeatDays: -1},
	}
	issue := func(b *bulletinv1.Bulletin) {
		b = must(c.Bulletins.CreateBulletin(ctx, &bulletinv1.CreateBulletinRequest{Bulletin: b}))(t)
		must(c.Bulletins.IssueBulletin(ctx, &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag()}))(t)
	}
	issue(b)
	b.Name, b.Title = "bulletins/C-2026-09/versions/2", "Propshaft bolts, in better words"
	issue(b)
	b.Name = "bulletins/C-2026-10/versions/1"
	must(c.Bulletins.CreateBulletin(ctx, &bulletinv1.CreateBulletinRequest{Bulletin: b}))(t)
	entry := must(c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: tour}))(t).GetServiceEntries()[0]
	f := must(c.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: tour + "/followUps/C-2026-09"}))(t)
	must(c.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: f.GetEtag(), Step: &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: dayProto(aldermoor.Today), Evidence: entry.GetName(), Text: "=done; \\ with\nnew bolts",
		Parts:    []*bulletinv1.PartFitted{{Part: "AP-1010", Lot: "0010", Quantity: 1}},
		Measured: []*bulletinv1.RemedyValue{{Characteristic: "torque", Value: &vehiclev1.Quantity{Value: "51.50", Unit: "N.m"}}}, // which is found wrong
		Reading:  &vehiclev1.Distance{EnteredValue: "12345.60", EnteredUnit: "mi"},
	}}))(t)
}

// claim carries one to its decision, and has the vehicle stand for it.
func claim(t *testing.T, ctx context.Context, c exchangerun.Clients) {
	t.Helper()
	entry := must(c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: tour}))(t).GetServiceEntries()[0]
	m := must(c.Warranties.CreateClaim(ctx, &warrantyv1.CreateClaimRequest{Parent: tour, Claim: &warrantyv1.Claim{
		Position: "gearbox", FailureDate: dayProto(aldermoor.Today.AddDays(-2)), Symptom: "jumps out of third", Remedy: "- selector replaced", Cause: "'worn'",
		Parts: []*warrantyv1.ClaimPart{{Part: "AP-1110", Quantity: 1, UnitPriceMinor: 4_000_000_000, FailedLot: "0007"}}, Currency: "GBP",
		Labour: []*warrantyv1.ClaimLabour{{Text: "out and in", Minutes: 300, HourlyRateMinor: 6_000}}, ServiceEntry: entry.GetName(),
	}}))(t)
	m = must(c.Warranties.SubmitClaim(ctx, &warrantyv1.SubmitClaimRequest{Name: m.GetName(), Etag: m.GetEtag()}))(t)
	m = must(c.Warranties.AuthoriseClaim(ctx, &warrantyv1.AuthoriseClaimRequest{Name: m.GetName(), Etag: m.GetEtag(), LimitMinor: 5_000, Text: "to open it"}))(t)
	m = must(c.Warranties.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: m.GetName(), Etag: m.GetEtag(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 6_000, Reason: "half of the part"}}))(t)
	for _, s := range []*warrantyv1.OutOfServiceSpan{
		{StartDate: dayProto(aldermoor.Today.AddDays(-2)), EndDate: dayProto(aldermoor.Today), Reason: "waiting for a gearbox", Claim: m.GetName(), Counts: true},
		{StartDate: dayProto(aldermoor.Today.AddDays(-1)), Reason: "=waiting for a seal"},
	} {
		must(c.Warranties.CreateOutOfServiceSpan(ctx, &warrantyv1.CreateOutOfServiceSpanRequest{Parent: tour, OutOfServiceSpan: s}))(t)
	}
}

func TestWhatWasPromisedFoundWrongAndClaimedComesBackByteForByte(t *testing.T) {
	ctx, from := promised(t)
	csv, records := exportTo(t, ctx, from, "csv")
	xlsx, _ := exportTo(t, ctx, from, "xlsx")
	want := bytesOf(t, csv)
	for _, file := range []string{"warranty_terms/WORKS-12.v2.yaml", "bulletins/C-2026-09.v1.yaml", "follow_ups/" + aldermoor.TourSerial + ".C-2026-09.yaml", "days_out_of_service.csv", "enquiries.csv", "enquiry_answers.csv", "answer_notes.csv"} {
		if want[file] == "" {
			t.Errorf("no %s was exported", file)
		}
	}
	for _, dir := range []string{csv, xlsx} {
		t.Run("from "+filepath.Base(dir), func(t *testing.T) {
			ctx, to := emptyWorks(t)
			if r := importFrom(t, ctx, to, dir); r.Written != records {
				t.Errorf("%d were written of %d", r.Written, records)
			}
			if diff := cmp.Diff(want, exported(t, ctx, to)); diff != "" {
				t.Errorf("the files differ (-first +second):\n%.4000s", diff)
			}
			// The same files again write nothing, and leave the etags of claims alone.
			claims := func() string {
				return fmt.Sprint(must(to.Warranties.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/-"}))(t).GetClaims())
			}
			before := claims()
			if r := importFrom(t, ctx, to, dir); r.Written != 0 || r.Unchanged != records {
				t.Errorf("imported again, %d were written, %d unchanged", r.Written, r.Unchanged)
			}
			if diff := cmp.Diff(before, claims()); diff != "" {
				t.Errorf("imported again, claims differ: %s", diff)
			}
			// A pass enters nobody: everybody is on the list already.
			got := must(to.Bulletins.RefreshSets(ctx, &bulletinv1.RefreshSetsRequest{}))(t)
			if len(got.GetEntered()) != 0 || got.GetSteps() != 0 {
				t.Errorf("a pass entered %d and made %d steps", len(got.GetEntered()), got.GetSteps())
			}
		})
	}
	if r := importFrom(t, ctx, from, csv); r.Written != 0 {
		t.Errorf("imported where it came from, %d were written", r.Written)
	}
}

// Every mistake is told at once, at its field, and nothing is kept, of the other
// services neither.
func TestEveryMistakeInWhatWasPromisedAndClaimedIsToldAtOnceAndNothingIsKept(t *testing.T) {
	ctx, from := promised(t)
	files, _ := exportTo(t, ctx, from, "csv")
	claims, err := filepath.Glob(filepath.Join(files, "claims", "*.yaml"))
	if err != nil || len(claims) != 1 {
		t.Fatal(claims, err)
	}
	claim, followUp := "claims/"+filepath.Base(claims[0]), "follow_ups/"+aldermoor.TourSerial+".C-2026-09.yaml"
	type mistake struct{ file, old, new, want string }
	for _, c := range []struct {
		name     string
		mistakes []mistake
	}{
		{"in records that can be read", []mistake{
			{"warranty_terms/WORKS-12.v2.yaml", "giver: works", "giver: supplier\nsupplier: Ferncombe Gears", "WORKS-12.v2.yaml row 3 giver"},
			{claim, "term: warrantyTerms/WORKS-12/versions/1", "term: warrantyTerms/WORKS-99/versions/1",
				`cover.terms[0].term: got "warrantyTerms/WORKS-99/versions/1", want a version of a warranty term that is there or in the import`},
			{claim, "decided_by: ", "exclusion_id: wear\n    # ", `decisions[0].decided_by: got "", want who it was`},
			{claim, tour + "/serviceEntries/", tour + "/serviceEntries/no-", `service_entry: got "` + tour + `/serviceEntries/no-`},
			{followUp, "evidence: " + tour + "/serviceEntries/", "evidence: " + tour + "/serviceEntries/no-", `steps[1].evidence: got "` + tour + `/serviceEntries/no-`},
			{followUp, "kind: entered", "kind: booked", `steps: got "3 steps", want steps of which the first, and no other, is ENTERED`},
			{"follow_ups/AM0103C.C-2026-09.yaml", "versions/1", "versions/3", `AM0103C.C-2026-09.yaml row 2 bulletin: got "bulletins/C-2026-09/versions/3"`},
			{"bulletins/C-2026-09.v2.yaml", "kind: campaign", "kind: advice", "C-2026-09.v2.yaml row 2 kind"},
			{"bulletins/C-2026-10.v1.yaml", "state: draft", "state: draft\nissue_date: 2026-05-01", `issue_date: got "2026-05-01", want nothing, for a draft`},
			{"days_out_of_service.csv", "/claims/", "/claims/no-", `claim: got "` + tour + `/claims/no-`},
			{"enquiries.csv", ",p0001,", ",p9999,", `person: got "p9999", want a person who is there or in the import`},
			{"enquiries.csv", "ferncombe,,,weep", "ferncombe,,,call 01632 960983", "symptom: got "},
			{"enquiry_answers.csv", ",2026-05-18T12", ",2016-05-18T12", "answer time: got "},
			{"answer_notes.csv", "A drip?,", "\"A drip\n?\",", "title: got"},
		}},
		{"in what can be read of others that cannot", []mistake{
			{claim, "unit_price_minor: 4000000000", "unit_price_minor: -1", `parts[0].unit_price_minor: got "-1", want a whole number, 0 or more`},
			{claim, "state: accepted", "state: closed", `steps: got "3 steps", want steps of which the last left the claim closed`},
			{"bulletins/C-2026-09.v1.yaml", "built_release:", "option: x\n          built_release:", `built_release: got "built_release", want nothing beside option: only one of them can be said`},
			{"bulletins/C-2026-09.v2.yaml", "repeat_days: -1", "repeat_days: often", `follow_up.repeat_days: got "often", want a whole number`},
			{followUp, "step_date: 2026-05-18", "step_date: 2036-05-18", `steps[0].step_date: got "2036-05-18"`},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "files")
			if err := os.CopyFS(dir, os.DirFS(files)); err != nil {
				t.Fatal(err)
			}
			for _, m := range c.mistakes {
				edit(t, filepath.Join(dir, m.file), m.old, m.new)
			}
			ctx, to := emptyWorks(t)
			_, all := refusedFrom(t, ctx, to, dir)
			for _, m := range c.mistakes {
				if !strings.Contains(all, m.want) {
					t.Errorf("not told: %s", m.want)
				}
			}
			if t.Failed() {
				t.Log(all)
			}
			wantNothingKept(t, ctx, to)
			if n := len(must(to.Warranties.ListWarrantyTerms(ctx, &warrantyv1.ListWarrantyTermsRequest{}))(t).GetWarrantyTerms()); n != 0 {
				t.Errorf("%d terms were kept", n)
			}
		})
	}
}
