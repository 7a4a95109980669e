package figure_test

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

var placeholder = regexp.MustCompile(`\{[a-z]+\}`)

func TestBothLanguagesSayTheSame(t *testing.T) {
	en, de := figure.Phrases["en"], figure.Phrases["de"]
	for _, key := range slices.Sorted(maps.Keys(en)) {
		places := func(text string) []string { return slices.Sorted(slices.Values(placeholder.FindAllString(text, -1))) }
		if _, ok := de[key]; !ok {
			t.Errorf("%s is not there in German", key)
		} else if !slices.Equal(places(en[key]), places(de[key])) {
			t.Errorf("%s has other places in German: %q, %q", key, en[key], de[key])
		}
	}
	for key := range de {
		if _, ok := en[key]; !ok {
			t.Errorf("%s is there in German only", key)
		}
	}
}

// TestEachPhraseThatIsAskedForIsThere reads the source for what is said.
func TestEachPhraseThatIsAskedForIsThere(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	said := regexp.MustCompile(`r\.(say|counted)\("([a-z.-]*[a-z])"`)
	asked, all := 0, ""
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") || name == "words.go" {
			continue
		}
		source, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all += string(source)
		for _, m := range said.FindAllStringSubmatch(string(source), -1) {
			asked++
			keys := []string{m[2]}
			if m[1] == "counted" {
				keys = []string{m[2] + ".one", m[2] + ".other"}
			}
			for _, key := range keys {
				if _, ok := figure.Phrases["en"][key]; !ok {
					t.Errorf("%s asks for %s, which is not there", name, key)
				}
			}
		}
	}
	if asked < 60 {
		t.Errorf("only %d phrases are asked for: the search is wrong", asked)
	}
	for key := range figure.Phrases["en"] {
		stem := strings.TrimSuffix(strings.TrimSuffix(key, ".one"), ".other")
		if made := regexp.MustCompile(`^(month|unit|distance|speed\.line)\.`); !strings.Contains(all, `"`+stem+`"`) && !made.MatchString(key) {
			t.Errorf("nobody says %s", key)
		}
	}
}

func TestNoSampleShowsAPlaceThatWasNotFilled(t *testing.T) {
	for _, s := range samples() {
		for _, language := range []string{"en", "de"} {
			f := s.draw(figure.Reader{Language: language, Unit: s.unit}, figure.Wide)
			all := append([]string{f.Title, f.Table.Caption}, f.Description...)
			all = append(all, f.Table.Heads...)
			for _, row := range f.Table.Rows {
				all = append(all, row...)
			}
			for _, m := range f.Drawing.Marks {
				if text, ok := m.(figure.Text); ok {
					all = append(all, text.Text)
				}
			}
			for _, text := range all {
				if placeholder.MatchString(text) {
					t.Errorf("%s, %s: %q", s.name, language, text)
				}
			}
		}
	}
}

func TestAReadersHabitIsTaken(t *testing.T) {
	l := alpha()
	r := figure.Reader{
		Unit:   vehicle.Kilometres,
		Date:   func(d vehicle.Date) string { return "<" + d.String() + ">" },
		Number: func(decimal string) string { return "#" + decimal },
	}
	row := l.Figure(r, figure.Wide).Table.Rows[1]
	if row[0] != "<2023-01-02>" || row[1] != "#671" { // 417 miles are 671.1 km
		t.Errorf("%q", row)
	}
}
