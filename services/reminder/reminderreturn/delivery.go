package reminderreturn

import (
	"slices"
	"strings"

	"github.com/emersion/go-message/textproto"

	"halfshaft/services/reminder"
)

// Delivery is what a report says of one recipient (RFC 3464 section 2.3).
type Delivery struct {
	Kind      reminder.ReturnKind
	Status    string // RFC 3463, "5.1.1"; "" where none is told
	Text      string // what the server said, in one line without addresses
	Recipient string // the final recipient, for our own use
	Original  string // the address that the message was sent to, where it is told
}

// deliveries reads the groups of a delivery status that are about recipients.
func deliveries(groups []textproto.Header) []Delivery {
	var all []Delivery
	for _, g := range groups {
		action := strings.ToLower(firstWord(g.Get("Action")))
		told := g.Get("Status")
		d := Delivery{Recipient: typed(g.Get("Final-Recipient")), Original: typed(g.Get("Original-Recipient"))}
		diagnostic := typed(g.Get("Diagnostic-Code"))
		d.Status = exactStatus(statusIn(told), diagnostic)
		kind, known := kindOf(action, d.Status, diagnostic)
		if !known { // about the whole message
			continue
		}
		d.Kind = kind
		d.Text = deliveryText(d, action, told, diagnostic)
		all = append(all, d)
	}
	return all
}

// deliveryText is the server's own words, or the comment beside the status, or
// the action.
func deliveryText(d Delivery, action, told, diagnostic string) string {
	text := diagnostic
	if text == "" {
		text = told
	}
	if d.Status != "" && !strings.Contains(text, d.Status) {
		text = d.Status + " " + text
	}
	if strings.TrimSpace(text) == d.Status {
		text = strings.TrimSpace(d.Status + " " + action)
	}
	return clean(text, d.Recipient, d.Original)
}

// mildest is the order in which outcomes count: the report is about one
// address of ours, which may stand for several at its own system, and is not
// dead when the message arrived at any of them.
var mildest = []reminder.ReturnKind{delivered, relayed, delayed, givenUp, failed}

func ofDeliveries(all []Delivery) (Report, bool) {
	if len(all) == 0 {
		return Report{}, false
	}
	d := slices.MinFunc(all, func(a, b Delivery) int {
		return slices.Index(mildest, a.Kind) - slices.Index(mildest, b.Kind)
	})
	return Report{Kind: d.Kind, Status: d.Status, Text: d.Text, Recipient: d.Recipient, Recipients: all}, true
}

// typed gives the value after a field's type: "rfc822; a@b.example".
func typed(value string) string {
	if _, after, ok := strings.Cut(value, ";"); ok {
		value = after
	}
	return strings.TrimSpace(strings.Trim(strings.TrimSpace(value), "<>"))
}

// firstWord gives the first word of a value, without a comment or parameters.
func firstWord(value string) string {
	for _, word := range strings.FieldsFunc(value, func(r rune) bool { return r <= ' ' || r == '(' || r == ';' }) {
		return word
	}
	return ""
}
