package shims_test

import (
	"fmt"
	"testing"

	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// hardest is the worst problem that is let in: twenty sizes of which no two
// packs have the same total, eleven shims, and a window that none of them meets,
// so that every way out is tried: more stock, a twelfth shim, and both.
func hardest() shims.Problem {
	p := joint("0.15 mm", "5.55 mm")
	p.Sizes, p.LargestCount = nil, shims.MaxCount-1
	n := int64(100_000_007)
	for range shims.MaxSizes {
		n = n * 48271 % (1<<31 - 1) // Lehmer's generator, as Park and Miller chose it
		p.Sizes = append(p.Sizes, shims.Size{
			Thickness: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 50_000_000 + n%900_000_000, Scale: 9}, Unit: "mm"},
			Stock:     shims.MaxCount - 1,
		})
	}
	p.Lower, p.Upper = quantity("0.040000001 mm"), quantity("0.040000001 mm")
	return p
}

// usual is what a works has in its drawer.
func usual() shims.Problem {
	p := joint("0.15 mm", "0.76 mm")
	p.Sizes = endless("0.05 mm", "0.08 mm", "0.10 mm", "0.13 mm", "0.15 mm", "0.20 mm", "0.25 mm", "0.51 mm")
	return p
}

// regular are twenty sizes in steps of 0.01 mm, of which many packs are equal.
func regular() shims.Problem {
	p := joint("0.15 mm", "1.70 mm")
	p.Sizes, p.LargestCount = nil, shims.MaxCount
	for i := range shims.MaxSizes {
		p.Sizes = append(p.Sizes, endless(fmt.Sprintf("0.%02d mm", i+5))...)
	}
	p.Rule = shims.NearestThenFewest
	return p
}

func BenchmarkSelect(b *testing.B) {
	for _, c := range []struct {
		name string
		p    shims.Problem
	}{{"usual", usual()}, {"regular", regular()}, {"hardest", hardest()}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := shims.Select(c.p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
