// Package remindermail makes mails of what reminderwords says and hands them to
// a server.
//
// A letter is rendered once, to bytes, when its notice is claimed; those bytes
// go out however often sending is tried.
package remindermail

import (
	"net/mail"
	"strings"
)

// UsableAddress reports whether a message can be addressed so: one plain
// address, without a name.
func UsableAddress(address string) bool {
	parsed, err := mail.ParseAddress(address)
	return err == nil && parsed.Address == address && !strings.ContainsAny(address, "\r\n<> ")
}

// domainOf is what follows the last "@".
func domainOf(address string) string { return address[strings.LastIndexByte(address, '@')+1:] }
