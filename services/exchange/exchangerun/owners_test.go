package exchangerun_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/testdata/aldermoor"
)

func TestConsentsAndStandingsComeBackFromAnExport(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	noon := aldermoor.Today.Start(time.UTC).Add(12 * time.Hour)
	for _, consent := range []*ownerv1.Consent{
		{Purpose: ownerv1.Purpose_PURPOSE_YEAR_LETTER, Given: true, Wording: "Yes; please.\nEach year.", Language: "en-GB", Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAPER, ConsentTime: timestamppb.New(noon.AddDate(-1, 0, 0))},
		{Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_TEXT, Wording: "STOP", Source: ownerv1.ConsentSource_CONSENT_SOURCE_TEXT},
	} {
		if _, err := c.Owners.RecordConsent(ctx, &ownerv1.RecordConsentRequest{Parent: "people/p0001", Consent: consent}); err != nil {
			t.Fatal(err)
		}
	}
	ties, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/-", PageSize: 1})
	if err != nil {
		t.Fatal(err)
	}
	serial := ties.GetTies()[0].GetName()[len("vehicles/"):][:7]
	if _, err := c.Owners.UpdateStanding(ctx, &ownerv1.UpdateStandingRequest{Standing: &ownerv1.Standing{
		Name: "vehicles/" + serial + "/standing", State: ownerv1.StandingState_STANDING_STATE_EXPORTED, Note: "shipped, says the agent",
	}}); err != nil {
		t.Fatal(err)
	}
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p0001"})
	if err != nil {
		t.Fatal(err)
	}
	p.ContactWays = []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_LETTER, ownerv1.ContactWay_CONTACT_WAY_MAIL}
	p.FormatLocale, p.MostMessages = "de-CH", 2
	if _, err := c.Owners.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: p}); err != nil {
		t.Fatal(err)
	}
	dir, _ := exportTo(t, ctx, c, "csv")
	want := bytesOf(t, dir)
	if r := importFrom(t, ctx, c, dir); r.Written != 0 {
		t.Errorf("where it came from %d were written", r.Written)
	}
	ctx, c = emptyWorks(t)
	importFrom(t, ctx, c, dir)
	if diff := cmp.Diff(want, exported(t, ctx, c)); diff != "" {
		t.Errorf("(-first +second):\n%.4000s", diff)
	}
	list, err := c.Owners.ListConsents(ctx, &ownerv1.ListConsentsRequest{Parent: "people/p0001"})
	if err != nil || len(list.GetConsents()) != 2 || !slices.ContainsFunc(list.GetConsents(), func(c *ownerv1.Consent) bool { return c.GetWording() == "Yes; please.\nEach year." }) {
		t.Errorf("got %v, %v", list, err)
	}
}

// The ties of somebody who was erased are part of the vehicle's record: an export
// has them, and comes back in where it came from and elsewhere.
func TestAnExportComesBackAfterAnErasure(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p0001"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Owners.ErasePerson(ctx, &ownerv1.ErasePersonRequest{Name: p.GetName(), Etag: p.GetEtag(), Ground: "asked for", EndTies: true}); err != nil {
		t.Fatal(err)
	}
	dir, _ := exportTo(t, ctx, c, "csv")
	want := bytesOf(t, dir)
	if r := importFrom(t, ctx, c, dir); r.Written != 0 {
		t.Errorf("where it came from %d were written", r.Written)
	}
	ctx, c = emptyWorks(t)
	importFrom(t, ctx, c, dir)
	if diff := cmp.Diff(want, exported(t, ctx, c)); diff != "" {
		t.Errorf("(-first +second):\n%.4000s", diff)
	}
	if _, err := c.Owners.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: p}); rpcerr.FromStatus(err).Reason != "PERSON_ERASED" {
		t.Errorf("got %v", err)
	}
}
