package ownerrpc

import (
	"net/mail"
	"strings"
	"time"

	"github.com/nyaruka/phonenumbers"
	"golang.org/x/text/language"

	"halfshaft/services/fault"
	"halfshaft/services/owner"
)

// personFaults says all that is wrong with a person, the outside facts
// included: whether the address, number, language and zone can be real.
func personFaults(p owner.Person) []fault.Field {
	out := p.Faults()
	if p.Email != "" && !validMailbox(p.Email) {
		out = append(out, fault.Field{Name: "email", Got: owner.Described(p.Email),
			Want: "one address, as in somebody@aldermoor.example, without a name beside it; at most 64 characters before the @ and 254 in all"})
	}
	if p.Phone != "" && !possiblePhone(p.Phone) {
		out = append(out, fault.Field{Name: "phone", Got: owner.Described(p.Phone),
			Want: "a possible number with its country code and nothing but digits, as in +441632960983 (E.164)"})
	}
	if p.Language != "" && !knownLanguage(p.Language) {
		out = append(out, fault.Field{Name: "language", Got: p.Language, Want: "a language tag, as in en-GB (BCP 47)"})
	}
	if p.TimeZone != "" && !knownZone(p.TimeZone) {
		out = append(out, fault.Field{Name: "time_zone", Got: p.TimeZone, Want: "an IANA time zone, as in America/New_York"})
	}
	return out
}

// The longest local part, and the longest address: RFC 5321, 4.5.3.1.1 and
// 4.5.3.1.3, whose 256 octets count the angle brackets.
const (
	maxLocalPart = 64
	maxMailbox   = 254
	maxLabel     = 63 // RFC 1035, 2.3.4
)

// validMailbox reports whether the text is one mailbox that mail can be sent
// to: RFC 5321 syntax in ASCII, with a domain name. A domain of other letters
// is written in its ASCII form (xn--…). That nothing but the address stands
// there keeps line breaks, and with them forged headers, out.
func validMailbox(text string) bool {
	if len(text) > maxMailbox || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r >= 0x7f }) {
		return false
	}
	parsed, err := mail.ParseAddress(text)
	if err != nil || parsed.Name != "" || (&mail.Address{Address: parsed.Address}).String() != "<"+text+">" {
		return false // a name, a comment, brackets, or spaces beside the address
	}
	at := strings.LastIndexByte(text, '@')
	return at <= maxLocalPart && validDomain(text[at+1:])
}

// validDomain reports whether the text is a domain name of letters, digits and
// hyphens (RFC 1123, 2.1).
func validDomain(domain string) bool {
	for label := range strings.SplitSeq(domain, ".") {
		if label == "" || len(label) > maxLabel || label[0] == '-' || label[len(label)-1] == '-' {
			return false
		}
		if strings.ContainsFunc(label, func(r rune) bool {
			return r != '-' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
		}) {
			return false
		}
	}
	return true
}

// possiblePhone reports whether the text is a number in E.164 that could be
// dialled. Whether it is assigned is not asked: the ranges reserved for fiction
// never are, and a new range is in use before its table is in a library.
func possiblePhone(text string) bool {
	n, err := phonenumbers.Parse(text, "")
	return err == nil && n.GetExtension() == "" && phonenumbers.IsPossibleNumber(n) &&
		phonenumbers.Format(n, phonenumbers.E164) == text
}

// knownLanguage reports whether the tag is well formed and its subtags are
// registered.
func knownLanguage(tag string) bool {
	_, err := language.Parse(tag)
	return err == nil
}

// knownZone reports whether the zone can be loaded here. "Local" is the
// machine's zone and nobody's.
func knownZone(name string) bool {
	_, err := time.LoadLocation(name)
	return err == nil && name != "Local"
}
