package reminderreturn

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset" // reads texts in every usual character set
	"github.com/emersion/go-message/textproto"
)

// Limits on what is looked at. A report is three parts in one multipart; what
// is nested deeper or has more parts is somebody's attachment.
const (
	mostDepth  = 6
	mostParts  = 50
	mostText   = 64 << 10
	mostGroups = 100
)

// incoming is a message taken apart, as far as the kinds of reports need it.
type incoming struct {
	head     message.Header
	isReport bool               // there is a multipart/report
	text     string             // the first text for people, or its beginning
	status   []textproto.Header // the groups of fields of a delivery status (RFC 3464 section 2.1)
	feedback *textproto.Header  // the fields of a feedback report (RFC 5965 section 3)
	receipt  bool               // there is a disposition notification (RFC 8098)
	ours     *message.Header    // the head of the message that the report is about
}

var errEnough = errors.New("enough was read")

// open takes a message apart. What is broken ends the reading, and what was
// read before it counts.
func open(raw []byte) (*incoming, error) {
	// A head that ends without a line end is still a head.
	r := bufio.NewReader(io.MultiReader(bytes.NewReader(raw), strings.NewReader("\r\n")))
	head, err := textproto.ReadHeader(r)
	if head.Len() == 0 {
		return nil, errors.Join(err, errors.New("no head"))
	}
	m := &incoming{head: message.Header{Header: head}}
	// An unknown character set or encoding leaves the text as it is.
	entity, _ := message.New(m.head, r)
	parts := 0
	_ = entity.Walk(func(path []int, part *message.Entity, _ error) error {
		if parts++; parts > mostParts || len(path) > mostDepth {
			return errEnough
		}
		m.take(part)
		return nil
	})
	return m, nil
}

// take keeps what a part tells. A message within the message is not looked
// into beyond its head: a person who forwards a report reports nothing.
func (m *incoming) take(part *message.Entity) {
	kind, _, _ := part.Header.ContentType()
	switch strings.ToLower(kind) {
	case "multipart/report":
		m.isReport = true
	case "message/delivery-status", "message/global-delivery-status": // RFC 6533
		if m.status == nil {
			m.status = groups(part.Body)
		}
	case "message/feedback-report":
		if g := groups(part.Body); m.feedback == nil && len(g) > 0 {
			m.feedback = &g[0]
		}
	case "message/disposition-notification", "message/global-disposition-notification":
		m.receipt = true
	case "message/rfc822", "message/global", "text/rfc822-headers", "message/global-headers":
		if m.ours == nil {
			h, _ := textproto.ReadHeader(bufio.NewReader(part.Body))
			m.ours = &message.Header{Header: h}
		}
	case "text/plain":
		if m.text == "" {
			text, _ := io.ReadAll(io.LimitReader(part.Body, mostText))
			m.text = strings.ToValidUTF8(string(text), "?")
		}
	}
}

// groups reads fields in groups with blank lines between them. A line that is
// no field ends its group, which some servers fold wrongly.
func groups(r io.Reader) []textproto.Header {
	var all []textproto.Header
	b := bufio.NewReader(io.LimitReader(r, mostText))
	for len(all) < mostGroups {
		if _, err := b.Peek(1); err != nil {
			break
		}
		if h, _ := textproto.ReadHeader(b); h.Len() > 0 {
			all = append(all, h)
		}
	}
	return all
}

// report says what the message is. A status part counts wherever it stands:
// some servers put it into a multipart/mixed.
func (m *incoming) report() Report {
	if len(m.status) > 0 {
		if r, ok := ofDeliveries(deliveries(m.status)); ok {
			return r
		}
	}
	switch {
	case m.feedback != nil:
		return m.complaint()
	case m.receipt:
		return Report{Kind: autoReply, Text: "a receipt for a message that was shown or deleted"}
	case m.isServers():
		return m.plainReport()
	case m.isAutomatic():
		return Report{Kind: autoReply, Text: "an automatic answer"}
	}
	return Report{Kind: reply, Text: "an answer of a person"}
}
