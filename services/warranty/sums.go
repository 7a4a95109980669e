package warranty

import (
	"cmp"
	"fmt"
	"slices"

	"halfshaft/services/vehicle"
)

// SumBy is what claims are summed by. Its numbers are those of the API's
// enumeration.
type SumBy uint8

// What they are summed by. A claim counts with its first part, which is the one
// that failed.
const (
	NoSumBy SumBy = iota
	ByVehicle
	ByPosition
	ByPart
	ByLot
	BySupplier // that was asked back
	ByQuarter  // of the failure
	sumsEnd
)

// Valid says whether there is something to sum by.
func (by SumBy) Valid() bool { return by > NoSumBy && by < sumsEnd }

// Sum is the sum of the claims with one key in one currency.
type Sum struct {
	Key      string // "vehicles/AM0147P", "2026-Q1", …; empty where the claims say nothing
	Currency string
	Claims   int
	Accepted int // in whole, in part or as goodwill
	Totals   Totals
}

// Quarter names the quarter of a day: "2026-Q1".
func Quarter(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-Q%d", d.Year, (int(d.Month)+2)/3)
}

// key is what a claim counts under.
func (by SumBy) key(c *Claim) string {
	switch {
	case by == ByVehicle:
		return "vehicles/" + string(c.Serial)
	case by == ByPosition:
		return c.Position
	case by == ByPart && len(c.Parts) > 0:
		return c.Parts[0].Part
	case by == ByLot && len(c.Parts) > 0:
		return c.Parts[0].FailedLot
	case by == BySupplier && c.Recovery != nil:
		return c.Recovery.Supplier
	case by == ByQuarter:
		return Quarter(c.Failed)
	}
	return ""
}

// Sums sums claims whose failure lies from one day to another, both inclusive
// and zero for no bound, in order of key and currency. Drafts and what was
// withdrawn do not count.
func Sums(claims []Claim, by SumBy, from, to vehicle.Date) []Sum {
	type key struct{ key, currency string }
	sums := map[key]*Sum{}
	for i := range claims {
		c := &claims[i]
		if c.State == Draft || c.State == Withdrawn || c.Failed.Before(from) || !to.IsZero() && c.Failed.After(to) {
			continue
		}
		k := key{by.key(c), c.Currency}
		if sums[k] == nil {
			sums[k] = &Sum{Key: k.key, Currency: k.currency}
		}
		sums[k].add(c)
	}
	all := make([]Sum, 0, len(sums))
	for _, s := range sums {
		all = append(all, *s)
	}
	slices.SortFunc(all, func(a, b Sum) int { return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(a.Currency, b.Currency)) })
	return all
}

func (s *Sum) add(c *Claim) {
	s.Claims++
	if d := c.Last(); d != nil && d.Outcome != Decline {
		s.Accepted++
	}
	t := c.Totals()
	s.Totals.Parts += t.Parts
	s.Totals.Work += t.Work
	s.Totals.Other += t.Other
	s.Totals.Claimed += t.Claimed
	s.Totals.Paid += t.Paid
	s.Totals.Recovered += t.Recovered
	s.Totals.Net += t.Net
}
