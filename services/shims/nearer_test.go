package shims_test

import (
	"math/big"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// nearerAgrees looks through all packs for one of a few shims more.
func nearerAgrees(t *rapid.T, p drawn, d dumb, best []dumbPack, got *shims.Pack) {
	t.Helper()
	width := new(big.Rat).Sub(d.upper, d.lower)
	tenth, fifth := new(big.Rat).Mul(width, rat("0.1")), new(big.Rat).Mul(width, rat("0.2"))
	near := len(best) > 0 && p.Rule == shims.FewestThenNearest && width.Sign() > 0
	for _, b := range best {
		low, high := new(big.Rat).Sub(b.value, d.lower), new(big.Rat).Sub(d.upper, b.value)
		near = near && (low.Cmp(tenth) <= 0 || high.Cmp(tenth) <= 0)
	}
	var want *dumbPack
	if near {
		stand := best[0]
		for more := 1; more <= 2; more++ {
			var nearest *dumbPack
			for i := range d.packs {
				if c := &d.packs[i]; c.n == best[0].n+more && c.beyond.Sign() == 0 && (nearest == nil || c.off.Cmp(nearest.off) < 0) {
					nearest = c
				}
			}
			if nearest != nil && new(big.Rat).Sub(stand.off, nearest.off).Cmp(fifth) >= 0 {
				want, stand = nearest, *nearest
			}
		}
	}
	if (got == nil) != (want == nil) {
		t.Fatalf("a pack of a few more: %v, want %+v", got, want)
	}
	if want != nil {
		agree(t, "the nearer pack's distance", got.Off, want.off)
		if got.Count != want.n {
			t.Fatalf("%s has %d shims, want %d", got, got.Count, want.n)
		}
	}
}

func TestAPackOnTheEndOfItsWindowIsNotTheLastWord(t *testing.T) {
	for _, c := range []struct {
		name             string
		p                shims.Problem
		fits, more, says string
	}{
		// checks.md O-71, "too little float": 0.59 mm gives 0.10 mm, the upper end;
		// 0.08 + 2 x 0.25 = 0.58 mm gives 0.02 + 0.58 - 0.51 = 0.09 mm.
		{"on the upper end", joint("0.02 mm", "0.51 mm"), "0.08 mm + 0.51 mm", "0.08 mm + 2 × 0.25 mm",
			"That leaves it on the upper end of the window, and what settles may take it out. With 1 shim more, 0.08 mm + 2 × 0.25 mm makes 0.58 mm and gives 0.09 mm, 0.015 mm from the target"},
		{"near the lower end", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) {
			p.Upper, p.Sizes = quantity("0.15 mm"), endless("0.67 mm", "0.30 mm", "0.42 mm")
		}), "0.67 mm", "0.30 mm + 0.42 mm",
			"That leaves it 0.01 mm from the lower end of the window, and what settles may take it out. With 1 shim more"},
		{"three shims more are no small matter", with(joint("0.02 mm", "0.51 mm"), func(p *shims.Problem) {
			p.Sizes = endless("0.59 mm", "0.14 mm")
		}), "0.59 mm", "", ""},
		{"by the nearest it is the last word", with(joint("0.02 mm", "0.51 mm"), func(p *shims.Problem) {
			p.Rule, p.LargestCount = shims.NearestThenFewest, 2
		}), "0.08 mm + 0.51 mm", "", ""},
		{"more than the largest count", with(joint("0.02 mm", "0.51 mm"), func(p *shims.Problem) { p.LargestCount = 2 }), "0.08 mm + 0.51 mm", "", ""},
		{"nearer by a sixth only", with(joint("0.05 mm", "0.50 mm"), func(p *shims.Problem) {
			p.Upper, p.Sizes = quantity("0.11 mm"), endless("0.56 mm", "0.30 mm", "0.25 mm")
		}), "0.56 mm", "", ""},
		{"well inside", joint("0.15 mm", "0.76 mm"), "2 × 0.08 mm + 0.51 mm", "", ""},
	} {
		r := choose(t, c.p)
		more := ""
		if r.Nearer != nil {
			more = r.Nearer.String()
		}
		if r.Packs[0].String() != c.fits || more != c.more {
			t.Errorf("%s: %s, and %q; want %s, and %q", c.name, r.Packs[0], more, c.fits, c.more)
		}
		says := slices.ContainsFunc(r.Reasons, func(x vehicle.Reason) bool {
			return x.Rule == "NEARER_WITH_MORE_SHIMS" && strings.HasPrefix(x.Sentence, c.says)
		})
		if says != (c.says != "") {
			t.Errorf("%s: %v", c.name, r.Reasons)
		}
	}
}
