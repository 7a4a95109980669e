package main

import (
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Every command stands in the help under the job it is for, in groups that are
// not torn apart.
func TestEveryCommandStandsInAGroupOfTheHelp(t *testing.T) {
	var groups []string
	line := reflect.TypeFor[commands]()
	for i := range line.NumField() {
		f := line.Field(i)
		if _, command := f.Tag.Lookup("cmd"); !command {
			continue
		}
		group := f.Tag.Get("group")
		switch at := slices.Index(groups, group); {
		case group == "":
			t.Errorf("%s is in no group", f.Name)
		case at < 0:
			groups = append(groups, group)
		case at != len(groups)-1:
			t.Errorf("%s stands apart from the others of %q", f.Name, group)
		}
	}
	for _, args := range [][]string{{"help"}, {"--help"}} {
		out, ok := halfshaft(t, t.TempDir(), args...)
		if !ok {
			t.Errorf("halfshaft %s fails:\n%s", args[0], out)
		}
		headings := regexp.MustCompile(`(?m)^[A-Z][^:<\n]*$`).FindAllString(out[strings.Index(out, "Flags:"):], -1)
		if !slices.Equal(headings, groups) {
			t.Errorf("the headings are %q, want %q", headings, groups)
		}
	}
	if out, ok := halfshaft(t, t.TempDir(), "help", "note", "change"); !ok || !strings.Contains(out, "Usage: halfshaft note change <name>") {
		t.Errorf("of one command:\n%s", out)
	}
}
