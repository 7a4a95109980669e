package ownerpages

import (
	"fmt"
	"io/fs"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var limited = regexp.MustCompile(`name="([a-z]+)"[^>]* maxlength="([0-9]+)"`)

// A browser counts in units of UTF-16, of which an emoji is two: what it stops at
// must not be less than what a service takes.
func TestNoBrowserStopsAtWhatTheServicesTake(t *testing.T) {
	const line = 120 // of a postal address, in characters
	most := map[string]int{"workshop": maxName, "note": maxNote, "name": maxName, "country": maxCountry, "postal": mostPostal * (line + 1)}
	seen := map[string]bool{}
	files, err := fs.Glob(templates, "templates/*.html")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	for _, file := range files {
		text, err := fs.ReadFile(templates, file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range limited.FindAllStringSubmatch(string(text), -1) {
			seen[m[1]] = true
			if n, _ := strconv.Atoi(m[2]); n < 2*most[m[1]] {
				t.Errorf("%s: %s stops at %d units, and may have %d characters", file, m[1], n, most[m[1]])
			}
		}
	}
	for name := range most {
		if !seen[name] {
			t.Errorf("no field %s has a limit", name)
		}
	}
}

func TestWhoWritesTooMuchIsToldHowMuchThereMayBe(t *testing.T) {
	for _, language := range []string{"en.yaml", "de.yaml"} {
		said := wordsOf(t, language)
		for key, limits := range map[string][]int{"wrong.long": {maxName, maxNote}, "takeover.wrong-name": {maxName}} {
			for _, most := range limits {
				if text := fmt.Sprint(said[key]); !strings.Contains(text, " "+strconv.Itoa(most)) {
					t.Errorf("%s, %s: %q does not say %d", language, key, text, most)
				}
			}
		}
	}
}

func TestALineOfANoteEndsInOneCharacter(t *testing.T) {
	f := form{Values: url.Values{"note": {" first\r\nsecond\r\n"}}}
	if got := f.text("note"); got != "first\nsecond" {
		t.Errorf("got %q", got)
	}
}
