package remindermail

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	netmail "net/mail"
	"net/url"
	"strings"

	"github.com/wneessen/go-mail"

	"halfshaft/services/fault"
	"halfshaft/services/reminder/reminderwords"
)

// mostLine is the longest line of a message without its line end (RFC 5322
// section 2.1.1).
const mostLine = 998

// Compose makes the bytes of a mail. The same letter gives the same bytes. A value with a line break in it that would stand in a header is
// refused as Invalid: it could forge one.
func Compose(l reminderwords.Letter, rendered reminderwords.Mail) ([]byte, error) {
	headers := headersOf(l, rendered)
	for _, h := range append(headers, header{"From", l.Works.From}, header{"From", l.Works.Name},
		header{"Reply-To", l.Works.Answers()}, header{"To", l.Draft.To.Address}, header{"To", l.Draft.To.Name}) {
		if strings.ContainsAny(h.value, "\r\n\x00") {
			if h.name == "To" {
				h.value = "" // personal
			}
			return nil, fault.InvalidField(strings.ToLower(h.name), h.value, "a value in one line")
		}
	}
	m := mail.NewMsg(mail.WithCharset(mail.CharsetUTF8), mail.WithEncoding(mail.EncodingQP),
		mail.WithNoDefaultUserAgent(), mail.WithBoundary(boundary(l.MessageID)))
	if err := addresses(m, l); err != nil {
		return nil, err
	}
	for _, h := range headers {
		m.SetGenHeader(mail.Header(h.name), h.value)
	}
	m.SetDateWithValue(l.Time.UTC())
	m.SetBodyString(mail.TypeTextPlain, rendered.Text)
	m.AddAlternativeString(mail.TypeTextHTML, rendered.HTML)
	var b bytes.Buffer
	if _, err := m.WriteTo(&b); err != nil {
		return nil, err
	}
	for line := range bytes.SplitSeq(b.Bytes(), []byte("\r\n")) {
		if len(line) > mostLine {
			return nil, fault.New(fault.Internal, "LINE_TOO_LONG", "a line of the message has %d bytes, at most %d may be sent", len(line), mostLine)
		}
	}
	return b.Bytes(), nil
}

func addresses(m *mail.Msg, l reminderwords.Letter) error {
	if err := m.From(named(l.Works.Name, l.Works.From)); err != nil {
		return fault.InvalidField("works.from", l.Works.From, "a mail address")
	}
	if err := m.ReplyTo(named(l.Works.Name, l.Works.Answers())); err != nil {
		return fault.InvalidField("works.reply_to", l.Works.Answers(), "a mail address")
	}
	if err := m.AddTo(named(reminderwords.OneLine(l.Draft.To.Name), l.Draft.To.Address)); err != nil {
		// The address itself is personal and is not told.
		return fault.InvalidField("to", "", "a mail address")
	}
	return nil
}

// named writes an address with its name as RFC 5322 section 3.4 wants it,
// whatever stands in the name. Nobody is called with a backslash, which
// net/mail writes into encoded words although RFC 2047 section 5.3 does not
// allow it there: a slash stands for it.
func named(name, address string) string {
	return (&netmail.Address{Name: strings.ReplaceAll(name, `\`, "/"), Address: address}).String()
}

type header struct{ name, value string }

// headersOf gives what makes the message a well-behaved automatic one:
//
//   - List-Unsubscribe (RFC 2369 section 3.2) and, where the link is https,
//     List-Unsubscribe-Post (RFC 8058 section 3.1), so that one press in the
//     mail program is enough
//   - List-Id (RFC 2919)
//   - Content-Language (RFC 3282 section 2)
//   - Auto-Submitted (RFC 3834 section 5), so that nobody's absence answers it
func headersOf(l reminderwords.Letter, m reminderwords.Mail) []header {
	domain := domainOf(l.Works.From)
	headers := []header{
		{"Subject", m.Subject},
		{"Content-Language", m.Language},
		{"Message-ID", l.MessageID},
		{"Auto-Submitted", "auto-generated"},
	}
	if l.Draft.Purpose.Once() {
		return headers // it is of no list
	}
	headers = append(headers, header{"List-Id", "Service notices <service-notices." + domain + ">"})
	if !l.Draft.Purpose.Ends() {
		return headers // nothing stops it
	}
	var ways []string
	if l.Links.Stop != "" {
		ways = append(ways, "<"+l.Links.Stop+">")
	}
	if l.Works.UnsubscribeMail != "" {
		ways = append(ways, "<mailto:"+l.Works.UnsubscribeMail+"?subject="+
			url.PathEscape("unsubscribe "+string(l.Draft.Vehicle.Serial))+">")
	}
	if len(ways) > 0 {
		headers = append(headers, header{"List-Unsubscribe", strings.Join(ways, ", ")})
	}
	if strings.HasPrefix(l.Links.Stop, "https://") {
		headers = append(headers, header{"List-Unsubscribe-Post", "List-Unsubscribe=One-Click"})
	}
	return headers
}

// boundary parts the text from the HTML. It is made from the Message-ID, for a
// random one would make other bytes each time.
func boundary(messageID string) string {
	sum := sha256.Sum256([]byte("boundary\n" + messageID))
	return hex.EncodeToString(sum[:15])
}
