package remindertext

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/reminder"
)

const (
	mostBody   = 4 << 10        // bytes read of an answer
	mostAnswer = 200            // characters kept of it
	mostWait   = 24 * time.Hour // the longest Retry-After that is believed
)

// outcomeOf reads the status of an answer (RFC 9110 section 15). For good is
// refused only what is about this message. An address that has moved or gone,
// and a secret that is not accepted, stop everybody's messages and are mended
// on our side, so those wait.
func outcomeOf(status int) reminder.Outcome {
	switch {
	case status >= 200 && status < 300:
		return reminder.Accepted
	case status < 400, status >= 500:
		return reminder.TryLater
	}
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return reminder.TryLater
	case http.StatusUnauthorized, http.StatusNotFound, http.StatusMethodNotAllowed,
		http.StatusProxyAuthRequired, http.StatusGone:
		return reminder.TryLater
	}
	return reminder.RefusedIt
}

// retryAfter reads how long the gateway asks us to wait (RFC 9110 section
// 10.2.3: seconds or a date); 0 when it does not ask, or to be accepted.
func retryAfter(r *http.Response, now time.Time) time.Duration {
	if outcomeOf(r.StatusCode) != reminder.TryLater {
		return 0
	}
	field := strings.TrimSpace(r.Header.Get("Retry-After"))
	wait := time.Duration(0)
	if seconds, err := strconv.ParseUint(field, 10, 31); err == nil {
		wait = time.Duration(seconds) * time.Second
	} else if at, err := http.ParseTime(field); err == nil {
		wait = at.Sub(now)
	}
	return min(max(wait, 0), mostWait)
}

// aNumber is anything that may be a telephone number: seven digits and more,
// however they are parted.
var aNumber = regexp.MustCompile(`[+(]*\d(?:[\s().\-/]{0,3}\d){6,}`)

// clean takes the number, the message itself and control characters out of
// what a gateway said.
func clean(said, text string) string {
	said = strings.ToValidUTF8(said, "?")
	for _, form := range []string{asJSON(text, true), asJSON(text, false), text} {
		if form != "" {
			said = strings.ReplaceAll(said, form, "[message]")
		}
	}
	said = aNumber.ReplaceAllString(said, "[number]")
	said = strings.Join(strings.FieldsFunc(said, func(r rune) bool { return r <= ' ' || r == 0x7f }), " ")
	if r := []rune(said); len(r) > mostAnswer {
		return string(r[:mostAnswer])
	}
	return said
}

// asJSON is a text as it stands within a JSON string.
func asJSON(text string, html bool) string {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(html)
	if e.Encode(text) != nil {
		return text
	}
	quoted := strings.TrimSuffix(b.String(), "\n")
	return quoted[1 : len(quoted)-1]
}
