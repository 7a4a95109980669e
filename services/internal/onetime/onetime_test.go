package onetime

import (
	"bytes"
	"encoding/base32"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
)

// RFC 6238, appendix B: the SHA-1 secret is the ASCII text 12345678901234567890.
// Its codes have eight digits; ours are their last six.
var vectorSecret = base32.StdEncoding.EncodeToString([]byte("12345678901234567890"))

func TestTheCodesOfRFC6238(t *testing.T) {
	for at, want := range map[int64]string{
		59: "94287082", 1111111109: "07081804", 1111111111: "14050471",
		1234567890: "89005924", 2000000000: "69279037", 20000000000: "65353130",
	} {
		got, err := Code(vectorSecret, Step(time.Unix(at, 0)))
		if err != nil || got != want[2:] {
			t.Errorf("at %d: got %s, %v, want %s", at, got, err, want[2:])
		}
	}
}

func TestACodeCountsOnceAndOneStepAround(t *testing.T) {
	now := time.Unix(1111111111, 0)
	present := Step(now)
	for _, c := range []struct {
		name string
		step int64 // of the code
		last int64
		want bool
	}{
		{"of the present", present, 0, true},
		{"of the step before", present - 1, 0, true},
		{"of the step to come", present + 1, 0, true},
		{"of two steps before", present - 2, 0, false},
		{"of two steps to come", present + 2, 0, false},
		{"taken before", present, present, false},
		{"older than one taken before", present - 1, present, false},
		{"later than one taken before", present + 1, present, true},
	} {
		code, err := Code(vectorSecret, c.step)
		if err != nil {
			t.Fatal(err)
		}
		step, ok, err := Match(vectorSecret, code, c.last, now)
		if ok != c.want || err != nil || ok && step != c.step {
			t.Errorf("a code %s: got %d, %v, %v", c.name, step, ok, err)
		}
	}
	for _, code := range []string{"", "0", "00000", "0000000", "abcdef"} {
		if _, ok, _ := Match(vectorSecret, code, 0, now); ok {
			t.Errorf("%q is a code", code)
		}
	}
}

func TestAFreshSecretIsLongEnoughAndAnAuthenticatorUnderstandsIt(t *testing.T) {
	secret, url, err := New("Aldermoor Works", "ida")
	if err != nil {
		t.Fatal(err)
	}
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil || len(raw) != 20 { // RFC 4226, section 4, R6
		t.Errorf("got %d bytes, %v", len(raw), err)
	}
	for _, part := range []string{"otpauth://totp/Aldermoor%20Works:ida?", "secret=" + secret, "issuer=Aldermoor%20Works", "digits=6", "period=30", "algorithm=SHA1"} {
		if !strings.Contains(url, part) {
			t.Errorf("%s is without %s", url, part)
		}
	}
}

func TestWhatIsSealedOpensForItsAccountOnly(t *testing.T) {
	k, err := NewKey(bytes.Repeat([]byte{7}, 32))
	if err != nil {
		t.Fatal(err)
	}
	other, _ := NewKey(bytes.Repeat([]byte{8}, 32))
	sealed := k.Seal("accounts/ida", "SECRET")
	if bytes.Contains(sealed, []byte("SECRET")) || bytes.Equal(sealed, k.Seal("accounts/ida", "SECRET")) {
		t.Error("the seal shows something")
	}
	if got, err := k.Open("accounts/ida", sealed); got != "SECRET" || err != nil {
		t.Errorf("got %q, %v", got, err)
	}
	changed := bytes.Clone(sealed)
	changed[len(changed)-1] ^= 1
	for name, open := range map[string]func() (string, error){
		"another account": func() (string, error) { return k.Open("accounts/bert", sealed) },
		"another key":     func() (string, error) { return other.Open("accounts/ida", sealed) },
		"a changed byte":  func() (string, error) { return k.Open("accounts/ida", changed) },
		"nothing":         func() (string, error) { return k.Open("accounts/ida", nil) },
	} {
		if got, err := open(); got != "" || !fault.Is(err, fault.Internal) {
			t.Errorf("%s: got %q, %v", name, got, err)
		}
	}
	if bytes.Equal(k.Digest("a", "b c"), k.Digest("a b", "c")) || bytes.Equal(k.Digest("a", "x"), other.Digest("a", "x")) {
		t.Error("two things have one digest")
	}
}

func TestTheKeyFileIsMadeOnceAndClosedToOthers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sign-in.key")
	first, err := OpenKey(path)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("got %v, %v", info.Mode(), err)
	}
	second, err := OpenKey(path)
	if err != nil || !bytes.Equal(first.Digest("x", "y"), second.Digest("x", "y")) {
		t.Errorf("the second opening has another key: %v", err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenKey(path); err == nil {
		t.Error("a file that others may read was taken")
	}
	if err := os.WriteFile(path, []byte("short\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenKey(path); err == nil || strings.Contains(err.Error(), "short\n") {
		t.Errorf("got %v", err)
	}
}
