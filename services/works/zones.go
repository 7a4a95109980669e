package works

import (
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"
	_ "time/tzdata" // the fallback where the machine has no zone data of its own
)

// zoneDirs are where systems keep their zone data, in the order Go looks.
var zoneDirs = []string{"/usr/share/zoneinfo", "/usr/share/lib/zoneinfo", "/usr/lib/locale/TZ", "/etc/zoneinfo"}

// zoneData names the zone data in use and its age, as far as it tells.
func zoneData() string {
	if dir := os.Getenv("ZONEINFO"); dir != "" {
		return "from " + dir + " (ZONEINFO)"
	}
	for _, dir := range zoneDirs {
		at, err := os.Stat(dir)
		if err != nil {
			continue
		}
		release := ""
		if raw, err := os.ReadFile(dir + "/tzdata.zi"); err == nil {
			if first, _, ok := strings.Cut(string(raw), "\n"); ok {
				release = strings.TrimPrefix(first, "# version ") + ", "
			}
		}
		return "the system's, " + release + "installed " + at.ModTime().UTC().Format(time.DateOnly)
	}
	return "the copy inside this program, of " + runtime.Version() + "; install the system's for newer zone law"
}

// zoneLaw is a change of the law of a zone that data in use ought to know: at
// the moment, the zone's clocks are at the offset.
type zoneLaw struct {
	zone    string
	at      time.Time
	offset  time.Duration
	release string // the first release of the tz database that has it
	words   string
}

// zoneLaws are recent changes, each with a moment at which data from before it
// says something else. Sources: the announcements of the tz database's releases
// 2025a, 2026b and 2026c (lists.iana.org, tz-announce).
var zoneLaws = []zoneLaw{
	{"America/Asuncion", time.Date(2025, 7, 1, 12, 0, 0, 0, time.UTC), -3 * time.Hour, "2025a",
		"Paraguay stays at UTC-3 since October 2024"},
	{"Africa/Casablanca", time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC), 0, "2026c",
		"Morocco is back at UTC since 20 September 2026"},
	{"America/Vancouver", time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC), -7 * time.Hour, "2026b",
		"British Columbia stays at UTC-7, with no winter time from November 2026"},
	{"America/Edmonton", time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC), -6 * time.Hour, "2026c",
		"Alberta stays at UTC-6, with no winter time from November 2026"},
}

// known reports whether the zone data in use has the law.
func (l zoneLaw) known() bool {
	zone, err := time.LoadLocation(l.zone)
	if err != nil {
		return false
	}
	_, seconds := l.at.In(zone).Zone()
	return time.Duration(seconds)*time.Second == l.offset
}

// staleZones says which changes of zone law the data in use does not know, a
// sentence each: messages to people there may come an hour off.
func staleZones() []string {
	var out []string
	for _, l := range zoneLaws {
		if !l.known() {
			out = append(out, fmt.Sprintf("this data does not know that %s (%s, release %s): update the system's time-zone data", l.words, l.zone, l.release))
		}
	}
	return out
}
