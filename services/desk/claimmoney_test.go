package desk

import (
	"testing"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
)

// Of a refusal, amounts are said as they are typed, and everything else as it was.
func TestAmountsInARefusalAreSaidAsTheyAreTyped(t *testing.T) {
	before := &fault.Error{Kind: fault.Invalid, Fields: []fault.Field{
		{Name: "recovery.asked_minor", Got: "8451", Want: "1 to 8450, what was paid"},
		{Name: "decision", Want: "123456 or more, which was authorised before the work"},
		{Name: "decision.reason", Want: "text of 1 to 2000 characters"},
	}}
	after := refusal(inMoney(before))
	for i, want := range []string{"0.01 to 84.50, what was paid", "1,234.56 or more, which was authorised before the work", "text of 1 to 2000 characters"} {
		if got := after.Fields[i].Want; got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if got := after.Fields[0].Got; got != "84.51" {
		t.Errorf("what was entered is %q", got)
	}
	if before.Fields[0].Want != "1 to 8450, what was paid" || before.Fields[0].Got != "8451" {
		t.Error("the refusal itself was changed")
	}
	if inMoney(nil) != nil {
		t.Error("a refusal is made of none")
	}
}

// Where one supplier alone promised something, the first asking begins with them
// and with what was paid; a form that is shown again, and all later ones, go by
// what was entered and is on record.
func TestTheFirstAskingBackBeginsWithWhoPromised(t *testing.T) {
	c := &warrantyv1.Claim{Currency: "GBP", Totals: &warrantyv1.ClaimTotals{PaidMinor: 8450}, Cover: &warrantyv1.Cover{Terms: []*warrantyv1.TermCover{
		{Term: "warrantyTerms/WORKS-12/versions/1", Title: "One year"},
		{Term: "warrantyTerms/GEARS/versions/2", Title: "Gears, two years", Supplier: "Brookford Gears"},
	}}}
	if f := recoveryForm(c); f.field("recovery.supplier").Value != "" || f.field("recovery.asked_minor").Value != "" {
		t.Errorf("a form begins with what is not on record: %+v", f.Fields)
	}
	chosenTerm := func(f *form) (value string) {
		for _, o := range f.field("recovery.term").Options {
			if o.Chosen {
				value = o.Value
			}
		}
		return value
	}
	f := suggested(recoveryForm(c), c)
	if f.field("recovery.supplier").Value != "Brookford Gears" || f.field("recovery.asked_minor").Value != "84.50" || chosenTerm(f) != "warrantyTerms/GEARS/versions/2" {
		t.Errorf("got %+v", f.Fields)
	}
	c.Recovery = &warrantyv1.ClaimRecovery{State: warrantyv1.RecoveryState_RECOVERY_STATE_REFUSED, Supplier: "Brookford Gears", Term: "warrantyTerms/GEARS/versions/1", AskedMinor: 5000, ReceivedMinor: 1000}
	f = suggested(recoveryForm(c), c)
	if f.field("recovery.asked_minor").Value != "50.00" || f.field("recovery.received_minor").Value != "10.00" || chosenTerm(f) != "warrantyTerms/GEARS/versions/1" {
		t.Errorf("got %+v", f.Fields)
	}
}

// How far it may come next is what the service takes next, so that nobody is
// offered what is refused.
func TestARecoveryOffersWhatFollows(t *testing.T) {
	for now, want := range map[warrantyv1.RecoveryState]string{
		warrantyv1.RecoveryState_RECOVERY_STATE_UNSPECIFIED: "Asked", warrantyv1.RecoveryState_RECOVERY_STATE_REFUSED: "Asked",
		warrantyv1.RecoveryState_RECOVERY_STATE_ASKED:    "choose Agreed Received Refused",
		warrantyv1.RecoveryState_RECOVERY_STATE_AGREED:   "choose Received Refused",
		warrantyv1.RecoveryState_RECOVERY_STATE_RECEIVED: "choose Received Refused",
	} {
		got := ""
		for _, o := range recoveryForm(&warrantyv1.Claim{Recovery: &warrantyv1.ClaimRecovery{State: now}}).field("recovery.state").Options {
			got += " " + o.Label
		}
		if got[1:] != want {
			t.Errorf("behind %v got %q, want %q", now, got[1:], want)
		}
	}
}
