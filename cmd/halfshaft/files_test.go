package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/testdata/aldermoor"
)

// The program as the one who fills the works' files in uses it.
func TestAnImportIsTriedReportedAndRefusedAsPeopleAndProgramsReadIt(t *testing.T) {
	data := demoData(t)
	files := filepath.Join(t.TempDir(), "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	put := func(name, content string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(files, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("parts_2.csv", "part,title,status\nZZ-1,Bolt,orderable\n")
	if out, ok := halfshaft(t, data, "import", "--dry-run", files); !ok || !strings.Contains(out, "this was a dry run. 1 record would be written;") {
		t.Errorf("tried: %v\n%s", ok, out)
	}
	var report struct {
		DryRun     bool
		New        int
		FaultCount int
		Faults     []struct{ File, Column, Got, Want string }
	}
	out, ok := printed(t, data, "import", "--dry-run", "--json", files)
	if err := json.Unmarshal([]byte(out), &report); err != nil || !ok || !report.DryRun || report.New != 1 {
		t.Errorf("as JSON: %v %v\n%s", ok, err, out)
	}
	put("parts_2.csv", "part,title,status\nZZ-1,Bolt,orderabel\n")
	if out, ok := halfshaft(t, data, "import", files); ok || !strings.Contains(out, "1 fault in ") {
		t.Errorf("with a fault: %v\n%s", ok, out)
	}
	out, ok = printed(t, data, "import", "--json", files)
	if err := json.Unmarshal([]byte(out), &report); err != nil || ok || report.FaultCount != 1 || report.Faults[0].Column != "status" {
		t.Errorf("with a fault, as JSON: %v %v\n%s", ok, err, out)
	}
}

func TestNewNumbersAreToldAndAVehicleInASearchIsPointedOut(t *testing.T) {
	data := demoData(t)
	for _, c := range []struct{ args, want string }{
		// The check characters are worked out in services/console's test.
		{"serial AM0147 am-0288", "the serial AM0147P"},
		{"serial AM0287 --count 2", "AM02871\nAM0289Y\n"},
		{"serial AM0147 --json", `"serial":"AM0147P"`},
		{"search AM0101G fan belt", "AM0101G is a vehicle. To search what fits it: halfshaft search --vehicle AM0101G fan belt"},
		{"search --vehicle AM0101G fan belt", "belt"},
	} {
		if out, ok := halfshaft(t, data, strings.Fields(c.args)...); !ok || !strings.Contains(out, c.want) {
			t.Errorf("%s: %v\n%s\nwant %s", c.args, ok, out, c.want)
		}
	}
}
