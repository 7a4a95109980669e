package works

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
)

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
	for _, stale := range staleZones() {
		fmt.Fprintf(&b, "  %s\n", stale)
	}
	return b.String()
}
