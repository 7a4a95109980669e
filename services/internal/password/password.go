// Package password hashes passwords with Argon2id (RFC 9106), a bounded number
// at a time.
package password

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"golang.org/x/crypto/argon2"

	"halfshaft/services/fault"
)

// Cost is what a hash costs whoever makes one.
type Cost struct {
	Passes  uint32 // t
	KiB     uint32 // m
	Threads uint8  // p
}

// Standard is the second recommended option of RFC 9106, section 4: t=3, p=4,
// m=64 MiB, a salt of 128 and a tag of 256 bits.
var Standard = Cost{Passes: 3, KiB: 64 << 10, Threads: 4}

const (
	saltBytes = 16
	tagBytes  = 32
)

// atOnce bounds the memory that all sign-ins together take: 128 MiB.
const atOnce = 2

// patience is how long a sign-in waits for its turn. Whoever sends more than
// can be served is told to come back rather than to pile up.
const patience = 5 * time.Second

// most bounds what is hashed, in bytes: longer passwords were never taken.
const most = 1 << 10

// Hasher makes and checks hashes. It is safe for concurrent use.
type Hasher struct {
	cost  Cost
	turns chan struct{}
	dummy string
}

// New makes a hasher. Tests may give a lower cost than Standard.
func New(c Cost) *Hasher {
	h := &Hasher{cost: c, turns: make(chan struct{}, atOnce)}
	h.dummy = encode(c, make([]byte, saltBytes), make([]byte, tagBytes))
	return h
}

// Hash gives the hash of a password, with its parameters and a fresh salt.
func (h *Hasher) Hash(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltBytes)
	rand.Read(salt)
	leave, err := h.enter(ctx)
	if err != nil {
		return "", err
	}
	defer leave()
	return encode(h.cost, salt, h.cost.tag(password, salt)), nil
}

// Verify reports whether the password has the hash. An empty hash is that of
// nobody: it takes the same work and is never right.
func (h *Hasher) Verify(ctx context.Context, password, hash string) (bool, error) {
	known := hash != ""
	if !known {
		hash = h.dummy
	}
	cost, salt, tag, err := decode(hash)
	if err != nil {
		return false, err
	}
	fits := len(password) <= most
	if !fits {
		password = password[:most]
	}
	leave, err := h.enter(ctx)
	if err != nil {
		return false, err
	}
	defer leave()
	same := subtle.ConstantTimeCompare(cost.tag(password, salt), tag) == 1
	return same && known && fits, nil
}

// enter waits for a turn.
func (h *Hasher) enter(ctx context.Context) (leave func(), err error) {
	limit := time.NewTimer(patience)
	defer limit.Stop()
	select {
	case h.turns <- struct{}{}:
		return func() { <-h.turns }, nil
	case <-limit.C:
	case <-ctx.Done():
	}
	return nil, &fault.Error{
		Kind: fault.Exhausted, Reason: "SIGN_IN_BUSY", RetryAfter: patience,
		Message: "Too many sign in at this moment. Try again shortly.", Cause: ctx.Err(),
	}
}

func (c Cost) tag(password string, salt []byte) []byte {
	return argon2.IDKey([]byte(password), salt, c.Passes, c.KiB, c.Threads, tagBytes)
}

// encode writes a hash in the form of the reference implementation:
// $argon2id$v=19$m=65536,t=3,p=4$salt$tag.
func encode(c Cost, salt, tag []byte) string {
	text := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.KiB, c.Passes, c.Threads, text(salt), text(tag))
}

func decode(hash string) (c Cost, salt, tag []byte, err error) {
	damaged := fault.New(fault.Internal, "PASSWORD_HASH_DAMAGED", "the hash of a password cannot be read")
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return c, nil, nil, damaged
	}
	if n, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.KiB, &c.Passes, &c.Threads); err != nil || n != 3 {
		return c, nil, nil, damaged
	}
	salt, errSalt := base64.RawStdEncoding.DecodeString(parts[4])
	tag, errTag := base64.RawStdEncoding.DecodeString(parts[5])
	// What no hash of ours asks for would be a way to make us work.
	if errSalt != nil || errTag != nil || len(salt) < 8 || len(tag) != tagBytes ||
		c.Passes == 0 || c.Passes > 16 || c.Threads == 0 || c.KiB < 8 || c.KiB > 1<<20 {
		return c, nil, nil, damaged
	}
	return c, salt, tag, nil
}
