package parts_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// BenchmarkUses finds uses among 10,000 vehicles of 54 positions, where each
// has a gearbox with a serial and a lot, and had three of 300 different units
// fitted since, so that hardly two are made up alike. AP-2500 is a small part of
// every gearbox, AP-2700 one whose row asks an expression of each vehicle.
func BenchmarkUses(b *testing.B) {
	w := newUseWorld()
	for i := range 50 {
		r := w.releases["R1"]
		r.Fitments = append(r.Fitments, build.Fitment{Position: fmt.Sprintf("place-%02d", i), Part: fmt.Sprintf("AP-%d", 7000+i)})
	}
	random := rand.New(rand.NewPCG(1, 2))
	for n := 0; len(w.records) < 10_000; n++ {
		if s, err := vehicle.NewSerial(fmt.Sprintf("AM%05d", n)); err == nil {
			w.built(s, "R1", "2012-06-01", fmt.Sprintf("gearbox - G%d L%d", n, n/100))
			for k := range 3 {
				w.fit(s, fmt.Sprintf("201%d-03-01", 4+k), fmt.Sprintf("place-%02d AP-%d", random.IntN(50), 8000+random.IntN(300)))
			}
		}
	}
	w.apply(b, parts.Application{ID: "kit-1", Position: "gearbox-kit", Part: "AP-2700", Conditions: parts.Conditions{
		AppliesWhen: `"gearbox" in fitted && !("winch" in options)`}})
	before := time.Now()
	x := w.index(b)
	b.Logf("the index took %v", time.Since(before))
	for _, question := range []string{"serial G7777", "lot L77", "AP-2000 lot L77", "AP-2000", "AP-3000 lot L77", "AP-3001", "AP-2500", "AP-2700"} {
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
