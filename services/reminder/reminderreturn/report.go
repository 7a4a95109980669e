package reminderreturn

import (
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

// MostBytes is the largest message that is taken: the API's limit, and far more
// than any report about one of our messages has.
const MostBytes = 900 << 10

// Report is what a message that came back says.
type Report struct {
	Kind   reminder.ReturnKind
	Status string // RFC 3463, "5.1.1"; "" where none is told
	// Text says in one line what was reported: for a delivery the words of the
	// mail server, never the words of a person. No address stands in it.
	Text string
	// Recipient is the address that the report is about, as it was at the end,
	// for our own use: it may differ from ours where mail is forwarded. "" where
	// none is told.
	Recipient string
	// Recipients are all outcomes of a delivery report, in its order. The fields
	// above are those of the one that counts: see Deliveries.
	Recipients []Delivery
	// MessageID is that of our message, with its angle brackets, if the report
	// tells it. It proves nothing: whoever has it may have guessed it.
	MessageID string

	quoted []string // addresses in the head of our message, as the report quotes it
}

// Find gives the reference of the notice that a report is about, by a signed
// address in the head of our message as the report quotes it. It is for
// reports that came to another address than a signed one: complaints go where
// the provider was told to send them.
func (r Report) Find(p interface {
	Read(address string) (reference string, stop, ok bool)
}) (reference string, ok bool) {
	for _, address := range r.quoted {
		if reference, _, ok := p.Read(address); ok {
			return reference, true
		}
	}
	return "", false
}

// Parse reads a message that came back. A message is always something: what is
// no report of a machine is a person's answer. The only error is Invalid, for
// bytes that are no message at all.
func Parse(message []byte) (Report, error) {
	if len(message) > MostBytes {
		return Report{}, fault.InvalidField("message", "", "at most 900 KiB")
	}
	m, err := open(message)
	if err != nil {
		return Report{}, fault.InvalidField("message", "", "a message with a head (RFC 5322)")
	}
	r := m.report()
	r.MessageID, r.quoted = m.original()
	return r, nil
}
