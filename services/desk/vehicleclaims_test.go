package desk

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
)

// withTransferCase has a vehicle with a transfer case and nothing else.
type withTransferCase struct{ buildv1.BuildServiceClient }

func (withTransferCase) GetConfiguration(context.Context, *buildv1.GetConfigurationRequest, ...grpc.CallOption) (*buildv1.Configuration, error) {
	return &buildv1.Configuration{Fitted: []*buildv1.Fitted{{Component: &buildv1.Component{Position: "transfer-case", Part: "AP-1200"}}}}, nil
}

// noWork has no work on record.
type noWork struct {
	schedulev1.ScheduleServiceClient
}

func (noWork) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	return &schedulev1.ListServiceEntriesResponse{}, nil
}

// noTerms promises nothing.
type noTerms struct {
	warrantyv1.WarrantyServiceClient
}

func (noTerms) ListCovers(context.Context, *warrantyv1.ListCoversRequest, ...grpc.CallOption) (*warrantyv1.ListCoversResponse, error) {
	return &warrantyv1.ListCoversResponse{}, nil
}

// The address of the form can offer a place on which nothing stands; it is still
// chosen where the form comes back.
func TestAClaimThatComesBackStillSaysWhatFailed(t *testing.T) {
	page, err := parsedTemplates()
	if err != nil {
		t.Fatal(err)
	}
	for _, position := range []string{"hood", "transfer-case"} {
		v := visitAs(accessv1.Role_ROLE_DEALER, nil, nil)
		v.d.page, v.d.Builds, v.d.Schedules, v.d.Warranties = page, withTransferCase{}, noWork{}, noTerms{}
		v.r = httptest.NewRequest("POST", "/vehicles/AM0101G/claims/new", strings.NewReader(url.Values{"claim.position": {position}, "claim.reading": {"none"}}.Encode()))
		v.r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		v.r.SetPathValue("serial", "AM0101G")
		w := httptest.NewRecorder()
		v.w = w
		v.beginClaim()
		chosen := regexp.MustCompile(`<option value="([^"]+)" selected`).FindStringSubmatch(w.Body.String())
		if w.Code != http.StatusUnprocessableEntity || chosen == nil || chosen[1] != position {
			t.Errorf("%s: answered %d, and chosen is %q", position, w.Code, chosen)
		}
	}
}

// What came by the API or from a file may have lines of its own.
func TestATextOfSeveralLinesIsShownAsOneLineOfAClaim(t *testing.T) {
	c := &warrantyv1.Claim{
		Labour:     []*warrantyv1.ClaimLabour{{Text: "gearbox out\nand in", Minutes: 300, HourlyRateMinor: 6000}},
		OtherCosts: []*warrantyv1.ClaimCost{{Text: "carriage\nand pallet", AmountMinor: 1200}},
	}
	form := typed{visit: sent(url.Values{"l": {labourLines(c.GetLabour())}, "c": {costLines(c.GetOtherCosts())}})}
	if labour, costs := form.claimLabour("l"), form.claimCosts("c"); len(form.wrong) > 0 || len(labour) != 1 || labour[0].GetText() != "gearbox out and in" || len(costs) != 1 || costs[0].GetText() != "carriage and pallet" {
		t.Errorf("got %v and %v, refused %v", labour, costs, form.wrong)
	}
}

// takenBackMeanwhile has a claim that was taken back, and refuses what rests on it as it
// was before.
type takenBackMeanwhile struct {
	warrantyv1.WarrantyServiceClient
}

func (takenBackMeanwhile) GetClaim(_ context.Context, r *warrantyv1.GetClaimRequest, _ ...grpc.CallOption) (*warrantyv1.Claim, error) {
	return &warrantyv1.Claim{Name: r.GetName(), Position: "gearbox", State: warrantyv1.ClaimState_CLAIM_STATE_WITHDRAWN, Etag: "2"}, nil
}

func (takenBackMeanwhile) DecideClaim(context.Context, *warrantyv1.DecideClaimRequest, ...grpc.CallOption) (*warrantyv1.Claim, error) {
	return nil, fault.New(fault.Aborted, "ETAG_MISMATCH", "changed meanwhile")
}

// Where somebody else did something with a claim first, its page has no place for
// the form any more: what was typed into it is shown all the same.
func TestWhatWasTypedIsShownWhereAClaimHasNoPlaceForItAnyMore(t *testing.T) {
	page, err := parsedTemplates()
	if err != nil {
		t.Fatal(err)
	}
	v := visitAs(accessv1.Role_ROLE_ENGINEER, nil, nil)
	v.d.page, v.d.Warranties = page, takenBackMeanwhile{}
	entered := url.Values{"decision.outcome": {"CLAIM_OUTCOME_DECLINED"}, "decision.reason": {"it was run dry"}, "etag": {"1"}}
	v.r = httptest.NewRequest("POST", "/fleet/claims/AM0101G/c1/decide", strings.NewReader(entered.Encode()))
	v.r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	v.r.SetPathValue("serial", "AM0101G")
	v.r.SetPathValue("claim", "c1")
	w := httptest.NewRecorder()
	v.w = w
	v.decideClaim()
	for _, want := range []string{"This was not done", "nothing of this to do", "it was run dry", "Declined"} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("answered %d without %q", w.Code, want)
		}
	}
	if strings.Contains(w.Body.String(), "beside it what is on record now") {
		t.Error("it is said that the form is below")
	}
}

// A position with a promise of its own leads to the form with that position.
func TestACoveredPositionLeadsToItsClaim(t *testing.T) {
	v := visitAs(accessv1.Role_ROLE_SUPPORT, nil, nil)
	v.r = httptest.NewRequest("GET", "/vehicles/AM0143X", nil)
	v.r.SetPathValue("serial", "AM0143X")
	const covered, ended = warrantyv1.CoverState_COVER_STATE_COVERED, warrantyv1.CoverState_COVER_STATE_NOT_COVERED
	var led []string
	for _, e := range v.coverBlock(&enquiryv1.Dossier{Covers: []*warrantyv1.Cover{
		{Name: "vehicles/AM0143X/covers/vehicle", State: covered}, {Name: "vehicles/AM0143X/covers/transfer-case", State: covered}, {Name: "vehicles/AM0143X/covers/chassis", State: ended},
	}}).List {
		for _, a := range e.Action {
			led = append(led, a.Label+": "+a.Path)
		}
	}
	if want := []string{"Claim for the transfer case: /vehicles/AM0143X/claims/new?position=transfer-case"}; !slices.Equal(led, want) {
		t.Errorf("got %q, want %q", led, want)
	}
}
