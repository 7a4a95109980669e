package parts_test

import (
	"fmt"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// BenchmarkUses finds uses among 10,000 vehicles of 54 positions, where each
// has a gearbox with a serial and a lot.
func BenchmarkUses(b *testing.B) {
	w := newUseWorld()
	for i := range 50 {
		r := w.releases["R1"]
		r.Fitments = append(r.Fitments, build.Fitment{Position: fmt.Sprintf("place-%02d", i), Part: fmt.Sprintf("AP-%d", 7000+i)})
	}
	for n := 0; len(w.records) < 10_000; n++ {
		if s, err := vehicle.NewSerial(fmt.Sprintf("AM%05d", n)); err == nil {
			w.built(s, "R1", "2012-06-01", fmt.Sprintf("gearbox - G%d L%d", n, n/100))
		}
	}
	x := w.index(b)
	for _, question := range []string{"serial G7777", "lot L77", "AP-2000 lot L77", "AP-2000", "AP-3000 lot L77"} {
		b.Run(question, func(b *testing.B) {
			for b.Loop() {
				s, err := x.Search(w.catalogue, readUseQuestion(question), nil)
				if err != nil {
					b.Fatal(err)
				}
				if page, err := x.Uses(w.catalogue, s, nil, "", 50); err != nil || len(page.Uses) == 0 {
					b.Fatal(page, err)
				}
			}
		})
	}
}
