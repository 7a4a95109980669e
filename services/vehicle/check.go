package vehicle

import "halfshaft/services/fault"

// The modulus and radix of ISO/IEC 7064 MOD 37-2.
const (
	modulus = 37
	radix   = 2
)

// CheckCharacter gives the ISO/IEC 7064 MOD 37-2 check character of body, one
// of 0-9, A-Z and '*'. It catches every single substitution, every swap of
// neighbours and every swap across one character. The body is one or more of
// 0-9 and A-Z, of any length; for anything else the error is a *fault.Error
// of kind Invalid with the reason SERIAL_FORM.
func CheckCharacter(body string) (byte, error) {
	if body == "" {
		return 0, formError(body)
	}
	p := 0
	for i := range len(body) {
		v, ok := valueOf(body[i])
		if !ok || body[i] == '*' {
			return 0, formError(body)
		}
		p = (p + v) * radix % modulus
	}
	return characterOf((modulus + 1 - p) % modulus), nil
}

// checkOf is CheckCharacter for a body that is known to be well formed.
func checkOf(body []byte) byte {
	p := 0
	for _, c := range body {
		v, _ := valueOf(c)
		p = (p + v) * radix % modulus
	}
	return characterOf((modulus + 1 - p) % modulus)
}

// valueOf gives a character's value in MOD 37-2: 0-9, then A-Z from 10, then
// '*' as 36.
func valueOf(c byte) (int, bool) {
	switch {
	case isDigit(c):
		return int(c - '0'), true
	case isLetter(c):
		return int(c-'A') + 10, true
	case c == '*':
		return 36, true
	}
	return 0, false
}

func characterOf(value int) byte { return "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"[value] }

// issued says whether a serial may end in this check character: '*' has no
// name on the telephone, I and O are taken for 1 and 0.
func issued(check byte) bool { return check != '*' && check != 'I' && check != 'O' }

// Issuable says whether body may be issued as a serial: it has the form of a
// body (3 to 12 characters A-Z and 0-9, the first a letter) and its check
// character is none of '*', 'I' and 'O'. About one body in twelve is passed
// over.
func Issuable(body string) bool {
	_, err := NewSerial(body)
	return err == nil
}

// NewSerial gives the serial of a body, with its check character. A body of
// the wrong form, or one that is not Issuable, is refused with a *fault.Error
// of kind Invalid and the reason SERIAL_FORM.
func NewSerial(body string) (Serial, error) {
	if len(body) < minBody || len(body) > maxBody || !isLetter(body[0]) {
		return "", bodyError(body)
	}
	check, err := CheckCharacter(body)
	if err != nil {
		return "", bodyError(body)
	}
	if !issued(check) {
		return "", notIssued(body, check)
	}
	return Serial(body + string(rune(check))), nil
}

func bodyError(body string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: reasonSerialForm,
		Message: "not the body of a serial",
		Fields: []fault.Field{{
			Name: "serial", Got: body,
			Want: "3 to 12 characters A-Z and 0-9, the first a letter, as in AM0147",
		}},
	}
}
