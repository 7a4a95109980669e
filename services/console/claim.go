package console

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// CreateClaim begins a claim: what a file says, and in its place what was typed
// besides.
func (c *Console) CreateClaim(ctx context.Context, serial string, raw []byte, typed ClaimTyped) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	m := &warrantyv1.Claim{}
	if len(raw) > 0 {
		if err := readYAML(raw, m); err != nil {
			return err
		}
	}
	if err := typed.into(m); err != nil {
		return err
	}
	m, err = c.Warranties.CreateClaim(ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/" + serialOf(name), Claim: m, RequestId: uuid.NewString()})
	return c.printClaim(m, err)
}

// UpdateClaim changes what a draft says, or a claim about which something was
// asked.
func (c *Console) UpdateClaim(ctx context.Context, name string, raw []byte, typed ClaimTyped) error {
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	if err != nil {
		return err
	}
	if len(raw) > 0 {
		said := &warrantyv1.Claim{}
		if err := readYAML(raw, said); err != nil {
			return err
		}
		said.Name, said.Etag = m.GetName(), m.GetEtag()
		m = said
	}
	if err := typed.into(m); err != nil {
		return err
	}
	m, err = c.Warranties.UpdateClaim(ctx, &warrantyv1.UpdateClaimRequest{Claim: m, RequestId: uuid.NewString()})
	return c.printClaim(m, err)
}

func (c *Console) printClaim(m *warrantyv1.Claim, err error) error {
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { claimSheet(s, m) })
}

// Claim prints a claim in full.
func (c *Console) Claim(ctx context.Context, name string) error {
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	return c.printClaim(m, err)
}

// Claims prints the claims of a vehicle, or with "-" of all, in one state only
// where that is named.
func (c *Console) Claims(ctx context.Context, serial, state string) error {
	r := &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", PageSize: 500}
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		r.Parent = "vehicles/" + serialOf(name)
	}
	if state != "" {
		value, ok := enumOf(warrantyv1.ClaimState_value, "CLAIM_STATE_", state)
		if !ok {
			return fault.InvalidField("state", state, kinds(warrantyv1.ClaimState_name, "CLAIM_STATE_"))
		}
		r.States = []warrantyv1.ClaimState{warrantyv1.ClaimState(value)}
	}
	all, err := page.All(func(token string) ([]*warrantyv1.Claim, string, error) {
		r.PageToken = token
		answer, err := c.Warranties.ListClaims(ctx, r)
		return answer.GetClaims(), answer.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, m := range all {
			s.text(serialOf(m.GetName())+"  ", fmt.Sprintf("%s, %s, failed %s: %s; claimed %s, paid %s", word(m.GetState(), "CLAIM_STATE_"), m.GetPosition(),
				day(m.GetFailureDate()), m.GetSymptom(), wording.Money(m.GetTotals().GetClaimedMinor(), m.GetCurrency()), wording.Money(m.GetTotals().GetPaidMinor(), m.GetCurrency())))
			s.line("         %s", m.GetName())
		}
		if len(all) == 0 {
			s.line("There is no claim of that kind.")
		}
	})
}

// claimSheet prints all that a claim says and all that was said to it.
func claimSheet(s *sheet, m *warrantyv1.Claim) {
	s.line("%s", m.GetName())
	s.line("%s: %s, failed %s", word(m.GetState(), "CLAIM_STATE_"), m.GetPosition(), day(m.GetFailureDate()))
	for _, of := range [][2]string{{"symptom: ", m.GetSymptom()}, {"cause:   ", m.GetCause()}, {"remedy:  ", m.GetRemedy()}, {"reading: ", entered(m.GetReading())}} {
		if of[1] != "" {
			s.text("  "+of[0], of[1])
		}
	}
	claimLines(s, m)
	if a := m.GetAuthorisation(); a != nil {
		s.text("  authorised: ", "up to "+wording.Money(a.GetLimitMinor(), m.GetCurrency())+": "+a.GetText())
	}
	if m.GetCover() != nil {
		s.text("  cover then: ", m.GetCover().GetSentence())
		coverReasons(s, "    - ", m.GetCover())
	}
	for _, d := range m.GetDecisions() {
		s.text("  decided: ", word(d.GetOutcome(), "CLAIM_OUTCOME_")+", "+wording.Money(d.GetPartsMinor()+d.GetLabourMinor()+d.GetOtherMinor(), m.GetCurrency())+": "+d.GetReason())
		if d.GetAppealUntilDate() != nil {
			s.line("    an appeal can be made until %s", day(d.GetAppealUntilDate()))
		}
	}
	if m.GetAnswerByDate() != nil {
		s.line("  the appeal is to be answered by %s", day(m.GetAnswerByDate()))
	}
	if b := m.GetRecovery(); b != nil {
		s.text("  supplier: ", fmt.Sprintf("%s, %s: asked %s, received %s. %s", b.GetSupplier(), word(b.GetState(), "RECOVERY_STATE_"),
			wording.Money(b.GetAskedMinor(), m.GetCurrency()), wording.Money(b.GetReceivedMinor(), m.GetCurrency()), b.GetText()))
	}
	was := warrantyv1.ClaimState_CLAIM_STATE_DRAFT
	for _, step := range m.GetSteps() {
		to := word(step.GetState(), "CLAIM_STATE_")
		if step.GetState() == was { // an authorisation, or what a supplier said
			if to = "noted"; step.GetText() == "" {
				continue
			}
		}
		was = step.GetState()
		s.text("  "+strings.TrimSpace(at(step.GetCreateTime()))+"  ", strings.TrimSuffix(to+": "+step.GetText(), ": "))
	}
}

// claimLines are the costs of a claim, and their sums.
func claimLines(s *sheet, m *warrantyv1.Claim) {
	var rows [][]string
	for _, p := range m.GetParts() {
		lot := ""
		if p.GetFailedLot() != "" {
			lot = ", lot " + p.GetFailedLot() + " failed"
		}
		rows = append(rows, []string{fmt.Sprintf("%d x %s%s", p.GetQuantity(), p.GetPart(), lot), wording.Money(p.GetUnitPriceMinor(), m.GetCurrency()) + " each"})
	}
	for _, l := range m.GetLabour() {
		rows = append(rows, []string{fmt.Sprintf("%s, %d minutes", l.GetText(), l.GetMinutes()), wording.Money(l.GetHourlyRateMinor(), m.GetCurrency()) + " an hour"})
	}
	for _, o := range m.GetOtherCosts() {
		rows = append(rows, []string{o.GetText(), wording.Money(o.GetAmountMinor(), m.GetCurrency())})
	}
	t := m.GetTotals()
	rows = append(rows, []string{"claimed", wording.Money(t.GetClaimedMinor(), m.GetCurrency())})
	if len(m.GetDecisions()) > 0 {
		rows = append(rows, []string{"paid", wording.Money(t.GetPaidMinor(), m.GetCurrency())}, []string{"left with the works", wording.Money(t.GetNetMinor(), m.GetCurrency())})
	}
	s.table("  ", rows)
}

// MoveClaim does to a claim what is named: submit, ask, appeal, close, withdraw.
func (c *Console) MoveClaim(ctx context.Context, name, move, text string) error {
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	if err != nil {
		return err
	}
	tag, id := m.GetEtag(), uuid.NewString()
	switch move {
	case "submit":
		m, err = c.Warranties.SubmitClaim(ctx, &warrantyv1.SubmitClaimRequest{Name: name, Etag: tag, Text: text, RequestId: id})
	case "ask":
		m, err = c.Warranties.AskClaimant(ctx, &warrantyv1.AskClaimantRequest{Name: name, Etag: tag, Text: text, RequestId: id})
	case "appeal":
		m, err = c.Warranties.AppealClaim(ctx, &warrantyv1.AppealClaimRequest{Name: name, Etag: tag, Text: text, RequestId: id})
	case "close":
		m, err = c.Warranties.CloseClaim(ctx, &warrantyv1.CloseClaimRequest{Name: name, Etag: tag, Text: text, RequestId: id})
	case "withdraw":
		m, err = c.Warranties.WithdrawClaim(ctx, &warrantyv1.WithdrawClaimRequest{Name: name, Etag: tag, Text: text, RequestId: id})
	default:
		return fault.InvalidField("move", move, "submit, ask, appeal, close or withdraw")
	}
	return c.printClaim(m, err)
}

// AuthoriseClaim lets work begin before the decision.
func (c *Console) AuthoriseClaim(ctx context.Context, name, limit, text string) error {
	minor, err := parseMoney("limit", limit)
	if err != nil {
		return err
	}
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	if err != nil {
		return err
	}
	m, err = c.Warranties.AuthoriseClaim(ctx, &warrantyv1.AuthoriseClaimRequest{Name: name, Etag: m.GetEtag(), LimitMinor: minor, Text: text, RequestId: uuid.NewString()})
	return c.printClaim(m, err)
}

// Decision is a decision on a claim, as typed; an amount that is left out is
// all of it where the outcome is accepted, and nothing otherwise.
type Decision struct {
	Outcome, Parts, Labour, Other, Reason, Exclusion string
}

// DecideClaim decides a claim or an appeal.
func (c *Console) DecideClaim(ctx context.Context, name string, d Decision) error {
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	if err != nil {
		return err
	}
	value, ok := enumOf(warrantyv1.ClaimOutcome_value, "CLAIM_OUTCOME_", d.Outcome)
	if !ok {
		return fault.InvalidField("outcome", d.Outcome, kinds(warrantyv1.ClaimOutcome_name, "CLAIM_OUTCOME_"))
	}
	decision := &warrantyv1.ClaimDecision{Outcome: warrantyv1.ClaimOutcome(value), Reason: d.Reason, ExclusionId: d.Exclusion}
	if decision.GetOutcome() == warrantyv1.ClaimOutcome_CLAIM_OUTCOME_ACCEPTED {
		decision.PartsMinor, decision.LabourMinor, decision.OtherMinor = m.GetTotals().GetPartsMinor(), m.GetTotals().GetLabourMinor(), m.GetTotals().GetOtherMinor()
	}
	for _, of := range []struct {
		name, typed string
		to          *int64
	}{{"parts", d.Parts, &decision.PartsMinor}, {"labour", d.Labour, &decision.LabourMinor}, {"other", d.Other, &decision.OtherMinor}} {
		if of.typed == "" {
			continue
		}
		if *of.to, err = parseMoney(of.name, of.typed); err != nil {
			return err
		}
	}
	m, err = c.Warranties.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: name, Etag: m.GetEtag(), Decision: decision, RequestId: uuid.NewString()})
	return c.printClaim(m, err)
}

// Recovery is what a supplier does, as typed; what is left out stays.
type Recovery struct {
	State, Supplier, Term, Asked, Received, Text string
}

// RecordRecovery records what a supplier was asked for and gave back.
func (c *Console) RecordRecovery(ctx context.Context, name string, b Recovery) error {
	m, err := c.Warranties.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name})
	if err != nil {
		return err
	}
	value, ok := enumOf(warrantyv1.RecoveryState_value, "RECOVERY_STATE_", b.State)
	if !ok {
		return fault.InvalidField("state", b.State, kinds(warrantyv1.RecoveryState_name, "RECOVERY_STATE_"))
	}
	back := m.GetRecovery()
	if back == nil {
		back = &warrantyv1.ClaimRecovery{}
	}
	back.State, back.Text = warrantyv1.RecoveryState(value), b.Text
	if b.Supplier != "" {
		back.Supplier = b.Supplier
	}
	if b.Term != "" {
		back.Term = b.Term
	}
	if b.Asked != "" {
		if back.AskedMinor, err = parseMoney("asked", b.Asked); err != nil {
			return err
		}
	}
	if b.Received != "" {
		if back.ReceivedMinor, err = parseMoney("received", b.Received); err != nil {
			return err
		}
	}
	m, err = c.Warranties.RecordRecovery(ctx, &warrantyv1.RecordRecoveryRequest{Name: name, Etag: m.GetEtag(), Recovery: back, RequestId: uuid.NewString()})
	return c.printClaim(m, err)
}

// ClaimSums prints what claims came to, by what is named.
func (c *Console) ClaimSums(ctx context.Context, by string, from, to vehicle.Date) error {
	value, ok := enumOf(warrantyv1.SumBy_value, "SUM_BY_", by)
	if !ok {
		return fault.InvalidField("by", by, kinds(warrantyv1.SumBy_name, "SUM_BY_"))
	}
	all, err := page.All(func(token string) ([]*warrantyv1.ClaimSum, string, error) {
		r, err := c.Warranties.ListClaimSums(ctx, &warrantyv1.ListClaimSumsRequest{
			SumBy: warrantyv1.SumBy(value), StartDate: vehiclewire.DateProto(from), EndDate: vehiclewire.DateProto(to), PageSize: 500, PageToken: token})
		return r.GetClaimSums(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("There is no claim to sum up.")
			return
		}
		rows := [][]string{{by, "claims", "accepted", "claimed", "paid", "recovered", "left"}}
		for _, m := range all {
			key, t := m.GetKey(), m.GetTotals()
			if key == "" {
				key = "(not said)"
			}
			rows = append(rows, []string{strings.TrimPrefix(key, "vehicles/"), fmt.Sprint(m.GetClaims()), fmt.Sprint(m.GetAccepted()), wording.Money(t.GetClaimedMinor(), m.GetCurrency()),
				wording.Money(t.GetPaidMinor(), m.GetCurrency()), wording.Money(t.GetRecoveredMinor(), m.GetCurrency()), wording.Money(t.GetNetMinor(), m.GetCurrency())})
		}
		s.table("", rows)
	})
}

// ClaimTyped is what a claim says, as typed. What is empty is left as it is; the
// costs, where there are any, take the place of all of their kind.
type ClaimTyped struct {
	Position, Symptom, Cause, Remedy, Currency, Organisation, ServiceEntry string

	Failed     vehicle.Date
	Reading    string   // "1200 mi"
	Exclusions []string // "wear"
	Parts      []string // "AP-1110 x2 at 120.00"
	Labour     []string // "gearbox out and in, 300 minutes at 60.00", or "2.5 hours"
	Other      []string // "carriage at 15.00"
}

// into puts what was typed into a claim.
func (t *ClaimTyped) into(m *warrantyv1.Claim) error {
	for _, of := range []struct {
		typed string
		to    *string
	}{{t.Position, &m.Position}, {t.Symptom, &m.Symptom}, {t.Cause, &m.Cause}, {t.Remedy, &m.Remedy}, {t.Currency, &m.Currency}, {t.ServiceEntry, &m.ServiceEntry}} {
		if of.typed != "" {
			*of.to = of.typed
		}
	}
	if t.Organisation != "" {
		m.Organisation = organisationName(t.Organisation)
	}
	if !t.Failed.IsZero() {
		m.FailureDate = vehiclewire.DateProto(t.Failed)
	}
	if t.Reading != "" {
		reading, err := odometer("reading", t.Reading, "")
		if err != nil {
			return err
		}
		m.Reading = reading
	}
	if len(t.Exclusions) > 0 {
		m.Exclusions = slices.Clone(t.Exclusions)
	}
	return t.costs(m)
}

// costs reads the lines of costs.
func (t *ClaimTyped) costs(m *warrantyv1.Claim) error {
	if len(t.Parts) > 0 {
		m.Parts = nil
	}
	for _, text := range t.Parts {
		what, price, err := priced("part", text, "as in 'AP-1110 x2 at 120.00'")
		if err != nil {
			return err
		}
		number, count, found := strings.Cut(what, " x")
		n := int32(1)
		if found {
			if _, err := fmt.Sscanf(count+"\n", "%d\n", &n); err != nil {
				return fault.InvalidField("part", text, "as in 'AP-1110 x2 at 120.00'")
			}
		}
		m.Parts = append(m.Parts, &warrantyv1.ClaimPart{Part: strings.TrimSpace(number), Quantity: n, UnitPriceMinor: price})
	}
	if len(t.Labour) > 0 {
		m.Labour = nil
	}
	for _, text := range t.Labour {
		const want = "as in 'gearbox out and in, 300 minutes at 60.00' or 'gearbox out and in, 2.5 hours at 60.00', whole minutes and the rate of an hour"
		what, rate, err := priced("labour", text, want)
		if err != nil {
			return err
		}
		i := strings.LastIndex(what, ",")
		if i < 0 {
			return fault.InvalidField("labour", text, want)
		}
		n, ok := vehicle.ParseMinutes(strings.TrimSpace(what[i+1:]))
		if !ok {
			return fault.InvalidField("labour", text, want)
		}
		m.Labour = append(m.Labour, &warrantyv1.ClaimLabour{Text: strings.TrimSpace(what[:i]), Minutes: int32(n), HourlyRateMinor: rate})
	}
	if len(t.Other) > 0 {
		m.OtherCosts = nil
	}
	for _, text := range t.Other {
		what, amount, err := priced("cost", text, "as in 'carriage at 15.00'")
		if err != nil {
			return err
		}
		m.OtherCosts = append(m.OtherCosts, &warrantyv1.ClaimCost{Text: what, AmountMinor: amount})
	}
	return nil
}

// priced reads "something at 15.00".
func priced(field, text, want string) (what string, minor int64, err error) {
	i := strings.LastIndex(text, " at ")
	if i < 0 {
		return "", 0, fault.InvalidField(field, text, want)
	}
	minor, err = parseMoney(field, strings.TrimSpace(text[i+len(" at "):]))
	return strings.TrimSpace(text[:i]), minor, err
}
