package access

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base32"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// A secret reads hsk_<id>_<random>: a fixed mark, so that one that strays into
// a file can be searched for; eight characters that name the key in lists and
// logs; and 256 random bits. Its characters are lower-case letters, digits and
// underscores, so that a double click takes the whole of it.
const (
	secretMark  = "hsk_"
	idLength    = 8
	randomBytes = 32
)

// Crockford writes every secret of the door in Crockford's base 32 alphabet, in
// lower case: no i, l, o or u.
var Crockford = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// secretLength is how long every secret is: 32 bytes make 52 characters.
const secretLength = len(secretMark) + idLength + len("_") + 52

// Digest is the SHA-256 of a secret, which is all that is ever stored. A slow
// hash is for passwords; 256 random bits cannot be guessed.
type Digest [sha256.Size]byte

// Key is one API key, without its secret.
type Key struct {
	ID           string // eight characters, public
	Title        string // what it is for: "front desk"
	Role         Role
	Person       string   // "people/{person}" for an owner's key, else empty
	Organisation string   // "organisations/{organisation}" for a dealer's key, else empty
	Account      string   // "accounts/{account}" of who holds it; empty for a program's
	Bearer       string   // who records and audit name
	Scopes       []string // what of the role's rights it has, see InScope; none: all
	Rotates      string   // identifier of the key it replaces; empty for none
	Created      time.Time
	Expires      time.Time // zero: never
	Revoked      time.Time // zero: good
	Digest       Digest
}

// keys begins the resource name of every key.
const keys = "keys/"

// Name gives the resource name: "keys/0123abcd".
func (k Key) Name() string { return keys + k.ID }

// Live reports whether the key opens the door at that moment, as far as the
// key goes.
func (k Key) Live(now time.Time) bool {
	return k.Revoked.IsZero() && (k.Expires.IsZero() || now.Before(k.Expires))
}

// NewSecret draws a fresh secret and gives it with the identifier in it.
// random must be a source fit for secrets.
func NewSecret(random io.Reader) (id, secret string, err error) {
	var b [5 + randomBytes]byte // 5 bytes are 8 characters
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", "", fmt.Errorf("draw a secret: %w", err)
	}
	id = Crockford.EncodeToString(b[:5])
	return id, secretMark + id + "_" + Crockford.EncodeToString(b[5:]), nil
}

// SecretID gives the identifier in a secret; false when the text cannot be a
// secret.
func SecretID(secret string) (id string, ok bool) {
	if len(secret) != secretLength || !strings.HasPrefix(secret, secretMark) || secret[len(secretMark)+idLength] != '_' {
		return "", false
	}
	return secret[len(secretMark) : len(secretMark)+idLength], true
}

// DigestOf gives the digest of a secret.
func DigestOf(secret string) Digest { return sha256.Sum256([]byte(secret)) }

// ValidID reports whether the text can be a key's identifier.
func ValidID(id string) bool {
	if len(id) != idLength {
		return false
	}
	_, err := Crockford.DecodeString(id)
	return err == nil
}

// Admit decides whether the secret opens the door at that moment: nil, or an
// Unauthenticated refusal. That a key ended is told only to who holds its
// secret; to anybody else it is as unknown as any other. The comparison takes
// the same time wherever two digests differ.
func (k Key) Admit(secret string, now time.Time) error {
	digest := DigestOf(secret)
	switch {
	case subtle.ConstantTimeCompare(digest[:], k.Digest[:]) != 1:
		return UnknownKey()
	case !k.Revoked.IsZero():
		return fault.New(fault.Unauthenticated, "KEY_REVOKED", "This key was revoked.")
	case !k.Expires.IsZero() && !now.Before(k.Expires):
		return fault.New(fault.Unauthenticated, "KEY_EXPIRED", "This key has expired.")
	}
	return nil
}

// UnknownKey is the refusal of a secret that opens nothing.
func UnknownKey() *fault.Error {
	return fault.New(fault.Unauthenticated, "KEY_UNKNOWN", "This key is not known here.")
}

// Caller gives who a bearer of the key is.
func (k Key) Caller() Caller {
	return Caller{
		Role: k.Role, Bearer: k.Bearer, Person: k.Person,
		Organisation: k.Organisation, Account: k.Account, Credential: k.Name(),
	}
}

// maxText bounds titles and bearers, in characters.
const maxText = 120

// ownerBearer is what records name when an owner reports something: the
// technical record outlives the owner and never names a person.
const ownerBearer = "owner"

// OfAccount gives the key with what it has from its account: the role and the
// organisation.
func (k Key) OfAccount(a Account) Key {
	k.Role, k.Organisation, k.Account = a.Role, a.Organisation, a.Name()
	return k
}

// Proposed completes a key that is to be made and says what is wrong with it:
// its fields are those of the API, title, role, person, organisation, account,
// bearer, scopes, expire_time. Whether the organisation or account is there and
// open is for the caller to see, who takes from the account what OfAccount says.
func Proposed(k Key, now time.Time) (Key, []fault.Field) {
	var faults []fault.Field
	wrong := func(name, got, want string) { faults = append(faults, fault.Field{Name: name, Got: got, Want: want}) }
	if !printable(k.Title) || k.Title == "" {
		wrong("title", k.Title, fmt.Sprintf("what the key is for, in 1 to %d printable characters", maxText))
	}
	if !k.Role.Valid() {
		wrong("role", k.Role.String(), "a role")
	}
	k, of := k.withHolder()
	faults = append(faults, of...)
	k.Scopes, of = properScopes(k.Scopes)
	faults = append(faults, of...)
	if !k.Expires.IsZero() && !k.Expires.After(now) {
		wrong("expire_time", k.Expires.UTC().Format(time.RFC3339), "a time after "+now.UTC().Format(time.RFC3339))
	}
	return k, faults
}

// withHolder completes whose key it is and says what is wrong with that.
func (k Key) withHolder() (Key, []fault.Field) {
	var faults []fault.Field
	wrong := func(name, got, want string) { faults = append(faults, fault.Field{Name: name, Got: got, Want: want}) }
	switch {
	case k.Role == Owner && !personNamed(k.Person):
		wrong("person", k.Person, "people/{person}, since the key is an owner's")
	case k.Role != Owner && k.Person != "":
		wrong("person", k.Person, "nothing, since the key is not an owner's")
	}
	_, named := OrganisationID(k.Organisation)
	switch {
	case k.Role == Dealer && !named:
		wrong("organisation", k.Organisation, "organisations/{organisation}, since the key is a dealer's")
	case k.Role != Dealer && k.Organisation != "":
		wrong("organisation", k.Organisation, "nothing, since the key is not a dealer's")
	}
	id, named := AccountID(k.Account)
	switch {
	case k.Account == "":
	case !named:
		wrong("account", k.Account, "accounts/{account}")
	case k.Role.Valid() && !signsIn(k.Role):
		wrong("account", k.Account, "nothing: the role "+k.Role.String()+" has no accounts")
	}
	switch {
	case k.Role == Owner:
		if k.Bearer != "" && k.Bearer != ownerBearer {
			wrong("bearer", k.Bearer, "nothing: records name an owner as "+ownerBearer)
		}
		k.Bearer = ownerBearer
	case k.Account != "" && named:
		if k.Bearer != "" && k.Bearer != id {
			wrong("bearer", k.Bearer, "nothing: records name the account, "+id)
		}
		k.Bearer = id
	case !ValidBearer(k.Bearer) || k.Bearer == "":
		wrong("bearer", k.Bearer, fmt.Sprintf("whom records name, in 1 to %d printable characters", maxText))
	}
	return k, faults
}

// ValidBearer reports whether records and the audit can name somebody so; nobody
// need have a name.
func ValidBearer(s string) bool { return printable(s) }

// printable keeps control characters out of lists, logs and headers.
func printable(s string) bool { return fits(s, maxText) }

// fits is printable for texts of another length.
func fits(s string, most int) bool {
	return !fault.Longer(s, most) && utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) || r == '\uFFFD' })
}
