package desk

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/wording"
)

// What the works does about the money of a claim beside deciding it: work that may
// begin before, what a supplier gives back, and that all is paid.

// authorisable are the states in which work may be let begin.
var authorisable = []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED, warrantyv1.ClaimState_CLAIM_STATE_ASKED}

// closable are the states of a claim that is decided and not done with.
var closable = []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, warrantyv1.ClaimState_CLAIM_STATE_DECLINED}

// paidOut are the states in which a supplier can be asked for what was paid.
var paidOut = []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, warrantyv1.ClaimState_CLAIM_STATE_APPEALED, warrantyv1.ClaimState_CLAIM_STATE_CLOSED}

// amountField asks for an amount in the currency of a claim.
func amountField(c *warrantyv1.Claim, name, label, hint string) field {
	if c.GetCurrency() != "" {
		label += ", " + c.GetCurrency()
	}
	return field{Name: name, Label: label, Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: hint}
}

// begunBlock lets the work begin before the decision, or raises what it may cost.
func (v *visit) begunBlock(c *warrantyv1.Claim, sent *form) block {
	b := block{Heading: "Let the work begin", Text: []string{"What may be spent now is paid, whatever is decided later. It can be raised and not lowered."}}
	switch a := c.GetAuthorisation(); {
	case !v.engineer():
		b.Text = []string{"An engineer or an administrator says how much may be spent before the decision."}
		return b
	case a != nil:
		b.Text = []string{"Since " + day(a.GetAuthoriseTime()) + " it may cost " + wording.Money(a.GetLimitMinor(), c.GetCurrency()) + " before the decision. It can be raised and not lowered."}
	}
	b.Form = chosen(begunForm(c), sent)
	return b
}

func begunForm(c *warrantyv1.Claim) *form {
	limit := amountField(c, "limit_minor", "May be spent before the decision", "As in 184.50.")
	f := &form{ID: "authorise", Action: claimPath(c.GetName()) + "/authorise", Submit: "Let the work begin"}
	if a := c.GetAuthorisation(); a != nil {
		limit.Value, f.Submit = plainMoney(a.GetLimitMinor()), "Raise it"
	}
	limit.Required = true
	f.Fields = []field{limit, {Name: "text", Label: "For what, without names", Lines: 2, Hint: "As in take the transfer case out and look."},
		{Name: "etag", Type: "hidden", Value: c.GetEtag()}, requestField()}
	return f
}

func (v *visit) authoriseClaim() {
	v.dealWithClaim(begunForm, "authorised", func(t *typed) func() error {
		limit := t.amount("limit_minor")
		return func() error {
			_, err := v.d.Warranties.AuthoriseClaim(v.as(), &warrantyv1.AuthoriseClaimRequest{Name: v.claimName(), LimitMinor: limit, Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
			return err
		}
	})
}

// dealWithClaim reads a form about the money of a claim, and does what it asks
// once everything in it can be read. With something wrong it is shown again.
func (v *visit) dealWithClaim(show func(*warrantyv1.Claim) *form, done string, read func(*typed) func() error) {
	if !v.readForm() {
		return
	}
	entries := &typed{visit: v}
	act := read(entries)
	err := entries.err()
	if err == nil {
		err = inMoney(act())
	}
	if err != nil {
		f := show(v.shownClaim()).filled(v)
		v.again(err, f, func(status int) { v.claimPage(status, f) })
		return
	}
	v.goTo(claimPath(v.claimName()) + "?done=" + done)
}

// inHundredths is an amount as the services count it.
var inHundredths = regexp.MustCompile(`[0-9]+`)

// inMoney says of the amounts in a refusal how they are typed: "1 to 8450" is "0.01
// to 84.50".
func inMoney(err error) error {
	if err == nil {
		return nil
	}
	refused := *refusal(err)
	refused.Fields = slices.Clone(refused.Fields)
	for i := range refused.Fields {
		x := &refused.Fields[i]
		if strings.HasSuffix(x.Name, "_minor") || x.Name == "decision" || x.Name == "decision.outcome" {
			x.Got, x.Want = asTyped(x.Got), asTyped(x.Want)
		}
	}
	return &refused
}

func asTyped(text string) string {
	return inHundredths.ReplaceAllStringFunc(text, func(digits string) string {
		minor, err := strconv.ParseInt(digits, 10, 64)
		if err != nil {
			return digits
		}
		return wording.Money(minor, "")
	})
}

// recoveryBlock says what a supplier was asked for and gave back, and is where it
// is recorded. Where nothing was paid, there is nothing to ask for.
func (v *visit) recoveryBlock(c *warrantyv1.Claim, sent *form) (out []block) {
	if r := c.GetRecovery(); r == nil && (c.GetTotals().GetPaidMinor() == 0 || !slices.Contains(paidOut, c.GetState())) {
		return nil
	}
	b := block{Heading: "Asked back from the supplier"}
	if r := c.GetRecovery(); r == nil {
		b.Text = []string{"Of what was paid, nothing was asked back from a supplier so far."}
	} else {
		b.Facts = said(fact{Label: "Supplier", Value: r.GetSupplier()}, fact{Label: "By their term", Value: termTitle(c, r.GetTerm())}, fact{Label: "Stands", Value: word(r.GetState(), "RECOVERY_STATE_")},
			fact{Label: "Asked for", Value: wording.Money(r.GetAskedMinor(), c.GetCurrency())}, fact{Label: "Received", Value: wording.Money(r.GetReceivedMinor(), c.GetCurrency())},
			fact{Label: "Left with the works", Value: wording.Money(c.GetTotals().GetNetMinor(), c.GetCurrency())}, fact{Label: "Reference or reason", Value: r.GetText()})
	}
	if slices.Contains(paidOut, c.GetState()) {
		b.Form = chosen(suggested(recoveryForm(c), c), sent)
	}
	return []block{b}
}

// termTitle is what a term is called in the cover of a claim.
func termTitle(c *warrantyv1.Claim, term string) string {
	for _, t := range c.GetCover().GetTerms() {
		if t.GetTerm() == term {
			return t.GetTitle()
		}
	}
	return strings.Replace(strings.TrimPrefix(term, "warrantyTerms/"), "/versions/", ", version ", 1)
}

// supplierTerms are what suppliers promised of what failed.
func supplierTerms(c *warrantyv1.Claim) []*warrantyv1.TermCover {
	return slices.DeleteFunc(slices.Clone(c.GetCover().GetTerms()), func(t *warrantyv1.TermCover) bool { return t.GetSupplier() == "" })
}

// recoveryNext are how far it may come next.
func recoveryNext(now warrantyv1.RecoveryState) []warrantyv1.RecoveryState {
	const asked, agreed, received, refused = warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, warrantyv1.RecoveryState_RECOVERY_STATE_AGREED,
		warrantyv1.RecoveryState_RECOVERY_STATE_RECEIVED, warrantyv1.RecoveryState_RECOVERY_STATE_REFUSED
	switch now {
	case asked:
		return []warrantyv1.RecoveryState{agreed, received, refused}
	case agreed, received: // and of what was received the rest
		return []warrantyv1.RecoveryState{received, refused}
	}
	return []warrantyv1.RecoveryState{asked}
}

// recoveryForm asks what a supplier does, beginning with what is on record.
func recoveryForm(c *warrantyv1.Claim) *form {
	r := c.GetRecovery()
	states := []option{{Label: toChoose, Chosen: true}}
	for _, s := range recoveryNext(r.GetState()) {
		states = append(states, option{Value: s.String(), Label: wording.UpperFirst(word(s, "RECOVERY_STATE_"))})
	}
	terms := []option{}
	for _, t := range supplierTerms(c) {
		terms = append(terms, option{Value: t.GetTerm(), Label: t.GetTitle() + ", " + t.GetSupplier()})
	}
	terms = append([]option{{Label: "none"}}, offered(terms, r.GetTerm(), termTitle(c, r.GetTerm()))...)
	asked := amountField(c, "recovery.asked_minor", "Asked for", "At most "+wording.Money(c.GetTotals().GetPaidMinor(), c.GetCurrency())+", which was paid.")
	received := amountField(c, "recovery.received_minor", "Received so far, in all", "All that came so far, not only what came last.")
	supplier := field{Name: "recovery.supplier", Label: "Supplier", Type: "text", Autocomplete: "off", Value: r.GetSupplier(), Required: true}
	f := &form{ID: "recovery", Action: claimPath(c.GetName()) + "/recovery", Submit: "Record it"}
	if len(states) == 2 { // there is nothing to choose
		states = []option{{Value: states[1].Value, Label: states[1].Label, Chosen: true}}
		received = field{Name: received.Name, Type: "hidden"}
	}
	if r != nil {
		asked.Value, received.Value = plainMoney(r.GetAskedMinor()), plainMoney(r.GetReceivedMinor())
	}
	f.Fields = []field{{Name: "recovery.state", Label: "How far it has come", Options: states}, supplier, {Name: "recovery.term", Label: "Term that it rests on", Options: terms}, asked, received,
		{Name: "recovery.text", Label: "Their reference, or why they refused, without names", Lines: 2}, {Name: "etag", Type: "hidden", Value: c.GetEtag()}, requestField()}
	return f
}

// suggested begins the first asking with what was paid, and with the supplier where
// only one promised something. It is on record nowhere, so that a form that is
// shown again has no part of it.
func suggested(f *form, c *warrantyv1.Claim) *form {
	if c.GetRecovery() != nil {
		return f
	}
	f.field("recovery.asked_minor").Value = plainMoney(c.GetTotals().GetPaidMinor())
	if terms := supplierTerms(c); len(terms) == 1 {
		f.field("recovery.supplier").Value = terms[0].GetSupplier()
		f.field("recovery.term").Options = offered(f.field("recovery.term").Options, terms[0].GetTerm(), "")
	}
	return f
}

func (v *visit) recordRecovery() {
	v.dealWithClaim(recoveryForm, "recovery", func(t *typed) func() error {
		r := &warrantyv1.ClaimRecovery{
			State:    warrantyv1.RecoveryState(warrantyv1.RecoveryState_value[v.value("recovery.state")]),
			Supplier: v.value("recovery.supplier"), Term: v.value("recovery.term"), Text: v.value("recovery.text"),
			AskedMinor: t.amount("recovery.asked_minor"), ReceivedMinor: t.amount("recovery.received_minor"),
		}
		return func() error {
			_, err := v.d.Warranties.RecordRecovery(v.as(), &warrantyv1.RecordRecoveryRequest{Name: v.claimName(), Recovery: r, Etag: v.value("etag"), RequestId: v.request()})
			return err
		}
	})
}

// closeForm says that a claim is done with.
func closeForm(c *warrantyv1.Claim) *form {
	return &form{ID: "close", Action: claimPath(c.GetName()) + "/close", Submit: "Close the claim", Fields: []field{
		{Name: "text", Label: "How it ended, without names", Lines: 2, Hint: "As in credited with the May account."},
		{Name: "etag", Type: "hidden", Value: c.GetEtag()}, requestField(),
	}}
}

func (v *visit) closeClaim() {
	v.dealWithClaim(closeForm, "claim-closed", func(*typed) func() error {
		return func() error {
			_, err := v.d.Warranties.CloseClaim(v.as(), &warrantyv1.CloseClaimRequest{Name: v.claimName(), Text: v.value("text"), Etag: v.value("etag"), RequestId: v.request()})
			return err
		}
	})
}
