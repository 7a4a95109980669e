package works

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// zdumpSays asks the system's own reader of its zone data (zdump, of the C
// library) what the offset of a zone is at a moment.
func zdumpSays(t *testing.T, zone string, at time.Time) time.Duration {
	t.Helper()
	path, err := exec.LookPath("zdump")
	if err != nil {
		t.Skip("zdump is not installed: nothing to compare with")
	}
	from, until := at.Year()-3, at.Year()+1
	out, err := exec.Command(path, "-v", "-c", fmt.Sprintf("%d,%d", from, until), zone).Output()
	if err != nil {
		t.Skipf("zdump %s: %v", zone, err)
	}
	// America/Asuncion  Tue Oct 15 03:00:00 2024 UT = Tue Oct 15 00:00:00 2024 -03 isdst=0 gmtoff=-10800
	var offset time.Duration
	for line := range strings.Lines(string(out)) {
		moment, rest, ok := strings.Cut(strings.TrimSpace(line), " UT = ")
		_, seconds, found := strings.Cut(rest, "gmtoff=")
		if !ok || !found {
			continue
		}
		when, err := time.Parse("Mon Jan _2 15:04:05 2006", strings.TrimSpace(strings.TrimPrefix(moment, zone)))
		if err != nil {
			continue // before the year 0 and after the year 9999
		}
		var s int
		if _, err := fmt.Sscan(seconds, &s); err == nil && !when.After(at) {
			offset = time.Duration(s) * time.Second
		}
	}
	return offset
}

// What this program takes for a zone's law is what the system's data says, as
// another reader reads it: for zones whose law changed lately, at the moments
// that tell the old law from the new.
func TestZoneLawIsTheSystems(t *testing.T) {
	for _, l := range zoneLaws {
		zone, err := time.LoadLocation(l.zone)
		if err != nil {
			t.Fatal(err)
		}
		_, seconds := l.at.In(zone).Zone()
		if got, want := time.Duration(seconds)*time.Second, zdumpSays(t, l.zone, l.at); got != want {
			t.Errorf("%s at %s: got UTC%+v, the system says UTC%+v", l.zone, l.at, got, want)
		}
		if mentioned := strings.Contains(Version(), l.zone); mentioned == l.known() {
			t.Errorf("%s: known is %v, and the version's words say otherwise:\n%s", l.zone, l.known(), Version())
		}
	}
}

// The days on which clocks change, 2026 and 2027: O-50 of the works' check
// values, from the IANA tz database, release 2026f.
func TestClocksChangeOnTheDaysOfTheDatabase(t *testing.T) {
	for zone, moments := range map[string][]string{
		"America/New_York": {"2026-03-08T07:00Z", "2026-11-01T06:00Z", "2027-03-14T07:00Z", "2027-11-07T06:00Z"},
		"Europe/London":    {"2026-03-29T01:00Z", "2026-10-25T01:00Z", "2027-03-28T01:00Z", "2027-10-31T01:00Z"},
		"Australia/Sydney": {"2026-04-04T16:00Z", "2026-10-03T16:00Z"},
		"America/Phoenix":  nil,
	} {
		location, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		changes := map[string]bool{}
		end := time.Date(2028, 1, 1, 0, 0, 0, 0, time.UTC)
		if len(moments) == 2 {
			end = time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
		}
		for at := time.Date(2026, 1, 1, 1, 0, 0, 0, time.UTC); at.Before(end); at = at.Add(time.Hour) {
			_, before := at.Add(-time.Hour).In(location).Zone()
			if _, now := at.In(location).Zone(); now != before {
				changes[at.Format("2006-01-02T15:04Z")] = true
			}
		}
		if len(changes) != len(moments) {
			t.Errorf("%s: got %v, want %v", zone, changes, moments)
		}
		for _, m := range moments {
			if !changes[m] {
				t.Errorf("%s: no change at %s", zone, m)
			}
		}
	}
}
