package vehicle

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// Serial is the works' number for one vehicle in its canonical form: upper
// case, no separators, the check character last ("AM0147P"). Make one with
// ParseSerial or NewSerial; a Serial converted from any other string may not
// be Valid.
type Serial string

// A body has this many characters A-Z and 0-9, the first of them a letter.
const (
	minBody = 3
	maxBody = 12
)

// maxHeard bounds what ParseSerial and Slips read: far more than a serial
// with a separator after each character, far less than a flood.
const maxHeard = 128

// The reasons with which ParseSerial and NewSerial refuse.
const (
	reasonSerialForm  = "SERIAL_FORM"
	reasonSerialCheck = "SERIAL_CHECK"
)

// ParseSerial reads a serial as people write and dictate it: lower case,
// spaces, hyphens and dashes, dots and slashes do not matter, and characters may
// be spelled in words: "alpha mike zero one four seven papa". It refuses with
// a *fault.Error of kind Invalid. Its reason is SERIAL_CHECK when only the
// check character is wrong: the message says what was heard and which check
// character the rest has, so that the caller can be asked again;
// no other serial is ever guessed (see Slips). The reason is SERIAL_FORM for
// everything else. A serial whose check character is not issued (see
// Issuable) is not a serial. What is one serial as written and another as
// spelled is neither.
func ParseSerial(text string) (Serial, error) {
	if s := Serial(text); s.Valid() {
		return s, nil // already canonical: nothing to allocate
	}
	written, err := parseWritten(text)
	spelled, ok := unspoken(text)
	if !ok {
		return written, err
	}
	said, saidErr := parseWritten(spelled)
	switch {
	case err != nil:
		return said, saidErr // as spelled: that is how it was said
	case saidErr == nil && said != written:
		return "", formError(text)
	}
	return written, nil
}

// parseWritten reads a serial whose characters stand there as they are.
func parseWritten(text string) (Serial, error) {
	var buffer [maxBody + 1]byte
	heard, ok := normalise(buffer[:0], text)
	if !ok || !wellFormed(heard) {
		return "", formError(text)
	}
	body, got := heard[:len(heard)-1], heard[len(heard)-1]
	want := checkOf(body)
	switch {
	case got != want:
		return "", checkError(string(heard), want)
	case !issued(want):
		return "", notIssued(string(body), want)
	}
	return Serial(heard), nil
}

// normalise appends the letters and digits of text to dst in upper case and
// leaves out separators. It reports false when text is too long, holds
// anything else, or has more characters than dst has room for.
func normalise(dst []byte, text string) ([]byte, bool) {
	if len(text) > maxHeard {
		return dst, false
	}
	for _, r := range text {
		if isSeparator(r) {
			continue
		}
		c, ok := upper(r)
		if !ok || len(dst) == cap(dst) {
			return dst, false
		}
		dst = append(dst, c)
	}
	return dst, true
}

// upper gives the serial's form of a letter, digit or '*'.
func upper(r rune) (byte, bool) {
	switch {
	case r >= 'a' && r <= 'z':
		return byte(r - 'a' + 'A'), true
	case r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '*':
		return byte(r), true
	}
	return 0, false
}

// isSeparator says whether people put r between the characters of a serial.
// Mail and word processors turn hyphens into dashes and add invisible
// characters, so the Unicode classes count too.
func isSeparator(r rune) bool {
	switch r {
	case ' ', '-', '.', '/':
		return true
	case '\u2212': // the minus sign is no dash to Unicode
		return true
	}
	if r < utf8.RuneSelf {
		return unicode.IsSpace(r)
	}
	return unicode.IsSpace(r) || unicode.In(r, unicode.Pd, unicode.Cf)
}

// wellFormed says whether s has the form of a serial: a body and one character
// more that a check character can be, right or wrong.
func wellFormed(s []byte) bool {
	if len(s) < minBody+1 || len(s) > maxBody+1 || !isLetter(s[0]) {
		return false
	}
	for _, c := range s[:len(s)-1] {
		if !isLetter(c) && !isDigit(c) {
			return false
		}
	}
	_, ok := valueOf(s[len(s)-1])
	return ok
}

func isLetter(c byte) bool { return c >= 'A' && c <= 'Z' }
func isDigit(c byte) bool  { return c >= '0' && c <= '9' }

// Valid says whether s is a canonical serial with the right check character:
// exactly what ParseSerial and NewSerial give.
func (s Serial) Valid() bool {
	if len(s) < minBody+1 || len(s) > maxBody+1 {
		return false
	}
	var buffer [maxBody + 1]byte
	return validSerial(buffer[:copy(buffer[:], s)])
}

func validSerial(s []byte) bool {
	if !wellFormed(s) {
		return false
	}
	check := checkOf(s[:len(s)-1])
	return check == s[len(s)-1] && issued(check)
}

// Body is the serial without its check character: "AM0147". Empty for the
// empty serial.
func (s Serial) Body() string {
	if s == "" {
		return ""
	}
	return string(s[:len(s)-1])
}

// Check is the check character, or 0 for the empty serial.
func (s Serial) Check() byte {
	if s == "" {
		return 0
	}
	return s[len(s)-1]
}

// Spoken spells the serial for the telephone, letters in the international
// radiotelephony alphabet and digits in words: "Alfa Mike zero one four seven
// Papa". Zero and the letter O cannot be mistaken for each other in it.
func (s Serial) Spoken() string {
	words := make([]string, 0, len(s))
	for _, c := range []byte(s) {
		switch {
		case isLetter(c):
			words = append(words, letterWords[c-'A'])
		case isDigit(c):
			words = append(words, digitWords[c-'0'])
		default:
			words = append(words, string(rune(c)))
		}
	}
	return strings.Join(words, " ")
}

// letterWords is the radiotelephony spelling alphabet of ICAO Annex 10 and
// ITU Radio Regulations Appendix 14 (from memory), spellings included.
var letterWords = [26]string{
	"Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel",
	"India", "Juliett", "Kilo", "Lima", "Mike", "November", "Oscar", "Papa",
	"Quebec", "Romeo", "Sierra", "Tango", "Uniform", "Victor", "Whiskey",
	"X-ray", "Yankee", "Zulu",
}

var digitWords = [10]string{
	"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
}

func formError(text string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: reasonSerialForm,
		Message: "not a serial",
		Fields: []fault.Field{{
			Name: "serial", Got: text,
			Want: "a letter, 2 to 11 letters or digits, and a check character, as in AM0147P",
		}},
	}
}

// checkError names what was heard, never a serial that might have been meant:
// a guess could open another owner's vehicle.
func checkError(heard string, want byte) error {
	body, got := heard[:len(heard)-1], heard[len(heard)-1]
	e := fault.New(fault.Invalid, reasonSerialCheck,
		"heard %s, but %c is not its check character: the one of %s is %c", heard, got, body, want)
	if !issued(want) {
		e.Message += ", which is never issued, so the slip is in " + body
	}
	e.Meta = map[string]string{"heard": heard, "check": string(rune(want))}
	return e
}

func notIssued(body string, check byte) error {
	return fault.New(fault.Invalid, reasonSerialForm,
		"%s%c is not a serial: the check character of %s would be %c, and serials ending in *, I or O are never issued",
		body, check, body, check)
}
