package wording_test

import (
	"math"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"halfshaft/services/wording"
)

func TestPiecesMakeASentence(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{wording.Count(0, "day"), "0 days"},
		{wording.Count(1, "day"), "1 day"},
		{wording.Count(12, "more item"), "12 more items"},
		{wording.Count(1461, "day"), "1,461 days"},
		{wording.Verb(1, "is", "are"), "is"},
		{wording.Verb(0, "is", "are"), "are"},
		{wording.Verb(2, "is", "are"), "are"},
		{wording.Grouped("999"), "999"},
		{wording.Grouped("1000"), "1,000"},
		{wording.Grouped("-999.25"), "-999.25"},
		{wording.Grouped("-1234567.0625"), "-1,234,567.0625"},
		{wording.Grouped(""), ""},
		{wording.Number(-12345), "-12,345"},
		{wording.Money(0, ""), "0.00"},
		{wording.Money(118450, "GBP"), "1,184.50 GBP"},
		{wording.Money(-5, "GBP"), "-0.05 GBP"},
		{wording.Money(math.MinInt64, ""), "-92,233,720,368,547,758.08"},
		{wording.List(nil, "and"), ""},
		{wording.List([]string{"June"}, "and"), "June"},
		{wording.List([]string{"June", "July"}, "or"), "June or July"},
		{wording.List([]string{"June", "July", "August"}, "and"), "June, July and August"},
		{wording.Ended(""), ""},
		{wording.Ended("It is due"), "It is due."},
		{wording.Ended("Is it due?"), "Is it due?"},
		{wording.Ended("größer"), "größer."},
		{wording.UpperFirst(""), ""},
		{wording.UpperFirst("öl"), "Öl"},
		{wording.UpperFirst("“stale” oil"), "“stale” oil"},
		{wording.UpperFirst("12 months"), "12 months"},
		{wording.LowerFirst(""), ""},
		{wording.LowerFirst("A"), "a"},
		{wording.LowerFirst("A visit moves"), "a visit moves"},
		{wording.LowerFirst("Engine oil"), "engine oil"},
		{wording.LowerFirst("Öl"), "öl"},
		{wording.LowerFirst("SAE 90 oil"), "SAE 90 oil"},
		{wording.LowerFirst("E01 is due"), "E01 is due"},
		{wording.LowerFirst("O-ring"), "O-ring"},
		{wording.LowerFirst("U/J grease"), "U/J grease"},
		{wording.LowerFirst("B.S. thread"), "B.S. thread"},
		{wording.UpperFirst("\xff is no letter"), "\xff is no letter"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestTheFirstLetterIsAllThatChanges(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		text := string(rapid.SliceOfN(rapid.Byte(), 0, 12).Draw(r, "bytes"))
		if rapid.Bool().Draw(r, "valid") {
			text = rapid.String().Draw(r, "text")
		}
		_, size := utf8.DecodeRuneInString(text)
		for _, got := range []string{wording.UpperFirst(text), wording.LowerFirst(text)} {
			_, other := utf8.DecodeRuneInString(got)
			if got[other:] != text[size:] || utf8.ValidString(got) != utf8.ValidString(text) {
				r.Errorf("%q became %q", text, got)
			}
		}
	})
}
