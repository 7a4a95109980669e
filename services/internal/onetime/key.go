package onetime

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// keyBytes is the length of a key: AES-256.
const keyBytes = 32

// Key seals what must be read again, and digests what need only be known again.
type Key struct {
	aead cipher.AEAD
	mac  []byte
}

// OpenKey reads the key from a file, and makes the file when there is none. One
// that others than its owner may read is refused. With the file lost, codes and
// recovery codes are worth nothing, and everybody must be invited again.
func OpenKey(path string) (*Key, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		if err := makeKeyFile(path); err != nil {
			return nil, fmt.Errorf("make the sign-in key: %w", err)
		}
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read the sign-in key: %w", err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("the sign-in key: got permissions %04o, want 0600", info.Mode().Perm())
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the sign-in key: %w", err)
	}
	secret, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(secret) != keyBytes {
		return nil, fmt.Errorf("the sign-in key: want %d hexadecimal digits", 2*keyBytes)
	}
	return NewKey(secret)
}

// NewKey makes a key of 32 secret bytes.
func NewKey(secret []byte) (*Key, error) {
	seal, errSeal := hkdf.Key(sha256.New, secret, nil, "halfshaft sign-in seal", keyBytes)
	mac, errMAC := hkdf.Key(sha256.New, secret, nil, "halfshaft sign-in digest", keyBytes)
	if err := errors.Join(errSeal, errMAC); err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(seal)
	if err != nil {
		return nil, err
	}
	aead, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	return &Key{aead, mac}, nil
}

// makeKeyFile makes the file; of two starts only one does.
func makeKeyFile(path string) error {
	secret := make([]byte, keyBytes)
	rand.Read(secret)
	if err := wholefile.Create(path, fmt.Appendf(nil, "%x\n", secret)); !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

// Seal encrypts a secret for one account with a random nonce in front. It opens
// for that account only.
func (k *Key) Seal(account, secret string) []byte {
	nonce := make([]byte, k.aead.NonceSize())
	rand.Read(nonce)
	return k.aead.Seal(nonce, nonce, []byte(secret), []byte(account))
}

// Open decrypts what Seal made.
func (k *Key) Open(account string, sealed []byte) (string, error) {
	if n := k.aead.NonceSize(); len(sealed) > n {
		if plain, err := k.aead.Open(nil, sealed[:n], sealed[n:], []byte(account)); err == nil {
			return string(plain), nil
		}
	}
	return "", fault.New(fault.Internal, "CODE_SECRET_DAMAGED", "the secret of an account's codes cannot be opened: was secrets/sign-in.key replaced?")
}

// Digest is the HMAC-SHA256 of a text for one purpose: without the key, nothing
// that was digested can be found by trying.
func (k *Key) Digest(purpose, text string) []byte {
	mac := hmac.New(sha256.New, k.mac)
	fmt.Fprintf(mac, "%d %s %s", len(purpose), purpose, text)
	return mac.Sum(nil)
}
