package reminderreturn

import (
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"regexp"
	"strings"

	"halfshaft/services/fault"
)

// Path makes and reads the addresses that only machines write to:
//
//	returns+REFERENCE.MAC@aldermoor.example
//
// The MAC is HMAC-SHA-256 (RFC 2104) over the reference and what the address is
// for, cut to its left half, as RFC 2104 section 5 allows. Nobody can make up a bounce of a notice, or find out
// which notices there are. Everything is in lower case, because some systems
// lose the case on the way.
type Path struct {
	Local  string // "returns", before the plus sign; at most MostLocal bytes
	Domain string // "aldermoor.example"
	Secret []byte // signs and reads: what Secret derived
	// Former secrets only read, for as long as their mails may come back.
	Former [][]byte
}

const (
	macBytes = sha256.Size / 2
	macChars = (macBytes*8 + 4) / 5 // 26
	// mostReference is the longest reference: 128 bits in base32.
	mostReference = 26
	// MostLocal is what RFC 5321 section 4.5.3.1.1 leaves of its 64 octets.
	MostLocal = 64 - len("+") - mostReference - len(".") - macChars
)

// The purposes of an address stand in its MAC.
const (
	bounces = "bounce"
	stops   = "stop"
)

var (
	// plainLocal needs no quotes in an address (RFC 5322 section 3.2.3) and no
	// plus sign, which divides.
	plainLocal  = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]*[a-z0-9]$|^[a-z0-9]$`)
	plainDomain = regexp.MustCompile(`^[a-z0-9-]+(\.[a-z0-9-]+)*$`)
	reference   = regexp.MustCompile(`^[a-z0-9]{1,26}$`)
	encoding    = base32.StdEncoding.WithPadding(base32.NoPadding)
)

// Secret derives the secret of return paths from another one of the works, so
// that one of them never signs for two uses (HKDF, RFC 5869).
func Secret(from []byte) ([]byte, error) {
	return hkdf.Key(sha256.New, from, nil, "halfshaft return path", sha256.Size)
}

// Check refuses what cannot make an address.
func (p Path) Check() error {
	var wrong []fault.Field
	if !plainLocal.MatchString(p.Local) || strings.Contains(p.Local, "..") || len(p.Local) > MostLocal {
		wrong = append(wrong, fault.Field{Name: "return_path.local", Got: p.Local, Want: "1 to 10 lower-case letters, digits, dots or hyphens"})
	}
	if !plainDomain.MatchString(p.Domain) || len(p.Domain) > 255 {
		wrong = append(wrong, fault.Field{Name: "return_path.domain", Got: p.Domain, Want: "a domain in lower case"})
	}
	for _, secret := range p.secrets() {
		if len(secret) < sha256.Size {
			wrong = append(wrong, fault.Field{Name: "return_path.secret", Got: "too few bytes", Want: "32 bytes or more"})
		}
	}
	return fault.InvalidFields(wrong)
}

// Address is where what comes back of a notice goes. The reference is 1 to 26
// lower-case letters and digits; any other gives "".
func (p Path) Address(reference string) string { return p.address(bounces, reference) }

// StopAddress is where a mail goes that stops the notices of the kind that the
// reference belongs to (List-Unsubscribe, RFC 2369 section 3.2).
func (p Path) StopAddress(reference string) string { return p.address(stops, reference) }

func (p Path) address(purpose, ref string) string {
	if !reference.MatchString(ref) {
		return ""
	}
	return p.Local + "+" + ref + "." + mac(p.Secret, purpose, ref) + "@" + p.Domain
}

func mac(secret []byte, purpose, ref string) string {
	return strings.ToLower(encoding.EncodeToString(authenticate(secret, []byte(purpose+"\n"+ref))))
}

func authenticate(secret, text []byte) []byte {
	h := hmac.New(sha256.New, secret)
	h.Write(text)
	return h.Sum(nil)[:macBytes]
}

// Read gives the reference of an address that was made here, and whether it is
// one of StopAddress. Every address that was not is refused after the same
// work, whichever part of it is wrong.
func (p Path) Read(address string) (ref string, stop, ok bool) {
	local, domain, _ := strings.Cut(strings.ToLower(strings.Trim(address, "<> ")), "@")
	head, signed, _ := strings.Cut(local, "+")
	ref, given, _ := strings.Cut(signed, ".")
	bounce := p.signed(bounces, ref, given)
	stop = p.signed(stops, ref, given)
	if head != p.Local || domain != p.Domain || !reference.MatchString(ref) || !(bounce || stop) {
		return "", false, false
	}
	return ref, stop, true
}

func (p Path) secrets() [][]byte { return append([][]byte{p.Secret}, p.Former...) }

func (p Path) signed(purpose, ref, given string) bool {
	genuine := false
	for _, secret := range p.secrets() {
		genuine = hmac.Equal([]byte(given), []byte(mac(secret, purpose, ref))) || genuine
	}
	return genuine
}
