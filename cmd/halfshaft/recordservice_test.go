package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/testdata/aldermoor"
)

// recordedAs is a name that the service gave, another in each run.
var recordedAs = regexp.MustCompile(`(serviceEntries|readings)/[0-9a-f]{12}`)

// TestRecordedWorkReadsLikeThis records work as a person at the desk would, with
// what is wrong or doubtful about it, and compares what is printed with
// testdata/recordservice.golden. Each builds on those before it; what is refused
// is printed too.
func TestRecordedWorkReadsLikeThis(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	defer p.stop(t)
	var got strings.Builder
	for _, args := range [][]string{
		{"record", "service", "am 0135 x", "--item", "T02=end-float:0.30mm", "--done-by", "Harbour Road Garage"},
		{"record", "service", "AM0135X", "--item", "E01", "--part", "ap1010", "--part", "2xAP-99999", "--reading", "99999", "--on", "2026-05-10"},
		{"record", "service", "AM0135X", "--item", "S05=end-float:0.12mm"},
		{"record", "service", "AM0135X", "--item", "S05=end-float@hub-front-left:0.12mm,end-float@hub-front-right:0.17mm"},
		{"record", "service", "AM0135X", "--item", "B03F=pad-thickness:2.0mm"},
		{"record", "service", "AM0135X", "--item", "E01", "--on", "2001-01-01"},
		{"record", "service", "AM0135X", "--item", "Q77"},
		{"record", "service", "AM01082", "--item", "B02F=lining-above-rivet:5.0mm", "--item", "W03=tread-depth:7.3mm"},
		{"measured", "AM01082", "brakes-front", "--characteristic", "lining-above-rivet"},
	} {
		out, _ := halfshaft(t, data, args...)
		got.WriteString("$ halfshaft " + strings.Join(args, " ") + "\n" + recordedAs.ReplaceAllString(out, "$1/ID") + "\n")
	}
	const path = "testdata/recordservice.golden"
	if *update {
		if err := os.WriteFile(path, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	to := t.TempDir() + "/export"
	if out, ok := halfshaft(t, data, "export", to); !ok {
		t.Fatal(out)
	}
	file, err := os.ReadFile(to + "/parts_used.csv")
	if err != nil || !strings.Contains(string(file), ",AP-1010,1") || !strings.Contains(string(file), ",AP-99999,2") {
		t.Errorf("the parts, as the catalogue writes them: %v\n%s", err, file)
	}
}
