// Package onetime makes and checks the codes of authenticators (TOTP, RFC
// 6238), and keeps their secrets sealed.
package onetime

import (
	"crypto/subtle"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
	"github.com/pquerna/otp/totp"
)

// What authenticators all understand: SHA-1, six digits, a code each half
// minute. SHA-1's weakness is in collisions, which HMAC does not rest on.
const (
	period      = 30
	secretBytes = 20 // RFC 4226, section 4, R6: 160 bits recommended
)

// window is how many steps beside the present count, for clocks that differ
// and fingers that are slow: RFC 6238, section 5.2, recommends at most one.
const window = 1

// New draws a secret for an account, and gives it in base 32 and as the address
// that authenticators scan.
func New(issuer, account string) (secret, url string, err error) {
	key, err := totp.Generate(totp.GenerateOpts{
		Issuer: issuer, AccountName: account, Period: period, SecretSize: secretBytes,
		Digits: otp.DigitsSix, Algorithm: otp.AlgorithmSHA1,
	})
	if err != nil {
		return "", "", err
	}
	return key.Secret(), key.URL(), nil
}

// Step gives the step of time of a moment.
func Step(now time.Time) int64 { return now.Unix() / period }

// Code gives the code of a secret at a step.
func Code(secret string, step int64) (string, error) {
	return hotp.GenerateCodeCustom(secret, uint64(step), hotp.ValidateOpts{Digits: otp.DigitsSix, Algorithm: otp.AlgorithmSHA1})
}

// Match gives the step whose code was given: one of the window around the
// present, and later than the last that was taken, so that a code counts once.
// It compares with each, so that the time it takes says nothing.
func Match(secret, code string, last int64, now time.Time) (step int64, ok bool, err error) {
	present := Step(now)
	for s := present - window; s <= present+window; s++ {
		want, err := Code(secret, s)
		if err != nil {
			return 0, false, err
		}
		if subtle.ConstantTimeCompare([]byte(want), []byte(code)) == 1 && s > last && !ok {
			step, ok = s, true
		}
	}
	return step, ok, nil
}
