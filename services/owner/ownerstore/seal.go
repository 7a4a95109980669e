package ownerstore

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
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
	forRecord  = "record"  // a person's own record
	forAnswer  = "answer"  // the answer kept under a request id
	forService = "service" // what another service keeps; its purpose follows
	forWrap    = "wrap"    // a person's key
	forImport  = "import"  // a staged chunk
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

// newPersonKey draws a person's key and wraps it.
func (m *MasterKey) newPersonKey(person string) (cipher.AEAD, []byte, error) {
	key := make([]byte, keyBytes)
	rand.Read(key)
	a, err := newAEAD(key)
	if err != nil {
		return nil, nil, err
	}
	return a, append(m.id[:len(m.id):len(m.id)], seal(m.wrap, key, bound(forWrap, person))...), nil
}

// personKey unwraps a person's key.
func (m *MasterKey) personKey(person string, wrapped []byte) (cipher.AEAD, error) {
	if len(wrapped) <= idBytes || !bytes.Equal(wrapped[:idBytes], m.id[:]) {
		return nil, fault.New(fault.Internal, "PERSON_KEY_FOREIGN", "a person's key was wrapped by another master key")
	}
	key, err := open(m.wrap, wrapped[idBytes:], bound(forWrap, person))
	if err != nil {
		return nil, fault.New(fault.Internal, "PERSON_KEY_DAMAGED", "a person's key cannot be unwrapped")
	}
	return newAEAD(key)
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

// fingerprint stands for a request in the memory of answered requests. A bare
// digest of a name and an address could be found by trying; this one cannot,
// without the master key.
func (m *MasterKey) fingerprint(request proto.Message) (proto.Message, error) {
	key, err := m.derive("fingerprints", keyBytes)
	if err != nil {
		return nil, err
	}
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(request)
	if err != nil {
		return nil, fmt.Errorf("encode the request: %w", err)
	}
	mac := hmac.New(sha256.New, key)
	mac.Write(bound(string(request.ProtoReflect().Descriptor().FullName())))
	mac.Write(raw)
	return wrapperspb.Bytes(mac.Sum(nil)), nil
}
