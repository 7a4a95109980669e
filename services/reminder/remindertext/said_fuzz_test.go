package remindertext

import (
	"net/http"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// FuzzCommand holds to it that what people write is a command or words, and
// that only the words of the list end messages.
func FuzzCommand(f *testing.F) {
	for _, text := range []string{"STOP", " stop. ", "Stop all", "please stop", "“STOP”", "st\u00adop", "ſtop", "\xff"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		bare := Bare(text)
		if got := CommandOf(text); got != None && commands[strings.ToUpper(bare)] != got {
			t.Errorf("%q is %d", text, got)
		}
		if Bare(bare) != bare || strings.ContainsAny(bare, "\r\n\t") {
			t.Errorf("%q is %q when bare", text, bare)
		}
	})
}

// FuzzAnswer holds to what is promised of what a gateway answers: a wait within
// its bounds, and words that are text and short.
func FuzzAnswer(f *testing.F) {
	f.Add(429, "120", "queued for +441632960983", "your oil is due")
	f.Add(503, "Fri, 01 May 2026 11:30:00 GMT", "\xff\x00\r\n", "")
	f.Add(503, "-9223372036854775808", strings.Repeat("0", 500), "\"")
	f.Fuzz(func(t *testing.T, status int, after, said, text string) {
		answer := &http.Response{StatusCode: status, Header: http.Header{"Retry-After": {after}}}
		if wait := retryAfter(answer, time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)); wait < 0 || wait > mostWait {
			t.Errorf("%q: a wait of %s", after, wait)
		}
		kept := clean(said, text)
		if !utf8.ValidString(kept) || utf8.RuneCountInString(kept) > mostAnswer || strings.ContainsAny(kept, "\r\n\x00") {
			t.Errorf("kept %q", kept)
		}
	})
}
