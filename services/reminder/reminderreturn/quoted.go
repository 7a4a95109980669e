package reminderreturn

import (
	"net/url"
	"regexp"
	"strings"
)

var (
	aMessageID    = regexp.MustCompile(`<[^<>\s]{1,250}>`)
	idInText      = regexp.MustCompile(`(?im)^message-id:\s*(<[^<>\s]{1,250}>)`)
	unsubscribing = regexp.MustCompile(`(?i)<mailto:([^<>?]+)`)
)

// original gives the Message-ID of our message and the addresses that its head
// names as ours. An answer names the message in In-Reply-To (RFC 5322 section
// 3.6.4, RFC 3834 section 3.1.6); a text of a server may hold a copy of it.
func (m *incoming) original() (messageID string, addresses []string) {
	if m.feedback != nil {
		addresses = append(addresses, m.feedback.Get("Original-Mail-From"))
	}
	if m.ours != nil {
		addresses = append(addresses, m.ours.Get("Return-Path"))
		for _, found := range unsubscribing.FindAllStringSubmatch(m.ours.Get("List-Unsubscribe"), 4) {
			if address, err := url.PathUnescape(found[1]); err == nil {
				addresses = append(addresses, address)
			}
		}
		return aMessageID.FindString(m.ours.Get("Message-Id")), addresses
	}
	if found := idInText.FindStringSubmatch(m.text); found != nil {
		return found[1], addresses
	}
	for _, field := range []string{"In-Reply-To", "References"} {
		if all := aMessageID.FindAllString(m.head.Get(field), -1); len(all) > 0 {
			return all[len(all)-1], addresses
		}
	}
	return "", addresses
}

// anAddress is anything with an at sign in it.
var anAddress = regexp.MustCompile(`(?:"[^"]*")?[^\s<>:;,"()]*[@＠][^\s<>:;,"()]*`)

func addressesIn(text string) []string { return anAddress.FindAllString(text, 20) }

// mostKept is how much of a server's words is kept, in characters.
const mostKept = 200

// clean makes one line of a text and takes addresses out of it, and the names
// of these recipients at their systems, which servers quote alone.
func clean(text string, recipients ...string) string {
	text = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(text, "?"), func(r rune) bool {
		return r <= ' ' || r >= 0x7f && r <= 0xa0
	}), " ")
	text = anAddress.ReplaceAllString(text, "[address]")
	for _, recipient := range recipients[:min(len(recipients), 20)] {
		local, _, _ := strings.Cut(strings.Trim(strings.TrimSpace(recipient), `<>"`), "@")
		local = strings.ToValidUTF8(strings.Trim(local, `"`), "?")
		if len(local) < 3 || len(local) > 256 {
			continue
		}
		name := regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(local) + `($|[^\pL\pN])`)
		for range 2 { // two side by side share what parts them
			text = name.ReplaceAllString(text, "${1}[address]${2}")
		}
	}
	if r := []rune(text); len(r) > mostKept {
		text = strings.TrimSpace(string(r[:mostKept]))
	}
	return text
}
