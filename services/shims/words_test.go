package shims_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/services/shims"
)

var update = flag.Bool("update", false, "write the golden file anew; read it before it is committed")

// with changes a problem.
func with(p shims.Problem, change func(*shims.Problem)) shims.Problem {
	change(&p)
	return p
}

// load is a swivel pin: 5 to 8 kgf, 12 kgf for a millimetre of shim (a sample).
func load(measured, fitted string) shims.Problem {
	p := joint("0.15 mm", fitted)
	p.Measured, p.Lower, p.Upper = quantity(measured), quantity("5 kgf"), quantity("8 kgf")
	p.Slope, p.Joint = quantity("12 kgf/mm"), shims.SwivelPin
	return p
}

// stocked is a size with a part number and a number of pieces.
func stocked(thickness, part string, stock int) shims.Size {
	return shims.Size{Thickness: quantity(thickness), Part: part, Stock: stock}
}

// stories are the cases that a mechanic reads about.
func stories() []struct {
	name    string
	p       shims.Problem
	verdict shims.Verdict
} {
	drawer := []shims.Size{stocked("0.08 mm", "AP-20801", 1), stocked("0.13 mm", "AP-20802", 1), stocked("0.51 mm", "AP-20804", 3)}
	return []struct {
		name    string
		p       shims.Problem
		verdict shims.Verdict
	}{
		{"too much float (O-71)", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.Joint = shims.OutputShaft }), shims.FitPack},
		{"preload, nearest first (O-71)", with(joint("-0.04 mm", "0.38 mm"), func(p *shims.Problem) { p.Rule = shims.NearestThenFewest }), shims.FitPack},
		{"too little float, and the fewest shims leave it on the end of the window (O-71)", joint("0.02 mm", "0.51 mm"), shims.FitPack},
		{"in thou (O-72)", with(joint("0 thou", "18 thou"), func(p *shims.Problem) {
			p.Lower, p.Upper = quantity("1 thou"), quantity("3 thou")
			p.Sizes = endless("3 thou", "5 thou", "10 thou", "20 thou")
		}), shims.FitPack},
		{"packs on both sides of the target", with(joint("0.20 mm", "0.50 mm"), func(p *shims.Problem) {
			p.Lower, p.Upper, p.Sizes = quantity("0.10 mm"), quantity("0.20 mm"), endless("0.20 mm", "0.22 mm", "0.23 mm")
		}), shims.LeaveIt},
		{"two packs that are equally good", with(joint("0.25 mm", "0.55 mm"), func(p *shims.Problem) {
			p.Lower, p.Upper, p.Sizes = quantity("0.10 mm"), quantity("0.20 mm"), endless("0.44 mm", "0.46 mm", "0.10 mm")
		}), shims.FitPack},
		{"packs of one total, the thickest shims first", with(joint("0.25 mm", "0.55 mm"), func(p *shims.Problem) {
			p.Lower, p.Upper, p.Sizes = quantity("0.10 mm"), quantity("0.20 mm"), endless("0.20 mm", "0.25 mm", "0.22 mm", "0.23 mm")
		}), shims.FitPack},
		{"good as it is", joint("0.08 mm", "0.76 mm"), shims.LeaveIt},
		{"good, and could be better", with(joint("0.10 mm", "0.51 mm"), func(p *shims.Problem) { p.Sizes = endless("0.25 mm", "0.49 mm") }), shims.LeaveIt},
		{"stock stands in the way", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.Sizes = drawer }), shims.NoPack},
		{"the largest count stands in the way", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.LargestCount = 2 }), shims.NoPack},
		{"stock and count stand in the way", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.Sizes, p.LargestCount = drawer, 2 }), shims.NoPack},
		{"between the sizes", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.Sizes = endless("0.30 mm", "0.50 mm") }), shims.NoPack},
		{"nothing in stock", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) { p.Sizes = []shims.Size{stocked("0.25 mm", "", 0)} }), shims.NoPack},
		{"less than no shim", joint("0.40 mm", "0.25 mm"), shims.NoPack},
		{"less than no shim, other design", with(joint("-0.40 mm", "0.25 mm"), func(p *shims.Problem) { p.Design = shims.TakesUpFloat }), shims.NoPack},
		{"thinner than any, but in the window", joint("0.12 mm", "0.11 mm"), shims.FitPack},
		{"thicker than any pack", with(joint("-4 mm", "0.25 mm"), func(p *shims.Problem) { p.LargestCount = 4 }), shims.NoPack},
		{"thicker than any pack, other design", with(joint("9 mm", "0 mm"), func(p *shims.Problem) { p.Design = shims.TakesUpFloat }), shims.NoPack},
		{"a swivel pin turns too lightly", load("3.5 kgf", "0.76 mm"), shims.FitPack},
		{"a swivel pin without the shims for it", with(load("3.5 kgf", "0.76 mm"), func(p *shims.Problem) {
			p.Sizes, p.Target = []shims.Size{stocked("0.30 mm", "", 1), stocked("1.20 mm", "", 2)}, quantity("7 kgf")
		}), shims.NoPack},
		{"a swivel pin in pounds, slope in thou", with(load("22.5 lbf", "0.51 mm"), func(p *shims.Problem) { p.Slope = quantity("0.7 lbf per thou") }), shims.FitPack},
		{"fitted shims are used again", with(joint("0.15 mm", "0.76 mm"), func(p *shims.Problem) {
			p.Fitted = shims.Fitted{Shims: []shims.Held{{quantity("0.51 mm"), 1, "AP-20804"}, {quantity("0.25 mm"), 1, ""}}}
			p.Sizes, p.ReuseFitted, p.Joint = []shims.Size{stocked("0.08 mm", "AP-20801", 2)}, true, shims.WheelHub
		}), shims.FitPack},
	}
}

func TestWhatIsReadOut(t *testing.T) {
	var b strings.Builder
	for _, s := range stories() {
		r := choose(t, s.p)
		if r.Verdict != s.verdict {
			t.Errorf("%s: %s, want %s", s.name, r.Verdict, s.verdict)
		}
		fmt.Fprintf(&b, "# %s: %s\n", s.name, r.Verdict)
		for _, p := range r.Packs {
			fmt.Fprintf(&b, "  %s = %s -> %s\n", p, p.Total, p.Gives)
		}
		for _, reason := range r.Reasons {
			fmt.Fprintf(&b, "  %s\n", reason)
		}
		for _, reason := range r.LookFor {
			fmt.Fprintf(&b, "  look: %s\n", reason)
		}
		for _, reason := range r.Cautions {
			fmt.Fprintf(&b, "  caution: %s\n", reason)
		}
		b.WriteString("\n")
	}
	path := filepath.Join("testdata", "stories.txt")
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the stories read:\n%s\nwant:\n%s", b.String(), want)
	}
}
