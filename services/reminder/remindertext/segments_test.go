package remindertext

import (
	"strings"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"
)

// defaultAlphabet is code by code what Perl's Encode::GSM0338 2.10 decodes,
// whose table is that of ETSI TS 123 038 V16.0.0 (3GPP TS 23.038), section
// 6.2.1. 0x1B is the escape.
var defaultAlphabet = [128]rune{
	0x40, 0xA3, 0x24, 0xA5, 0xE8, 0xE9, 0xF9, 0xEC, 0xF2, 0xC7, 0x0A, 0xD8, 0xF8, 0x0D, 0xC5, 0xE5,
	0x394, 0x5F, 0x3A6, 0x393, 0x39B, 0x3A9, 0x3A0, 0x3A8, 0x3A3, 0x398, 0x39E, -1, 0xC6, 0xE6, 0xDF, 0xC9,
	0x20, 0x21, 0x22, 0x23, 0xA4, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2A, 0x2B, 0x2C, 0x2D, 0x2E, 0x2F,
	0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37, 0x38, 0x39, 0x3A, 0x3B, 0x3C, 0x3D, 0x3E, 0x3F,
	0xA1, 0x41, 0x42, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4A, 0x4B, 0x4C, 0x4D, 0x4E, 0x4F,
	0x50, 0x51, 0x52, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58, 0x59, 0x5A, 0xC4, 0xD6, 0xD1, 0xDC, 0xA7,
	0xBF, 0x61, 0x62, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6A, 0x6B, 0x6C, 0x6D, 0x6E, 0x6F,
	0x70, 0x71, 0x72, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78, 0x79, 0x7A, 0xE4, 0xF6, 0xF1, 0xFC, 0xE0,
}

// extensionTable is what it decodes behind an escape: section 6.2.1.1.
var extensionTable = map[byte]rune{
	0x0A: 0x0C, 0x14: 0x5E, 0x28: 0x7B, 0x29: 0x7D, 0x2F: 0x5C,
	0x3C: 0x5B, 0x3D: 0x7E, 0x3E: 0x5D, 0x40: 0x7C, 0x65: 0x20AC,
}

// septets encodes a text in the default alphabet; false when it cannot be.
func septets(text string) (codes []byte, ok bool) {
next:
	for _, r := range text {
		for code, c := range defaultAlphabet {
			if c == r {
				codes = append(codes, byte(code))
				continue next
			}
		}
		for code, c := range extensionTable {
			if c == r {
				codes = append(codes, 0x1B, code)
				continue next
			}
		}
		return nil, false
	}
	return codes, true
}

// dumbSegments cuts the encoded text as a telephone would.
func dumbSegments(text string) (int, string) {
	if codes, ok := septets(text); ok {
		return cut(len(codes), 160, 153, func(at int) bool { return codes[at-1] == 0x1B }), GSM7
	}
	units := utf16.Encode([]rune(text))
	return cut(len(units), 70, 67, func(at int) bool { return units[at-1] >= 0xD800 && units[at-1] <= 0xDBFF }), UCS2
}

func cut(length, one, part int, splits func(at int) bool) (n int) {
	if length == 0 {
		return 0
	}
	if length <= one {
		return 1
	}
	for at := 0; at < length; n++ {
		end := min(at+part, length)
		if splits(end) {
			end--
		}
		at = end
	}
	return n
}

func TestTheAlphabetIsThatOfTheStandard(t *testing.T) {
	for r := rune(0); r < 0x20000; r++ {
		want := 0
		if codes, ok := septets(string(r)); ok && r != 0xFFFD {
			want = len(codes)
		}
		if got := gsmWidth(r); got != want {
			t.Errorf("%U takes %d septets, want %d", r, got, want)
		}
	}
}

func TestSegmentsOfTheLengthsAtTheLimits(t *testing.T) {
	// 160 septets alone and 153 in each part, 70 and 67 code units: 3GPP TS
	// 23.038 section 6.2 (140 octets) and TS 23.040 section 9.2.3.24.1 (a
	// header of six octets).
	for _, c := range []struct {
		name, text string
		n          int
		encoding   string
	}{
		{"nothing", "", 0, GSM7},
		{"one letter", "a", 1, GSM7},
		{"160 septets", strings.Repeat("a", 160), 1, GSM7},
		{"161 septets", strings.Repeat("a", 161), 2, GSM7},
		{"two full parts", strings.Repeat("a", 306), 2, GSM7},
		{"one more", strings.Repeat("a", 307), 3, GSM7},
		{"euros count two", strings.Repeat("€", 80), 1, GSM7},
		{"81 euros", strings.Repeat("€", 81), 2, GSM7},
		{"two parts of 76 euros, for no pair is parted", strings.Repeat("€", 152), 2, GSM7},
		{"153 euros would fit if pairs were parted", strings.Repeat("€", 153), 3, GSM7},
		{"an euro across the end of a part", strings.Repeat("a", 152) + "€" + strings.Repeat("a", 152), 3, GSM7},
		{"German letters are in the alphabet", "Öl, Kühlwasser und Fußbremse prüfen: fällig", 1, GSM7},
		{"a small c with a cedilla is not", "ç", 1, UCS2},
		{"nor is a typographic apostrophe", "it’s due", 1, UCS2},
		{"70 code units", strings.Repeat("ш", 70), 1, UCS2},
		{"71 code units", strings.Repeat("ш", 71), 2, UCS2},
		{"two full parts of code units", strings.Repeat("ш", 134), 2, UCS2},
		{"135 code units", strings.Repeat("ш", 135), 3, UCS2},
		{"35 characters beyond the basic plane", strings.Repeat("🔧", 35), 1, UCS2},
		{"36 of them", strings.Repeat("🔧", 36), 2, UCS2},
		{"67 of them would fit in two if pairs were parted", strings.Repeat("🔧", 67), 3, UCS2},
		{"bytes that are no text", "a\xff", 1, UCS2},
	} {
		if n, encoding := Segments(c.text); n != c.n || encoding != c.encoding {
			t.Errorf("%s: %d in %s, want %d in %s", c.name, n, encoding, c.n, c.encoding)
		}
	}
}

func TestSegmentsAreCountedAsADumbSplitterCountsThem(t *testing.T) {
	character := rapid.OneOf(
		rapid.SampledFrom([]rune("aé€[]{}^~|\\\n@ Ω")),
		rapid.SampledFrom([]rune("aéшç🔧💧€")),
	)
	rapid.Check(t, func(t *rapid.T) {
		set := []rune("ab€^ ")
		if rapid.Bool().Draw(t, "mixed") {
			set = rapid.SliceOfN(character, 1, 5).Draw(t, "set")
		}
		text := string(rapid.SliceOfN(rapid.SampledFrom(set), 0, 700).Draw(t, "text"))
		n, encoding := Segments(text)
		if dumb, as := dumbSegments(text); n != dumb || encoding != as {
			t.Fatalf("%d in %s, want %d in %s", n, encoding, dumb, as)
		}
	})
}
