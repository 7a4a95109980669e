package parts_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// large makes a catalogue of n invented parts from a vocabulary of some two
// thousand words, the shed's among them, and a vehicle of sixty positions.
func large(n int) (*parts.Catalogue, build.ReleaseSet, life) {
	r := rand.New(rand.NewPCG(1, 2))
	nouns := []string{"seal", "gasket", "bearing", "bolt", "housing", "bracket", "shaft", "gear", "spring", "plate", "cover", "hose", "washer", "valve", "bush"}
	word := func() string {
		return fmt.Sprintf("%s%c%c", nouns[r.IntN(len(nouns))][:3], 'a'+r.IntN(26), 'a'+r.IntN(26))
	}
	c := parts.NewCatalogue()
	for _, p := range shedParts() {
		c.Put(p)
	}
	release := *shedReleases()["R1"]
	for i := range n {
		number := fmt.Sprintf("LP-%06d", i)
		position := fmt.Sprintf("place-%d-%s", i%400, []string{"left", "right"}[i%2])
		c.Put(part(number, fmt.Sprintf("%s %s, %s", word(), nouns[i%len(nouns)], word()),
			words(word()+" "+word(), word()), at(position), caution("Mind your fingers."), elsewhere(fmt.Sprintf("77/%03d-%03d", i/1000, i%1000))))
		if i < 48 {
			release.Fitments = append(release.Fitments, fitment(fmt.Sprintf("place-%d", i), number, 1))
		}
	}
	for _, s := range shedSupersessions() {
		c.PutSupersession(s)
	}
	c.Seal()
	return c, build.ReleaseSet{"R1": &release}, built("AM0101", "R1", "winch")
}

// BenchmarkSearch searches 300,000 parts: for each kind of question, over all
// and within what fits a vehicle, of 2,000 and of 100,000 parts.
func BenchmarkSearch(b *testing.B) {
	const n = 300_000
	c, _, _ := large(n)
	subset := func(each int) *parts.Subset {
		var numbers []string
		for i := 0; i < n; i += each {
			numbers = append(numbers, fmt.Sprintf("LP-%06d", i))
		}
		return c.Subset(numbers)
	}
	within := []struct {
		name string
		of   *parts.Subset
	}{{"all", nil}, {"of 2,000", subset(150)}, {"of 100,000", subset(3)}}
	for _, q := range []struct{ name, text string }{
		{"rare words", "locking tab"}, {"a common word", "seal"}, {"a common word and a side", "seal left"},
		{"two common words", "seal washer"}, {"a common word in the plural", "bushes"}, {"written as one", "lockingtab"},
		{"three letters", "sea"}, {"three letters twice", "sea bea"}, {"a common word and three letters", "seal bea"},
		{"a letter left out", "swivl seal"}, {"a letter too many", "swivvel seal"}, {"another letter", "swovel seal"},
		{"two letters swapped", "swivle seal"}, {"ten unknown words", "alpha bravo charlie delta foxtrot golfing hotel juliet kilo limas"},
		{"a number", "LP-200000"}, {"a number without separators", "lp200000"}, {"an old number", "AP 1999"},
		{"a number elsewhere", "77/123-456"}, {"a near miss", "LP-20000O"}, {"a number that is none", "LP-2000000000"},
	} {
		for _, w := range within {
			b.Run(q.name+"/"+w.name, func(b *testing.B) {
				for b.Loop() {
					c.SearchWithin(w.of, q.text, 10)
				}
			})
		}
	}
	b.Run("make a subset of 2,000", func(b *testing.B) {
		for b.Loop() {
			subset(150)
		}
	})
}

// BenchmarkReseal changes a catalogue of 300,000 as an import does and makes
// it ready to be asked again.
func BenchmarkReseal(b *testing.B) {
	c, _, _ := large(300_000)
	for _, rows := range []int{1, 100} {
		b.Run(fmt.Sprintf("%d new and %d changed", rows, rows), func(b *testing.B) {
			round := 0
			for b.Loop() {
				round++
				for i := range rows {
					c.Put(part(fmt.Sprintf("N%d-%04d", round, i), "Seal, late", at("place-7-left")))
					c.Put(part(fmt.Sprintf("LP-%06d", i*2999), fmt.Sprintf("Gasket of round %d", round)))
				}
				c.Seal()
			}
		})
	}
}

// BenchmarkLargeCatalogue loads 300,000 parts, tells the memory of each, and
// answers from them.
func BenchmarkLargeCatalogue(b *testing.B) {
	const n = 300_000
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	begun := time.Now()
	c, releases, l := large(n)
	load := time.Since(begun)
	runtime.GC()
	runtime.ReadMemStats(&after)
	perPart := float64(after.HeapAlloc-before.HeapAlloc) / n
	conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, day(today))
	if err != nil {
		b.Fatal(err)
	}
	a := parts.Answerer{Catalogue: c, Places: parts.NewPlaces(releases)}
	for _, question := range []string{"gearbox", "ap2000", "swivel ball seal left", "shoker", "LP-200000", "limited slip diff"} {
		b.Run("answer/"+question, func(b *testing.B) {
			for b.Loop() {
				a.Answer(&parts.Vehicle{Configuration: conf, Specified: specified}, question)
			}
			b.ReportMetric(perPart, "B/part")
			b.ReportMetric(load.Seconds(), "s/load")
		})
	}
	b.Run("configuration", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := build.ConfigureSpecified(l.record, l.changes, releases, day(today)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("load 1000 parts", func(b *testing.B) {
		for b.Loop() {
			large(1000)
		}
	})
}

func elsewhere(numbers ...string) func(*parts.Part) {
	return func(p *parts.Part) { p.OtherNumbers = numbers }
}
