package works_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/testdata/aldermoor"
)

// claimedSerial is a vehicle whose warranty runs.
const claimedSerial = "AM0164N"

// promised has the works promise a year for every vehicle.
func (d *deskWorld) promised() {
	d.t.Helper()
	got(d.clients.Warranties.CreateWarrantyTerm(d.ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/WORKS-12/versions/1", Title: "One year", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_WORKS,
		Start: warrantyv1.WarrantyStart_WARRANTY_START_DELIVERY, Months: 12, CoversParts: true, CoversLabour: true,
		EffectiveDate: dayProto(aldermoor.Today.AddDays(-20_000)), Sample: true}}))(d.t)
}

// onlyClaim is the one claim on the vehicle.
func (d *deskWorld) onlyClaim() *warrantyv1.Claim {
	d.t.Helper()
	all := got(d.clients.Warranties.ListClaims(d.ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/" + claimedSerial}))(d.t).GetClaims()
	if len(all) != 1 {
		d.t.Fatalf("%d claims are on record", len(all))
	}
	return all[0]
}

// From the vehicle's page to the appeal, by what is written on the pages and
// without scripts.
func TestAClaimIsMadeOnTheVehiclesPageAndDecided(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.promised()
	p := telephone.New(t, 320, "light")
	p.Scripts(false)
	d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
	d.draftsClaim(p)

	// Handed in too early, it says what is missing, and keeps what was said to it.
	p.Enter("Anything to add, without names", "photographs by post")
	p.Press("Hand it in")
	p.Says("Wanted is what was done or is to be done.")
	if kept := telephone.Ask[string](p, `document.querySelector("textarea").value`); kept != "photographs by post" {
		t.Errorf("what was typed is %q", kept)
	}
	p.Press("Change what it says")
	p.Enter("What was done, or is to be done", "bearing and seal replaced")
	p.Enter("Other costs", "carriage at 12.00")
	p.Press("Keep the changes")
	p.Says("The change was kept", "bearing and seal replaced", "226.50 GBP") // 84.50, 130 minutes at 60.00 and 12.00
	p.Enter("Anything to add, without names", "photographs by post")
	p.Press("Hand it in")
	p.Says("It is handed in", "submitted", "photographs by post", "An engineer or an administrator decides it.")
	if c := d.onlyClaim(); c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED || c.GetCover().GetState() != warrantyv1.CoverState_COVER_STATE_COVERED || c.GetReading().GetEnteredValue() != "900" {
		t.Errorf("got %v", c)
	}

	// The works asks something first, decides, and is asked to look again.
	e := telephone.New(t, 1280, "dark")
	e.Scripts(false)
	d.enters(e, "una", accessv1.Role_ROLE_ENGINEER)
	e.Open(d.url + "/fleet/claims")
	e.Press(claimedSerial)
	d.asksAndAnswers(p, e)
	e.Open(d.url + "/fleet/claims")
	e.Press(claimedSerial)
	d.letsItBegin(p, e)
	e.Choose("Decision", "Partly")
	e.Enter("Parts paid for, GBP", "84.50")
	e.Enter("Why, for the customer", "the labour was not needed")
	e.Press("Decide the claim")
	e.Says("The decision is on record", "84.50 GBP for parts")
	p.Open(d.url + "/vehicles/" + claimedSerial)
	p.Press("Claim, transfer case")
	p.Says("accepted", "Until 17 July 2026 it can be asked")
	p.Enter("Why, without names", "the housing had to come off")
	p.Press("Ask to look again")
	p.Says("The works looks at it again", "appealed")
	p.Press("Take it back")
	p.Says("It was taken back", "accepted")
	if c := d.onlyClaim(); c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED || len(c.GetSteps()) != 8 {
		t.Errorf("got %v", c)
	}
	d.asksBackAndCloses(p)
}

// letsItBegin has an engineer say what may be spent before the decision, which
// holds for the decision then. Support is told who says that.
func (d *deskWorld) letsItBegin(p, e *telephone.Telephone) {
	d.t.Helper()
	p.Says("An engineer or an administrator says how much may be spent before the decision.")
	e.Enter("May be spent before the decision, GBP", "thirty")
	e.Enter("For what, without names", "output housing off, and look")
	e.Press("Let the work begin")
	e.Says("Please enter an amount, as in 184.50.")
	d.kept(e, "limit_minor", "thirty")
	d.kept(e, "text", "output housing off, and look")
	e.Enter("May be spent before the decision, GBP", "30")
	e.Press("Let the work begin")
	e.Says("The work may begin.", "30.00 GBP, output housing off, and look")
	e.Enter("May be spent before the decision, GBP", "29.99")
	e.Enter("For what, without names", "less than that")
	e.Press("Raise it")
	e.Says("Please enter 30.00 to 100,000,000.00.")
	e.Enter("May be spent before the decision, GBP", "45.50")
	e.Enter("For what, without names", "and the bearing off the shaft")
	e.Press("Raise it")
	e.Says("45.50 GBP, and the bearing off the shaft")
	e.Choose("Decision", "Declined")
	e.Enter("Why, for the customer", "it was run dry")
	e.Press("Decide the claim")
	e.Says("Wanted is 45.50 or more, which was authorised before the work.")
	if c := d.onlyClaim(); c.GetAuthorisation().GetLimitMinor() != 4550 || c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED {
		d.t.Errorf("got %v", c)
	}
}

// asksBackAndCloses has support record what a supplier gives back, and that all is
// done then.
func (d *deskWorld) asksBackAndCloses(p *telephone.Telephone) {
	d.t.Helper()
	p.Says("nothing was asked back from a supplier so far", "At most 84.50 GBP, which was paid.")
	d.kept(p, "recovery.asked_minor", "84.50")
	p.Enter("Supplier", "Brookford Gears")
	p.Enter("Asked for, GBP", "84.51")
	p.Enter("Their reference, or why they refused, without names", "BG-1142")
	p.Press("Record it")
	p.Says("Please enter 0.01 to 84.50, what was paid.")
	d.kept(p, "recovery.supplier", "Brookford Gears")
	d.kept(p, "recovery.text", "BG-1142")
	p.Enter("Asked for, GBP", "60")
	p.Press("Record it")
	p.Says("What the supplier does is on record.", "Brookford Gears", "60.00 GBP", "BG-1142")
	p.Press("Record it")
	p.Says("Please choose from the list.")
	p.Choose("How far it has come", "Received")
	p.Enter("Received so far, in all, GBP", "60.01")
	p.Press("Record it")
	p.Says("Please enter more than 0.00, what was received before, and at most what was asked.")
	p.Enter("Received so far, in all, GBP", "40")
	p.Press("Record it")
	p.Says("Received 40.00 GBP", "Left with the works 44.50 GBP")
	p.Press("All claims that are decided and not closed")
	p.Says(claimedSerial, "transfer case", "accepted 84.50 GBP")
	p.Press(claimedSerial)
	p.Enter("How it ended, without names", "credited with the May account")
	p.Press("Close the claim")
	p.Says("The claim is closed.", "closed", "credited with the May account", "Until 17 July 2026 it can be asked")
	for _, not := range []string{"Close the claim", "Decide the claim", "Raise it"} {
		if telephone.Ask[bool](p, `[...document.querySelectorAll("button")].some(e => e.innerText == "`+not+`")`) {
			d.t.Errorf("a closed claim has the button %q", not)
		}
	}
	p.Press("All claims that are decided and not closed")
	p.Says("Every claim that was decided is closed.")
	p.Open(d.url + "/fleet/claims/" + claimedSerial + "/" + last(d.onlyClaim().GetName()))
	p.Choose("How far it has come", "Received") // the rest comes when it comes
	p.Enter("Received so far, in all, GBP", "60")
	p.Press("Record it")
	p.Says("Left with the works 24.50 GBP")
	if c := d.onlyClaim(); c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_CLOSED || c.GetTotals().GetRecoveredMinor() != 6000 || c.GetRecovery().GetSupplier() != "Brookford Gears" {
		d.t.Errorf("got %v", c)
	}
}

// kept asserts that one of the fields of a name holds what was entered.
func (d *deskWorld) kept(p *telephone.Telephone, name, want string) {
	d.t.Helper()
	if got := telephone.Ask[string](p, `[...document.querySelectorAll("[name='`+name+`']")].map(e => e.value).join("|")`); !slices.Contains(strings.Split(got, "|"), want) {
		d.t.Errorf("%s: what was entered is %q, want %q", name, got, want)
	}
}

// asksAndAnswers has the works ask something, and who made the claim answer it.
func (d *deskWorld) asksAndAnswers(p, e *telephone.Telephone) {
	d.t.Helper()
	e.Enter("What is missing", "Which lot is the new bearing of?")
	e.Press("Ask")
	e.Says("The question is with who made the claim", "asked")
	p.Open(d.url + "/vehicles/" + claimedSerial)
	p.Press("Claim, transfer case")
	p.Says("Which lot is the new bearing of?")
	p.Press("Change what it says")
	p.Enter("Parts", "1 AP-1210 at 84.50 failed lot L-77 fitted lot L-80")
	p.Press("Keep the changes")
	p.Enter("Answer, without names", "L-80, as it says now")
	p.Press("Send the answer")
	p.Says("It is handed in", "submitted", "L-80, as it says now", "failed lot L-77, fitted lot L-80")
}

// draftsClaim begins a claim on the vehicle's page, at the second try.
func (d *deskWorld) draftsClaim(p *telephone.Telephone) {
	d.t.Helper()
	p.Open(d.url + "/vehicles/" + claimedSerial)
	p.Press("Begin a claim")
	p.Says("Cover today", "up to and including 9 April 2027")
	p.Set("What failed", "transfer-case")
	p.Set("Failed, or was found, on", "2026-05-12")
	p.Enter("What the odometer showed then", "none")
	p.Enter("What was noticed, without names", "whine on overrun")
	p.Enter("Parts", "AP-1210 for 84.50")
	p.Enter("Labour", "output housing off and on, 130 minutes at 60.00")
	p.Enter("Currency of the amounts", "GBP")
	p.Press("Keep it as a draft")
	p.Says("Please enter what the odometer showed", "“AP-1210 for 84.50” is none")
	for field, want := range map[string]string{"claim.position": "transfer-case", "claim.failure_date": "2026-05-12", "claim.symptom": "whine on overrun", "claim.parts": "AP-1210 for 84.50"} {
		if kept := telephone.Ask[string](p, `document.querySelector("[name='`+field+`']").value`); kept != want {
			d.t.Errorf("%s: what was entered is %q", field, kept)
		}
	}
	p.Enter("What the odometer showed then", "900")
	p.Enter("Parts", "1 AP-1210 at 84.50 failed lot L-77")
	p.Press("Keep it as a draft")
	p.Says("The draft is kept", "draft", "failed lot L-77", "As it is found now", "Hand it in")
}

// A dealer claims for vehicles that are with them, and sees their own claims alone.
func TestADealerClaimsForTheVehiclesThatAreWithThem(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.promised()
	d.dealers("ferncombe")
	d.assigned(claimedSerial, "ferncombe", "whine in the transfer case")
	p := telephone.New(t, 320, "dark")
	p.Scripts(false)
	d.enters(p, "ned", accessv1.Role_ROLE_DEALER)
	d.draftsClaim(p)
	mine := d.onlyClaim()
	if mine.GetOrganisation() != "organisations/ferncombe" || mine.GetRecordedBy() != "accounts/ned" {
		t.Errorf("got %v", mine)
	}
	theirs := got(d.clients.Warranties.CreateClaim(d.ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/" + claimedSerial, Claim: &warrantyv1.Claim{Position: "gearbox", Symptom: "jumps out of third"}}))(t)
	p.Open(d.url + "/vehicles/" + claimedSerial)
	p.Press("All claims on it")
	p.Says("Transfer case", "draft")
	p.Press("Transfer case")
	for _, not := range []string{"jumps out of third", "Decide", "/fleet", "/works", "Work by"} {
		if page := telephone.Ask[string](p, `document.documentElement.outerHTML`); strings.Contains(page, not) {
			t.Errorf("a dealer is shown %q", not)
		}
	}
	p.Open(d.url + "/" + theirs.GetName())
	p.Says("There is no such claim")
	p.Open(d.url + "/" + mine.GetName())
	p.Enter("Why it is taken back, without names", "another fault")
	p.Press("Take it back")
	p.Says("It was taken back", "withdrawn", "another fault")
	if p.Open(d.url + "/" + mine.GetName() + "/change"); telephone.Ask[bool](p, `!!document.querySelector("main form")`) {
		t.Error("a claim that was taken back can be changed")
	}
}

// A claim with as many lines and as long texts as one may have is a page like any
// other, and all of it can be read.
func TestTheLongestClaimIsShownPartByPart(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.promised()
	c := &warrantyv1.Claim{Position: "transfer-case", Symptom: long("whine", 2000), Cause: long("wear", 2000), Remedy: long("bearing", 2000), Currency: "GBP", FailureDate: dayProto(aldermoor.Today)}
	for n := range 200 { // which is as many as there may be
		line := fmt.Sprintf("%d of 200 %s", n+1, long("labour", 150))
		c.Parts = append(c.Parts, &warrantyv1.ClaimPart{Part: fmt.Sprintf("AP-%04d-%030d", n+1, 0), Quantity: 2, UnitPriceMinor: 1_234_567, FailedLot: long("L", 40), FittedLot: long("M", 40)})
		c.Labour = append(c.Labour, &warrantyv1.ClaimLabour{Text: line, Minutes: 65, HourlyRateMinor: 6000})
		c.OtherCosts = append(c.OtherCosts, &warrantyv1.ClaimCost{Text: line, AmountMinor: 1200})
	}
	c = got(d.clients.Warranties.CreateClaim(d.ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/" + claimedSerial, Claim: c}))(t)
	for range 6 { // handed in, asked and answered, over and over
		c = got(d.clients.Warranties.SubmitClaim(d.ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Text: long("answer", 2000), Etag: c.GetEtag()}))(t)
		c = got(d.clients.Warranties.AskClaimant(d.ctx, &warrantyv1.AskClaimantRequest{Name: c.GetName(), Text: long("question", 2000), Etag: c.GetEtag()}))(t)
	}
	b, _ := d.admitted("una", accessv1.Role_ROLE_ENGINEER)
	at := "/fleet/claims/" + claimedSerial + "/" + last(c.GetName())
	shown := ""
	for path := range strings.FieldsSeq("/fleet/claims " + at + " " + at + "?lines=550 " + at + "?lines=600 " + at + "?lines=x " + at + "?steps=10 /vehicles/" + claimedSerial + "/claims /vehicles/" + claimedSerial) {
		a, page := b.get(path)
		if most := 75_000; a.StatusCode != http.StatusOK || len(page) > most { // beside the style sheet and what else a page loads
			t.Errorf("%s: got %d with %d bytes, at most %d", path, a.StatusCode, len(page), most)
		}
		shown += page
	}
	for _, want := range []string{"AP-0050-", "550 more lines", "The 50 lines before", ">200 of 200 labour", "2 more steps", "The 10 steps before"} {
		if !strings.Contains(shown, want) {
			t.Errorf("nothing says %q", want)
		}
	}
	if strings.Contains(shown, "AP-0051-") {
		t.Error("the lines of another part are shown")
	}
}

// long is a word, over and over, up to as many characters.
func long(word string, most int) string {
	return strings.Repeat(word+"-", most)[:most]
}
