package parts_test

import (
	"fmt"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// BenchmarkVehicle answers for a vehicle of 60 assemblies with 50 places each,
// in a catalogue of 300,000 parts: the first question, for which the vehicle is
// made ready, and those that follow.
func BenchmarkVehicle(b *testing.B) {
	c, releases, l := large(300_000)
	n := 0
	for i := range 60 {
		assembly := "gearbox"
		if i < 48 {
			assembly = fmt.Sprintf("place-%d", i)
		}
		for j := range 50 {
			id := fmt.Sprintf("%s-detail-%d-%d", assembly, i, j)
			c.PutPosition(parts.Position{ID: id, Title: fmt.Sprintf("Detail %d of assembly %d", j, i), Within: assembly})
			for k, conditions := range []parts.Conditions{{Releases: []string{"R1", "R2"}}, {Releases: []string{"R3"}}, {Otherwise: true}} {
				c.PutApplication(parts.Application{ID: fmt.Sprintf("B%06d", n), Position: id, Part: fmt.Sprintf("LP-%06d", (n*7+k)%300_000), Conditions: conditions})
				n++
			}
		}
	}
	c.Seal()
	conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, day(today))
	if err != nil {
		b.Fatal(err)
	}
	a := parts.Answerer{Catalogue: c, Places: parts.NewPlaces(releases)}
	v := &parts.Vehicle{Configuration: conf, Specified: specified, Built: l.record.Built}
	b.Run("made ready", func(b *testing.B) {
		for b.Loop() {
			a.Prepare(v)
		}
	})
	ready := a.Prepare(v)
	for _, question := range []string{"gearbox", "gearbox detail 50 7", "LP-000007", "AP-2000", "seal", "detail 7 of assembly 12", "swivle seal", "no such thing"} {
		b.Run(question, func(b *testing.B) {
			for b.Loop() {
				ready.Answer(question)
			}
		})
	}
	b.Run("search within", func(b *testing.B) {
		for b.Loop() {
			ready.Search("seal", 20)
		}
	})
}
