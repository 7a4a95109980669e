package works

import (
	"cmp"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
)

// Version says what this program is, how it was built, and which time-zone data
// it goes by: zone law changes with months of notice, so its age matters.
func Version() string {
	var b strings.Builder
	info, ok := debug.ReadBuildInfo()
	if !ok {
		info = &debug.BuildInfo{}
	}
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	revision, changed := "unknown revision", ""
	if r := settings["vcs.revision"]; r != "" {
		revision = r[:min(12, len(r))]
	}
	if at := settings["vcs.time"]; at != "" {
		changed = " of " + at
	}
	if settings["vcs.modified"] == "true" {
		changed += ", with changes"
	}
	fmt.Fprintf(&b, "halfshaft %s%s, %s, %s/%s\n", revision, changed, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	fmt.Fprintf(&b, "built: %s\n", strings.Join(built(settings, len(info.Deps)), ", "))
	fmt.Fprintf(&b, "time zones: %s\n", zoneData())
	for _, stale := range staleZones() {
		fmt.Fprintf(&b, "  %s\n", stale)
	}
	return b.String()
}

// built tells the settings that make one binary differ from another.
func built(settings map[string]string, modules int) []string {
	parts := []string{fmt.Sprintf("of %d modules", modules)}
	for _, key := range []string{"-trimpath", "-race", "-tags", "CGO_ENABLED", "GOAMD64", "GOARM64", "GOFIPS140"} {
		if value := settings[key]; value != "" {
			parts = append(parts, key+"="+value)
		}
	}
	return parts
}

// Modules lists what the program is made of, one a line: path, version and the
// hash that go.sum has for it.
func Modules() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "this program does not say what it is made of\n"
	}
	slices.SortFunc(info.Deps, func(a, b *debug.Module) int { return cmp.Compare(a.Path, b.Path) })
	var b strings.Builder
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		fmt.Fprintf(&b, "%s %s %s\n", m.Path, m.Version, m.Sum)
	}
	return b.String()
}
