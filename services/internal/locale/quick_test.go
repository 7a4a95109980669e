package locale

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"text/template"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// tags are of languages and regions with all ways of writing numbers: other
// digits (ar-EG, fa, bn), groups of two (hi-IN), groups from five digits on (es,
// pl, pt-PT), another minus (sv, fi), marks beside it (he, ar).
var tags = []string{
	"en-GB", "en-US", "en-IN", "de-DE", "de-AT", "de-CH", "fr-FR", "fr-CH", "es", "es-MX", "pl", "pt-PT", "pt-BR", "sv", "fi", "nb",
	"hi-IN", "bn", "ar-EG", "ar-AE", "fa", "he", "ja", "zh-Hans", "th", "my", "ne", "lt", "sl", "et", "gsw", "und", "en-u-nu-arab",
}

func TestWholeNumbersAreWrittenAsTheTextPackageWritesThem(t *testing.T) {
	quick := 0
	for _, tag := range tags {
		if n := numbersOf(language.MustParse(tag)); n.plain {
			quick++
		}
	}
	if quick < len(tags)/2 {
		t.Errorf("%d of %d tags have plain numbers: the others take long", quick, len(tags))
	}
	rapid.Check(t, func(t *rapid.T) {
		tag := language.MustParse(rapid.SampledFrom(tags).Draw(t, "tag"))
		n := rapid.OneOf(rapid.Int64(), rapid.Int64Range(-20_000, 20_000), rapid.Int64Range(-2_000_000, 2_000_000)).Draw(t, "number")
		want := message.NewPrinter(tag).Sprint(number.Decimal(n))
		if got := For("en", tag.String(), "").Number(n); got != want && tag != language.Und {
			t.Fatalf("%s writes %d as %q, want %q", tag, n, got, want)
		}
	})
}

func TestDecimalsAreWrittenAsTheTextPackageWritesThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tag := language.MustParse(rapid.SampledFrom(tags).Draw(t, "tag"))
		n, places := rapid.Int64Range(-2_000_000_000, 2_000_000_000).Draw(t, "digits"), rapid.IntRange(1, 3).Draw(t, "places")
		text := strconv.FormatFloat(float64(n)/math.Pow10(places), 'f', places, 64)
		x, _ := strconv.ParseFloat(text, 64)
		want := message.NewPrinter(tag).Sprint(number.Decimal(x, number.MinFractionDigits(places), number.MaxFractionDigits(places)))
		if got := For("en", tag.String(), "").Decimal(text); got != want && tag != language.Und {
			t.Fatalf("%s writes %s as %q, want %q", tag, text, got, want)
		}
	})
}

func TestPhrasesSayWhatTheirTemplatesSay(t *testing.T) {
	for text, wantParts := range map[string]bool{
		"no placeholder": true, "{{.a}}": true, "from {{.a}} to {{ .b }}.": true, "{{.a}}{{.a}}": true, "": true,
		"{{if .a}}x{{end}}": false, "{{.a.b}}": false, "{{printf \"%s\" .a}}": false, "{{$x := .a}}{{$x}}": false, "{{.}}": false, "{{.a | len}}": false,
	} {
		plain, err := template.New("x").Option("missingkey=error").Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		w := wordingOf(plain)
		if text != "" && (w.parts != nil) != wantParts {
			t.Errorf("%q: taken apart: %v, want %v", text, w.parts != nil, wantParts)
		}
		for _, data := range []any{
			nil, map[string]string{}, map[string]string{"a": "1"}, map[string]string{"a": "<1>", "b": "2"},
			map[string]any{"a": "1", "b": 2}, map[string]any{"a": "1", "b": vehicle.Serial("AM0142K")}, map[string]any{"a": nil, "b": "2"},
			map[string]any{"a": map[string]string{"b": "deep"}}, struct{ A string }{"1"}, 7,
		} {
			var want strings.Builder
			wantOK := plain.Execute(&want, data) == nil
			got, ok := w.fill(data)
			if ok != wantOK || ok && got != want.String() {
				t.Errorf("%q with %v: got %q, %v; want %q, %v", text, data, got, ok, want.String(), wantOK)
			}
		}
	}
}

func TestAMemoIsBounded(t *testing.T) {
	asked := 0
	m := newMemo(func(tag string) int { asked++; return len(tag) })
	for range 2 {
		for i := range 3 * mostRemembered {
			if tag := fmt.Sprint("x", i); m.get(tag) != len(tag) || len(m.have) > mostRemembered {
				t.Fatalf("%s: %d remembered", tag, len(m.have))
			}
		}
	}
	before := asked
	if long := strings.Repeat("x", longestRemembered+1); m.get(long)+m.get(long) != 2*len(long) || asked != before+2 {
		t.Error("a long tag is remembered")
	}
	if m.get("de"); m.get("de") != 2 || asked != before+3 {
		t.Error("a short tag is not remembered")
	}
}

// BenchmarkAgainstTheTextPackages prints how many times as quick a number and a
// phrase are written as by golang.org/x/text and text/template.
func BenchmarkAgainstTheTextPackages(b *testing.B) {
	tag := language.MustParse("de-DE")
	l := For("de", "de-DE", "")
	plain := template.Must(template.New("x").Parse("{{.first}} und {{.last}}"))
	data := map[string]string{"first": "Salz", "last": "Staub"}
	b.Run("number", func(b *testing.B) {
		ours(b, func() { l.Number(14_230) }, func() { message.NewPrinter(tag).Sprint(number.Decimal(14_230)) })
	})
	b.Run("phrase", func(b *testing.B) {
		ours(b, func() { l.phrases.Say("locale.and", data) }, func() { plain.Execute(&strings.Builder{}, data) })
	})
}

// ours measures two ways in turn.
func ours(b *testing.B, quick, plain func()) {
	var took [2]time.Duration
	for b.Loop() {
		for i, f := range []func(){quick, plain} {
			begin := time.Now()
			for range 100 {
				f()
			}
			took[i] += time.Since(begin)
		}
	}
	b.ReportMetric(float64(took[1])/float64(took[0]), "times-as-quick")
	b.ReportMetric(0, "ns/op")
}
