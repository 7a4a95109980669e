package locale

import (
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

var twelfth = vehicle.MustDate(2026, 12, 12)

func TestReadersGetTheirHabits(t *testing.T) {
	for _, c := range []struct{ tag, language, date, day, distance, decimal string }{
		// CLDR's long dates and number symbols, as Intl.DateTimeFormat (dateStyle
		// long) and Intl.NumberFormat of Chromium 156 write them; but for de-CH
		// that has the typewriter's apostrophe, where golang.org/x/text has the
		// printer's.
		{"en-GB", "en", "12 December 2026", "12 December", "14,230 miles", "1,234.050"},
		{"en-AU", "en", "12 December 2026", "12 December", "14,230 miles", "1,234.050"},
		{"en-US", "en", "December 12, 2026", "December 12", "14,230 miles", "1,234.050"},
		{"de-DE", "de", "12. Dezember 2026", "12. Dezember", "14.230 Meilen", "1.234,050"},
		{"de-AT", "de", "12. Dezember 2026", "12. Dezember", "14\u00a0230 Meilen", "1\u00a0234,050"},
		{"de-CH", "de-CH", "12. Dezember 2026", "12. Dezember", "14’230 Meilen", "1’234.050"},
		// Not CLDR's: a reader who names no region gets the day first, and one
		// of a language that we do not have gets English in their own figures.
		{"en", "en", "12 December 2026", "12 December", "14,230 miles", "1,234.050"},
		{"", "en", "12 December 2026", "12 December", "14,230 miles", "1,234.050"},
		{"no such tag", "en", "12 December 2026", "12 December", "14,230 miles", "1,234.050"},
		{"fr-FR", "en", "12 December 2026", "12 December", "14\u00a0230 miles", "1\u00a0234,050"},
	} {
		l := For(c.tag, "", vehicle.Miles)
		got := []string{l.Tag(), l.Date(twelfth), l.Day(twelfth), l.Distance(14_230 * vehicle.Mile), l.Decimal("1234.050")}
		want := []string{c.language, c.date, c.day, c.distance, c.decimal}
		if strings.Join(got, "|") != strings.Join(want, "|") {
			t.Errorf("%q: got %q, want %q", c.tag, got, want)
		}
	}
}

func TestTheMonthStandsFirstWhereItIsUsual(t *testing.T) {
	// Intl.DateTimeFormat of Chromium 156, dateStyle long.
	for _, region := range strings.Fields("US CA PH AS GU MH MP PR UM VI") {
		if got := For("en-"+region, "", "").Date(twelfth); got != "December 12, 2026" {
			t.Errorf("%s: %s", region, got)
		}
	}
	for _, region := range strings.Fields("GB AU NZ IE ZA IN JM SG HK MY KE NG PK MT DE FR LR BZ BW ZW IL AE") {
		if got := For("en-"+region, "", "").Date(twelfth); got != "12 December 2026" {
			t.Errorf("%s: %s", region, got)
		}
	}
}

func TestFormatsMayBeOtherThanTheLanguage(t *testing.T) {
	l := For("en", "de-DE", vehicle.Kilometres)
	if got := l.Date(twelfth) + "; " + l.Distance(14_230*vehicle.Mile); got != "12 December 2026; 22.901 km" {
		t.Errorf("English words in a German's habit: %q", got)
	}
	l = For("de", "en-US", "")
	if got := l.Date(twelfth) + "; " + l.Distance(vehicle.Mile); got != "12. Dezember 2026; 1 Meile" || l.Unit() != vehicle.Miles {
		t.Errorf("German words in an American's habit: %q", got)
	}
}

func TestWhatIsNoDateOrNumberIsWrittenAsItIs(t *testing.T) {
	l := For("de", "", vehicle.Miles)
	for in, want := range map[string]string{"": "", "two": "two", "1.": "1.", "1.2.3": "1.2.3", "-0.05": "-0,05", "+3": "+3", "0.10": "0,10", "1e3": "1e3"} {
		if got := l.Decimal(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
	if got := l.Date(vehicle.Date{}); got != "" {
		t.Errorf("no date: %q", got)
	}
}

func TestDecimalsKeepEveryDigit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`-?(0|[1-9][0-9]{0,12})(\.[0-9]{1,6})?`).Draw(t, "decimal")
		tag := rapid.SampledFrom([]string{"en-GB", "en-US", "de-DE", "de-AT", "de-CH"}).Draw(t, "tag")
		keep := func(r rune) rune {
			if r >= '0' && r <= '9' {
				return r
			}
			return -1
		}
		if got := For(tag, "", "").Decimal(text); strings.Map(keep, got) != strings.Map(keep, text) {
			t.Fatalf("%s: %q became %q", tag, text, got)
		}
	})
}

func TestListsReadAsSentencesDo(t *testing.T) {
	en, de := For("en", "", ""), For("de", "", "")
	for words, want := range map[string]string{"": "", "a": "a", "a b": "a and b", "a b c": "a, b and c"} {
		if got := en.List(strings.Fields(words)); got != want {
			t.Errorf("%q: got %q", words, got)
		}
	}
	if got := de.List([]string{"Salz", "Staub"}); got != "Salz und Staub" {
		t.Errorf("German: %q", got)
	}
}

func files(content map[string]string) fstest.MapFS {
	f := fstest.MapFS{}
	for name, text := range content {
		f[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return f
}

var builtIn = files(map[string]string{
	"en.yaml": "more: {one: \"{{.n}} more day\", other: \"{{.n}} more days\"}\nwho: \"for {{.name}}\"\nstreet: street\n",
	"de.yaml": "more: {one: \"noch {{.n}} Tag\", other: \"noch {{.n}} Tage\"}\nwho: \"für {{.name}}\"\nstreet: Straße\n",
})

func TestAWorksLaysItsOwnPhrasesOver(t *testing.T) {
	c, err := Load(builtIn, files(map[string]string{
		"en.yaml": "who: \"to {{.name}}\"\n", "programme.de.yaml": "not: phrases\n", "notes.txt": "x",
	}))
	if err != nil {
		t.Fatal(err)
	}
	en, de, ch := c.For("en-GB"), c.For("de-DE"), c.For("de-CH")
	name := map[string]any{"name": "you", "n": "2"}
	for _, s := range []struct{ got, want string }{
		{en.Say("who", name), "to you"}, {de.Say("who", name), "für you"}, {en.Count("more", 1, map[string]any{"n": 1}), "1 more day"},
		{de.Count("more", 2, name), "noch 2 Tage"}, {de.Say("street", nil), "Straße"}, {ch.Say("street", nil), "Strasse"},
		{en.Say("nothing", nil), "[nothing]"}, {en.Say("who", nil), "[who]"}, {en.Say("who", map[string]any{}), "[who]"},
	} {
		if s.got != s.want {
			t.Errorf("got %q, want %q", s.got, s.want)
		}
	}
	if got := strings.Join(c.Languages(), " "); got != "en de de-CH" {
		t.Errorf("languages: %s", got)
	}
}

func TestOneMoreLanguageSaysAll(t *testing.T) {
	french := "more: {one: \"{{.n}} jour\", other: \"{{.n}} jours\"}\nwho: \"pour {{.name}}\"\nstreet: rue\n"
	for _, file := range []string{"date", "date.month-first", "day", "day.month-first", "and", "miles", "kilometres"} {
		french += "locale." + file + ": x\n"
	}
	for _, m := range []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"} {
		french += "locale.month." + m + ": m\n"
	}
	c, err := Load(builtIn, files(map[string]string{"fr.yaml": french}))
	if err != nil {
		t.Fatal(err)
	}
	if got := c.For("fr-CA").Say("street", nil); got != "rue" {
		t.Errorf("got %q", got)
	}
	// CLDR, "Plural Rules": none is singular in French and plural in English.
	if got := c.For("fr").Count("more", 0, map[string]any{"n": 0}) + c.For("en").Count("more", 0, map[string]any{"n": 0}); got != "0 jour0 more days" {
		t.Errorf("got %q", got)
	}
}

func TestFilesWithFaultsAreRefused(t *testing.T) {
	for name, c := range map[string]struct {
		over map[string]string
		want string
	}{
		"a key that nothing asks for": {map[string]string{"en.yaml": "whom: x\n"}, "en.yaml: whom: nothing asks"},
		"an unknown placeholder":      {map[string]string{"de.yaml": "who: \"{{.nmae}}\"\n"}, `de.yaml: who: got the placeholder "nmae"`},
		"a missing phrase":            {map[string]string{"fr.yaml": "who: \"{{.name}}\"\n"}, "fr.yaml: street: the phrase is missing"},
		"no YAML":                     {map[string]string{"en.yaml": "who: [\n"}, "en.yaml: "},
		"a phrase twice":              {map[string]string{"en.yaml": "who: a\nwho: b\n"}, "already defined"},
		"no template":                 {map[string]string{"en.yaml": "who: \"{{.name\"\n"}, "en.yaml: who: "},
		"no such form":                {map[string]string{"en.yaml": "more: {single: a, other: b}\n"}, `got the plural form "single"`},
		"no other form":               {map[string]string{"en.yaml": "more: {one: a}\n"}, "'other'"},
		"no language":                 {map[string]string{"english words.yaml": "who: a\n"}, "want a language tag"},
	} {
		if _, err := Load(builtIn, files(c.over)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
	if _, err := Load(files(map[string]string{"de.yaml": "only: deutsch\n"}), nil); err == nil || !strings.Contains(err.Error(), "nothing asks") {
		t.Errorf("a German phrase that English lacks: %v", err)
	}
}

func TestConvertedDistancesAreRoundAndADialKeepsItsFigures(t *testing.T) {
	for miles, want := range map[vehicle.Distance]string{
		0: "0 km", 1: "2 km", 50: "80 km", 100: "160 km", 250: "400 km", 500: "800 km", 3_000: "4,800 km", 6_000: "9,700 km", 12_000: "19,000 km", 24_000: "39,000 km", -500: "-800 km",
	} {
		if got := For("en", "", vehicle.Kilometres).About(miles * vehicle.Mile); got != want {
			t.Errorf("%d miles: got %q, want %q", miles, got, want)
		}
	}
	for _, c := range []struct {
		tag          string
		reader, dial vehicle.Unit
		shown, want  string
	}{
		// 1 mile is 1.609344 km (NIST SP 811, B.8): 4,818 miles are 7,753.8 km.
		{"en-GB", vehicle.Kilometres, vehicle.Miles, "4818", "7,754 km (4,818 miles)"},
		{"de-CH", vehicle.Kilometres, vehicle.Miles, "4818.5", "7’755 km (4’818.5 Meilen)"},
		{"de-DE", vehicle.Kilometres, vehicle.Miles, "1", "2 km (1 Meile)"},
		{"en-GB", vehicle.Miles, vehicle.Kilometres, "100", "62 miles (100 km)"},
		{"en-GB", vehicle.Miles, vehicle.Miles, "4818.0", "4,818.0 miles"},
		{"de-DE", vehicle.Kilometres, vehicle.Kilometres, "4818", "4.818 km"},
	} {
		value, err := vehicle.ParseDecimal(c.shown)
		if err != nil {
			t.Fatal(err)
		}
		if got := For(c.tag, "", c.reader).Entered(vehicle.Entered{Value: value, Unit: c.dial}); got != c.want {
			t.Errorf("%s %s: got %q, want %q", c.shown, c.dial, got, c.want)
		}
	}
}

func TestPhrasesThatAreBuiltInAreReadOrAreADefect(t *testing.T) {
	good := fstest.MapFS{"words/en.yaml": builtIn["en.yaml"], "words/de.yaml": builtIn["de.yaml"]}
	if got := BuiltIn(good, "words")().For("de").Say("street", nil); got != "Straße" {
		t.Errorf("got %q", got)
	}
	for name, files := range map[string]fstest.MapFS{
		"no YAML":           {"words/en.yaml": {Data: []byte("{")}},
		"a missing phrase":  {"words/en.yaml": builtIn["en.yaml"]},
		"another directory": {"say/en.yaml": builtIn["en.yaml"], "say/de.yaml": builtIn["de.yaml"], "words/en.yaml": {Data: []byte("a: b")}},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			BuiltIn(files, "words")()
		}()
	}
}
