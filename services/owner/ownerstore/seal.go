package ownerstore

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"halfshaft/services/fault"
)

// What is sealed begins with a byte that says how: AES-256-GCM with a nonce of
// 96 bits in front. Nonces are random; one key seals far fewer than the 2^32
// messages at which that would become a risk (NIST SP 800-38D, 8.3; from
// memory).
const sealVersion = 1

// What bytes are sealed for. They are bound in, with the person and the
// record: sealed bytes that are moved elsewhere do not open.
const (
	forRecord  = "record"         // a person's own record
	forAnswer  = "answer"         // the answer kept under a request id
	forService = "service"        // what another service keeps; its purpose follows
	forWrap    = "wrap"           // a person's key
	forImport  = "import"         // a staged chunk
	forConsent = "consent"        // a consent
	forChange  = "contact change" // an address that was replaced
	forFile    = "file"           // the content of a document
	forTitle   = "title"          // what a document is
	forKept    = "kept"           // the keys that outlive a master key
)

// bound encodes what is bound in, each part with its length in front, so that
// no two lists of parts look alike.
func bound(parts ...string) []byte {
	out := []byte("halfshaft owner 1")
	for _, p := range parts {
		out = binary.BigEndian.AppendUint32(out, uint32(len(p)))
		out = append(out, p...)
	}
	return out
}

func newAEAD(key []byte) (cipher.AEAD, error) {
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

// seal encrypts with a random nonce.
func seal(a cipher.AEAD, plain, binding []byte) []byte {
	out := make([]byte, 1+a.NonceSize(), 1+a.NonceSize()+len(plain)+a.Overhead())
	out[0] = sealVersion
	rand.Read(out[1:])
	return a.Seal(out, out[1:], plain, binding)
}

// open decrypts what seal made; anything else, or another binding, is refused
// as Invalid.
func open(a cipher.AEAD, sealed, binding []byte) ([]byte, error) {
	if len(sealed) > 1+a.NonceSize() && sealed[0] == sealVersion {
		nonce, rest := sealed[1:1+a.NonceSize()], sealed[1+a.NonceSize():]
		if plain, err := a.Open(nil, nonce, rest, binding); err == nil {
			return plain, nil
		}
	}
	return nil, fault.New(fault.Invalid, "NOT_SEALED_HERE", "These bytes were not sealed for this person and purpose, or are damaged.")
}

// personKey is a person's key, unwrapped.
type personKey struct {
	cipher.AEAD
	secret []byte
}

func newPersonKey(secret []byte) (personKey, error) {
	a, err := newAEAD(secret)
	return personKey{a, secret}, err
}

// newPersonKey draws a person's key and wraps it.
func (m *MasterKey) newPersonKey(person string) (personKey, []byte, error) {
	secret := make([]byte, keyBytes)
	rand.Read(secret)
	key, err := newPersonKey(secret)
	return key, m.wrapKey(person, secret), err
}

// wrapKey seals a person's key under the master key, whose identifier goes in
// front.
func (m *MasterKey) wrapKey(person string, secret []byte) []byte {
	return append(m.id[:len(m.id):len(m.id)], seal(m.wrap, secret, bound(forWrap, person))...)
}

// wrapper gives the identifier of the master key that wrapped a person's key.
func wrapper(wrapped []byte) string { return hex.EncodeToString(wrapped[:min(idBytes, len(wrapped))]) }

// personKey unwraps a person's key.
func (m *MasterKey) personKey(person string, wrapped []byte) (personKey, error) {
	if len(wrapped) <= idBytes || !bytes.Equal(wrapped[:idBytes], m.id[:]) {
		return personKey{}, fault.New(fault.Internal, "PERSON_KEY_FOREIGN", "a person's key was wrapped by another master key")
	}
	secret, err := open(m.wrap, wrapped[idBytes:], bound(forWrap, person))
	if err != nil {
		return personKey{}, fault.New(fault.Internal, "PERSON_KEY_DAMAGED", "a person's key cannot be unwrapped")
	}
	return newPersonKey(secret)
}

// mac gives a keyed digest for one purpose. Without the person's key nothing
// that was digested can be found by trying, and once the key is gone nobody
// can.
func (k personKey) mac(purpose string, parts ...string) ([]byte, error) {
	key, err := hkdf.Key(sha256.New, k.secret, nil, "halfshaft person "+purpose, keyBytes)
	if err != nil {
		return nil, err
	}
	mac := hmac.New(sha256.New, key)
	mac.Write(bound(parts...))
	return mac.Sum(nil), nil
}

// fingerprint stands for a request with personal data in the memory of answered
// requests.
func (k personKey) fingerprint(request proto.Message) (proto.Message, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(request)
	if err != nil {
		return nil, fmt.Errorf("encode the request: %w", err)
	}
	sum, err := k.mac("fingerprints", string(request.ProtoReflect().Descriptor().FullName()), string(raw))
	return wrapperspb.Bytes(sum), err
}

// importSeal encrypts chunks of one import. The same chunk gives the same
// bytes, as staging it again must: the nonce is a keyed digest of the content,
// so that it repeats only with it.
type importSeal struct {
	aead   cipher.AEAD
	nonces []byte
}

func (m *MasterKey) importSeal(importID string) (*importSeal, error) {
	key, err := m.derive("import key "+importID, keyBytes)
	if err != nil {
		return nil, err
	}
	nonces, err := m.derive("import nonces "+importID, keyBytes)
	if err != nil {
		return nil, err
	}
	a, err := newAEAD(key)
	return &importSeal{a, nonces}, err
}

func (s *importSeal) seal(chunk []byte) []byte {
	mac := hmac.New(sha256.New, s.nonces)
	mac.Write(chunk)
	out := append([]byte{sealVersion}, mac.Sum(nil)[:s.aead.NonceSize()]...)
	return s.aead.Seal(out, out[1:], chunk, bound(forImport))
}

func (s *importSeal) open(sealed []byte) ([]byte, error) {
	return open(s.aead, sealed, bound(forImport))
}
