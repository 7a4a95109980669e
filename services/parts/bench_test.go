package parts_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"

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
			words(word()+" "+word(), word()), at(position), caution("Mind your fingers.")))
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

// BenchmarkLargeCatalogue loads 300,000 parts, tells the memory of each, and
// answers from them.
func BenchmarkLargeCatalogue(b *testing.B) {
	const n = 300_000
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	c, releases, l := large(n)
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
		})
	}
	for _, text := range []string{"locking tab", "swivle seal", "seal", "sealab bearing"} {
		b.Run("search/"+text, func(b *testing.B) {
			for b.Loop() {
				c.Search(text, 10)
			}
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
