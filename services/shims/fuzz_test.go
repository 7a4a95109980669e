package shims_test

import (
	"math/big"
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// FuzzSelect looks for a problem that is neither refused with its fields nor
// answered by packs of the window; it reaches the units of slopes as well.
func FuzzSelect(f *testing.F) {
	f.Add("0.15 mm", "0.05 mm", "0.10 mm", "", "0.08 mm;0.13 mm;0.51 mm", 6, 2, 0)
	f.Add("3.5 kgf", "50 N", "80 N", "12 kgf per thou", "3 thou;0.1 mm;250 µm", 5, 1, 1)
	f.Add("0.4 N·m", "2 lbf·in", "9 kgf·cm", "1 lbf.ft/in", `0.010 "`, 12, 2, 0)
	f.Add("-0.000000001 in", "-1 thou", "9 µm", "", "0.000000001 thou;100 mm", 12, 1, 1)
	f.Fuzz(func(t *testing.T, measured, lower, upper, slope, sizes string, largest, design, rule int) {
		read := func(text string) vehicle.Quantity {
			q, _ := vehicle.ParseQuantity(text) // the zero quantity must be borne
			return q
		}
		p := shims.Problem{
			Measured: read(measured), Lower: read(lower), Upper: read(upper), Slope: read(slope),
			Design: shims.Design(design), Rule: shims.Rule(rule), LargestCount: largest,
			Fitted: shims.Fitted{Total: quantity("0.5 mm")},
		}
		for i, text := range strings.SplitN(sizes, ";", 8) {
			p.Sizes = append(p.Sizes, shims.Size{Thickness: read(text), Stock: 1 + i, Unlimited: i%2 == 0})
		}
		r, err := shims.Select(p)
		if err != nil {
			if fields := fault.FieldsOf("", err); !fault.Is(err, fault.Invalid) || len(fields) == 0 || fields[0].Want == "" {
				t.Fatalf("refused without a reason: %v", err)
			}
			return
		}
		if len(r.Reasons) < 3 || (r.Verdict == shims.NoPack) != (len(r.LookFor) > 0 && len(r.Packs) == 0) || int64(len(r.Packs)) > r.Optimal {
			t.Fatalf("half an answer: %+v", r)
		}
		for _, pack := range r.Packs {
			n := 0
			for _, u := range pack.Shims {
				n += u.Count
			}
			if n != pack.Count || n < 1 || n > largest {
				t.Fatalf("%s counts as %d of at most %d", pack, pack.Count, largest)
			}
			keepsToWindow(t, p, pack)
		}
	})
}

// keepsToWindow fails for a pack that does not keep to the window; it compares in the
// unit of the measurement, so only where that is the unit of the window.
func keepsToWindow(t *testing.T, p shims.Problem, pack shims.Pack) {
	if pack.Gives.Rounded || p.Lower.Unit != p.Measured.Unit || p.Upper.Unit != p.Measured.Unit {
		return
	}
	gives := rat(pack.Gives.Value.String())
	for limit, wrong := range map[*big.Rat]int{rat(p.Lower.Value.String()): -1, rat(p.Upper.Value.String()): 1} {
		if gives.Cmp(limit) == wrong {
			t.Fatalf("%s gives %s, outside %s to %s", pack, pack.Gives, p.Lower, p.Upper)
		}
	}
}
