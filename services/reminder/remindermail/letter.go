// Package remindermail renders notices as mail and hands mail to a server.
//
// A letter is rendered once, to bytes, when its notice is claimed; those bytes
// go out however often sending is tried. The text and the HTML are made from
// one set of sentences, so that they say the same.
package remindermail

import (
	"net/mail"
	"strings"
	"time"

	"halfshaft/services/reminder"
)

// Works is how the works appears in its mail.
type Works struct {
	Name            string // "Aldermoor Works"
	From            string // the address that notices come from; its domain names the Message-IDs
	ReplyTo         string // where answers go; "" is From
	Phone           string // as printed; "" for none
	UnsubscribeMail string // a mailbox that takes unsubscriptions; "" for none
}

// Letter is all that a message says.
type Letter struct {
	Works     Works
	Draft     reminder.Draft
	Parts     map[string][]Part // what to ask for, by round
	Odometer  string            // link to report the odometer; "" for none
	Stop      string            // link to stop the notices; "" for none
	MessageID string
	Time      time.Time // when it is claimed
}

// Part is one part to ask for.
type Part struct {
	Number   string // "" when the works must be asked for it
	Title    string
	Position string // where it goes
	Quantity int    // 0 when not known
	IfNeeded bool
	Caution  string
}

// UsableAddress reports whether a message can be addressed so: one plain
// address, without a name.
func UsableAddress(address string) bool {
	parsed, err := mail.ParseAddress(address)
	return err == nil && parsed.Address == address && !strings.ContainsAny(address, "\r\n<> ")
}

// domainOf is what follows the last "@".
func domainOf(address string) string { return address[strings.LastIndexByte(address, '@')+1:] }
