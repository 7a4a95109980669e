package exchangerun_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"halfshaft/services/exchange"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

func TestTheReportCountsWhatItListsInWords(t *testing.T) {
	one := exchange.Fault{File: "builds.csv", Row: 2, Column: "serial", Want: "serial"}
	for _, c := range []struct {
		report exchangerun.Report
		want   string // its last line
	}{
		{exchangerun.Report{Files: 1, Total: 1, Faults: []exchange.Fault{one}}, "1 fault in 1 file: nothing was written."},
		{exchangerun.Report{Files: 3, Total: 2, Faults: []exchange.Fault{one, one}}, "2 faults in 3 files: nothing was written."},
		{exchangerun.Report{Files: 1, Total: 9, Faults: []exchange.Fault{one}}, "9 faults, of which 1 are listed in 1 file: nothing was written."},
		{exchangerun.Report{Written: 1, Unchanged: 1}, "1 record written, 1 was there already."},
		{exchangerun.Report{Written: 2, Unchanged: 0}, "2 records written, 0 were there already."},
		{exchangerun.Report{DryRun: true, New: 1, Unchanged: 7}, "Nothing is wrong. Nothing was written: this was a dry run. 1 record would be written; 7 records are there already."},
	} {
		var b bytes.Buffer
		if err := c.report.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(b.String()), "\n")
		if got := lines[len(lines)-1]; got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

func TestAFaultFoundByTwoChecksIsCountedOnce(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := t.TempDir()
	put(t, dir, "parts.csv", "part,title,status,releases\nZZ-1,,orderable,R9\n")
	put(t, dir, "applications.csv", "id,position,part\nZA1,sunroof,ZZ-9\n")
	r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	if r.Total != len(r.Faults) || r.Total != 4 {
		t.Errorf("%d faults, %d listed, want 4: %v", r.Total, len(r.Faults), r.Faults)
	}
}

func TestADryRunSaysHowManyRecordsItWouldWrite(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	o := exchangerun.Options{Today: aldermoor.Today, DryRun: true}
	dry, err := exchangerun.Import(ctx, c, []string{dir}, o)
	if err != nil {
		t.Fatal(err)
	}
	wet := importFrom(t, ctx, c, dir)
	if dry.New != wet.Written || dry.New == 0 || dry.Written != 0 {
		t.Errorf("the dry run would write %d, wrote %d, and then %d were written", dry.New, dry.Written, wet.Written)
	}
	if again, err := exchangerun.Import(ctx, c, []string{dir}, o); err != nil || again.New != 0 || again.Unchanged != wet.Written {
		t.Errorf("again it would write %d, %d are there, %v", again.New, again.Unchanged, err)
	}
	var b bytes.Buffer
	if err := wet.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b.Bytes(), &got); err != nil || got["written"] != float64(wet.Written) || got["faultCount"] != 0.0 {
		t.Errorf("got %s, %v", b.String(), err)
	}
}
