package shims_test

import (
	"fmt"
	"strings"
	"testing"

	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// quantity reads "0.10 mm".
func quantity(text string) vehicle.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

// endless are sizes of which there is no end.
func endless(thicknesses ...string) []shims.Size {
	var all []shims.Size
	for _, t := range thicknesses {
		all = append(all, shims.Size{Thickness: quantity(t), Unlimited: true})
	}
	return all
}

// joint is the problem of the checks: 0.05 to 0.10 mm, shims of 0.08, 0.13, 0.25
// and 0.51 mm without end, at most 6, more shim more float.
func joint(measured, fitted string) shims.Problem {
	return shims.Problem{
		Measured: quantity(measured), Fitted: shims.Fitted{Total: quantity(fitted)},
		Lower: quantity("0.05 mm"), Upper: quantity("0.10 mm"), Design: shims.AddsFloat,
		Sizes: endless("0.08 mm", "0.13 mm", "0.25 mm", "0.51 mm"), LargestCount: 6,
	}
}

// packs writes the best packs of a result: "2 × 0.08 mm + 0.51 mm gives 0.06 mm".
func packs(t *testing.T, r shims.Result) string {
	t.Helper()
	var all []string
	for _, p := range r.Packs {
		all = append(all, fmt.Sprintf("%s gives %s", p, p.Gives))
	}
	if int(r.Optimal) != len(r.Packs) && r.Optimal <= shims.MaxPacks {
		t.Errorf("%d packs are best, and %d are given", r.Optimal, len(r.Packs))
	}
	return strings.Join(all, "; ")
}

func choose(t *testing.T, p shims.Problem) shims.Result {
	t.Helper()
	r, err := shims.Select(p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestThePacksOfTheChecks(t *testing.T) {
	// checks.md O-71 and O-72 (F6, computed there over all packs).
	thou := joint("0 thou", "18 thou")
	thou.Lower, thou.Upper = quantity("1 thou"), quantity("3 thou")
	thou.Sizes = endless("3 thou", "5 thou", "10 thou", "20 thou")
	for _, c := range []struct {
		name                    string
		p                       shims.Problem
		needed, fewest, nearest string
	}{
		{"too much float", joint("0.15 mm", "0.76 mm"), "0.685 mm",
			"2 × 0.08 mm + 0.51 mm gives 0.06 mm", "2 × 0.08 mm + 4 × 0.13 mm gives 0.07 mm"},
		{"too little float", joint("0.02 mm", "0.51 mm"), "0.565 mm",
			"0.08 mm + 0.51 mm gives 0.10 mm", "4 × 0.08 mm + 0.25 mm gives 0.08 mm"},
		{"preload", joint("-0.04 mm", "0.38 mm"), "0.495 mm",
			"0.51 mm gives 0.09 mm", "2 × 0.25 mm gives 0.08 mm"},
		{"in thou", thou, "20 thou", "20 thou gives 2 thou", "20 thou gives 2 thou"},
	} {
		for rule, want := range map[shims.Rule]string{shims.FewestThenNearest: c.fewest, shims.NearestThenFewest: c.nearest} {
			c.p.Rule = rule
			r := choose(t, c.p)
			if got := packs(t, r); r.Verdict != shims.FitPack || got != want || r.Needed.String() != c.needed {
				t.Errorf("%s, %s: %s, needed %s; want %s, needed %s", c.name, rule, got, r.Needed, want, c.needed)
			}
		}
	}
}

func TestAHairIsSeen(t *testing.T) {
	// The window asks for two thirds of a millimetre or more. The two shims make
	// 0.6666666666666 mm, the greatest length below it that shims can make.
	p := load("10 N", "0 mm")
	p.Lower, p.Upper, p.Slope, p.LargestCount = quantity("7 N"), quantity("8 N"), quantity("3 N/mm"), 2
	p.Sizes = []shims.Size{stocked("0.666666591 mm", "", 1), stocked("0.000002979 thou", "", 1)}
	if r := choose(t, p); r.Verdict != shims.NoPack || r.Misses[0].Count != 2 || !r.Misses[0].Above {
		t.Errorf("%s: %+v, want a miss by a hair", r.Verdict, r.Misses)
	}
	p.Upper = quantity("8.000000001 N")
	if r := choose(t, p); r.Verdict != shims.FitPack || r.Packs[0].Count != 2 {
		t.Errorf("%s: %+v, want both shims", r.Verdict, r.Packs)
	}
}

func TestAShimThatOnlyTheFittedPackHasIsNotToBeOrdered(t *testing.T) {
	p := joint("0.15 mm", "0.76 mm")
	p.Fitted = shims.Fitted{Shims: []shims.Held{{Thickness: quantity("0.34 mm"), Count: 1}, {Thickness: quantity("0.42 mm"), Count: 1}}}
	p.Sizes, p.ReuseFitted = []shims.Size{stocked("0.30 mm", "", 0)}, true
	if r := choose(t, p); r.Verdict != shims.NoPack || len(r.Reliefs) != 0 { // two of 0.34 mm would do
		t.Errorf("%s with %+v, want no pack and nothing that helps", r.Verdict, r.Reliefs)
	}
}

func TestWhetherAChangeIsWorthIt(t *testing.T) {
	for _, c := range []struct {
		name, measured, lower, size string
		worthwhile                  bool
		limit                       string // that the reading is too near to
	}{
		{"nearer by more than a step", "0.09 mm", "0.04 mm", "0.48 mm", true, ""},
		{"nearer by a step", "0.09 mm", "0.04 mm", "0.49 mm", false, ""},
		{"nearer by less than a step of a coarser dial", "0.1 mm", "0.04 mm", "0.48 mm", false, "upper"},
		{"farther", "0.09 mm", "0.04 mm", "0.45 mm", false, ""},
		{"half a step from the limit", "0.05 mm", "0.045 mm", "0.51 mm", false, ""},
		{"less than half a step from it", "0.05 mm", "0.046 mm", "0.51 mm", false, "lower"},
		{"on the limit", "0.10 mm", "0.04 mm", "0.50 mm", false, "upper"},
	} {
		p := joint(c.measured, "0.50 mm")
		p.Lower, p.Sizes = quantity(c.lower), endless(c.size)
		r := choose(t, p)
		limit := ""
		for _, reason := range r.Reasons {
			limit += reason.Fact("limit")
		}
		if r.Verdict != shims.LeaveIt || r.Worthwhile != c.worthwhile || limit != c.limit {
			t.Errorf("%s: %s, worthwhile %v, near the limit %q; want %v, %q", c.name, r.Verdict, r.Worthwhile, limit, c.worthwhile, c.limit)
		}
	}
}

func TestMoreEqualPacksThanAreWrittenOut(t *testing.T) {
	p := regular() // 0.05 to 0.24 mm: a pack of 12 with a total of 1.74 mm
	p.Lower, p.Upper, p.Rule = quantity("0.19 mm"), quantity("0.19 mm"), shims.NearestThenFewest
	for i := range p.Sizes[:10] {
		p.Sizes[i] = stocked(p.Sizes[i].Thickness.String(), "", 1)
	}
	r := choose(t, p)
	if want := waysOf(p, r.Packs[0].Count, 174); len(r.Packs) != shims.MaxPacks || r.Optimal != want {
		t.Errorf("%d packs of %d, want %d of %d", len(r.Packs), r.Optimal, shims.MaxPacks, want)
	}
}

// waysOf counts the packs of n shims with a total, in hundredths of a
// millimetre, one size after the other.
func waysOf(p shims.Problem, n, total int) int64 {
	if len(p.Sizes) == 0 || n < 0 || total < 0 {
		if n == 0 && total == 0 {
			return 1
		}
		return 0
	}
	s, most := p.Sizes[0], n
	if !s.Unlimited {
		most = min(n, s.Stock)
	}
	p.Sizes = p.Sizes[1:]
	var ways int64
	for of := range most + 1 {
		ways += waysOf(p, n-of, total-of*int(s.Thickness.Value.Coefficient))
	}
	return ways
}
