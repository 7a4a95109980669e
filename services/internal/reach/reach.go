// Package reach says whether a mail address or a telephone number can be real:
// those of people and those of workshops by one rule.
package reach

import (
	"strings"

	"github.com/nyaruka/phonenumbers"
)

// The longest local part, and the longest address: RFC 5321, 4.5.3.1.1 and
// 4.5.3.1.3, whose 256 octets count the angle brackets.
const (
	maxLocalPart = 64
	maxMailbox   = 254
	maxLabel     = 63 // RFC 1035, 2.3.4
)

// Mailbox reports whether the text is one mailbox that mail can be sent
// to, by the grammar of RFC 5321, 4.1.2: a dot-string or a quoted string, an @,
// and a domain name; all in ASCII. A domain of other letters is written in its
// ASCII form (xn--…). An address literal is nobody's address for long and
// refused. That nothing but the address stands there keeps line breaks, and with
// them forged headers, out.
func Mailbox(text string) bool {
	at := strings.LastIndexByte(text, '@')
	if len(text) > maxMailbox || at < 1 || at > maxLocalPart {
		return false
	}
	local := text[:at]
	return (dotString(local) || quotedString(local)) && validDomain(text[at+1:])
}

// dotString reports whether the text is atoms with single dots between.
func dotString(text string) bool {
	for atom := range strings.SplitSeq(text, ".") {
		if atom == "" || strings.Trim(atom, atomText) != "" {
			return false
		}
	}
	return true
}

// atomText is what an atom may hold: RFC 5322, 3.2.3.
const atomText = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789!#$%&'*+-/=?^_`{|}~"

// quotedString reports whether the text is a quoted string: printable ASCII
// between quotes, with a backslash before a quote or a backslash. An empty one
// is allowed by the grammar and delivers nowhere.
func quotedString(text string) bool {
	if len(text) < 3 || text[0] != '"' || text[len(text)-1] != '"' {
		return false
	}
	for inner := text[1 : len(text)-1]; inner != ""; inner = inner[1:] {
		switch {
		case inner[0] < ' ' || inner[0] > '~' || inner[0] == '"':
			return false
		case inner[0] == '\\':
			if inner = inner[1:]; inner == "" || inner[0] < ' ' || inner[0] > '~' {
				return false
			}
		}
	}
	return true
}

// validDomain reports whether the text is a domain name of letters, digits and
// hyphens whose last label is not all digits (RFC 1123, 2.1).
func validDomain(domain string) bool {
	if strings.Trim(domain[strings.LastIndexByte(domain, '.')+1:], "0123456789") == "" {
		return false
	}
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

// Phone reports whether the text is a number in E.164 that could be
// dialled. Whether it is assigned is not asked: the ranges reserved for fiction
// never are, and a new range is in use before its table is in a library.
func Phone(text string) bool {
	n, err := phonenumbers.Parse(text, "")
	return err == nil && n.GetExtension() == "" && phonenumbers.IsPossibleNumber(n) &&
		phonenumbers.Format(n, phonenumbers.E164) == text
}
