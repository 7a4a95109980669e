package owner

import (
	"cmp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// Purpose is what the works writes to somebody for. Its numbers are those of
// the API's enumeration.
type Purpose uint8

// The purposes.
const (
	NoPurpose  Purpose = iota
	Service            // service notices
	YearLetter         // the letter at the year's end
	Safety             // safety campaigns, which need no consent and which nothing ends
)

// Source is how a consent came to the works. Its numbers are those of the API's
// enumeration.
type Source uint8

// The sources.
const (
	NoSource  Source = iota
	ByPage           // on one of our pages
	OnPaper          // on paper
	ByPhone          // by telephone
	ByMessage        // in a letter or a mail
	ByText           // by answering a text message
	sourcesEnd
)

// Consent is what a person said about being written to, once. None is changed;
// a later one counts before an earlier one.
type Consent struct {
	ID         string
	Person     string // identifier
	Purpose    Purpose
	Way        Way // AnyWay: by every way
	Given      bool
	Wording    string
	Language   string    // BCP 47 tag of the wording; empty is English
	Said       time.Time // when the person said so
	Source     Source
	RecordedBy string
	Created    time.Time
}

const maxWording = 4000 // characters

// Faults says what is wrong with a consent by itself, as of a moment. Whether
// its language exists is for the edge to ask.
func (c Consent) Faults(now time.Time) []fault.Field {
	var out []fault.Field
	wrong := func(name, got, want string) { out = append(out, fault.Field{Name: name, Got: got, Want: want}) }
	switch c.Purpose {
	case Service, YearLetter:
	case Safety:
		wrong("purpose", "SAFETY", "SERVICE or YEAR_LETTER: a safety campaign needs no consent, and nothing ends it")
	default:
		wrong("purpose", "", "SERVICE or YEAR_LETTER")
	}
	if c.Way != AnyWay && !c.Way.known() {
		wrong("way", "", "MAIL, TEXT, LETTER, or nothing for every way")
	}
	if c.Given && c.Wording == "" || !paragraphs(c.Wording, maxWording) {
		wrong("wording", Described(c.Wording), "the words that the person agreed to, 1 to "+fault.Characters(maxWording)+", without control characters")
	}
	if c.Said.After(now) {
		wrong("consent_time", c.Said.UTC().Format(time.RFC3339), "now, "+now.UTC().Format(time.RFC3339)+", or earlier")
	}
	if c.Source == NoSource || c.Source >= sourcesEnd {
		wrong("source", "", "PAGE, PAPER, TELEPHONE, MESSAGE or TEXT")
	}
	return out
}

// paragraphs reports whether the text is printable, with line breaks allowed.
func paragraphs(s string, most int) bool {
	return !fault.Longer(s, most) && utf8.ValidString(s) && strings.TrimSpace(s) == s && !strings.ContainsFunc(s, func(r rune) bool {
		return r != '\n' && unicode.IsControl(r) || r == utf8.RuneError
	})
}

// OrderConsents sorts consents by when they were said, then recorded, then by
// identifier: the last counts.
func OrderConsents(a, b Consent) int {
	return cmp.Or(a.Said.Compare(b.Said), a.Created.Compare(b.Created), cmp.Compare(a.ID, b.ID))
}

// Counting gives, of consents in order, those that count for some purpose and
// way today, in order: the last that speaks of it, be it of that way or of
// every way.
func Counting(consents []Consent) []Consent {
	counts := make([]bool, len(consents))
	for _, purpose := range []Purpose{Service, YearLetter} {
		for w := Mail; w.known(); w++ {
			if i := last(consents, purpose, w); i >= 0 {
				counts[i] = true
			}
		}
	}
	var out []Consent
	for i, c := range consents {
		if counts[i] {
			out = append(out, c)
		}
	}
	return out
}

// Consented says what counts today of consents in order, for a purpose and a
// way: whether the person said anything, and if so, whether they agreed.
func Consented(consents []Consent, purpose Purpose, w Way) (given, said bool) {
	i := last(consents, purpose, w)
	return i >= 0 && consents[i].Given, i >= 0
}

func last(consents []Consent, purpose Purpose, w Way) int {
	for i, c := range slices.Backward(consents) {
		if c.Purpose == purpose && (c.Way == AnyWay || c.Way == w) {
			return i
		}
	}
	return -1
}
