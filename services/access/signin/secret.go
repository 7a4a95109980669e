package signin

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"

	"halfshaft/services/access"
)

// Marks of secrets, so that one that strays into a file can be searched for.
const (
	SessionMark    = "hss_"
	InvitationMark = "hsi_"
	CeremonyMark   = "hsc_"
)

// secretBytes are 256 bits: they cannot be guessed, so that a fast digest is
// enough to keep.
const secretBytes = 32

// InvitationGood is how long an invitation works: over a weekend.
const InvitationGood = 72 * time.Hour

// CeremonyGood is how long there is between the two steps of a ceremony. A
// password's second step waits for somebody to install an authenticator.
const (
	CeremonyGood = 5 * time.Minute
	SetupGood    = 15 * time.Minute
)

// NewSecret draws a secret with a mark. random must be a source fit for
// secrets.
func NewSecret(mark string, random io.Reader) (string, error) {
	var b [secretBytes]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", fmt.Errorf("draw a secret: %w", err)
	}
	return mark + access.Crockford.EncodeToString(b[:]), nil
}

// Digest is the SHA-256 of a secret in hexadecimal, under which its record is
// kept; false for a text that cannot be a secret with that mark.
func Digest(mark, secret string) (string, bool) {
	rest, ok := strings.CutPrefix(secret, mark)
	if !ok || len(rest) != access.Crockford.EncodedLen(secretBytes) {
		return "", false
	}
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:]), true
}

// sessionIDLength is how much of a digest names a session: 80 bits, enough to
// tell any two apart, and nothing of its secret.
const sessionIDLength = 20

// SessionID gives the identifier of the session that is kept under a digest.
func SessionID(digest string) string { return digest[:min(sessionIDLength, len(digest))] }

// ValidSessionID reports whether a text can be a session's identifier.
func ValidSessionID(id string) bool {
	_, err := hex.DecodeString(id)
	return err == nil && len(id) == sessionIDLength && strings.ToLower(id) == id
}

// RecoveryCodes is how many there are.
const RecoveryCodes = 10

// recoveryBytes are 80 bits: written down and kept for years, so more than
// could be tried even with the store at hand.
const recoveryBytes = 10

// NewRecoveryCode draws a recovery code, in groups of four to be copied:
// "7k2m-q0vx-94tb-1c8d".
func NewRecoveryCode(random io.Reader) (string, error) {
	var b [recoveryBytes]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", fmt.Errorf("draw a recovery code: %w", err)
	}
	text := access.Crockford.EncodeToString(b[:])
	return text[:4] + "-" + text[4:8] + "-" + text[8:12] + "-" + text[12:], nil
}

// RecoveryCode reads a recovery code as people type it: in any case, with or
// without separators, and with the letters that Crockford's alphabet lacks for
// the figures they look like. False when it cannot be one.
func RecoveryCode(typed string) (string, bool) {
	text := strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '_', '.':
			return -1
		case 'o':
			return '0'
		case 'i', 'l':
			return '1'
		}
		return r
	}, strings.ToLower(typed))
	b, err := access.Crockford.DecodeString(text)
	if err != nil || len(b) != recoveryBytes || len(text) != access.Crockford.EncodedLen(recoveryBytes) {
		return "", false
	}
	return text, true
}
