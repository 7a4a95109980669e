package ownerstore

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

func masterKey(t *testing.T) *MasterKey {
	t.Helper()
	m, err := CreateMasterKey(filepath.Join(t.TempDir(), "master.key"))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestTheMasterKeyFileIsForItsOwnerAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "master.key")
	if _, err := LoadMasterKey(path); !errors.Is(err, ErrNoMasterKey) {
		t.Errorf("no file: got %v", err)
	}
	made, err := CreateMasterKey(path)
	if err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("made with mode %04o", info.Mode().Perm())
	}
	if again, err := LoadMasterKey(path); err != nil || again.secret != made.secret || again.ID() != made.ID() {
		t.Errorf("read back: got %v", err)
	}
	if _, err := CreateMasterKey(path); err == nil {
		t.Error("a second key was written over the first")
	}
	for _, mode := range []os.FileMode{0o604, 0o640, 0o644, 0o660, 0o620, 0o602} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		var f *fault.Error
		if _, err := LoadMasterKey(path); !errors.As(err, &f) || f.Reason != "MASTER_KEY_EXPOSED" {
			t.Errorf("mode %04o: got %v", mode, err)
		}
	}
	if err := os.Chmod(path, 0o400); err != nil {
		t.Fatal(err)
	}
	if _, err := LoadMasterKey(path); err != nil {
		t.Errorf("mode 0400: got %v", err)
	}
}

func TestADamagedMasterKeyFileIsRefused(t *testing.T) {
	whole := keyLine + strings.Repeat("A", 43) + "="
	if _, err := parseMasterKey([]byte("# a comment\n\n  " + whole + "\r\n")); err != nil {
		t.Errorf("a file that went through an editor: %v", err)
	}
	for name, text := range map[string]string{
		"empty": "", "comments alone": preamble, "cut short": whole[:len(whole)-4], "another version": strings.Replace(whole, "-1", "-2", 1),
		"not base 64": keyLine + strings.Repeat("!", 44), "too long": keyLine + strings.Repeat("A", 60),
	} {
		if _, err := parseMasterKey([]byte(text)); !fault.Is(err, fault.FailedPrecondition) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestSealedBytesOpenOnlyWhereTheyBelong(t *testing.T) {
	m := masterKey(t)
	key, wrapped, err := m.newPersonKey("p1")
	if err != nil {
		t.Fatal(err)
	}
	plain := []byte("The Old Forge")
	sealed := seal(key, plain, bound(forService, "p1", "notice 7"))
	if bytes.Contains(sealed, plain) || bytes.Equal(sealed, seal(key, plain, bound(forService, "p1", "notice 7"))) {
		t.Error("sealed bytes show what they hold, or that two hold the same")
	}
	same, err := m.personKey("p1", wrapped)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := open(same, sealed, bound(forService, "p1", "notice 7")); err != nil || !bytes.Equal(got, plain) {
		t.Errorf("got %q, %v", got, err)
	}
	for name, binding := range map[string][]byte{
		"another person": bound(forService, "p2", "notice 7"), "another purpose": bound(forService, "p1", "notice 8"),
		"another kind": bound(forRecord, "p1", "notice 7"), "the parts cut otherwise": bound(forService, "p1n", "otice 7"), "nothing": nil,
	} {
		if _, err := open(key, sealed, binding); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: got %v", name, err)
		}
	}
	for i := range sealed {
		bad := bytes.Clone(sealed)
		bad[i] ^= 1
		if _, err := open(key, bad, bound(forService, "p1", "notice 7")); !fault.Is(err, fault.Invalid) {
			t.Errorf("byte %d changed: got %v", i, err)
		}
		if _, err := open(key, sealed[:i], bound(forService, "p1", "notice 7")); !fault.Is(err, fault.Invalid) {
			t.Errorf("cut to %d bytes: got %v", i, err)
		}
	}
}

func TestAPersonsKeyIsUnwrappedOnlyForThemAndByTheMasterKeyThatWrappedIt(t *testing.T) {
	m := masterKey(t)
	_, wrapped, err := m.newPersonKey("p1")
	if err != nil {
		t.Fatal(err)
	}
	for name, try := range map[string]func() error{
		"for another person":    func() error { _, err := m.personKey("p2", wrapped); return err },
		"by another master key": func() error { _, err := masterKey(t).personKey("p1", wrapped); return err },
		"cut short":             func() error { _, err := m.personKey("p1", wrapped[:9]); return err },
		"not there":             func() error { _, err := m.personKey("p1", nil); return err },
	} {
		if err := try(); !fault.Is(err, fault.Internal) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestAChunkSealsToTheSameBytesEachTimeAndOpensInItsImportOnly(t *testing.T) {
	m := masterKey(t)
	s := &Store{path: filepath.Join(t.TempDir(), "none")}
	s.ring.hold(m)
	a, b := "import-a@"+m.ID(), "import-b@"+m.ID()
	rapid.Check(t, func(t *rapid.T) {
		chunk := rapid.SliceOf(rapid.Byte()).Draw(t, "chunk")
		other := rapid.SliceOf(rapid.Byte()).Draw(t, "other")
		one, err := m.sealChunk(a, chunk)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := m.sealChunk(a, chunk)
		if !bytes.Equal(one, again) {
			t.Fatal("staging a chunk again would give other bytes")
		}
		if two, _ := m.sealChunk(a, other); bytes.Equal(one, two) != bytes.Equal(chunk, other) {
			t.Fatal("two chunks look alike")
		}
		if got, err := s.OpenChunk(one); err != nil || !bytes.Equal(got, chunk) {
			t.Fatalf("got %x, %v", got, err)
		}
		moved := append([]byte(b+"\x00"), one[len(a)+1:]...)
		if _, err := s.OpenChunk(moved); err == nil {
			t.Fatal("a chunk opens in another import")
		}
	})
	for _, broken := range []string{"no import", "no key\x00", "@\x00"} {
		if _, err := s.OpenChunk([]byte(broken)); err == nil {
			t.Errorf("%q opens", broken)
		}
	}
	lost, err := masterKey(t).sealChunk("import-a@0123456789abcdef", []byte("rows"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.OpenChunk(lost); !errors.Is(err, ErrChunkLost) {
		t.Errorf("a chunk under a key that is no more: got %v", err)
	}
}

func TestAFingerprintTellsRequestsApartAndNothingWithoutThePersonsKey(t *testing.T) {
	key := func() personKey {
		k, _, err := masterKey(t).newPersonKey("p1")
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	print := func(k personKey, request proto.Message) string {
		f, err := k.fingerprint(request)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := proto.Marshal(f)
		return string(b)
	}
	k := key()
	p := &ownerv1.Person{Name: "people/p1", FullName: "Ada"}
	create, update := &ownerv1.CreatePersonRequest{Person: p}, &ownerv1.UpdatePersonRequest{Person: p}
	if print(k, create) != print(k, proto.Clone(create)) {
		t.Error("a request differs from itself")
	}
	if print(k, create) == print(k, update) || print(k, create) == print(k, &ownerv1.CreatePersonRequest{}) {
		t.Error("two requests look alike")
	}
	if print(k, create) == print(key(), create) {
		t.Error("whoever has no key can find a name by trying")
	}
}

func personProto(p owner.Person) proto.Message { return ownerwire.PersonProto(p) }
