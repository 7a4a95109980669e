// Package zonetest lists the time zones of the IANA tz database for tests.
package zonetest

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// systems are where systems keep the compiled files of the tz database, one to
// each name.
var systems = []string{"/usr/share/zoneinfo", "/usr/share/lib/zoneinfo", "/usr/lib/locale/TZ", "/etc/zoneinfo"}

// All gives every zone of the system's tz database, in order of name; of
// several names for the same data the first. names counts the names.
func All(t testing.TB) (zones []*time.Location, names int) {
	t.Helper()
	for _, dir := range systems {
		if zones, names = read(t, dir); names > 0 {
			return zones, names
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("no zone files")
	}
	t.Skip("no zone files: as root, apt-get install tzdata")
	return nil, 0
}

func read(t testing.TB, dir string) (zones []*time.Location, names int) {
	t.Helper()
	data := map[string]string{} // from the name
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		if e.IsDir() {
			// "right" counts leap seconds, "posix" is all of it once more.
			if name == "posix" || name == "right" {
				return fs.SkipDir
			}
			return nil
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return nil // a link that leads nowhere
		}
		// RFC 8536 section 3.1: the file begins with these four octets.
		if bytes.HasPrefix(raw, []byte("TZif")) && strings.ToUpper(name[:1]) == name[:1] {
			data[filepath.ToSlash(name)] = string(raw)
		}
		return nil
	})
	if err != nil {
		return nil, 0
	}
	var sorted []string
	for name := range data {
		sorted = append(sorted, name)
	}
	slices.Sort(sorted)
	seen := map[string]bool{}
	for _, name := range sorted {
		if seen[data[name]] {
			continue
		}
		seen[data[name]] = true
		zone, err := time.LoadLocationFromTZData(name, []byte(data[name]))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		zones = append(zones, zone)
	}
	return zones, len(sorted)
}

// Some are zones with all that zones do: changes by an hour, by half an hour
// and by two, back in winter, in Ramadan, at other quarters of the hour, and a
// day that was left out.
func Some(t testing.TB) (zones []*time.Location) {
	t.Helper()
	for _, name := range []string{
		"UTC", "Europe/London", "America/New_York", "Australia/Lord_Howe", "Antarctica/Troll", "Europe/Dublin",
		"Africa/Casablanca", "Pacific/Chatham", "Asia/Kathmandu", "Pacific/Apia", "Pacific/Kiritimati", "America/Asuncion",
	} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		zones = append(zones, zone)
	}
	return zones
}
