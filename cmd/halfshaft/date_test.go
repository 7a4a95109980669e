package main

import (
	"context"
	"os"
	"os/exec"
	"strings"
	"testing"

	"halfshaft/testdata/aldermoor"
)

// dated runs one command that takes another date for today than the demo's.
func dated(t *testing.T, data, date string, args ...string) (output string, ok bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, append(args, "--data", data, "--date", date)...)
	cmd.Env = append(os.Environ(), "HALFSHAFT_DATA=", "HALFSHAFT_SERVER=", "HALFSHAFT_KEY=")
	out, err := cmd.CombinedOutput()
	return string(out), err == nil
}

// TestAnotherDateIsTheDayOfTheQuestionWithAServerToo tries things out on a date
// beside a server whose today is another.
func TestAnotherDateIsTheDayOfTheQuestionWithAServerToo(t *testing.T) {
	data := demoData(t)
	questions := [][]string{
		{"schedule", "AM0147P"}, {"vehicle", "AM0158J"}, {"part", "AM01234", "wiper", "blade", "left"}, {"measured", "AM01082"},
		{"visits", "AM0147P"}, {"due", "--within", "5d"}, {"components", "AM0101G"}, {"fluids", "AM0101G"}, {"settings", "AM0101G"}, {"speed", "AM0101G"},
	}
	alone := map[string]string{}
	for _, c := range questions {
		out, ok := dated(t, data, "2026-09-01", c...)
		if !ok {
			t.Errorf("%v: %s", c, out)
		}
		alone[strings.Join(c, " ")] = out
	}
	p := serve(t, data, "--date", aldermoor.Today.String())
	for _, c := range questions {
		if out, _ := dated(t, data, "2026-09-01", c...); out != alone[strings.Join(c, " ")] {
			t.Errorf("%v: with a server it prints\n%s\nwithout\n%s", c, out, alone[strings.Join(c, " ")])
		}
	}
	for _, c := range [][]string{
		{"judge", "AM01082", "0.18 mm", "output-shaft-bearing"}, {"record", "service", "AM01082", "--item", "E01"},
	} {
		out, ok := dated(t, data, "2026-09-01", c...)
		if ok || !strings.Contains(out, "a day that has come") || !strings.Contains(out, "its own today decides") {
			t.Errorf("%v: %v, %s", c, ok, out)
		}
	}
	if out, ok := dated(t, data, "2026-05-01", "judge", "AM01082", "0.18 mm", "output-shaft-bearing"); !ok {
		t.Errorf("a day that has come: %s", out)
	}
	p.stop(t)
	if out, ok := dated(t, data, "2026-09-01", "judge", "AM01082", "0.18 mm", "output-shaft-bearing"); !ok || !strings.Contains(out, "1 September 2026") {
		t.Errorf("without a server: %v, %s", ok, out)
	}
}
