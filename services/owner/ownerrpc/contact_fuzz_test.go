package ownerrpc

import (
	"strings"
	"testing"
)

// FuzzContact holds to it that numbers, languages and zones are of their form
// whatever is typed: a zone is the name of a file for those who load it.
func FuzzContact(f *testing.F) {
	for _, text := range []string{"+441632960983", "+44 1632 960983", "en-GB", "de", "Europe/Berlin", "../../etc/passwd", "/etc/localtime", "+0", "x-private", "UTC\x00"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1000 { // a field is shorter
			return
		}
		if possiblePhone(text) && (text[0] != '+' || len(text) > 17 || strings.Trim(text[1:], "0123456789") != "") {
			t.Errorf("%q is a number", text)
		}
		if knownLanguage(text) && strings.ContainsAny(text, " /\n\x00") {
			t.Errorf("%q is a language", text)
		}
		if knownZone(text) && (strings.Contains(text, "..") || strings.HasPrefix(text, "/")) {
			t.Errorf("%q is a zone", text)
		}
	})
}
