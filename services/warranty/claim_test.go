package warranty_test

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

func move(by, on, text string) Move {
	d := day(on)
	return Move{By: by, Time: time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC), On: d, Text: text}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// draft claims 480.00 of parts, 97.50 of labour and 20.00 of carriage.
func draft() Claim {
	return must(Begin(Claim{
		Serial: "AM0147P", ID: "0192f0", Position: "transfer-case", Failed: day("2026-09-01"),
		Symptom: "knock on overrun", Cause: "bearing", Remedy: "new bearing", Currency: "GBP",
		Parts:  []ClaimPart{{Part: "AP-3100", Quantity: 2, FailedLot: "L07", FittedLot: "L09", UnitPrice: 24000}},
		Labour: []ClaimLabour{{Text: "transfer case out and in", Minutes: 90, Rate: 6500}},
		Other:  []ClaimCost{{Text: "carriage", Amount: 2000}},
	}, move("dealer", "2026-09-02", "")))
}

func submitted(cover State) Claim {
	c := &Cover{State: cover}
	return must(draft().Submit(move("dealer", "2026-09-03", ""), c))
}

func whole() Decision {
	return Decision{Outcome: AcceptWhole, Parts: 48000, Work: 9750, Other: 2000, Reason: "Covered."}
}

func declined() Decision {
	return Decision{Outcome: Decline, Reason: "Wear.", Exclusion: "wear"}
}

// partly pays some of it.
func partly(parts int64) Decision {
	return Decision{Outcome: AcceptPart, Parts: parts, Reason: "Half of it."}
}

func TestTotalsOfAClaim(t *testing.T) {
	c := must(submitted(Covered).Decide(move("works", "2026-09-05", ""), whole(), StandardAppeals()))
	c = must(c.Recover(move("works", "2026-09-06", ""), Recovery{State: RecoveryAsked, Supplier: "Brookford Gears", Asked: 48000}))
	c = must(c.Recover(move("works", "2026-10-06", ""), Recovery{State: RecoveryReceived, Supplier: "Brookford Gears", Asked: 48000, Received: 30000}))
	if got, want := c.Totals(), (Totals{Parts: 48000, Work: 9750, Other: 2000, Claimed: 59750, Paid: 59750, Recovered: 30000, Net: 29750}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	for minutes, want := range map[int]int64{1: 1, 29: 17, 30: 18, 31: 18, 60: 35} { // at 0.35 an hour: 0.583, 16.917, 17.5, 18.083, 35
		l := Claim{Labour: []ClaimLabour{{Minutes: minutes, Rate: 35}}}
		if got := l.Totals().Work; got != want {
			t.Errorf("%d minutes: got %d, want %d", minutes, got, want)
		}
	}
}

func TestTheLifeOfAClaim(t *testing.T) {
	a := StandardAppeals()
	c := draft()
	c = must(c.Submit(move("dealer", "2026-09-03", ""), &Cover{State: Covered}))
	c = must(c.Ask(move("works", "2026-09-04", "Which lot was the bearing?")))
	c = must(c.Edited(c, move("dealer", "2026-09-05", "")))
	c = must(c.Submit(move("dealer", "2026-09-05", "L07, as said now."), nil))
	c = must(c.Authorise(move("works", "2026-09-05", "Take it out and look."), 10000))
	c = must(c.Decide(move("works", "2026-09-10", ""), partly(24000), a))
	c = must(c.Appeal(move("dealer", "2026-11-09", "Both bearings had failed."), nil))
	if got := c.AnswerBy(a); got != day("2026-12-19") {
		t.Errorf("to be answered by %s", got) // 40 days after 9 November
	}
	c = must(c.Ask(move("chief", "2026-11-10", "Is the other bearing kept?")))
	c = must(c.Submit(move("dealer", "2026-11-12", "Yes."), nil))
	if got := c.AnswerBy(a); got != day("2026-12-19") {
		t.Errorf("after a question to be answered by %s", got)
	}
	c = must(c.Decide(move("chief", "2026-11-20", ""), whole(), a))
	c = must(c.Close(move("works", "2026-11-30", "credited with the November account")))
	var states []ClaimState
	for _, s := range c.Steps {
		states = append(states, s.State)
	}
	want := []ClaimState{Submitted, Asked, Submitted, Submitted, Accepted, Appealed, Asked, Appealed, Accepted, Closed}
	if !slices.Equal(states, want) || c.State != Closed || len(c.Decisions) != 2 || c.Cover.State != Covered {
		t.Errorf("got %v, want %v", states, want)
	}
	if d := c.Decisions; d[0].AppealUntil != day("2026-11-09") || !d[1].AppealUntil.IsZero() || d[1].By != "chief" {
		t.Errorf("decisions: %+v", d)
	}
	if !c.AnswerBy(a).IsZero() {
		t.Error("something is to be answered in the end")
	}
}

// every move, with what makes it right, by name.
var every = map[string]func(Claim) (Claim, error){
	"edited": func(c Claim) (Claim, error) { return c.Edited(c, move("dealer", "2026-09-20", "")) },
	"submitted": func(c Claim) (Claim, error) {
		return c.Submit(move("dealer", "2026-09-20", ""), &Cover{State: Covered})
	},
	"asked":      func(c Claim) (Claim, error) { return c.Ask(move("works", "2026-09-20", "Why?")) },
	"authorised": func(c Claim) (Claim, error) { return c.Authorise(move("works", "2026-09-20", "Go on."), 100) },
	"decided": func(c Claim) (Claim, error) {
		return c.Decide(move("another", "2026-09-20", ""), whole(), StandardAppeals())
	},
	"appealed": func(c Claim) (Claim, error) { return c.Appeal(move("dealer", "2026-09-20", "No."), nil) },
	"recovered": func(c Claim) (Claim, error) {
		return c.Recover(move("works", "2026-09-20", ""), Recovery{State: RecoveryAsked, Supplier: "Brookford Gears", Asked: 100})
	},
	"closed":    func(c Claim) (Claim, error) { return c.Close(move("works", "2026-09-20", "")) },
	"withdrawn": func(c Claim) (Claim, error) { return c.Withdraw(move("dealer", "2026-09-20", "")) },
}

func TestWhichMovesAClaimAllows(t *testing.T) {
	a := StandardAppeals()
	partial := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), partly(24000), a))
	cut := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), declined(), a))
	for name, c := range map[string]struct {
		claim Claim
		may   []string
	}{
		"a draft":           {draft(), []string{"edited", "submitted", "withdrawn"}},
		"submitted":         {submitted(Covered), []string{"asked", "authorised", "decided", "withdrawn"}},
		"asked":             {must(submitted(Covered).Ask(move("works", "2026-09-04", "Why?"))), []string{"edited", "submitted", "authorised", "withdrawn"}},
		"accepted partly":   {partial, []string{"appealed", "recovered", "closed"}},
		"declined":          {cut, []string{"appealed", "closed"}},
		"appealed":          {must(partial.Appeal(move("dealer", "2026-09-12", "No."), nil)), []string{"asked", "decided", "recovered", "withdrawn"}},
		"closed partly":     {must(partial.Close(move("works", "2026-09-12", ""))), []string{"appealed", "recovered"}},
		"closed in whole":   {must(must(submitted(Covered).Decide(move("works", "2026-09-10", ""), whole(), a)).Close(move("works", "2026-09-12", ""))), []string{"recovered"}},
		"withdrawn":         {must(draft().Withdraw(move("dealer", "2026-09-12", ""))), nil},
		"decided on appeal": {must(must(cut.Appeal(move("dealer", "2026-09-12", "No."), nil)).Decide(move("chief", "2026-09-13", ""), partly(200), a)), []string{"recovered", "closed"}},
	} {
		for verb, do := range every {
			before := c.claim
			after, err := do(c.claim)
			if may := slices.Contains(c.may, verb); may != (err == nil) {
				t.Errorf("%s, %s: %v", name, verb, err)
			} else if err != nil && !fault.Is(err, fault.FailedPrecondition) && verb != "recovered" {
				t.Errorf("%s, %s: %v is no precondition", name, verb, err)
			} else if err == nil && verb != "edited" && len(after.Steps) != len(before.Steps)+1 {
				t.Errorf("%s, %s: not written down", name, verb)
			}
			if !reflect.DeepEqual(before, c.claim) {
				t.Errorf("%s, %s: the claim before was changed", name, verb)
			}
		}
	}
}

// refusal gives the reason of a refusal and the names of its fields.
func refusal(err error) string {
	var e *fault.Error
	if !errors.As(err, &e) {
		return ""
	}
	names := []string{e.Reason}
	for _, f := range e.Fields {
		names = append(names, f.Name)
	}
	return strings.Join(names, " ")
}

func TestWhatADecisionMayNot(t *testing.T) {
	a := StandardAppeals()
	authorised := must(submitted(Covered).Authorise(move("works", "2026-09-04", "Take it out."), 30000))
	appeal := must(must(submitted(Covered).Decide(move("works", "2026-09-10", ""), partly(24000), a)).Appeal(move("dealer", "2026-09-12", "No."), nil))
	change := func(d Decision, f func(*Decision)) Decision { f(&d); return d }
	for name, c := range map[string]struct {
		claim    Claim
		by       string
		decision Decision
		want     string
	}{
		"all of it":                       {submitted(Covered), "works", whole(), ""},
		"nothing of it":                   {submitted(Covered), "works", declined(), ""},
		"without a reason":                {submitted(Covered), "works", change(whole(), func(d *Decision) { d.Reason = "" }), "INVALID_FIELD decision.reason"},
		"without an outcome":              {submitted(Covered), "works", change(whole(), func(d *Decision) { d.Outcome = 0 }), "INVALID_FIELD decision.outcome"},
		"whole, and less":                 {submitted(Covered), "works", change(whole(), func(d *Decision) { d.Work-- }), "INVALID_FIELD decision.outcome"},
		"part, and all":                   {submitted(Covered), "works", change(whole(), func(d *Decision) { d.Outcome = AcceptPart }), "INVALID_FIELD decision.outcome"},
		"part, and nothing":               {submitted(Covered), "works", partly(0), "INVALID_FIELD decision.outcome"},
		"more labour than claimed":        {submitted(Covered), "works", change(partly(0), func(d *Decision) { d.Work = 9751 }), "INVALID_FIELD decision.labour_minor"},
		"less than nothing":               {submitted(Covered), "works", partly(-1), "INVALID_FIELD decision.parts_minor decision.outcome"},
		"declined, and paid":              {submitted(Covered), "works", change(declined(), func(d *Decision) { d.Other = 1 }), "INVALID_FIELD decision.outcome"},
		"goodwill of nothing":             {submitted(NotCovered), "works", Decision{Outcome: AcceptGoodwill, Reason: "Kind."}, "INVALID_FIELD decision.outcome"},
		"goodwill":                        {submitted(NotCovered), "works", Decision{Outcome: AcceptGoodwill, Parts: 1, Reason: "Kind."}, ""},
		"owed, where nothing is":          {submitted(NotCovered), "works", whole(), "INVALID_FIELD decision.outcome"},
		"owed, where it cannot be said":   {submitted(Unknown), "works", whole(), ""},
		"less than authorised":            {authorised, "works", partly(29999), "INVALID_FIELD decision"},
		"what was authorised":             {authorised, "works", partly(30000), ""},
		"declined after an authorisation": {authorised, "works", declined(), "INVALID_FIELD decision"},
		"all, with an exclusion":          {submitted(Covered), "works", change(whole(), func(d *Decision) { d.Exclusion = "wear" }), "INVALID_FIELD decision.exclusion_id"},
		"an appeal, by who decided":       {appeal, "works", whole(), "SAME_PERSON"},
		"an appeal, by another":           {appeal, "chief", whole(), ""},
		"an appeal that ends as before":   {appeal, "chief", partly(24000), ""},
		"an appeal that ends worse":       {appeal, "chief", partly(23999), "INVALID_FIELD decision"},
	} {
		if _, err := c.claim.Decide(move(c.by, "2026-09-20", ""), c.decision, a); refusal(err) != c.want {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

func TestAppealsHaveALastDayAndAnEnd(t *testing.T) {
	a := Appeals{Days: 10, Answer: 40}
	cut := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), declined(), a))
	for name, c := range map[string]struct {
		claim Claim
		on    string
		want  string
	}{
		"on the last day":                {cut, "2026-09-20", ""},
		"on the day after":               {cut, "2026-09-21", "APPEAL_LATE"},
		"of what was granted":            {must(submitted(Covered).Decide(move("works", "2026-09-10", ""), whole(), a)), "2026-09-11", "NOTHING_TO_APPEAL"},
		"a second one":                   {must(must(cut.Appeal(move("dealer", "2026-09-11", "No."), nil)).Decide(move("chief", "2026-09-12", ""), declined(), a)), "2026-09-13", "APPEAL_DECIDED"},
		"again, after it was taken back": {must(must(cut.Appeal(move("dealer", "2026-09-11", "No."), nil)).Withdraw(move("dealer", "2026-09-12", ""))), "2026-09-13", ""},
	} {
		if _, err := c.claim.Appeal(move("dealer", c.on, "No."), nil); refusal(err) != c.want {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
	if _, err := cut.Appeal(move("dealer", "2026-09-11", ""), nil); refusal(err) != "INVALID_FIELD text" {
		t.Errorf("without words: %v", err)
	}
	anew := must(cut.Appeal(move("dealer", "2026-09-11", "It was delivered later."), &Cover{State: Covered}))
	if anew.Cover.State != Covered {
		t.Error("what is found on appeal is not kept")
	}
}

func TestRecoveryGoesForward(t *testing.T) {
	c := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), whole(), StandardAppeals()))
	step := func(c Claim, s RecoveryState, asked, received int64, text string) (Claim, error) {
		return c.Recover(move("works", "2026-09-20", ""), Recovery{State: s, Supplier: "Brookford Gears", Asked: asked, Received: received, Text: text})
	}
	asked := must(step(c, RecoveryAsked, 48000, 0, ""))
	agreed := must(step(asked, RecoveryAgreed, 48000, 0, ""))
	some := must(step(agreed, RecoveryReceived, 48000, 20000, ""))
	refused := must(step(asked, RecoveryRefused, 48000, 0, "The bearing is wear."))
	for name, x := range map[string]struct {
		claim           Claim
		state           RecoveryState
		asked, received int64
		text, want      string
	}{
		"received before it was asked":   {c, RecoveryReceived, 48000, 48000, "", "INVALID_FIELD recovery.state"},
		"asked for more than was paid":   {c, RecoveryAsked, 59751, 0, "", "INVALID_FIELD recovery.asked_minor"},
		"asked for nothing":              {c, RecoveryAsked, 0, 0, "", "INVALID_FIELD recovery.asked_minor"},
		"received without an agreement":  {asked, RecoveryReceived, 48000, 48000, "", ""},
		"received more than was asked":   {asked, RecoveryReceived, 48000, 48001, "", "INVALID_FIELD recovery.received_minor"},
		"received nothing":               {asked, RecoveryReceived, 48000, 0, "", "INVALID_FIELD recovery.received_minor"},
		"agreed, with money":             {asked, RecoveryAgreed, 48000, 1, "", "INVALID_FIELD recovery.received_minor"},
		"agreed twice":                   {agreed, RecoveryAgreed, 48000, 0, "", "INVALID_FIELD recovery.state"},
		"refused without a word":         {asked, RecoveryRefused, 48000, 0, "", "INVALID_FIELD recovery.text"},
		"the rest":                       {some, RecoveryReceived, 48000, 48000, "", ""},
		"the rest, and less than before": {some, RecoveryReceived, 48000, 19999, "", "INVALID_FIELD recovery.received_minor"},
		"the rest refused":               {some, RecoveryRefused, 48000, 20000, "No more.", ""},
		"asked again after a refusal":    {refused, RecoveryAsked, 48000, 0, "", ""},
		"received after a refusal":       {refused, RecoveryReceived, 48000, 48000, "", "INVALID_FIELD recovery.state"},
	} {
		if _, err := step(x.claim, x.state, x.asked, x.received, x.text); refusal(err) != x.want {
			t.Errorf("%s: got %v, want %q", name, err, x.want)
		}
	}
	if _, err := asked.Recover(move("works", "2026-09-20", ""), Recovery{State: RecoveryAgreed, Supplier: "Another", Asked: 48000}); refusal(err) != "INVALID_FIELD recovery.supplier" {
		t.Errorf("another supplier: %v", err)
	}
}

func TestAnAuthorisationIsNeverLowered(t *testing.T) {
	c := must(submitted(Covered).Authorise(move("works", "2026-09-04", "Take it out."), 30000))
	if _, err := c.Authorise(move("works", "2026-09-05", "Less."), 29999); refusal(err) != "INVALID_FIELD limit_minor" {
		t.Errorf("lowered: %v", err)
	}
	if got := must(c.Authorise(move("works", "2026-09-05", "The bearing too."), 50000)); got.Authorisation.Limit != 50000 || got.State != Submitted {
		t.Errorf("raised: %+v", got.Authorisation)
	}
	if _, err := submitted(Covered).Authorise(move("works", "2026-09-05", ""), 0); refusal(err) != "INVALID_FIELD limit_minor text" {
		t.Errorf("nothing for nothing: %v", err)
	}
	asked := must(c.Ask(move("works", "2026-09-06", "Why?")))
	other := asked
	other.Currency = "EUR"
	if _, err := asked.Edited(other, move("dealer", "2026-09-07", "")); refusal(err) != "INVALID_FIELD currency" {
		t.Errorf("another currency: %v", err)
	}
}

func TestAllThatIsWrongWithAClaimIsSaidAtOnce(t *testing.T) {
	bad := Claim{
		Position: "Transfer Case", Failed: day("2026-09-03"), Reading: vehicle.Entered{Unit: "furlong"}, Symptom: " x", Currency: "pounds",
		Parts:      []ClaimPart{{Part: "", Quantity: 0, UnitPrice: -1}},
		Labour:     []ClaimLabour{{Text: "", Minutes: 60_001, Rate: 10_000_000_001}},
		Other:      []ClaimCost{{Text: "carriage", Amount: -5}},
		Exclusions: []string{"wear", "wear", "Wear"},
	}
	_, err := Begin(bad, move("dealer", "2026-09-02", ""))
	want := "INVALID_FIELD position failure_date reading symptom currency exclusions[1] exclusions[2] parts[0].part parts[0].quantity parts[0].unit_price_minor" +
		" labour[0].text labour[0].minutes labour[0].hourly_rate_minor other_costs[0].amount_minor"
	if refusal(err) != want {
		t.Errorf("got  %s\nwant %s", refusal(err), want)
	}
	empty := must(Begin(Claim{Position: "gearbox"}, move("dealer", "2026-09-02", "")))
	if _, err := empty.Submit(move("dealer", "2026-09-02", ""), nil); refusal(err) != "INVALID_FIELD failure_date symptom remedy parts" {
		t.Errorf("an empty claim: %v", err)
	}
}

func TestADraftBeginsWithoutWhatTheWorksSays(t *testing.T) {
	c := draft()
	c.State, c.Decisions, c.Recovery, c.Authorisation, c.Cover = Accepted, []Decision{whole()}, &Recovery{Received: 5}, &Authorisation{Limit: 9}, &Cover{State: Covered}
	got := must(Begin(c, move("dealer", "2026-09-02", "")))
	if got.State != Draft || got.Decisions != nil || got.Recovery != nil || got.Authorisation != nil || got.Cover != nil {
		t.Errorf("%+v", got)
	}
	edited := must(draft().Edited(c, move("dealer", "2026-09-02", "")))
	if edited.State != Draft || edited.Decisions != nil || edited.Recovery != nil {
		t.Errorf("edited: %+v", edited)
	}
}

func TestWhatWasDecidedStaysWithTheClaim(t *testing.T) {
	a := StandardAppeals()
	c := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), partly(24000), a))
	c = must(must(c.Appeal(move("dealer", "2026-09-12", "No."), nil)).Ask(move("chief", "2026-09-13", "Why?")))
	less := c
	less.Parts = nil // 117.50 is left, and 240.00 was granted
	if _, err := c.Edited(less, move("dealer", "2026-09-14", "")); refusal(err) != "INVALID_FIELD parts" {
		t.Errorf("less is claimed than was granted: %v", err)
	}
	other := c
	other.Position = "gearbox"
	if _, err := c.Edited(other, move("dealer", "2026-09-14", "")); refusal(err) != "INVALID_FIELD position" {
		t.Errorf("another position: %v", err)
	}
	if got := c.Totals(); got.Paid != 24000 || got.Net != 24000 || got.Claimed != 59750 {
		t.Errorf("totals: %+v", got)
	}
	back := must(c.Withdraw(move("dealer", "2026-09-14", "")))
	if back.State != Accepted || back.Last().Paid() != 24000 {
		t.Errorf("the appeal was taken back, and the claim is %s", back.State)
	}
}

func TestTwoMovesFromOneClaimDoNotShareTheirSteps(t *testing.T) {
	c := submitted(Covered)
	for range 5 { // so that there is room behind the last step
		c = must(c.Authorise(move("works", "2026-09-04", "Go on."), 100))
	}
	asked := must(c.Ask(move("works", "2026-09-05", "Why?")))
	must(c.Withdraw(move("dealer", "2026-09-05", "Never mind.")))
	if got := asked.Steps[len(asked.Steps)-1].Text; got != "Why?" {
		t.Errorf("the question has become %q", got)
	}
}

func TestSumsAreThoseOfTheirClaims(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var claims []Claim
		for range rapid.IntRange(0, 12).Draw(t, "claims") {
			claims = append(claims, drawClaim(t))
		}
		from, to := day("2026-02-01"), day("2026-11-15")
		for by := ByVehicle; by.Valid(); by++ {
			var all, want Totals
			n, wanted := 0, 0
			for _, s := range Sums(claims, by, from, to) {
				n += s.Claims
				all = plus(all, s.Totals)
			}
			for _, c := range claims {
				if c.State != Draft && c.State != Withdrawn && !c.Failed.Before(from) && !c.Failed.After(to) {
					wanted++
					want = plus(want, c.Totals())
				}
			}
			if n != wanted || all != want {
				t.Fatalf("by %d: %d claims and %+v, want %d and %+v", by, n, all, wanted, want)
			}
		}
	})
}

func plus(a, b Totals) Totals {
	return Totals{a.Parts + b.Parts, a.Work + b.Work, a.Other + b.Other, a.Claimed + b.Claimed, a.Paid + b.Paid, a.Recovered + b.Recovered, a.Net + b.Net}
}

func drawClaim(t *rapid.T) Claim {
	c := draft()
	c.Serial = vehicle.Serial(rapid.SampledFrom([]string{"AM0147P", "AM0148X"}).Draw(t, "serial"))
	c.State = rapid.SampledFrom([]ClaimState{Draft, Submitted, Accepted, Declined, Closed, Withdrawn}).Draw(t, "state")
	c.Failed = day("2026-01-01").AddDays(rapid.IntRange(0, 364).Draw(t, "failed"))
	c.Currency = rapid.SampledFrom([]string{"GBP", "EUR"}).Draw(t, "currency")
	c.Parts[0].UnitPrice = rapid.Int64Range(0, 100000).Draw(t, "price")
	c.Parts[0].FailedLot = rapid.SampledFrom([]string{"", "L07", "L08"}).Draw(t, "lot")
	if c.State == Accepted || c.State == Closed {
		c.Decisions = []Decision{partly(c.Parts[0].UnitPrice)}
		c.Recovery = &Recovery{Supplier: "Brookford Gears", Received: rapid.Int64Range(0, 100).Draw(t, "received")}
	}
	return c
}

func TestSumsByEachKey(t *testing.T) {
	a := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), whole(), StandardAppeals()))
	b := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), declined(), StandardAppeals()))
	b.Failed, b.Serial, b.Currency, b.Parts = day("2026-12-31"), "AM0148X", "EUR", nil
	a.Recovery = &Recovery{Supplier: "Brookford Gears", Received: 1}
	for by, want := range map[SumBy][]string{
		ByVehicle:  {"vehicles/AM0147P GBP", "vehicles/AM0148X EUR"},
		ByPosition: {"transfer-case EUR", "transfer-case GBP"},
		ByPart:     {" EUR", "AP-3100 GBP"},
		ByLot:      {" EUR", "L07 GBP"},
		BySupplier: {" EUR", "Brookford Gears GBP"},
		ByQuarter:  {"2026-Q3 GBP", "2026-Q4 EUR"},
	} {
		var got []string
		for _, s := range Sums([]Claim{a, b}, by, vehicle.Date{}, vehicle.Date{}) {
			got = append(got, s.Key+" "+s.Currency)
		}
		if !slices.Equal(got, want) {
			t.Errorf("by %d: got %q, want %q", by, got, want)
		}
	}
	if s := Sums([]Claim{a, b}, ByPosition, vehicle.Date{}, vehicle.Date{}); s[0].Accepted != 0 || s[1].Accepted != 1 {
		t.Errorf("accepted: %+v", s)
	}
	for d, want := range map[string]string{"2026-01-01": "2026-Q1", "2026-03-31": "2026-Q1", "2026-04-01": "2026-Q2", "2026-12-31": "2026-Q4"} {
		if got := Quarter(day(d)); got != want {
			t.Errorf("%s: %s", d, got)
		}
	}
}
