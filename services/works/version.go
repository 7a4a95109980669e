package works

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"time"
	_ "time/tzdata" // the fallback where the machine has no zone data of its own
)

// zoneDirs are where systems keep their zone data, in the order Go looks.
var zoneDirs = []string{"/usr/share/zoneinfo", "/usr/share/lib/zoneinfo", "/usr/lib/locale/TZ", "/etc/zoneinfo"}

// Version says what this program is, and which time-zone data it goes by: zone
// law changes with months of notice, so its age matters.
func Version() string {
	var b strings.Builder
	revision, changed := "unknown revision", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				revision = s.Value[:min(12, len(s.Value))]
			case "vcs.time":
				changed = " of " + s.Value
			}
		}
	}
	fmt.Fprintf(&b, "halfshaft %s%s, %s, %s/%s\n", revision, changed, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	fmt.Fprintf(&b, "time zones: %s\n", zoneData())
	return b.String()
}

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
