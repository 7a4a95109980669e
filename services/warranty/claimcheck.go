package warranty

import (
	"fmt"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Bounds of a claim, so that no sum overflows: 200 lines of 1,000 parts at 100
// million are 2·10^15 hundredths.
const (
	maxLines    = 200
	maxQuantity = 1000
	maxMinutes  = 60_000 // a thousand hours
)

// Faults says what is wrong with what a claim says, in the names of the API, as
// of a day. What a draft may still leave open is for Submit to ask.
func (c *Claim) Faults(today vehicle.Date) []fault.Field {
	var k checker
	k.must(positionName.MatchString(c.Position), "position", c.Position, "lower-case words joined by hyphens")
	k.must(c.Failed.IsZero() || c.Failed.Valid() && !c.Failed.After(today), "failure_date", c.Failed.String(), "today, "+today.String()+", or earlier")
	if !c.Reading.IsZero() {
		d, err := c.Reading.Distance()
		k.must(err == nil && d >= 0, "reading", c.Reading.String(), "what an odometer shows, as in 1234.5 mi")
	}
	k.text("symptom", c.Symptom, maxText, false)
	k.text("cause", c.Cause, maxText, false)
	k.text("remedy", c.Remedy, maxText, false)
	k.must(IsCurrency(c.Currency) || c.Currency == "" && !c.costs(), "currency", c.Currency, "a code of ISO 4217, as in GBP")
	k.names("exclusions", c.Exclusions, positionName.MatchString, "the short name of an exclusion, as in wear")
	k.lines(c)
	return k.fields
}

// costs says whether the claim has any line with an amount.
func (c *Claim) costs() bool { return len(c.Parts)+len(c.Labour)+len(c.Other) > 0 }

func (k *checker) lines(c *Claim) {
	for _, l := range []struct {
		name string
		n    int
	}{{"parts", len(c.Parts)}, {"labour", len(c.Labour)}, {"other_costs", len(c.Other)}} {
		k.must(l.n <= maxLines, l.name, strconv.Itoa(l.n), fmt.Sprintf("at most %d", maxLines))
	}
	for i, p := range c.Parts {
		at := fmt.Sprintf("parts[%d]", i)
		k.must(isName(p.Part), at+".part", p.Part, "a part number")
		k.number(at+".quantity", int64(p.Quantity), 1, maxQuantity)
		k.must(p.FailedLot == "" || isName(p.FailedLot), at+".failed_lot", p.FailedLot, "a lot")
		k.must(p.FittedLot == "" || isName(p.FittedLot), at+".fitted_lot", p.FittedLot, "a lot")
		k.number(at+".unit_price_minor", p.UnitPrice, 0, maxAmount)
	}
	for i, l := range c.Labour {
		at := fmt.Sprintf("labour[%d]", i)
		k.text(at+".text", l.Text, maxLine, true)
		k.number(at+".minutes", int64(l.Minutes), 1, maxMinutes)
		k.number(at+".hourly_rate_minor", l.Rate, 0, maxAmount)
	}
	for i, o := range c.Other {
		at := fmt.Sprintf("other_costs[%d]", i)
		k.text(at+".text", o.Text, maxLine, true)
		k.number(at+".amount_minor", o.Amount, 0, maxAmount)
	}
}

// missing says what a claim needs before it can be decided.
func (c *Claim) missing() []fault.Field {
	var k checker
	k.must(!c.Failed.IsZero(), "failure_date", "", "the day on which it failed or was found")
	k.must(c.Symptom != "", "symptom", "", "what was noticed")
	k.must(c.Remedy != "", "remedy", "", "what was done or is to be done")
	k.must(c.costs(), "parts", "", "at least one part, work or other cost")
	return k.fields
}

// Totals sums a claim up.
func (c *Claim) Totals() Totals {
	var t Totals
	for _, p := range c.Parts {
		t.Parts += int64(p.Quantity) * p.UnitPrice
	}
	for _, l := range c.Labour {
		t.Work += labourCost(l.Minutes, l.Rate)
	}
	for _, o := range c.Other {
		t.Other += o.Amount
	}
	t.Claimed = t.Parts + t.Work + t.Other
	if d := c.Last(); d != nil {
		t.Paid = d.Paid()
	}
	if c.Recovery != nil {
		t.Recovered = c.Recovery.Received
	}
	t.Net = t.Paid - t.Recovered
	return t
}
