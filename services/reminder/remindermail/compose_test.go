package remindermail

import (
	"bytes"
	"flag"
	"io"
	"mime"
	"net/mail"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset"
	emersionmail "github.com/emersion/go-message/mail"
	"github.com/google/go-cmp/cmp"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwords"
)

func compose(t *testing.T, l reminderwords.Letter) []byte {
	t.Helper()
	raw, err := Compose(l, words(t, l))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// words renders a letter with the built-in words.
func words(t testing.TB, l reminderwords.Letter) reminderwords.Mail {
	t.Helper()
	r, err := reminderwords.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	m, err := r.Mail(l)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestMessagesHoldToRFC5322(t *testing.T) {
	for name, letter := range letters {
		raw := compose(t, letter())
		for line := range bytes.SplitSeq(raw, []byte("\r\n")) {
			// RFC 5322 section 2.1.1: at most 998; section 2.2: no CR or LF
			// alone; RFC 2045 section 2.7 (7bit): ASCII.
			if len(line) > 998 || bytes.ContainsAny(line, "\r\n\x00") || !isASCII(string(line)) {
				t.Errorf("%s: line %q", name, line)
			}
		}
		head, _, _ := bytes.Cut(raw, []byte("\r\n\r\n"))
		for line := range bytes.SplitSeq(head, []byte("\r\n")) {
			// RFC 5322 section 2.1.1: should be 78. A link cannot be folded.
			if len(line) > 78 && !bytes.Contains(line, []byte("<https://")) {
				t.Errorf("%s: header line of %d: %s", name, len(line), line)
			}
		}
		// RFC 5322 section 3.6: once at most, and Date and From always.
		for _, field := range []string{"Date", "From", "Reply-To", "To", "Message-ID", "Subject"} {
			if n := len(regexp.MustCompile(`(?mi)^`+field+`:`).FindAll(head, -1)); n != 1 {
				t.Errorf("%s: %d times %s", name, n, field)
			}
		}
		if !bytes.Equal(raw, compose(t, letter())) {
			t.Errorf("%s: the same letter gave other bytes", name)
		}
	}
}

func TestMessagesParseBack(t *testing.T) {
	for name, letter := range letters {
		l := letter()
		raw := compose(t, l)
		m, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatalf("%s: net/mail: %v", name, err)
		}
		to, err := mail.ParseAddress(m.Header.Get("To"))
		if err != nil || to.Address != l.Draft.To.Address || to.Name != l.Draft.To.Name {
			t.Errorf("%s: To: got %v, %v", name, to, err)
		}
		if date, err := m.Header.Date(); err != nil || !date.Equal(l.Time) {
			t.Errorf("%s: Date: got %v, %v; want %v", name, date, err, l.Time)
		}
		want := words(t, l)
		parts := independently(t, raw)
		if got := parts["text/plain"]; got != want.Text {
			t.Errorf("%s: the text came back as %q", name, got)
		}
		if got := parts["text/html"]; got != want.HTML {
			t.Errorf("%s: the HTML came back as %q", name, got)
		}
	}
}

// independently reads a message with another library than the one that wrote
// it.
func independently(t *testing.T, raw []byte) map[string]string {
	t.Helper()
	entity, err := message.Read(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	header := emersionmail.Header{Header: entity.Header}
	// checks.md O-48: RFC 5322 section 3.6.4.
	if id, err := header.MessageID(); err != nil || !regexp.MustCompile(`^[0-9a-f]{32}@aldermoor\.example$`).MatchString(id) {
		t.Errorf("Message-ID: got %q, %v", id, err)
	}
	if subject, err := header.Subject(); err != nil || !strings.HasPrefix(subject, "AM0") {
		t.Errorf("Subject: got %q, %v", subject, err)
	}
	var order []string
	parts := map[string]string{}
	reader := entity.MultipartReader()
	for {
		part, err := reader.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		kind, _, err := part.Header.ContentType()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(part.Body)
		if err != nil {
			t.Fatal(err)
		}
		order = append(order, kind)
		parts[kind] = strings.ReplaceAll(string(body), "\r\n", "\n")
	}
	// RFC 2046 section 5.1.4: the preferred alternative last.
	if got := strings.Join(order, " "); got != "text/plain text/html" {
		t.Errorf("parts: %s", got)
	}
	return parts
}

// uris reads a List-Unsubscribe value as RFC 2369 section 2 says: URIs in angle
// brackets, parted by commas, comments in round brackets skipped.
func uris(value string) []string {
	value = regexp.MustCompile(`\([^()]*\)`).ReplaceAllString(value, "")
	var out []string
	for _, field := range strings.Split(value, ",") {
		if uri, ok := strings.CutPrefix(strings.TrimSpace(field), "<"); ok {
			out = append(out, strings.TrimSuffix(uri, ">"))
		}
	}
	return out
}

func TestListHeaders(t *testing.T) {
	// checks.md O-47: the examples of RFC 2369 section 3.2, which show that our
	// reader reads.
	for _, c := range []struct {
		value string
		want  int
	}{
		{"(Use this command to get off the list) <mailto:list-manager@host.com?body=unsubscribe%20list>", 1},
		{"<http://www.host.com/list.cgi?cmd=unsub&lst=list>, <mailto:list-request@host.com?subject=unsubscribe>", 2},
	} {
		if got := uris(c.value); len(got) != c.want {
			t.Errorf("%s: got %v", c.value, got)
		}
	}
	header := func(l reminderwords.Letter) mail.Header {
		m, err := mail.ReadMessage(bytes.NewReader(compose(t, l)))
		if err != nil {
			t.Fatal(err)
		}
		return m.Header
	}
	l := earlyOil()
	h := header(l)
	// checks.md O-46: RFC 8058 section 3.1, one HTTPS URI at least and this
	// very value. RFC 2369 section 2: the preferred way first.
	if got := uris(h.Get("List-Unsubscribe")); len(got) != 2 || got[0] != l.Links.Stop || got[1] != "mailto:stop@aldermoor.example?subject=unsubscribe%20AM0147P" {
		t.Errorf("List-Unsubscribe: got %v", got)
	}
	if got := h.Get("List-Unsubscribe-Post"); got != "List-Unsubscribe=One-Click" || len(got) != 26 {
		t.Errorf("List-Unsubscribe-Post: got %q", got)
	}
	// RFC 3834 section 5; RFC 2919 section 3.
	if got := h.Get("Auto-Submitted"); got != "auto-generated" {
		t.Errorf("Auto-Submitted: got %q", got)
	}
	if got := h.Get("List-Id"); got != "Service notices <service-notices.aldermoor.example>" {
		t.Errorf("List-Id: got %q", got)
	}
	// One click works over https only (RFC 8058 section 3.1): elsewhere the
	// header must not promise it.
	l.Links.Stop = "http://127.0.0.1:8080/l/abc"
	if h := header(l); h.Get("List-Unsubscribe-Post") != "" || len(uris(h.Get("List-Unsubscribe"))) != 2 {
		t.Errorf("without https: %v", h)
	}
	l.Links.Stop, l.Works.UnsubscribeMail = "", ""
	if h := header(l); h.Get("List-Unsubscribe") != "" {
		t.Errorf("without any way: %v", h.Get("List-Unsubscribe"))
	}
}

func TestNoHeaderCanBeForged(t *testing.T) {
	for name, spoil := range map[string]func(*reminderwords.Letter){
		"the works' name":    func(l *reminderwords.Letter) { l.Works.Name = "Aldermoor\r\nBcc: thief@else.example" },
		"the works' address": func(l *reminderwords.Letter) { l.Works.From = "service@aldermoor.example\r\nBcc: thief@else.example" },
		"the reply address":  func(l *reminderwords.Letter) { l.Works.ReplyTo = "a@aldermoor.example\nBcc: thief@else.example" },
		"the recipient":      func(l *reminderwords.Letter) { l.Draft.To.Address = "a@b.example\r\nBcc: thief@else.example" },
		"their name":         func(l *reminderwords.Letter) { l.Draft.To.Name = "M\r\nBcc: thief@else.example" },
		"the stop link":      func(l *reminderwords.Letter) { l.Links.Stop = "https://a.example/\r\nBcc: thief@else.example" },
		"the Message-ID":     func(l *reminderwords.Letter) { l.MessageID = "<a@b.example>\r\nBcc: thief@else.example" },
	} {
		l := earlyOil()
		spoil(&l)
		if raw, err := Compose(l, words(t, l)); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: got %v and %s", name, err, raw)
		} else if strings.Contains(err.Error(), "margaret") {
			t.Errorf("%s: the refusal names the recipient: %v", name, err)
		}
	}
	// Words of the programme become one line.
	l := earlyOil()
	l.Draft.Lines[0].Item.Title = "Oil\r\nBcc: thief@else.example"
	m, err := mail.ReadMessage(bytes.NewReader(compose(t, l)))
	if err != nil || m.Header.Get("Bcc") != "" || !strings.Contains(m.Header.Get("Subject"), "Oil Bcc: thief") {
		t.Errorf("a title forged a header: %v, %v", m.Header, err)
	}
	// And HTML in them stays words.
	l.Draft.Lines[0].Item.Title = `<img src="https://else.example/pixel">`
	if got := words(t, l); strings.Contains(got.HTML, "<img") {
		t.Error("a title became markup")
	}
}

func TestAddressesThatCanBeWrittenTo(t *testing.T) {
	for address, want := range map[string]bool{
		"margaret.hale@harbour.example": true, "a@b": true, `"odd name"@b.example`: false,
		"": false, "nobody": false, "a@b@c": false, "Name <a@b.example>": false, "a@b.example\r\nX: y": false, "a@b.example, c@d.example": false,
	} {
		if got := UsableAddress(address); got != want {
			t.Errorf("%q: got %v", address, got)
		}
	}
}

func TestTheDateIsTheTimeOfTheClaim(t *testing.T) {
	l := earlyOil()
	l.Time = time.Date(2027, time.April, 1, 11, 0, 0, 0, zone("Europe/London"))
	if raw := compose(t, l); !bytes.Contains(raw, []byte("\r\nDate: Thu, 01 Apr 2027 10:00:00 +0000\r\n")) {
		t.Errorf("the Date is another: %s", raw[:300])
	}
}

var update = flag.Bool("update", false, "write the golden file anew; read the difference before committing it")

func TestAMailReadsAsTheGoldenFileDoes(t *testing.T) {
	// The words are given here, so that only the mail is looked at.
	l := earlyOil()
	l.Draft.To.Name = "Jürgen Weiß"
	raw, err := Compose(l, reminderwords.Mail{
		Language: "de", Subject: "AM0147P: Service überfällig seit 10. Januar (Motoröl)", Text: "Guten Tag Jürgen Weiß,\n\nes ist Zeit.\n",
		HTML: "<!DOCTYPE html>\n<html lang=\"de\"><title>Ölwechsel</title><p>Guten Tag Jürgen Weiß,</p></html>\n",
	})
	if err != nil {
		t.Fatal(err)
	}
	const path = "testdata/mail.eml"
	got := strings.ReplaceAll(string(raw), "\r\n", "\n")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("the mail differs (-want +got):\n%s", diff)
	}
}

func TestASafetyMailOffersNoWayToStopIt(t *testing.T) {
	l := earlyOil()
	l.Draft.Purpose = reminder.Safety
	m, err := mail.ReadMessage(bytes.NewReader(compose(t, l)))
	if err != nil || m.Header.Get("List-Unsubscribe") != "" || m.Header.Get("List-Unsubscribe-Post") != "" {
		t.Errorf("got %v, %v", m.Header, err)
	}
}

func TestSubjectsAndLanguagesAreTold(t *testing.T) {
	for _, subject := range []string{
		"AM0147P: service due by 1 May (Engine oil and filter)",
		"AM0147P: Service überfällig seit 10. Januar (Motoröl und Ölfilter)",
		"AM0147P: " + strings.Repeat("ß", 120), "AM0147P: 油とフィルター", "AM0147P: =?utf-8?q?no_word?= ü",
	} {
		l := earlyOil()
		raw, err := Compose(l, reminderwords.Mail{Language: "de-CH", Subject: subject, Text: "Text\n", HTML: "<p>Text</p>"})
		if err != nil {
			t.Fatal(err)
		}
		m, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		// RFC 2047 section 2: an encoded word has 75 characters at most.
		for _, word := range strings.Fields(m.Header.Get("Subject")) {
			if strings.HasPrefix(word, "=?") && len(word) > 75 {
				t.Errorf("an encoded word of %d: %s", len(word), word)
			}
		}
		if got, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject")); err != nil || got != subject {
			t.Errorf("got %q, %v, want %q", got, err, subject)
		}
		entity, err := message.Read(bytes.NewReader(raw)) // another library
		if err != nil {
			t.Fatal(err)
		}
		if got, err := (&emersionmail.Header{Header: entity.Header}).Subject(); err != nil || got != subject {
			t.Errorf("got %q, %v, want %q", got, err, subject)
		}
		// RFC 3282 section 2.
		if got := m.Header.Get("Content-Language"); got != "de-CH" {
			t.Errorf("Content-Language: got %q", got)
		}
	}
}

// FuzzNamesForgeNothing puts whatever people may be called into a mail's
// header.
func FuzzNamesForgeNothing(f *testing.F) {
	for _, name := range []string{"Margaret Hale", "\u05b9\\", "M\r\nBcc: thief@else.example", "\u202eelaH", "a@b.example, c@d.example", "\xff", `"quoted"`, "דנה", strings.Repeat("ü", 400)} {
		f.Add(name)
	}
	rendered := words(f, earlyOil())
	f.Fuzz(func(t *testing.T, name string) {
		if len(name) > 900 {
			return // one word without a break fits no line (RFC 5322 section 2.1.1)
		}
		l := earlyOil()
		l.Draft.To.Name = name
		raw, err := Compose(l, rendered)
		if strings.ContainsAny(name, "\r\n\x00") {
			if !fault.Is(err, fault.Invalid) || len(name) > 3 && strings.Contains(err.Error(), name) {
				t.Errorf("%q: got %v", name, err)
			}
			return
		}
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		m, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		to, err := m.Header.AddressList("To")
		if err != nil || len(to) != 1 || to[0].Address != l.Draft.To.Address || m.Header.Get("Bcc") != "" {
			t.Errorf("%q: to %v, %v", name, to, err)
		}
		if err == nil && to[0].Name != strings.ReplaceAll(reminderwords.OneLine(name), `\`, "/") {
			t.Errorf("%q came back as %q", name, to[0].Name)
		}
	})
}
