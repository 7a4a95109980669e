package desk

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// waitingClaims are the states in which a claim waits for somebody.
var waitingClaims = []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED, warrantyv1.ClaimState_CLAIM_STATE_ASKED, warrantyv1.ClaimState_CLAIM_STATE_APPEALED}

func claimPath(name string) string {
	return "/fleet/claims/" + url.PathEscape(serialIn(name)) + "/" + url.PathEscape(bare(name))
}

// The lists of claims of all vehicles.
var allWaiting, allDecided = link{Label: "All claims that wait", Path: "/fleet/claims"}, link{Label: "All claims that are decided and not closed", Path: "/fleet/claims?stand=decided"}

// showClaims lists the claims that wait for somebody, or those that are decided and
// not done with.
func (v *visit) showClaims() {
	title, states, here, empty := "Claims that wait", waitingClaims, "/fleet/claims?", "No claim waits for a decision."
	other := allDecided
	if v.r.URL.Query().Get("stand") == "decided" {
		title, states, here, empty = "Claims that are decided and not closed", closable, "/fleet/claims?stand=decided&", "Every claim that was decided is closed."
		other = allWaiting
	}
	r, err := v.d.Warranties.ListClaims(v.as(), &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", States: states, PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Claims", Heads: []string{"Vehicle", "What failed", "Failed on", "Stands"}, Empty: empty}
	for _, c := range r.GetClaims() {
		stands := cell{Text: word(c.GetState(), "CLAIM_STATE_")}
		switch by := onDay(c.GetAnswerByDate()); {
		case !by.IsZero():
			stands.Sub = "to be answered by " + by.Long()
		case len(c.GetDecisions()) > 0 && c.GetTotals().GetPaidMinor() > 0:
			stands.Sub = wording.Money(c.GetTotals().GetPaidMinor(), c.GetCurrency())
		}
		t.Rows = append(t.Rows, []cell{{Text: serialIn(c.GetName()), Path: claimPath(c.GetName()), Mono: true}, {Text: place(c.GetPosition()), Sub: inShort(c.GetSymptom())}, {Text: civil(c.GetFailureDate()), Tight: true}, stands})
	}
	v.fleetPage(http.StatusOK, title, block{Table: t, Links: append(more(here+"page=", url.QueryEscape(r.GetNextPageToken())), other)})
}

func (v *visit) claimName() string {
	return "vehicles/" + v.r.PathValue("serial") + "/claims/" + v.r.PathValue("claim")
}

func (v *visit) showClaim() { v.claimPage(http.StatusOK, nil) }

// claimPage shows a claim with what may be done about it. A form with faults takes
// the place of the one like it.
func (v *visit) claimPage(status int, sent *form) {
	c, err := v.d.Warranties.GetClaim(v.as(), &warrantyv1.GetClaimRequest{Name: v.claimName()})
	if err != nil {
		v.refuse(err)
		return
	}
	serial := v.r.PathValue("serial")
	blocks := []block{{Facts: claimFacts(c), Links: []link{{Label: "All claims on " + serial, Path: vehiclePath(serial) + "/claims"}}},
		v.linesBlock(c), v.coverThen(c)}
	if changes(c) {
		blocks[0].Links = append([]link{{Label: "Change what it says", Path: claimOfVehicle(c.GetName()) + "/change"}}, blocks[0].Links...)
	}
	if c.GetServiceEntry() != "" {
		blocks[0].Links = append(blocks[0].Links, link{Label: "The work on record", Path: vehiclePath(serial) + "/service/" + url.PathEscape(bare(c.GetServiceEntry()))})
	}
	if v.staff() {
		blocks[0].Facts = append(blocks[0].Facts, fact{Label: "Work by", Value: v.workshopOf(c)})
	}
	if steps := claimSteps(c); len(steps) > 0 {
		from, to, links := v.window("step", len(steps), mostSteps)
		blocks = append(blocks, block{Heading: "Asked and said since", List: steps[from:to], Links: links})
	}
	for _, d := range c.GetDecisions() {
		blocks = append(blocks, block{Heading: "Decided " + day(d.GetDecideTime()), Text: []string{decisionText(d, c.GetCurrency())}})
	}
	blocks = append(append(blocks, v.decidingBlocks(c, sent)...), v.claimantBlocks(c, sent)...)
	if sent != nil && !slices.ContainsFunc(blocks, func(b block) bool { return b.Form == sent }) {
		blocks = append([]block{unplaced(sent)}, blocks...)
	}
	firstMeant(blocks)
	v.claimFrame(status, "Claim for "+serial, blocks...)
}

// firstMeant lets the first form of a page stand out, and the others less: where
// much can be done, one thing is done mostly.
func firstMeant(blocks []block) {
	found := false
	for _, b := range blocks {
		if b.Form != nil {
			b.Form.Second, found = found, true
		}
	}
}

// unplaced says of a form that was refused, and for which the record has no place
// as it stands by now, why, and what was entered into it: it would be lost.
func unplaced(f *form) block {
	b := block{Heading: "This was not done", Text: []string{f.Error}}
	if f.outdated() {
		b.Text = []string{"Somebody else changed the record meanwhile, and as it stands now there is nothing of this to do. What you entered is below."}
	}
	for _, x := range f.Fields {
		value := x.Value
		if i := slices.IndexFunc(x.Options, func(o option) bool { return o.Chosen }); i >= 0 {
			value = x.Options[i].Label
		}
		if x.Type != "hidden" {
			b.Facts = append(b.Facts, said(fact{Label: x.Label, Value: value})...)
		}
	}
	return b
}

// workshopOf is who does or did the work of a claim.
func (v *visit) workshopOf(c *warrantyv1.Claim) string {
	if c.GetOrganisation() == "" {
		return "the works"
	}
	o, err := v.d.Access.GetOrganisation(v.as(), &accessv1.GetOrganisationRequest{Name: c.GetOrganisation()})
	if err != nil { // the page stands without what they are called
		return bare(c.GetOrganisation())
	}
	return o.GetTitle()
}

// claimFrame prints the page of a claim where who is signed in looks at claims.
func (v *visit) claimFrame(status int, title string, blocks ...block) {
	if v.staff() {
		blocks[0].Links = append(blocks[0].Links, allWaiting, allDecided)
		v.fleetPage(status, title, blocks...)
		return
	}
	p := v.vehicleView(title, append(blocks, block{Links: []link{{Label: "Back to the vehicle", Path: v.at("")}}})...)
	p.Title, p.Note = title, v.note()
	v.render(status, p)
}

// decidingBlocks are what the works may do with a claim, as it stands.
func (v *visit) decidingBlocks(c *warrantyv1.Claim, sent *form) (out []block) {
	if !v.staff() {
		return nil
	}
	switch c.GetState() {
	case warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED, warrantyv1.ClaimState_CLAIM_STATE_APPEALED:
		decide := block{Heading: "Decide", Text: []string{"An engineer or an administrator decides it."}}
		if v.engineer() {
			decide = block{Heading: "Decide", Form: chosen(decideForm(c), sent)}
		}
		out = []block{decide, {Heading: "Ask first", Form: chosen(askForm(c), sent)}}
	case warrantyv1.ClaimState_CLAIM_STATE_ASKED:
		out = []block{{Heading: "Decide", Text: []string{"It can be decided once what was asked is answered."}}}
	}
	if slices.Contains(authorisable, c.GetState()) {
		out = append(out, v.begunBlock(c, sent))
	}
	out = append(out, v.recoveryBlock(c, sent)...)
	if slices.Contains(closable, c.GetState()) {
		out = append(out, block{Heading: "Close it", Text: []string{"It is done with then. An appeal in time and what a supplier gives back can still be recorded."}, Form: chosen(closeForm(c), sent)})
	}
	return out
}

// claimSteps are what was asked and said since the claim was made, the latest first.
func claimSteps(c *warrantyv1.Claim) (out []entry) {
	for _, s := range c.GetSteps() {
		if s.GetText() != "" {
			out = append(out, entry{Term: day(s.GetCreateTime()), Text: s.GetText(), Sub: word(s.GetState(), "CLAIM_STATE_")})
		}
	}
	slices.Reverse(out)
	return out
}

func claimFacts(c *warrantyv1.Claim) []fact {
	t := c.GetTotals()
	facts := []fact{
		{Label: "Stands", Value: word(c.GetState(), "CLAIM_STATE_")}, {Label: "What failed", Value: place(c.GetPosition())},
		{Label: "Failed on", Value: onDay(c.GetFailureDate()).Long()}, {Label: "Noticed", Value: c.GetSymptom()}, {Label: "Cause", Value: c.GetCause()},
		{Label: "Done, or to be done", Value: c.GetRemedy()}, {Label: "Odometer", Value: entered(c.GetReading())},
		{Label: "Exclusions found", Value: place(strings.Join(c.GetExclusions(), ", "))},
	}
	sum := func(label string, minor int64) {
		if minor != 0 {
			facts = append(facts, fact{Label: label, Value: wording.Money(minor, c.GetCurrency())})
		}
	}
	sum("Asked for parts", t.GetPartsMinor())
	sum("Asked for labour", t.GetLabourMinor())
	sum("Asked for other costs", t.GetOtherMinor())
	sum("Asked for in all", t.GetClaimedMinor())
	if c.GetAuthorisation() != nil {
		facts = append(facts, fact{Label: "May be spent before the decision", Value: wording.Money(c.GetAuthorisation().GetLimitMinor(), c.GetCurrency()) + ", " + c.GetAuthorisation().GetText()})
	}
	sum("Paid", t.GetPaidMinor())
	sum("Given back by the supplier", t.GetRecoveredMinor())
	return said(facts...)
}

// linesBlock are the lines of a claim, a part of them at a time: one may have 600.
func (v *visit) linesBlock(c *warrantyv1.Claim) block {
	t := v.claimLines(c)
	from, to, links := v.window("line", len(t.Rows), mostLines)
	t.Rows = t.Rows[from:to]
	return block{Heading: "What is asked for", Table: t, Links: links}
}

// claimLines are the parts, the labour and the other costs of a claim.
func (v *visit) claimLines(c *warrantyv1.Claim) *table {
	t := &table{Caption: "What is asked for", Heads: []string{"What", "How much", "Each", "Amount"}, Empty: "Nothing is asked for yet."}
	for _, p := range c.GetParts() {
		what := cell{Text: p.GetPart(), Mono: true}
		if v.staff() { // for whom the pages of parts are
			what = partCell(p.GetPart())
		}
		what.Sub = strings.Join(slices.DeleteFunc([]string{yes(p.GetFailedLot() != "", "failed lot "+p.GetFailedLot()), yes(p.GetFittedLot() != "", "fitted lot "+p.GetFittedLot())}, func(s string) bool { return s == "" }), ", ")
		t.Rows = append(t.Rows, []cell{what, {Text: strconv.Itoa(int(p.GetQuantity()))}, {Text: wording.Money(p.GetUnitPriceMinor(), c.GetCurrency())},
			{Text: wording.Money(int64(p.GetQuantity())*p.GetUnitPriceMinor(), c.GetCurrency())}})
	}
	for _, l := range c.GetLabour() {
		t.Rows = append(t.Rows, []cell{{Text: l.GetText()}, {Text: wording.Count(int(l.GetMinutes()), "minute")}, {Text: wording.Money(l.GetHourlyRateMinor(), c.GetCurrency()) + " an hour"},
			{Text: wording.Money((int64(l.GetMinutes())*l.GetHourlyRateMinor()+30)/60, c.GetCurrency())}}) // each line to the nearest hundredth
	}
	for _, x := range c.GetOtherCosts() {
		t.Rows = append(t.Rows, []cell{{Text: x.GetText()}, {}, {}, {Text: wording.Money(x.GetAmountMinor(), c.GetCurrency())}})
	}
	return t
}

// decisionText says what was decided, with amounts.
func decisionText(d *warrantyv1.ClaimDecision, currency string) string {
	var paid []string
	for _, x := range []struct {
		what  string
		minor int64
	}{{"parts", d.GetPartsMinor()}, {"labour", d.GetLabourMinor()}, {"other costs", d.GetOtherMinor()}} {
		if x.minor > 0 {
			paid = append(paid, wording.Money(x.minor, currency)+" for "+x.what)
		}
	}
	text := wording.UpperFirst(word(d.GetOutcome(), "CLAIM_OUTCOME_"))
	if len(paid) > 0 {
		text += ", " + strings.Join(paid, ", ")
	}
	return text + ". " + wording.Ended(wording.UpperFirst(d.GetReason()))
}

func decideForm(c *warrantyv1.Claim) *form {
	var outcomes []option
	for o := warrantyv1.ClaimOutcome_CLAIM_OUTCOME_ACCEPTED; o <= warrantyv1.ClaimOutcome_CLAIM_OUTCOME_DECLINED; o++ {
		outcomes = append(outcomes, option{Value: o.String(), Label: wording.UpperFirst(word(o, "CLAIM_OUTCOME_"))})
	}
	amount := func(name, label string) field {
		return amountField(c, name, label, "As in 184.50; empty for nothing.")
	}
	return &form{ID: "decide", Action: claimPath(c.GetName()) + "/decide", Submit: "Decide the claim", Fields: []field{
		{Name: "etag", Type: "hidden", Value: c.GetEtag()},
		{Name: "decision.outcome", Label: "Decision", Options: outcomes},
		amount("decision.parts_minor", "Parts paid for"), amount("decision.labour_minor", "Labour paid for"), amount("decision.other_minor", "Other costs paid for"),
		{Name: "decision.exclusion_id", Label: "Exclusion it rests on", Type: "text", Autocomplete: "off", Hint: "Its short name; empty for none."},
		{Name: "decision.reason", Label: "Why, for the customer", Type: "text", Autocomplete: "off", Required: true}, requestField(),
	}}
}

func askForm(c *warrantyv1.Claim) *form {
	return &form{ID: "ask", Action: claimPath(c.GetName()) + "/ask", Submit: "Ask", Fields: []field{
		{Name: "etag", Type: "hidden", Value: c.GetEtag()}, {Name: "text", Label: "What is missing", Type: "text", Autocomplete: "off", Required: true}, requestField(),
	}}
}

// anAmount is an amount with up to two decimals.
var anAmount = regexp.MustCompile(`^([0-9]{1,10})(?:\.([0-9]{1,2}))?$`)

// amount reads an amount in hundredths; 0 where none was entered.
func (t *typed) amount(name string) int64 {
	text := t.value(name)
	if text == "" {
		return 0
	}
	minor, ok := minorOf(text)
	if !ok {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: text, Want: "an amount, as in 184.50"})
	}
	return minor
}

// minorOf reads an amount in hundredths: "184.50".
func minorOf(text string) (int64, bool) {
	parts := anAmount.FindStringSubmatch(ungrouped(text))
	if parts == nil {
		return 0, false
	}
	minor, err := strconv.ParseInt(parts[1]+(parts[2] + "00")[:2], 10, 64)
	return minor, err == nil
}

func (v *visit) decideClaim() {
	if !v.readForm() {
		return
	}
	entries := typed{visit: v}
	decision := &warrantyv1.ClaimDecision{
		Outcome:    warrantyv1.ClaimOutcome(warrantyv1.ClaimOutcome_value[v.value("decision.outcome")]),
		PartsMinor: entries.amount("decision.parts_minor"), LabourMinor: entries.amount("decision.labour_minor"), OtherMinor: entries.amount("decision.other_minor"),
		Reason: v.value("decision.reason"), ExclusionId: v.value("decision.exclusion_id"),
	}
	err := entries.err()
	if err == nil {
		_, err = v.d.Warranties.DecideClaim(v.as(), &warrantyv1.DecideClaimRequest{Name: v.claimName(), Decision: decision, Etag: v.value("etag"), RequestId: v.request()})
		err = inMoney(err)
	}
	if err != nil {
		f := decideForm(v.shownClaim()).filled(v)
		v.again(err, f, func(status int) { v.claimPage(status, f) })
		return
	}
	v.goTo(claimPath(v.claimName()) + "?done=decided")
}

// shownClaim is the claim of the address, as far as its forms need it.
func (v *visit) shownClaim() *warrantyv1.Claim {
	c, err := v.d.Warranties.GetClaim(v.as(), &warrantyv1.GetClaimRequest{Name: v.claimName()})
	if err != nil { // what is wrong is said where the page asks again
		return &warrantyv1.Claim{Name: v.claimName()}
	}
	return proto.CloneOf(c)
}

func (v *visit) askClaimant() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Warranties.AskClaimant(v.as(), &warrantyv1.AskClaimantRequest{Name: v.claimName(), Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
	if err != nil {
		f := askForm(v.shownClaim()).filled(v)
		v.again(err, f, func(status int) { v.claimPage(status, f) })
		return
	}
	v.goTo(claimPath(v.claimName()) + "?done=asked")
}

// showFollowUps lists the enquiries that the works is to come back to.
func (v *visit) showFollowUps() {
	r, err := v.d.Enquiries.ListEnquiries(v.as(), &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", OpenOnly: true,
		FollowUpByDate: vehiclewire.DateProto(v.today().AddDays(28)), PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Enquiries", Heads: []string{"By", "Vehicle", "What was asked"}, Empty: "Nobody is to be called back within the next four weeks."}
	// What was promised first is answered first.
	slices.SortStableFunc(r.GetEnquiries(), func(a, b *enquiryv1.Enquiry) int {
		return onDay(a.GetFollowUpDate()).Compare(onDay(b.GetFollowUpDate()))
	})
	for _, e := range r.GetEnquiries() {
		serial, by := serialIn(e.GetName()), onDay(e.GetFollowUpDate())
		when := cell{Text: by.Long(), Tight: true}
		if by.Before(v.today()) {
			when.Sub = "overdue"
		}
		t.Rows = append(t.Rows, []cell{when, {Text: serial, Path: vehiclePath(serial), Mono: true}, {Text: e.GetQuestion(), Path: vehiclePath(serial) + "/enquiries/" + url.PathEscape(bare(e.GetName())), Sub: e.GetSymptom()}})
	}
	v.fleetPage(http.StatusOK, "Enquiries to come back to", block{Table: t, Links: more("/fleet/enquiries?page=", url.QueryEscape(r.GetNextPageToken()))})
}
