package parts_test

import (
	"strings"
	"testing"

	"halfshaft/services/parts"
)

// What a row that is missing may be to blame for is left to Check; what a row
// has wrong by itself both tell.
func TestRecordsAreCheckedWithoutWhatAMissingRowMayBeToBlameFor(t *testing.T) {
	c := shedTechnical(t)
	for _, p := range []parts.Position{place("gearbox-filler", "gearbox"), place("empty", "gearbox"), place("nowhere-bolt", "nowhere")} {
		c.PutPosition(p)
	}
	c.PutApplication(applies("B01", "gearbox-filler", "AP-NONE", parts.Conditions{Releases: []string{"R1"}}))
	c.PutApplication(applies("B02", "gearbox-filler", "AP-2110", parts.Conditions{Options: []string{"sunroof"}}))
	c.PutApplication(applies("B03", "nowhere-bolt", "AP-2110", parts.Conditions{}))
	told := func(whole bool) string {
		found := c.CheckRecords(shedReleases())
		if whole {
			found = c.Check(shedReleases())
		}
		var all []string
		for _, f := range found {
			all = append(all, f.Name+" "+f.Want)
		}
		return strings.Join(all, "\n")
	}
	for _, f := range []struct {
		want  string
		whole bool // only Check tells
	}{
		{"rows[applications/B01].conditions an application that holds", true},
		{"rows[positions/empty].name an application that says", true},
		{"rows[applications/B01].part a part of the catalogue", true},
		{"rows[applications/B02].conditions.options[0] an option of a release", false},
		{"rows[positions/nowhere-bolt].within a position of a release", false},
	} {
		if !strings.Contains(told(true), f.want) {
			t.Errorf("Check does not tell %s\n%s", f.want, told(true))
		}
		if strings.Contains(told(false), f.want) == f.whole {
			t.Errorf("CheckRecords on %s:\n%s", f.want, told(false))
		}
	}
}
