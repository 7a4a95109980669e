package vehicle

import "strings"

// ParseBody reads the number of a new vehicle, which has no check character
// yet, as people write it: case and separators do not matter. It refuses with
// a *fault.Error of kind Invalid and the reason SERIAL_FORM what cannot be the
// body of any serial; whether this one may be issued is for Issuable to say.
func ParseBody(text string) (string, error) {
	var buffer [maxBody]byte
	heard, ok := normalise(buffer[:0], text)
	if !ok || len(heard) < minBody || !isLetter(heard[0]) || strings.ContainsRune(string(heard), '*') {
		return "", bodyError(text)
	}
	return string(heard), nil
}

// NextIssuable gives the first serial behind a body that may be issued,
// counting up in the digits at its end: AM0148 or a later one behind AM0147.
// Numbers keep their length, so that there is none behind AM9999, nor behind a
// body that does not end in a digit.
func NextIssuable(body string) (Serial, bool) {
	for {
		next, ok := following(body)
		if !ok {
			return "", false
		}
		if s, err := NewSerial(next); err == nil {
			return s, true
		}
		body = next
	}
}

// following counts a body up by one.
func following(body string) (string, bool) {
	next := []byte(body)
	for i := len(next) - 1; i >= 0 && isDigit(next[i]); i-- {
		if next[i] < '9' {
			next[i]++
			return string(next), true
		}
		next[i] = '0'
	}
	return "", false
}
