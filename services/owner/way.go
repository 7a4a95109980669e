package owner

import (
	"slices"
	"strings"
	"time"
	"unicode"
)

// Way is a way to reach a person. Its numbers are those of the API's
// enumeration.
type Way uint8

// The ways.
const (
	AnyWay Way = iota // for a consent: by every way
	Mail              // electronic mail
	Text              // a text message
	Letter            // a printed letter
)

var wayNames = [...]string{"any way", "mail", "text", "letter"}

func (w Way) String() string {
	if int(w) < len(wayNames) {
		return wayNames[w]
	}
	return "no way"
}

func (w Way) known() bool { return w != AnyWay && int(w) < len(wayNames) }

// Undeliverable says that a way leads nowhere.
type Undeliverable struct {
	Way    Way
	Since  time.Time
	Reason string // what came back, without addresses
}

// Address gives where a message by the way goes: the mail address, the number,
// or the postal lines, one below the other. Empty where there is none.
func (p Person) Address(w Way) string {
	switch w {
	case Mail:
		return p.Email
	case Text:
		return p.Phone
	case Letter:
		return strings.Join(p.PostalLines, "\n")
	}
	return ""
}

// IsAt reports whether a message that went to an address by a way went where
// the person still is. Case, blanks and punctuation do not tell two addresses
// apart, since what comes back is seldom written as what went out.
func (p Person) IsAt(w Way, address string) bool {
	there := squeezed(p.Address(w))
	return there != "" && there == squeezed(address)
}

// squeezed leaves what an address is told by: for a mailbox everything, in
// lower case, for others the letters and digits.
func squeezed(address string) string {
	mailbox := strings.Contains(address, "@")
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || !mailbox && !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, address)
}

// Marked gives the person with a way marked as leading nowhere. A mark that
// stands already stays: it says since when.
func (p Person) Marked(u Undeliverable) Person {
	if !slices.ContainsFunc(p.Undeliverable, func(old Undeliverable) bool { return old.Way == u.Way }) {
		p.Undeliverable = append(slices.Clone(p.Undeliverable), u)
	}
	return p
}

// Keeping gives the person, who replaces an older record, with the older one's
// marks of addresses that are still the same.
func (p Person) Keeping(old Person) Person {
	p.Undeliverable = nil
	for _, u := range old.Undeliverable {
		if p.IsAt(u.Way, old.Address(u.Way)) {
			p.Undeliverable = append(p.Undeliverable, u)
		}
	}
	return p
}

const maxReason = 200 // runes

// WithoutAddresses gives what came back on one line, shortened, and with
// everything that may be a mail address left out.
func WithoutAddresses(reason string) string {
	words := strings.FieldsFunc(reason, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	for i, w := range words {
		if strings.Contains(w, "@") {
			words[i] = "…"
		}
	}
	out := []rune(strings.ToValidUTF8(strings.Join(words, " "), "…"))
	return string(out[:min(len(out), maxReason)])
}
