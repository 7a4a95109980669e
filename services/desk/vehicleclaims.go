package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// claimRoutes are where a claim is made, and where who made it goes on with it.
func claimRoutes() []Route {
	return []Route{
		{"GET /vehicles/{serial}/claims", Readers, (*visit).showVehicleClaims},
		{"GET /vehicles/{serial}/claims/new", Readers, (*visit).showNewClaim},
		{"POST /vehicles/{serial}/claims/new", Readers, (*visit).beginClaim},
		{"GET /vehicles/{serial}/claims/{claim}", Readers, (*visit).showClaim},
		{"GET /vehicles/{serial}/claims/{claim}/change", Readers, (*visit).showChangeClaim},
		{"POST /vehicles/{serial}/claims/{claim}/change", Readers, (*visit).changeClaim},
		{"POST /vehicles/{serial}/claims/{claim}/submit", Readers, (*visit).submitClaim},
		{"POST /vehicles/{serial}/claims/{claim}/withdraw", Readers, (*visit).withdrawClaim},
		{"POST /vehicles/{serial}/claims/{claim}/appeal", Readers, (*visit).appealClaim},
	}
}

// openClaims are the states in which a claim is not done with.
var openClaims = []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_DRAFT, warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED,
	warrantyv1.ClaimState_CLAIM_STATE_ASKED, warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, warrantyv1.ClaimState_CLAIM_STATE_APPEALED}

// claimAt is the page of a claim for who is signed in: the works looks at all
// claims in one place, a dealer at theirs beside the vehicle.
func (v *visit) claimAt(name string) string {
	if v.staff() {
		return claimPath(name)
	}
	return claimOfVehicle(name)
}

func claimOfVehicle(name string) string {
	return vehiclePath(serialIn(name)) + "/claims/" + url.PathEscape(bare(name))
}

// showVehicleClaims lists the claims on the vehicle, drafts among them.
func (v *visit) showVehicleClaims() {
	r, err := v.d.Warranties.ListClaims(v.as(), &warrantyv1.ListClaimsRequest{Parent: v.vehicle(), PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Claims", Heads: []string{"What failed", "Failed on", "Asked for", "Stands"}, Empty: "No claim was made on it so far."}
	for _, c := range r.GetClaims() {
		t.Rows = append(t.Rows, []cell{{Text: wording.UpperFirst(place(c.GetPosition())), Path: v.claimAt(c.GetName()), Sub: inShort(c.GetSymptom())}, {Text: civil(c.GetFailureDate()), Tight: true},
			{Text: wording.Money(c.GetTotals().GetClaimedMinor(), c.GetCurrency())}, {Text: word(c.GetState(), "CLAIM_STATE_")}})
	}
	v.ofVehicle(http.StatusOK, "claims", block{Table: t, Links: append(more(v.at("/claims?page="), url.QueryEscape(r.GetNextPageToken())),
		link{Label: "Begin a claim", Path: v.at("/claims/new")}, link{Label: "Back to the vehicle", Path: v.at("")})})
}

// showNewClaim asks what failed beside what is covered today.
func (v *visit) showNewClaim() {
	x, err := v.claimChoices(&warrantyv1.Claim{Position: hyphened(v.r.URL.Query().Get("position"))})
	if err != nil {
		v.refuse(err)
		return
	}
	v.newClaimPage(http.StatusOK, x.form(&warrantyv1.Claim{Currency: v.usualCurrency()}, v.at("/claims/new"), "Keep it as a draft"))
}

func (v *visit) newClaimPage(status int, f *form) {
	v.formPage(status, "Begin a claim", f, block{Text: []string{"It is kept as a draft first, in which everything can still be changed, and counts once it is handed in."}}, v.coveredBlock())
}

// coveredBlock is what the works promises for the vehicle today. The form stands
// without it: the cover on the day of the failure is looked up with the claim.
func (v *visit) coveredBlock() block {
	b := block{Heading: "Cover today"}
	covers, err := v.covers()
	for _, c := range covers {
		b.List = append(b.List, coverEntry(c))
	}
	switch {
	case err != nil:
		b.Text = []string{"It cannot be looked up at the moment. It is looked up again when the claim is handed in."}
	case len(b.List) == 0:
		b.Text = []string{"No terms are on record for it."}
	}
	return b
}

// covers are that of the vehicle as a whole, and those of positions with terms of
// their own that still run, or of which it cannot be said.
func (v *visit) covers() ([]*warrantyv1.Cover, error) {
	const most = 50
	r, err := v.d.Warranties.ListCovers(v.as(), &warrantyv1.ListCoversRequest{Parent: v.vehicle(), PageSize: most})
	all := r.GetCovers()
	for i := len(all) - 1; i > 0; i-- {
		if all[i].GetState() == warrantyv1.CoverState_COVER_STATE_NOT_COVERED {
			all = slices.Delete(all, i, i+1)
		}
	}
	return all, err
}

// usualCurrency is that of the last claim; "" where there is none yet.
func (v *visit) usualCurrency() string {
	parent := v.vehicle()
	if v.staff() {
		parent = "vehicles/-"
	}
	r, err := v.d.Warranties.ListClaims(v.as(), &warrantyv1.ListClaimsRequest{Parent: parent, PageSize: 1})
	if err != nil || len(r.GetClaims()) == 0 {
		return ""
	}
	return r.GetClaims()[0].GetCurrency()
}

func (v *visit) beginClaim() {
	if !v.readForm() {
		return
	}
	// What was chosen may be a place that was offered by an address alone.
	x, err := v.claimChoices(&warrantyv1.Claim{Position: v.value("claim.position")})
	if err != nil {
		v.refuse(err)
		return
	}
	c, err := x.claim(v)
	if err == nil {
		c, err = v.d.Warranties.CreateClaim(v.as(), &warrantyv1.CreateClaimRequest{Parent: v.vehicle(), Claim: c, RequestId: v.request()})
		err = inMoney(err)
	}
	if err != nil {
		f := x.form(&warrantyv1.Claim{}, v.at("/claims/new"), "Keep it as a draft").filled(v)
		v.againPointed(err, f, v.claimField, func(status int) { v.newClaimPage(status, f) })
		return
	}
	v.goTo(v.claimAt(c.GetName()) + "?done=claim-begun")
}

// changing gives the claim of the address with the form in which it is changed.
// Where it may not be changed, it answers with the claim's page.
func (v *visit) changing() (*warrantyv1.Claim, *claimChoices) {
	c, err := v.d.Warranties.GetClaim(v.as(), &warrantyv1.GetClaimRequest{Name: v.claimName()})
	if err != nil {
		v.refuse(err)
		return nil, nil
	}
	x, err := v.claimChoices(c)
	if err != nil {
		v.refuse(err)
		return nil, nil
	}
	return c, x
}

func (v *visit) showChangeClaim() {
	c, x := v.changing()
	switch {
	case c == nil:
	case !changes(c):
		v.goTo(v.claimAt(c.GetName()))
	default:
		v.changeClaimPage(http.StatusOK, x.form(c, claimOfVehicle(c.GetName())+"/change", "Keep the changes"))
	}
}

// changes reports whether what a claim says may be changed as it stands.
func changes(c *warrantyv1.Claim) bool {
	return c.GetState() == warrantyv1.ClaimState_CLAIM_STATE_DRAFT || c.GetState() == warrantyv1.ClaimState_CLAIM_STATE_ASKED
}

func (v *visit) changeClaimPage(status int, f *form) {
	v.formPage(status, "Change the claim", f, block{Links: []link{{Label: "Back to the claim", Path: v.claimAt(v.claimName())}}})
}

func (v *visit) changeClaim() {
	if !v.readForm() {
		return
	}
	c, x := v.changing()
	if c == nil {
		return
	}
	said, err := x.claim(v)
	if err == nil {
		said.Name, said.Etag = c.GetName(), v.value("claim.etag")
		_, err = v.d.Warranties.UpdateClaim(v.as(), &warrantyv1.UpdateClaimRequest{Claim: said, RequestId: v.request()})
		err = inMoney(err)
	}
	if err != nil {
		f := x.form(c, claimOfVehicle(c.GetName())+"/change", "Keep the changes").filled(v)
		v.againPointed(err, f, v.claimField, func(status int) { v.changeClaimPage(status, f) })
		return
	}
	v.goTo(v.claimAt(c.GetName()) + "?done=claim-changed")
}

// claimField is where the form asks for a field of the claim: the position is in
// a list, or said where the list has none.
func (v *visit) claimField(name string) string {
	if name == "claim.position" && v.value("other-position") != "" {
		return "other-position"
	}
	return name
}

// claim reads the form. The name and the version of a claim are no part of it.
func (x *claimChoices) claim(v *visit) (*warrantyv1.Claim, error) {
	t := &typed{visit: v}
	c := &warrantyv1.Claim{
		Position: v.value("claim.position"), FailureDate: t.date("claim.failure_date"), Reading: t.dial("claim.reading", x.unit),
		Symptom: v.value("claim.symptom"), Cause: v.value("claim.cause"), Remedy: v.value("claim.remedy"),
		Parts: t.claimParts("claim.parts"), Labour: t.claimLabour("claim.labour"), OtherCosts: t.claimCosts("claim.other_costs"),
		Currency: strings.ToUpper(v.value("claim.currency")), Exclusions: hyphenedAll(v.list("claim.exclusions")),
		ServiceEntry: v.value("claim.service_entry"), Organisation: v.value("claim.organisation"),
	}
	switch other := hyphened(v.value("other-position")); {
	case other != "" && len(x.places) > 0 && c.GetPosition() != "":
		t.wrong = append(t.wrong, fault.Field{Name: "other-position", Got: other, Want: "nothing, where what failed is chosen from the list"})
	case other != "":
		c.Position = other
	case len(x.places) == 0:
		c.Position = hyphened(c.GetPosition())
	}
	return c, t.err()
}

// claimMove is the form of something that who made a claim does with it.
func claimMove(c *warrantyv1.Claim, id string) *form {
	text := field{Name: "text", Label: "Anything to add, without names", Lines: 2}
	f := &form{ID: id, Action: claimOfVehicle(c.GetName()) + "/" + id}
	switch id {
	case "submit":
		f.Submit = "Hand it in"
		if c.GetState() == warrantyv1.ClaimState_CLAIM_STATE_ASKED {
			f.Submit, text.Label = "Send the answer", "Answer, without names"
		}
	case "appeal":
		f.Submit, text.Label, text.Required = "Ask to look again", "Why, without names", true
	case "withdraw":
		f.Submit, f.Grave, text.Label = "Take it back", true, "Why it is taken back, without names"
	}
	f.Fields = []field{text, {Name: "etag", Type: "hidden", Value: c.GetEtag()}, requestField()}
	return f
}

// moveClaim does something with a claim, and shows it again.
func (v *visit) moveClaim(id, done string, move func() error) {
	if !v.readForm() {
		return
	}
	if err := move(); err != nil {
		f := claimMove(v.shownClaim(), id).filled(v)
		v.again(err, f, func(status int) { v.claimPage(status, f) })
		return
	}
	v.goTo(v.claimAt(v.claimName()) + "?done=" + done)
}

func (v *visit) submitClaim() {
	v.moveClaim("submit", "submitted", func() error {
		_, err := v.d.Warranties.SubmitClaim(v.as(), &warrantyv1.SubmitClaimRequest{Name: v.claimName(), Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
		return err
	})
}

func (v *visit) withdrawClaim() {
	v.moveClaim("withdraw", "taken-back", func() error {
		_, err := v.d.Warranties.WithdrawClaim(v.as(), &warrantyv1.WithdrawClaimRequest{Name: v.claimName(), Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
		return err
	})
}

func (v *visit) appealClaim() {
	v.moveClaim("appeal", "appealed", func() error {
		_, err := v.d.Warranties.AppealClaim(v.as(), &warrantyv1.AppealClaimRequest{Name: v.claimName(), Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
		return err
	})
}

// claimantBlocks are what who made a claim may do with it as it stands.
func (v *visit) claimantBlocks(c *warrantyv1.Claim, sent *form) (out []block) {
	back := block{Heading: "Take it back", Text: []string{"It stays readable, and nobody decides it."}}
	switch last := len(c.GetDecisions()) - 1; c.GetState() {
	case warrantyv1.ClaimState_CLAIM_STATE_DRAFT:
		out = append(out, block{Heading: "Hand it in", Text: []string{"It is a draft: nobody decides it before it is handed in. The cover on the day of the failure is kept with it then."}, Form: chosen(claimMove(c, "submit"), sent)})
	case warrantyv1.ClaimState_CLAIM_STATE_ASKED:
		out = append(out, block{Heading: "Answer what was asked", Form: chosen(claimMove(c, "submit"), sent)})
	case warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED:
	case warrantyv1.ClaimState_CLAIM_STATE_APPEALED:
		back.Heading, back.Text = "Take the appeal back", []string{"The decision before it holds then."}
	case warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, warrantyv1.ClaimState_CLAIM_STATE_DECLINED, warrantyv1.ClaimState_CLAIM_STATE_CLOSED:
		if last < 0 || c.GetDecisions()[last].GetOutcome() == warrantyv1.ClaimOutcome_CLAIM_OUTCOME_ACCEPTED {
			return nil
		}
		until := onDay(c.GetDecisions()[last].GetAppealUntilDate())
		if until.IsZero() || until.Before(v.today().AddDays(-1)) { // in another zone it may still be yesterday
			return nil
		}
		return []block{{Heading: "Appeal", Text: []string{"Until " + until.Long() + " it can be asked to look at it again. Somebody else decides then."}, Form: chosen(claimMove(c, "appeal"), sent)}}
	default:
		return nil
	}
	back.Form = chosen(claimMove(c, "withdraw"), sent)
	return append(out, back)
}

// coverThen says whether what failed was covered. Of a draft it is looked up: what
// is found is kept with the claim only when it is handed in.
func (v *visit) coverThen(c *warrantyv1.Claim) block {
	b, cover := block{Heading: "Cover on the day of the failure"}, c.GetCover()
	switch {
	case cover != nil:
	case c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_DRAFT:
		b.Text = []string{"None was kept with it."}
		return b
	case c.GetFailureDate() == nil:
		b.Text = []string{"It is looked up once the draft says on which day it failed."}
		return b
	default:
		found, err := v.d.Warranties.GetCover(v.as(), &warrantyv1.GetCoverRequest{Name: "vehicles/" + serialIn(c.GetName()) + "/covers/" + c.GetPosition(), OnDate: c.GetFailureDate()})
		if err != nil {
			b.Text = []string{"It cannot be looked up at the moment. It is looked up again when the claim is handed in."}
			return b
		}
		cover = found
		b.Text = []string{"As it is found now. What is found when it is handed in is kept with it."}
	}
	for _, text := range []string{cover.GetSentence(), cover.GetQuestion()} {
		if text != "" {
			b.Text = append(b.Text, text)
		}
	}
	for _, t := range cover.GetTerms() {
		b.List = append(b.List, termEntry(t))
	}
	return b
}

// termEntry is a promise that there is for what failed, and whether it covers.
func termEntry(t *warrantyv1.TermCover) entry {
	e := entry{Term: t.GetTitle(), Text: word(t.GetState(), "COVER_STATE_")}
	if t.GetLastDate() != nil {
		e.Text += ", from " + civil(t.GetStartDate()) + " to " + civil(t.GetLastDate())
	}
	e.Text += "."
	if t.GetSupplier() != "" {
		e.Sub = "By " + t.GetSupplier() + "."
	}
	for _, r := range t.GetReasons() {
		e.More = append(e.More, r.GetSentence())
	}
	return e
}
