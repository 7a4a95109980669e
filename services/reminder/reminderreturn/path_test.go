package reminderreturn

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"net/mail"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
)

func secret(b byte) []byte {
	sum := sha256.Sum256([]byte{b})
	return sum[:]
}

var path = Path{Local: "returns", Domain: "aldermoor.example", Secret: secret(1)}

// aReference is as long as any.
const aReference = "abcdefghijklmnopqrstuvwx27"

func TestAddressesHoldToTheLimits(t *testing.T) {
	longest := path
	longest.Local = strings.Repeat("r", MostLocal)
	if err := longest.Check(); err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{longest.Address(aReference), longest.StopAddress(aReference), path.Address("a")} {
		local, _, _ := strings.Cut(address, "@")
		if len(local) > 64 { // RFC 5321 section 4.5.3.1.1
			t.Errorf("%s: %d octets before the at sign", address, len(local))
		}
		if parsed, err := mail.ParseAddress(address); err != nil || parsed.Address != address || strings.ToLower(address) != address {
			t.Errorf("%s: %v, %v", address, parsed, err)
		}
	}
	for _, reference := range []string{"", "A", "a.b", "a@b", aReference + "8", "ä"} {
		if got := path.Address(reference); got != "" {
			t.Errorf("the reference %q made the address %q", reference, got)
		}
	}
}

func TestTheMACIsHalfOfHMACSHA256(t *testing.T) {
	// RFC 4231 test case 2.
	want, _ := hex.DecodeString("5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843")
	if got := authenticate([]byte("Jefe"), []byte("what do ya want for nothing?")); !bytes.Equal(got, want[:16]) {
		t.Errorf("got %x, want the left half of %x", got, want)
	}
}

func TestASecretIsDerivedAsRFC5869Says(t *testing.T) {
	// RFC 5869 appendix A has no case with our words, so this is the definition
	// of its section 2 with the hash's HMAC: extract with a salt of zeros, then
	// one block of expand.
	got, err := Secret(secret(9))
	if err != nil {
		t.Fatal(err)
	}
	pseudorandom := fullMAC(make([]byte, sha256.Size), secret(9))
	want := fullMAC(pseudorandom, []byte("halfshaft return path\x01"))
	if !bytes.Equal(got, want) || bytes.Equal(got, secret(9)) {
		t.Errorf("got %x, want %x", got, want)
	}
}

func fullMAC(key, text []byte) []byte {
	h := hmac.New(sha256.New, key)
	h.Write(text)
	return h.Sum(nil)
}

func TestAnAddressIsReadAndNoOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		reference := rapid.StringMatching(`[a-z0-9]{1,26}`).Draw(t, "reference")
		for stop, address := range map[bool]string{false: path.Address(reference), true: path.StopAddress(reference)} {
			for _, as := range []string{address, strings.ToUpper(address), "<" + address + ">"} {
				if got, gotStop, ok := path.Read(as); got != reference || gotStop != stop || !ok {
					t.Fatalf("%s: got %q, %v, %v", as, got, gotStop, ok)
				}
			}
			// Any other letter at any place is another address.
			b := []byte(address)
			at := rapid.IntRange(0, len(b)-1).Draw(t, "at")
			b[at] = rapid.SampledFrom([]byte("abcdefghijklmnopqrstuvwxyz234567+.@-")).Filter(func(c byte) bool { return c != b[at] }).Draw(t, "letter")
			if got, _, ok := path.Read(string(b)); ok {
				t.Fatalf("%s was read as %q", b, got)
			}
		}
	})
}

func TestNobodyMakesAnAddressWithoutTheSecret(t *testing.T) {
	other := path
	other.Secret = secret(2)
	elsewhere := path
	elsewhere.Domain = "else.example"
	for _, address := range []string{
		other.Address(aReference), elsewhere.Address(aReference), "", "@", "+", "returns@aldermoor.example",
		"returns+" + aReference + "@aldermoor.example", "returns+" + aReference + ".@aldermoor.example",
		"returns+.@aldermoor.example", strings.Repeat("a", 100000),
	} {
		if got, _, ok := path.Read(address); ok {
			t.Errorf("%.60s was read as %q", address, got)
		}
	}
	// A bounce's address does not stop anything, and the other way round.
	bounce := path.Address(aReference)
	if _, stop, _ := path.Read(bounce); stop || bounce == path.StopAddress(aReference) {
		t.Errorf("%s stops", bounce)
	}
}

func TestAFormerSecretReadsAndDoesNotSign(t *testing.T) {
	rotated := Path{Local: path.Local, Domain: path.Domain, Secret: secret(3), Former: [][]byte{secret(2), secret(1)}}
	if got, _, ok := rotated.Read(path.Address(aReference)); !ok || got != aReference {
		t.Errorf("the former address was read as %q, %v", got, ok)
	}
	if _, _, ok := path.Read(rotated.Address(aReference)); ok || rotated.Check() != nil {
		t.Errorf("the new address is signed with the former secret")
	}
}

func TestAPathThatMakesNoAddressIsRefused(t *testing.T) {
	for name, spoil := range map[string]func(*Path){
		"return_path.local: got nothing":         func(p *Path) { p.Local = "" },
		"return_path.local: got 'a+b'":           func(p *Path) { p.Local = "a+b" },
		"return_path.local: got 'Returns'":       func(p *Path) { p.Local = "Returns" },
		"return_path.local: got 'returnsthere'":  func(p *Path) { p.Local = "returnsthere" },
		"return_path.domain: got nothing":        func(p *Path) { p.Domain = "" },
		"return_path.domain: got 'a.example.'":   func(p *Path) { p.Domain = "a.example." },
		"return_path.secret: got 'too few bytes": func(p *Path) { p.Secret = p.Secret[:31] },
		"return_path.secret: got 'too few byte":  func(p *Path) { p.Former = [][]byte{{}} },
	} {
		p := path
		spoil(&p)
		if err := p.Check(); !fault.Is(err, fault.Invalid) || !strings.Contains(strings.ReplaceAll(err.Error(), `"`, "'"), name) {
			t.Errorf("want %s, got %v", name, err)
		}
	}
}
