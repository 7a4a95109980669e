package remindertext

import (
	"runtime"
	"strings"
	"testing"
)

// TestAnEventThatIsABombTakesLittleMemory: JSON as long as an event may be and
// longer, nested, with a million fields, and with numbers without end.
func TestAnEventThatIsABombTakesLittleMemory(t *testing.T) {
	for name, body := range map[string]string{
		"nested":             strings.Repeat("[", mostEvent),
		"objects in objects": strings.Repeat(`{"data":`, mostEvent/8),
		"fields":             "{" + strings.Repeat(`"a":1,`, mostEvent/6-1) + `"a":1}`,
		"a number":           `{"data":` + strings.Repeat("9", mostEvent-10) + "}",
		"escapes":            `{"type":"` + strings.Repeat(`\u0041`, mostEvent/6-4) + `"}`,
		"sixteen MiB":        strings.Repeat("[", 16<<20),
	} {
		t.Run(name, func(t *testing.T) {
			raw := []byte(body)
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			if _, err := ParseEvent(raw); err == nil {
				t.Error("it is an event")
			}
			runtime.ReadMemStats(&after)
			if grown := after.HeapSys - min(before.HeapSys, after.HeapSys); grown > 16<<20 {
				t.Errorf("the heap grew by %d MiB", grown>>20)
			}
		})
	}
}
