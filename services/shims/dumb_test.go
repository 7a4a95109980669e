package shims_test

import (
	"fmt"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// This file holds the second implementation: it makes every pack there is, one
// after another, works out each in fractions as F6 is written, and sorts.

// inBase is what a unit is in mm or N (NIST SP 811 appendix B).
var inBase = map[string]string{
	"mm": "1", "µm": "0.001", "in": "25.4", "thou": "0.0254",
	"N": "1", "kgf": "9.80665", "lbf": "4.4482216152605",
}

func rat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic(text)
	}
	return r
}

func base(q vehicle.Quantity) *big.Rat {
	return new(big.Rat).Mul(rat(q.Value.String()), rat(inBase[q.Unit]))
}

// dumbPack is one pack: how often it has each size.
type dumbPack struct {
	counts             []int
	n                  int
	value, off, beyond *big.Rat // what it gives, from the target, and outside the window
}

// dumb is what is to be known of all packs.
type dumb struct {
	packs                []dumbPack
	lower, upper, target *big.Rat
	needed               *big.Rat
}

func enumerate(p shims.Problem, slope *big.Rat, stock []int, most int) dumb {
	d := dumb{lower: base(p.Lower), upper: base(p.Upper)}
	d.target = new(big.Rat).Quo(new(big.Rat).Add(d.lower, d.upper), rat("2"))
	if p.Target != (vehicle.Quantity{}) {
		d.target = base(p.Target)
	}
	gain := rat("1")
	if slope != nil {
		gain = new(big.Rat).Neg(slope)
	}
	if p.Design == shims.TakesUpFloat {
		gain = new(big.Rat).Neg(gain)
	}
	fitted := new(big.Rat)
	if len(p.Fitted.Shims) == 0 {
		fitted = base(p.Fitted.Total)
	}
	for _, h := range p.Fitted.Shims {
		for range h.Count {
			fitted.Add(fitted, base(h.Thickness))
		}
	}
	f := base(p.Measured)
	d.needed = new(big.Rat).Add(fitted, new(big.Rat).Quo(new(big.Rat).Sub(d.target, f), gain))
	counts := make([]int, len(p.Sizes))
	var place func(i, n int, sum *big.Rat)
	place = func(i, n int, sum *big.Rat) {
		if i == len(counts) {
			if n > 0 {
				d.add(counts, n, new(big.Rat).Add(f, new(big.Rat).Mul(gain, new(big.Rat).Sub(sum, fitted))))
			}
			return
		}
		for of := 0; of <= stock[i] && n+of <= most; of++ {
			counts[i] = of
			place(i+1, n+of, new(big.Rat).Add(sum, new(big.Rat).Mul(base(p.Sizes[i].Thickness), new(big.Rat).SetInt64(int64(of)))))
		}
		counts[i] = 0
	}
	place(0, 0, new(big.Rat))
	return d
}

func (d *dumb) add(counts []int, n int, value *big.Rat) {
	off := new(big.Rat).Sub(value, d.target)
	beyond := new(big.Rat)
	if value.Cmp(d.lower) < 0 {
		beyond.Sub(d.lower, value)
	} else if value.Cmp(d.upper) > 0 {
		beyond.Sub(value, d.upper)
	}
	d.packs = append(d.packs, dumbPack{slices.Clone(counts), n, value, off.Abs(off), beyond})
}

// best gives the packs in the window that no other beats, by the rule.
func (d *dumb) best(rule shims.Rule) (best []dumbPack) {
	for _, p := range d.packs {
		if p.beyond.Sign() != 0 {
			continue
		}
		order := -1
		if len(best) > 0 {
			order = p.off.Cmp(best[0].off)
			if fewer := p.n - best[0].n; rule == shims.FewestThenNearest && fewer != 0 || order == 0 {
				order = fewer
			}
		}
		if order < 0 {
			best = nil
		}
		if order <= 0 {
			best = append(best, p)
		}
	}
	return best
}

// nearest gives how far outside the window the nearest pack of one side is, and
// the fewest shims that come there; nil for no pack.
func (d *dumb) nearest(above bool) (by *big.Rat, n int) {
	for _, p := range d.packs {
		if p.beyond.Sign() == 0 || p.value.Cmp(d.upper) > 0 != above {
			continue
		}
		if by == nil || p.beyond.Cmp(by) < 0 || p.beyond.Cmp(by) == 0 && p.n < n {
			by, n = p.beyond, p.n
		}
	}
	return by, n
}

// counted writes packs by thickness, so that two lists can be compared.
func counted(p shims.Problem, packs []dumbPack) []string {
	var all []string
	for _, d := range packs {
		text := map[string]int{}
		for i, n := range d.counts {
			if n > 0 {
				text[p.Sizes[i].Thickness.String()] = n
			}
		}
		all = append(all, fmt.Sprint(text))
	}
	slices.Sort(all)
	return all
}

func used(packs []shims.Pack) []string {
	var all []string
	for _, p := range packs {
		text := map[string]int{}
		for _, u := range p.Shims {
			text[u.Thickness.String()] += u.Count
		}
		all = append(all, fmt.Sprint(text))
	}
	slices.Sort(all)
	return all
}

func stocks(p shims.Problem, endless bool) []int {
	var all []int
	for _, s := range p.Sizes {
		if s.Unlimited || endless {
			all = append(all, shims.MaxCount)
		} else {
			all = append(all, s.Stock)
		}
	}
	return all
}

// agree compares an amount, which may be rounded, with the fraction it stands for.
func agree(t *rapid.T, what string, got shims.Amount, want *big.Rat) {
	t.Helper()
	d := new(big.Rat).Sub(base(got.Quantity), want)
	if !got.Rounded && d.Sign() != 0 {
		t.Fatalf("%s: %s, want exactly %s", what, got, want.FloatString(9))
	}
	half := new(big.Rat).Mul(base(vehicle.Quantity{Value: got.Value.Resolution(), Unit: got.Unit}), rat("0.5"))
	if got.Rounded && (d.Sign() == 0 || d.Abs(d).Cmp(half) > 0) {
		t.Fatalf("%s: %s, want near but not %s", what, got, want.FloatString(9))
	}
}

func TestEveryPackOfTheWindowWasLookedAt(t *testing.T) {
	for range 20 { // of a hundred cases each
		rapid.Check(t, againstEnumeration)
	}
}

func againstEnumeration(t *rapid.T) {
	p := draw(t)
	r, err := shims.Select(p.Problem)
	if err != nil {
		t.Fatal(err)
	}
	d := enumerate(p.Problem, p.slope, stocks(p.Problem, false), p.LargestCount)
	best := d.best(p.Rule)
	if got, want := used(r.Packs), counted(p.Problem, best); !slices.Equal(got, want) && len(want) <= shims.MaxPacks {
		t.Fatalf("best are %v, want %v", got, want)
	}
	if r.Optimal != int64(len(best)) || len(r.Packs) != min(len(best), shims.MaxPacks) {
		t.Fatalf("%d are best and %d given, want %d", r.Optimal, len(r.Packs), len(best))
	}
	agree(t, "needed", r.Needed, d.needed)
	for _, pack := range r.Packs {
		agree(t, "off target", pack.Off, best[0].off)
		if pack.Count != best[0].n {
			t.Fatalf("%s has %d shims, want %d", pack, pack.Count, best[0].n)
		}
	}
	nearerAgrees(t, p, d, best, r.Nearer)
	f := base(p.Measured)
	verdict := shims.NoPack
	if f.Cmp(d.lower) >= 0 && f.Cmp(d.upper) <= 0 {
		verdict = shims.LeaveIt
	} else if len(best) > 0 {
		verdict = shims.FitPack
	}
	if r.Verdict != verdict {
		t.Fatalf("%s, want %s", r.Verdict, verdict)
	}
	if len(best) == 0 {
		missesAgree(t, d, r)
		reliefsAgree(t, p, r)
	}
}

func missesAgree(t *rapid.T, d dumb, r shims.Result) {
	want := 0
	for _, above := range []bool{false, true} {
		by, n := d.nearest(above)
		if by == nil {
			continue
		}
		want++
		at := slices.IndexFunc(r.Misses, func(m shims.Miss) bool { return m.Above == above })
		if at < 0 || r.Misses[at].Count != n {
			t.Fatalf("misses %v, want one (above: %v) of %d shims by %s", r.Misses, above, n, by.FloatString(9))
		}
		agree(t, "miss", r.Misses[at].By, by)
	}
	if len(r.Misses) != want || want == 2 && base(r.Misses[0].By.Quantity).Cmp(base(r.Misses[1].By.Quantity)) > 0 {
		t.Fatalf("misses %v, want %d, the nearest first", r.Misses, want)
	}
}

func reliefsAgree(t *rapid.T, p drawn, r shims.Result) {
	try := func(endless bool, most int) bool {
		d := enumerate(p.Problem, p.slope, stocks(p.Problem, endless), most)
		return d.best(p.Rule) != nil
	}
	// All counts up to the largest take long: the dumb way looks at one more.
	most := p.LargestCount + 1
	stock := try(true, p.LargestCount)
	has := func(stock, count bool) bool {
		return slices.ContainsFunc(r.Reliefs, func(x shims.Relief) bool { return x.Stock == stock && x.Count == count })
	}
	if has(true, false) != stock {
		t.Fatalf("reliefs %+v; more stock helps: %v", r.Reliefs, stock)
	}
	if count := try(false, most); count && !has(false, true) {
		t.Fatalf("reliefs %+v; more shims help: %v", r.Reliefs, count)
	}
	for _, x := range r.Reliefs {
		if v := base(x.Pack.Gives.Quantity); !x.Pack.Gives.Rounded && (v.Cmp(base(p.Lower)) < 0 || v.Cmp(base(p.Upper)) > 0) {
			t.Fatalf("a relief outside the window: %+v", x)
		}
		short := slices.ContainsFunc(x.Pack.Shims, func(u shims.Use) bool { return u.Short > 0 })
		if short != x.Stock || x.Pack.Count > p.LargestCount != x.Count {
			t.Fatalf("a relief that relieves of something else: %+v", x)
		}
	}
}

func TestShimsOfTheFittedPackCountAsStock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		p.Fitted = shims.Fitted{}
		stocked := p.Problem
		stocked.Sizes = slices.Clone(p.Sizes)
		for i, s := range p.Sizes {
			if n := rapid.IntRange(0, 2).Draw(t, "held"); n > 0 || i == 0 {
				p.Fitted.Shims = append(p.Fitted.Shims, shims.Held{Thickness: s.Thickness, Count: n + 1})
				stocked.Sizes[i].Stock += n + 1
			}
		}
		stocked.Fitted, p.ReuseFitted = p.Fitted, true
		got, err := shims.Select(p.Problem)
		want, errStocked := shims.Select(stocked)
		if err != nil || errStocked != nil {
			t.Fatal(err, errStocked)
		}
		if !slices.Equal(used(got.Packs), used(want.Packs)) || got.Verdict != want.Verdict {
			t.Fatalf("%v %v, want %v %v", got.Verdict, used(got.Packs), want.Verdict, used(want.Packs))
		}
		for _, pack := range got.Packs {
			for _, u := range pack.Shims {
				at := slices.IndexFunc(p.Fitted.Shims, func(h shims.Held) bool { return h.Thickness == u.Thickness })
				held := 0
				if at >= 0 {
					held = p.Fitted.Shims[at].Count
				}
				if u.FromFitted != min(u.Count, held) {
					t.Fatalf("%+v, of which the fitted pack has %d", u, held)
				}
			}
		}
	})
}
