package reminderreturn

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNoAddressIsKept(t *testing.T) {
	for text, want := range map[string]string{
		"550 5.1.1 <margaret.hale@harbour.example>: no":            "550 5.1.1 <[address]>: no",
		"no user margaret.hale here, Margaret.Hale margaret.hale!": "no user [address] here, [address] [address]!",
		"to:\"odd name\"@harbour.example\r\n second line\x00":      "to:[address] second line",
		"@": "[address]", "a margaret.halen b": "a margaret.halen b",
		"\xff" + strings.Repeat("x", 300): "?" + strings.Repeat("x", 199),
	} {
		if got := clean(text, "margaret.hale@harbour.example"); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// TestNoAddressIsKeptWhateverTheServerSays puts a recipient into random words
// in the ways servers do.
func TestNoAddressIsKeptWhateverTheServerSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		local := rapid.StringMatching(`[a-z][a-z0-9._+-]{5,20}[a-z]`).Draw(t, "local")
		address := local + "@harbour.example"
		word := rapid.SampledFrom([]string{"550", "5.1.1", "mailbox", "for", "is", "unknown:", "(in reply to RCPT TO)",
			address, "<" + address + ">", "'" + address + "'", strings.ToUpper(address), local, "<" + local + ">", strings.ToUpper(local), "mailto:" + address, "é", "\t"})
		text := strings.Join(rapid.SliceOfN(word, 0, 30).Draw(t, "words"), " ")
		message := "Return-Path: <>\nContent-Type: multipart/report; boundary=b\n\n--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; a.example\n\n" +
			"Final-Recipient: rfc822; " + address + "\nAction: failed\nStatus: 5.1.1\nDiagnostic-Code: smtp; " + text + "\n--b--\n"
		r, err := Parse([]byte(message))
		if err != nil || r.Kind != failed || r.Recipient != address {
			t.Fatalf("%+v, %v", r, err)
		}
		if got := strings.ToLower(r.Text); strings.Contains(got, "@") || strings.Contains(got, local) {
			t.Fatalf("kept %q of %q", got, text)
		}
	})
}
