package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestThePackOfShimsIsReadOutLikeThis compares what a mechanic is told on the
// telephone with testdata/shims.golden: a bearing that wants another pack, the
// same with preload, shims that leave a choice, a pack that may stay, and a pin
// that is set by a load.
func TestThePackOfShimsIsReadOutLikeThis(t *testing.T) {
	readLike(t, demoData(t), "testdata/shims.golden", [][]string{
		{"shims", "am 0147 p", "Output shaft bearing", "0.18", "mm", "--fitted", "0.51 mm x1; 0.25 mm x1"},
		{"shims", "AM0147P", "output-shaft-bearing", "minus 0.04 mm", "--pack", "0.38mm", "--rule", "nearest"},
		{"shims", "AM0147P", "output-shaft-bearing", "0.15mm", "--pack", "0.76mm", "--window", "0.05..0.10 mm", "--stock", "0.10 mm; 0.20 mm; 0.51 mm x1; 0.61 mm"},
		{"shims", "AM0104A", "output-shaft-bearing", "0.12mm", "--pack", "30 thou"},
		{"shims", "AM0147P", "swivel-pin-left", "3.5kgf", "--pack", "0.76mm"},
		{"shims", "AM0147P", "output-shaft-bearing", "0.18mm"},
	})
}

func TestThatNoPackServesIsARefusalThatSaysWhatToLookFor(t *testing.T) {
	out, ok := halfshaft(t, demoData(t), "shims", "AM0147P", "output-shaft-bearing", "0.40mm", "--pack", "0.25mm")
	for _, part := range []string{"less than no shim at all", "  NONE    ", "  look    A wrong or worn bearing", "  CAUTION "} {
		if ok || !strings.Contains(out, part) {
			t.Errorf("%v, without %q: %s", ok, part, out)
		}
	}
}

func TestAQuestionAboutShimsThatCannotBeReadSaysWhatIsWrong(t *testing.T) {
	data := demoData(t)
	for title, c := range map[string]struct {
		args []string
		want []string
	}{
		"everything at once": {[]string{"0.x", "--pack", "0.25", "--rule", "best", "--stock", "0.25 mm x0", "--window", "3"},
			[]string{"measured: got", "pack: got", "rule: got", "stock: got", "window: got"}},
		"no pack to record from":  {[]string{"0.18mm", "--record", "T02", "--by", "Jo"}, []string{"--fitted", `On record is 0.55 mm (the build record, 5 February 2022, works, bench 2): --pack "0.55 mm", if that is what was in`}},
		"two packs":               {[]string{"0.15mm", "--pack", "0.76mm", "--fitted", "0.76 mm"}, []string{"--fitted"}},
		"who without what":        {[]string{"0.15mm", "--pack", "0.76mm", "--by", "Harbour Road Garage"}, []string{"--record T02"}},
		"what without who":        {[]string{"0.18mm", "--pack", "0.76mm", "--record", "T02"}, []string{"--by NAME"}},
		"a load":                  {[]string{"6kgf", "--pack", "0.76mm"}, []string{"measured: got", "a value in mm"}},
		"which of several":        {[]string{"0.15mm", "--pack", "0.76mm", "--window", "0.05..0.10", "--stock", "0.10 mm; 0.20 mm; 0.51 mm; 0.61 mm", "--record", "T02", "--by", "Jo"}, []string{"1 to 2", "nothing was recorded"}},
		"a third of two":          {[]string{"0.15mm", "--pack", "0.76mm", "--window", "0.05..0.10", "--stock", "0.10 mm; 0.20 mm; 0.51 mm; 0.61 mm", "--record", "T02", "--by", "Jo", "--choose", "3"}, []string{`choose: got "3"`}},
		"one that need not be in": {[]string{"0.12mm", "--pack", "0.76mm", "--record", "T02", "--by", "Jo"}, []string{"the old one may stay", "nothing was recorded"}},
	} {
		out, ok := halfshaft(t, data, append([]string{"shims", "AM0147P", "output-shaft-bearing"}, c.args...)...)
		for _, part := range c.want {
			if ok || !strings.Contains(out, part) {
				t.Errorf("%s: %v, without %q: %s", title, ok, part, out)
			}
		}
	}
	for args, want := range map[string]string{
		"AM0101G output-shaft-bearing 0.19mm": "On record is 0.51 mm (the service entry vehicles/AM0101G/serviceEntries/s1, 11 May 2022, Aldermoor Works), but since then the output shaft bearing was overhauled on 2 March 2026 and no pack was written down: measure it",
		"AM0104A swivel-pin-left 3.5kgf":      "pack: got nothing, want the pack that is fitted",
	} {
		if out, ok := halfshaft(t, data, append([]string{"shims"}, strings.Fields(args)...)...); ok || !strings.Contains(out, want) {
			t.Errorf("%s: %v, without %q: %s", args, ok, want, out)
		}
	}
	if out, ok := halfshaft(t, data, "shims", "AM0147P", "gearbox", "0.15mm", "--pack", "0.76mm"); ok || !strings.Contains(out, "With shims are set: output-shaft-bearing, swivel-pin-left and swivel-pin-right.") {
		t.Errorf("at the gearbox: %v, %s", ok, out)
	}
}

func TestThePackThatWasFittedIsRecordedInTheSameGo(t *testing.T) {
	data := demoData(t)
	out, ok := halfshaft(t, data, "shims", "AM0147P", "output-shaft-bearing", "0.15mm", "--pack", "0.76mm", "--window", "0.05..0.10 mm",
		"--stock", "0.10 mm; 0.20 mm; 0.51 mm; 0.61 mm", "--choose", "2", "--record", "T02", "--by", "Harbour Road Garage", "--measured-after", "0.10mm")
	for _, part := range []string{
		"recorded for 18 May 2026 as vehicles/AM0147P/serviceEntries/", "  shims   0.51 mm + 0.20 mm = 0.71 mm, recorded for the output shaft bearing",
		"change AM0147P overhaul output-shaft-bearing",
	} {
		if !ok || !strings.Contains(out, part) {
			t.Errorf("%v, without %q: %s", ok, part, out)
		}
	}
	if strings.Contains(out, "Measure again when") {
		t.Errorf("it was measured already: %s", out)
	}
	if strings.Contains(out, "should have come of it") {
		t.Errorf("it came to what it should: %s", out)
	}
	to := filepath.Join(t.TempDir(), "export")
	if out, ok := halfshaft(t, data, "export", to); !ok {
		t.Fatal(out)
	}
	file, err := os.ReadFile(filepath.Join(to, "shim_work.csv"))
	if want := ",AM0147P,T02,output-shaft-bearing,end-float,0.15 mm,0.76 mm,0.51 mm x1; 0.20 mm x1,0.71 mm,0.10 mm\n"; err != nil || !strings.Contains(string(file), want) {
		t.Errorf("%v: no %q in %s", err, want, file)
	}
}

func TestAValueThatThePackCannotHaveGivenIsQuestioned(t *testing.T) {
	data := demoData(t)
	out, ok := halfshaft(t, data, "shims", "AM0147P", "output-shaft-bearing", "0.18mm", "--pack", "0.76mm", "--record", "T02", "--by", "Jo", "--measured-after", "0.20mm")
	for _, part := range []string{
		"  CAUTION 0.20 mm was measured with it, and 0.06 mm should have come of it: 0.14 mm more.", "Measure again. If it stands, a shim",
		"  measured output-shaft-bearing, end float: 0.20 mm is outside its window of 0.05 to 0.15 mm", "To be given it: --rule",
	} {
		if !ok || !strings.Contains(out, part) {
			t.Errorf("%v, without %q: %s", ok, part, out)
		}
	}
	if out, ok := halfshaft(t, data, "shims", "AM0147P", "output-shaft-bearing", "0.20mm"); !ok || !strings.Contains(out, "  PACK    0.64 mm as on record (the service entry vehicles/AM0147P/serviceEntries/") {
		t.Errorf("the pack that was just recorded: %v, %s", ok, out)
	}
}
