package ownerpages

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/locale"
	"halfshaft/services/vehicle"
)

// The marks are those of CLDR: English 12,345.6, German 12.345,6, the German
// of Switzerland 12’345.6.
func TestFiguresAreReadInTheReadersHabit(t *testing.T) {
	for _, c := range []struct{ text, english, german string }{
		{"3150", "3150", "3150"},
		{"3,150", "3150", "3150 3.150"},
		{"3.150", "3150 3.150", "3150"},
		{"3 150", "3150", "3150"},
		{"3\u00a0150", "3150", "3150"},
		{"3\u202f150", "3150", "3150"},
		{"3’150", "3150", "3150"},
		{"12'345.6", "12345.6", "12345.6"},
		{"3150.4", "3150.4", "3150.4"},
		{"3150,4", "3150.4", "3150.4"},
		{" 12,345.6 ", "12345.6", "12345.6"},
		{"12.345,6", "12345.6", "12345.6"},
		{"1.234.567", "1234567", "1234567"},
		{"1,234,567.8", "1234567.8", "1234567.8"},
		{"12 345,6", "12345.6", "12345.6"},
		{"012345", "12345", "12345"},
		{"012,345", "12345", "12345 12.345"},
		{"12345.600", "12345.600", "12345.600"},
		{"0.150", "0.150", "0.150"},
		{"3150.", "3150", "3150"},
		{"0", "0", "0"},
		{".5", "0.5", "0.5"},
		{"9999999", "9999999", "9999999"},
		// What is no figure of a dial.
		{"", "", ""}, {" ", "", ""}, {"about 3150", "", ""}, {"3150 km", "", ""}, {"11l10", "", ""}, {"-5", "", ""}, {"+5", "", ""},
		{"1e5", "", ""}, {"10000000", "", ""}, {"12345 6", "", ""}, {"3150 400", "", ""}, {"1,23,456", "", ""}, {"1.234.56", "", ""},
		{"1,234.567,8", "", ""}, {"12,345.6.7", "", ""}, {"3150.1234", "", ""}, {".", "", ""}, {",", "", ""}, {"..", "", ""}, {".,", "", ""},
		{"１２３", "", ""}, {strings.Repeat("1", 5000), "", ""}, {`"><b>1</b>`, "", ""}, {"1''2", "", ""},
	} {
		for mark, want := range map[rune]string{'.': c.english, ',': c.german} {
			values, err := readFigures(c.text, mark)
			var got []string
			for _, v := range values {
				got = append(got, v.String())
			}
			if strings.Join(got, " ") != want || (err == nil) != (want != "") {
				t.Errorf("%q with %c: got %q, %v; want %q", c.text, mark, got, err, want)
			}
		}
	}
}

// Whatever a reader's own habit writes is read back as it was, alone or among
// two.
func TestWhatAHabitWritesIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tag := rapid.SampledFrom([]string{"en-GB", "en-US", "de-DE", "de-CH", "de-AT"}).Draw(t, "tag")
		want := vehicle.Decimal{Coefficient: rapid.Int64Range(0, 9_999_999).Draw(t, "value")}
		if rapid.Bool().Draw(t, "tenths") {
			want = vehicle.Decimal{Coefficient: want.Coefficient, Scale: 1}
		}
		r := reader{habit: locale.For(tag, tag, vehicle.Miles)}
		text := r.habit.Decimal(want.String())
		got, err := readFigures(text, r.mark())
		if err != nil || !slices.Contains(got, want) {
			t.Fatalf("%s writes %s as %q, which reads as %v, %v", tag, want, text, got, err)
		}
		if len(got) > 1 {
			t.Fatalf("%q is doubtful in its own habit %s: %v", text, tag, got)
		}
	})
}

func FuzzReadFigures(f *testing.F) {
	for _, text := range []string{"3,150", "3.150", "12.345,6", "3 150", "1,23,4", "..", "0.000", "'1"} {
		f.Add(text, true)
		f.Add(text, false)
	}
	f.Fuzz(func(t *testing.T, text string, german bool) {
		mark := '.'
		if german {
			mark = ','
		}
		values, err := readFigures(text, mark)
		if (err == nil) != (len(values) > 0) || len(values) > 2 {
			t.Fatalf("%q: %v, %v", text, values, err)
		}
		digits := func(s string) string {
			return strings.TrimLeft(strings.Map(func(r rune) rune {
				if r >= '0' && r <= '9' {
					return r
				}
				return -1
			}, s), "0")
		}
		for _, v := range values {
			// No digit is lost and none is made.
			if digits(v.String()) != digits(text) {
				t.Errorf("%q reads as %s", text, v)
			}
			if v.Sign() < 0 || v.Scale > 3 || v.Cmp(vehicle.Decimal{Coefficient: 9_999_999}) > 0 {
				t.Errorf("%q reads as %s, which no dial shows", text, v)
			}
		}
	})
}

func TestAnUnlikelyValueIsAskedBack(t *testing.T) {
	words, err := locale.Load(mustSub(words, "words"), nil)
	if err != nil {
		t.Fatal(err)
	}
	english := words.For("en-GB")
	r := reader{words: english, habit: english.Locale("en-GB", vehicle.Kilometres)}
	on := vehicle.MustDate(2026, 5, 18)
	mi := func(n int64) vehicle.Entered {
		return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n}, Unit: vehicle.Miles}
	}
	before := []looked{{on.AddDays(-400), mi(9_000)}, {on.AddDays(-3), mi(10_000)}}
	for _, c := range []struct {
		name  string
		value vehicle.Entered
		on    vehicle.Date
		year  vehicle.Distance
		want  string
	}{
		{"a little more", mi(10_100), on, 1000 * vehicle.Mile, ""},
		{"the same", mi(10_000), on, 1000 * vehicle.Mile, ""},
		{"4,000 miles in 3 days", mi(14_000), on, 0, "4,000 miles in 3 days, after 10,000 miles on 15 May 2026. Is it right?"},
		{"a tour, as nobody knows its habit", mi(12_000), on, 0, ""},
		{"a tour beyond its habit", mi(12_000), on, 1000 * vehicle.Mile, "2,000 miles in 3 days"},
		{"700 miles on one day", mi(10_700), on.AddDays(-3), 0, "700 miles on one day"},
		{"less", mi(9_999), on, 0, "less than the 10,000 miles of 15 May 2026"},
		{"between the two, as of a day between", mi(9_500), on.AddDays(-200), 2000 * vehicle.Mile, ""},
		{"before all", mi(20), on.AddDays(-900), 1000 * vehicle.Mile, ""},
		{"in the other unit", vehicle.Entered{Value: vehicle.Decimal{Coefficient: 16_100}, Unit: vehicle.Kilometres}, on, 1000 * vehicle.Mile, ""},
	} {
		if got := r.unlikely(c.value, c.on, before, c.year); (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	if got := r.unlikely(mi(1), on, nil, 0); got != "" {
		t.Errorf("the first reading: %q", got)
	}
}
