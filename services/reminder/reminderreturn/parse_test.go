package reminderreturn

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

// theirs is the reference in the signed addresses of the test messages.
const theirs = aReference

// sample reads a test message, with the line ends of the wire. @BOUNCE@ and
// @STOP@ stand for signed addresses.
func sample(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", name+".eml"))
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("\n", "\r\n", "@BOUNCE@", path.Address(theirs), "@STOP@", path.StopAddress(theirs)).Replace(string(raw))
	return []byte(text)
}

// samples are the test messages. All addresses in them are invented; the source
// says after what each is written.
var samples = []struct {
	file, source string
	kind         reminder.ReturnKind
	status, text string
}{
	// A persistent transient failure that was given up: RFC 3463 section 2.
	{"rfc3464-simple", "the simple example at the end of RFC 3464", givenUp, "4.0.0", "4.0.0 426 connection timed out"},
	// The mildest of three counts.
	{"rfc3464-several", "the multi-recipient example at the end of RFC 3464", delayed, "4.0.0", "4.0.0 (nightly.example: host name lookup failure)"},
	{"rfc3464-gateway", "the example of a gateway at the end of RFC 3464", failed, "5.1.1", "5.1.1 user [address] is unknown here"},
	{"rfc3464-delayed", "the delayed example at the end of RFC 3464", delayed, "4.0.0", "4.0.0 426 connection timed out"},
	{"rfc3461-relayed", "RFC 3464 section 2.3.3, relayed", relayed, "2.0.0", "2.0.0 relayed"},
	{"rfc3464-expanded", "RFC 3464 section 2.3.3, expanded", relayed, "2.0.0", "2.0.0 expanded"},
	{"rfc3464-delivered", "RFC 3464 section 2.3.3, delivered", delivered, "2.1.5", "250 2.1.5 [address]"},
	{"expanded-one-arrived", "RFC 3464 section 2.3, one group for each recipient", delivered, "2.1.5", "2.1.5 delivered"},
	{"unknown-user", "Postfix's bounce(5)", failed, "5.1.1", "550 5.1.1 <[address]>: Recipient address rejected: User unknown in virtual mailbox table"},
	{"mailbox-full", "RFC 3463 section 3.3, X.2.2", givenUp, "5.2.2", "552 5.2.2 The mailbox of [address] is over its quota"},
	{"storage-exceeded-old-code", "RFC 5321 section 4.2.3, 552", givenUp, "5.0.0", "5.0.0 552 Requested mail action aborted: exceeded storage allocation"},
	{"policy", "RFC 3463 section 3.8; what large providers write", givenUp, "5.7.1",
		"550-5.7.1 [192.0.2.7] Our system has detected that this message 550-5.7.1 is likely unsolicited mail. 550 5.7.1 id x12"},
	{"expired", "RFC 3463 section 3.5, X.4.7", givenUp, "4.4.7", "550 4.4.7 QUEUE.Expired; message expired"},
	{"expired-for-good", "RFC 3463 section 3.5, X.4.7", givenUp, "5.4.7", "5.4.7 failed"},
	{"office-not-found", "what office servers write", failed, "5.1.10",
		"550 5.1.10 RESOLVER.ADR.RecipientNotFound; Recipient [address] not found by address lookup"},
	{"in-multipart-mixed", "what list servers write", failed, "5.1.2", "5.1.2 failed"},
	{"wrongly-folded", "the multi-recipient example at the end of RFC 3464, as it is printed there", failed, "5.0.0", "5.0.0 550 [address] is not a"},
	{"words-more-exact-than-status", "RFC 3463 section 3.1, X.0.0", givenUp, "5.7.9",
		"554 delivery error: dd Not now, 5.7.9 the message was not signed well enough"},
	{"without-a-status", "RFC 5321 section 4.2.3, 550", failed, "5.0.0", "5.0.0 550 no mailbox [address]"},
	{"report-about-nobody", "a broken report", givenUp, "5.1.1", "Delivery failed: 550 5.1.1 no mailbox [address]"},
	{"rfc6533-international", "RFC 6533", failed, "5.1.1", "550 5.1.1 [address] is not known"},
	{"text-with-failed-recipients", "common practice of a widely used server", givenUp, "5.1.1", "550 5.1.1 [address] does not live here"},
	{"text-delay-warning", "common practice of a widely used server", delayed, "", "a text of a mail server without a report"},
	{"qsbmf", "cr.yp.to/proto/qsbmf.txt", givenUp, "5.1.1", "Remote host said: 550 5.1.1 <[address]>: no mailbox here by that name"},
	{"null-sender-text", "RFC 5321 section 4.5.5", givenUp, "", "a text of a mail server without a report"},
	{"rfc5965-abuse", "the minimal sample at the end of RFC 5965", complaint, "", "a complaint: abuse"},
	{"rfc5965-abuse-all-fields", "the full sample at the end of RFC 5965", complaint, "", "a complaint: abuse"},
	{"rfc5965-unknown-type", "RFC 5965 section 3.1", complaint, "", "a complaint: future-kind"},
	{"rfc6430-not-spam", "RFC 6430", autoReply, "", "a report of a provider that is no complaint: not-spam"},
	{"rfc6591-auth-failure", "RFC 6591", autoReply, "", "a report of a provider that is no complaint: auth-failure"},
	{"rfc8098-shown", "RFC 8098 section 3", autoReply, "", "a receipt for a message that was shown or deleted"},
	{"rfc3834-vacation", "RFC 3834 sections 3.1.5 and 5", autoReply, "", "an automatic answer"},
	{"rfc3834-generated", "RFC 3834 section 5, with a parameter", autoReply, "", "an automatic answer"},
	{"rfc3834-no", "RFC 3834 section 5: \"no\" is a person's", reply, "", "an answer of a person"},
	{"away-by-subject", "common practice, no source", autoReply, "", "an automatic answer"},
	{"away-by-field", "common practice, no source", autoReply, "", "an automatic answer"},
	{"away-by-precedence", "common practice, no source", autoReply, "", "an automatic answer"},
	{"person", "RFC 5322", reply, "", "an answer of a person"},
	{"person-forwards-a-report", "RFC 5322 with RFC 2046 section 5.2.1", reply, "", "an answer of a person"},
	{"unsubscribe", "RFC 2369 section 3.2", reply, "", "an answer of a person"},
}

func TestEachKindOfReturnIsToldApart(t *testing.T) {
	files, err := filepath.Glob("testdata/*.eml")
	if err != nil || len(files) != len(samples) {
		t.Errorf("%d files for %d samples, %v", len(files), len(samples), err)
	}
	for _, s := range samples {
		wire := sample(t, s.file)
		for ends, message := range map[string][]byte{"CRLF": wire, "LF": bytes.ReplaceAll(wire, []byte("\r\n"), []byte("\n"))} {
			r, err := Parse(message)
			if err != nil || r.Kind != s.kind || r.Status != s.status || r.Text != s.text {
				t.Errorf("%s (%s) with %s: got %d %q %q, %v\nwant %d %q %q", s.file, s.source, ends, r.Kind, r.Status, r.Text, err, s.kind, s.status, s.text)
			}
		}
	}
}

func TestAReportTellsEachRecipientsOutcome(t *testing.T) {
	r, err := Parse(sample(t, "rfc3464-several"))
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for _, d := range r.Recipients {
		fmt.Fprintf(&got, "%s %d %s %s\n", d.Recipient, d.Kind, d.Status, d.Text)
	}
	want := fmt.Sprintf("arathi@gateway.example %d 5.0.0 5.0.0 550 [address] is not a registered gateway user\n"+
		"johnh@nightly.example %d 4.0.0 4.0.0 (nightly.example: host name lookup failure)\n"+
		"wsnell@campus.example %d 5.0.0 5.0.0 550 user unknown\n", failed, delayed, failed)
	if got.String() != want || r.Recipient != "johnh@nightly.example" {
		t.Errorf("got\n%swant\n%s(the one that counts: %s)", got.String(), want, r.Recipient)
	}
	if r, _ := Parse(sample(t, "rfc6533-international")); r.Recipient != "märgaret@hafen.example" {
		t.Errorf("the international recipient: %q", r.Recipient)
	}
}

// TestOurMessageIsFoundInTheReport: by Message-ID, which proves nothing, and by
// a signed address in its head, which does.
func TestOurMessageIsFoundInTheReport(t *testing.T) {
	const ours = "<0123456789abcdef0123456789abcdef@aldermoor.example>"
	for file, signed := range map[string]bool{
		"unknown-user": true, "rfc3461-relayed": true, "office-not-found": true, "rfc6533-international": true,
		"rfc5965-abuse": true, "rfc5965-abuse-all-fields": true,
		"qsbmf": false, "text-with-failed-recipients": false, "rfc3834-vacation": false, "person": false,
	} {
		r, err := Parse(sample(t, file))
		if err != nil || r.MessageID != ours {
			t.Errorf("%s: Message-ID %q, %v", file, r.MessageID, err)
		}
		if reference, ok := r.Find(path); ok != signed || signed && reference != theirs {
			t.Errorf("%s: found %q, %v", file, reference, ok)
		}
	}
	other := path
	other.Secret = secret(7)
	if r, _ := Parse(sample(t, "unknown-user")); r.MessageID == "" {
		t.Error("no Message-ID")
	} else if reference, ok := r.Find(other); ok {
		t.Errorf("found %q with another secret", reference)
	}
}

// TestEachStatusHasItsKind goes through the codes of RFC 3463 sections 3.2 to
// 3.8, of RFC 7505 (5.1.10) and of RFC 7372 (5.7.20).
func TestEachStatusHasItsKind(t *testing.T) {
	for status, want := range map[string]reminder.ReturnKind{
		"5.0.0": failed, "5.1.0": failed, "5.1.1": failed, "5.1.2": failed, "5.1.3": failed, "5.1.4": failed, "5.1.6": failed, "5.1.10": failed,
		"5.1.7": givenUp, "5.1.8": givenUp,
		"5.2.0": failed, "5.2.1": failed, "5.2.2": givenUp, "5.2.3": givenUp,
		"5.3.0": failed, "5.3.4": givenUp, "5.4.4": failed, "5.4.7": givenUp,
		"5.5.0": givenUp, "5.5.4": givenUp, "5.6.1": givenUp, "5.7.0": givenUp, "5.7.1": givenUp, "5.7.20": givenUp,
		"4.0.0": givenUp, "4.2.2": givenUp, "4.4.1": givenUp, "4.4.7": givenUp, "4.7.1": givenUp, "": givenUp,
	} {
		if got, ok := kindOf("failed", status, ""); got != want || !ok {
			t.Errorf("failed with %q: got %d, want %d", status, got, want)
		}
		if got, ok := kindOf("delayed", status, ""); got != delayed || !ok {
			t.Errorf("delayed with %q: got %d", status, got)
		}
	}
	for code, want := range map[string]reminder.ReturnKind{ // RFC 5321 section 4.2.3, RFC 7504
		"550": failed, "551": failed, "553": failed, "521": failed, "556": failed, "552": givenUp, "554": givenUp,
	} {
		if got, _ := kindOf("failed", undefined, code+" some words"); got != want {
			t.Errorf("failed with %s: got %d, want %d", code, got, want)
		}
	}
	// A refusal of our own server proves less than a report.
	for words, want := range map[string]reminder.ReturnKind{
		"550 5.1.1 no such user": failed, "553 5.1.2 no such domain": failed, "556 5.1.10 null MX": failed, "550 5.2.1 disabled": failed,
		"552 5.2.2 mailbox full": givenUp, "553 5.1.8 bad sender's system": givenUp, "550 5.7.1 relaying denied": givenUp, "554 5.3.0 not here": givenUp,
		"550 5.0.0 no": givenUp, "550 no relaying here": givenUp, "550 4.1.1 wait": givenUp, "550": givenUp, "": givenUp,
	} {
		if got := OfRefusal(words); got != want {
			t.Errorf("refused with %q: got %d, want %d", words, got, want)
		}
	}
	// An action that nobody knows is read by its class.
	for status, want := range map[string]reminder.ReturnKind{"5.1.1": failed, "4.1.1": delayed, "2.1.5": delivered, "": 0} {
		if got, ok := kindOf("", status, ""); got != want || ok != (want != 0) {
			t.Errorf("no action with %q: got %d, %v", status, got, ok)
		}
	}
}

func TestWhatIsNoMessageIsRefused(t *testing.T) {
	for name, message := range map[string][]byte{
		"nothing": nil, "a blank line": []byte("\r\n"), "bytes": {0, 1, 2, 0xff}, "a line without a field": []byte("hello\r\n\r\nthere"),
		"too much": append(sample(t, "person"), make([]byte, MostBytes)...),
	} {
		if r, err := Parse(message); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: got %+v, %v", name, r, err)
		}
	}
}

// TestNestingHasALimit: a message of multiparts in multiparts is read to a
// depth, and the rest of it is somebody's attachment.
func TestNestingHasALimit(t *testing.T) {
	nested := func(depth int) []byte {
		var b bytes.Buffer
		b.WriteString("From: a@b.example\r\n")
		for n := range depth {
			fmt.Fprintf(&b, "Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n", n, n)
		}
		b.WriteString("Content-Type: message/delivery-status\r\n\r\nReporting-MTA: dns; a.example\r\n\r\nFinal-Recipient: rfc822; c@d.example\r\nAction: failed\r\nStatus: 5.1.1\r\n")
		for n := depth - 1; n >= 0; n-- {
			fmt.Fprintf(&b, "\r\n--b%d--\r\n", n)
		}
		return b.Bytes()
	}
	for depth, want := range map[int]reminder.ReturnKind{1: failed, mostDepth: failed, mostDepth + 1: reply, 5000: reply} {
		if r, err := Parse(nested(depth)); err != nil || r.Kind != want {
			t.Errorf("%d deep: got %d, %v; want %d", depth, r.Kind, err, want)
		}
	}
	for parts, want := range map[int]reminder.ReturnKind{mostParts - 2: failed, mostParts - 1: reply, 50000: reply} {
		many := "From: a@b.example\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n" + strings.Repeat("--b\r\n\r\n\r\n", parts) +
			"--b\r\nContent-Type: message/delivery-status\r\n\r\nFinal-Recipient: rfc822; c@d.example\r\nAction: failed\r\nStatus: 5.1.1\r\n--b--\r\n"
		if r, err := Parse([]byte(many)); err != nil || r.Kind != want {
			t.Errorf("after %d parts: got %d, %v; want %d", parts, r.Kind, err, want)
		}
	}
}

// TestReadingHasATimeLimit: messages made to be slow, as long as they may be.
// Each takes some hundredths of a second; the limit is for a busy machine.
func TestReadingHasATimeLimit(t *testing.T) {
	full := func(head, unit string) []byte {
		return append([]byte(head), bytes.Repeat([]byte(unit), (MostBytes-len(head))/len(unit))...)
	}
	const status = "From: a@b.example\r\nContent-Type: multipart/report; boundary=b\r\n\r\n--b\r\nContent-Type: message/delivery-status\r\n\r\n"
	for name, message := range map[string][]byte{
		"one long field":        full("Subject: ", "out of office "),
		"many fields":           full("", "A: b@c\r\n"),
		"many ids":              full("References: ", "<a@b> "),
		"many failed ones":      full("X-Failed-Recipients: ", "abcdef@b.example, "),
		"no line end":           full("From: mailer-daemon\r\n\r\n550 ", "abc@def\"<(\x80"),
		"dashes":                full("From: mailer-daemon\r\n\r\n", "-- below --\n"),
		"many recipients":       full(status, "Final-Recipient: rfc822; abc@d\r\nAction: failed\r\nDiagnostic-Code: abc abc\r\n\r\n"),
		"one long diagnosis":    full(status+"Final-Recipient: rfc822; aaa@d\r\nAction: failed\r\nDiagnostic-Code: ", "aaa aa@"),
		"nested without an end": full("From: a@b.example\r\n", "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n"),
		"almost boundaries":     full("Content-Type: multipart/mixed; boundary=b\r\n\r\n", "\r\n--\r\n-"),
		"folded":                full("List-Unsubscribe: <mailto:", "\r\n a"),
	} {
		began := time.Now()
		if _, err := Parse(message); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if took := time.Since(began); took > 10*time.Second {
			t.Errorf("%s: %v for %d bytes", name, took, len(message))
		}
	}
}

var atSign = regexp.MustCompile(`[@＠]`)

// FuzzParse holds to what is promised of any bytes: no panic, and no address in
// what is kept.
func FuzzParse(f *testing.F) {
	for _, s := range samples {
		f.Add(sample(f, s.file))
	}
	f.Fuzz(func(t *testing.T, message []byte) {
		r, err := Parse(message)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%v", err)
			}
			return
		}
		if r.Kind < failed || r.Kind > reply {
			t.Fatalf("kind %d", r.Kind)
		}
		texts := []string{r.Text, r.Status}
		for _, d := range r.Recipients {
			texts = append(texts, d.Text, d.Status)
		}
		for _, text := range texts {
			if atSign.MatchString(text) || strings.ContainsAny(text, "\r\n") || len([]rune(text)) > mostKept {
				t.Fatalf("kept %q", text)
			}
		}
		r.Find(path)
	})
}
