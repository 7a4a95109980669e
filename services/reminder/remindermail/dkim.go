package remindermail

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/rsa"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"fmt"
	"regexp"
	"strings"
	"time"

	"halfshaft/services/fault"
)

// The signing is our own, as short as RFC 6376 allows: github.com/emersion/
// go-msgauth takes the time of a signature from the machine's clock, and here
// the same message at the same time gives the same bytes. The tests verify with
// that library.

// signedFields are the headers that a signature covers where a message has
// them (RFC 6376 section 5.4.1; List-Unsubscribe and List-Unsubscribe-Post by
// RFC 8058 section 3.1). Each is named once more than the message has it, so
// that nobody can add another one (RFC 6376 section 8.15).
var signedFields = []string{
	"From", "To", "Reply-To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type",
	"Content-Transfer-Encoding", "List-Unsubscribe", "List-Unsubscribe-Post", "List-Id", "Auto-Submitted",
}

// Signer puts a DKIM signature on messages (RFC 6376; with an Ed25519 key, RFC
// 8463). It is safe for concurrent use.
type Signer struct {
	domain, selector string
	algorithm        string
	key              crypto.Signer
}

// domainName is letters, digits and hyphens between full stops.
var domainName = regexp.MustCompile(`^(?i)[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9_]([a-z0-9_-]*[a-z0-9_])?)*$`)

// NewSigner takes the domain that answers for the mail, the selector under
// which its public key stands in the DNS, and the private key: PEM, PKCS #8 or
// (for RSA) PKCS #1, RSA with 1024 bits and more (RFC 8301 section 3.2) or
// Ed25519. Nothing of the key is told in a refusal.
func NewSigner(domain, selector string, keyPEM []byte) (*Signer, error) {
	if !domainName.MatchString(domain) || !strings.Contains(domain, ".") {
		return nil, fault.InvalidField("dkim.domain", domain, "a domain such as aldermoor.example")
	}
	if !domainName.MatchString(selector) {
		return nil, fault.InvalidField("dkim.selector", selector, "the name before ._domainkey")
	}
	key, err := parseKey(keyPEM)
	if err != nil {
		return nil, err
	}
	s := &Signer{domain: strings.ToLower(domain), selector: selector, key: key, algorithm: "ed25519-sha256"}
	if public, isRSA := key.Public().(*rsa.PublicKey); isRSA {
		s.algorithm = "rsa-sha256"
		if bits := public.N.BitLen(); bits < 1024 {
			return nil, fault.InvalidField("dkim.key", fmt.Sprintf("RSA with %d bits", bits), "1024 bits and more")
		}
	}
	return s, nil
}

func parseKey(keyPEM []byte) (crypto.Signer, error) {
	refuse := fault.InvalidField("dkim.key", "something else", "a private key, RSA or Ed25519, as PEM")
	block, _ := pem.Decode(keyPEM)
	if block == nil {
		return nil, refuse
	}
	if key, err := x509.ParsePKCS1PrivateKey(block.Bytes); err == nil {
		return key, nil
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, refuse
	}
	switch key := parsed.(type) {
	case *rsa.PrivateKey:
		return key, nil
	case ed25519.PrivateKey:
		return key, nil
	}
	return nil, refuse
}

// Sign gives the message with a signature in front of it, made at that time
// and valid without end. The message is one that Compose wrote: lines end in
// CRLF.
func (s *Signer) Sign(message []byte, at time.Time) ([]byte, error) {
	head, body, found := bytes.Cut(message, []byte("\r\n\r\n"))
	if !found || bytes.Contains(bytes.ReplaceAll(message, []byte("\r\n"), nil), []byte("\n")) {
		return nil, fault.New(fault.Internal, "DKIM_MESSAGE", "the message to sign has no body, or lines that do not end in CRLF")
	}
	fields := splitFields(string(head))
	signed, names := chosen(fields)
	bodyHash := sha256.Sum256([]byte(relaxedBody(string(body))))
	signature := fmt.Sprintf("DKIM-Signature: v=1; a=%s; c=relaxed/relaxed;\r\n\td=%s; s=%s; t=%d;\r\n\th=%s;\r\n\tbh=%s;\r\n\tb=",
		s.algorithm, s.domain, s.selector, at.Unix(), strings.Join(names, ":\r\n\t "),
		base64.StdEncoding.EncodeToString(bodyHash[:]))
	hash := sha256.New()
	for _, f := range signed {
		hash.Write([]byte(relaxedField(f) + "\r\n"))
	}
	hash.Write([]byte(relaxedField(signature))) // without a line end (RFC 6376 section 3.7)
	b, err := s.seal(hash.Sum(nil))
	if err != nil {
		return nil, fmt.Errorf("sign a message: %w", err)
	}
	return append([]byte(signature+folded(base64.StdEncoding.EncodeToString(b))+"\r\n"), message...), nil
}

// seal signs a digest: RSA over SHA-256 (PKCS #1 v1.5), or Ed25519 over the
// digest's own bytes (RFC 8463 section 3). Neither uses chance.
func (s *Signer) seal(digest []byte) ([]byte, error) {
	if s.algorithm == "rsa-sha256" {
		return s.key.Sign(rand.Reader, digest, crypto.SHA256)
	}
	return s.key.Sign(rand.Reader, digest, crypto.Hash(0))
}

// splitFields parts a header into its fields, each with its folds.
func splitFields(head string) (fields []string) {
	for line := range strings.SplitSeq(head, "\r\n") {
		if (strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t")) && len(fields) > 0 {
			fields[len(fields)-1] += "\r\n" + line
		} else {
			fields = append(fields, line)
		}
	}
	return fields
}

// chosen gives the fields to sign and the names for h=, in the order of
// signedFields; of several with one name the last comes first (RFC 6376
// section 5.4.2).
func chosen(fields []string) (signed, names []string) {
	for _, name := range signedFields {
		for i := len(fields) - 1; i >= 0; i-- {
			if n, _, _ := strings.Cut(fields[i], ":"); strings.EqualFold(strings.TrimRight(n, " \t"), name) {
				signed, names = append(signed, fields[i]), append(names, name)
			}
		}
		names = append(names, name)
	}
	return signed, names
}

var blanks = regexp.MustCompile(`[ \t]+`)

// relaxedField is RFC 6376 section 3.4.2.
func relaxedField(field string) string {
	name, value, _ := strings.Cut(field, ":")
	value = blanks.ReplaceAllString(strings.ReplaceAll(value, "\r\n", ""), " ")
	return strings.ToLower(strings.TrimRight(name, " \t")) + ":" + strings.Trim(value, " ")
}

// relaxedBody is RFC 6376 section 3.4.4.
func relaxedBody(body string) string {
	lines := strings.Split(body, "\r\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(blanks.ReplaceAllString(line, " "), " ")
	}
	for len(lines) > 0 && lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	if len(lines) == 0 {
		return ""
	}
	return strings.Join(lines, "\r\n") + "\r\n"
}

// folded breaks a long value into lines.
func folded(value string) string {
	var b strings.Builder
	for len(value) > 72 {
		b.WriteString(value[:72] + "\r\n\t ")
		value = value[72:]
	}
	return b.String() + value
}
