package access

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
)

var noon = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

func TestADigestIsSHA256(t *testing.T) {
	// FIPS 180-4 example, as in checks.md O-64.
	got := DigestOf("abc")
	if want := "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"; hex.EncodeToString(got[:]) != want {
		t.Errorf("got %x, want %s", got, want)
	}
}

func TestASecretHasAMarkAPublicPartAnd256RandomBits(t *testing.T) {
	// design.md, Access: prefix + 256 random bits. 52 characters of 5 bits hold
	// 256 bits and four to spare.
	form := regexp.MustCompile(`^hsk_([0-9a-hjkmnp-tv-z]{8})_[0-9a-hjkmnp-tv-z]{52}$`)
	seen := map[string]bool{}
	for range 1000 {
		id, secret, err := NewSecret(rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		m := form.FindStringSubmatch(secret)
		if m == nil || m[1] != id || !ValidID(id) || seen[secret] {
			t.Fatalf("%s with %s", secret, id)
		}
		if got, ok := SecretID(secret); !ok || got != id {
			t.Fatalf("the identifier in %s reads %s", secret, got)
		}
		seen[secret] = true
	}
	if _, _, err := NewSecret(strings.NewReader("too little")); err == nil {
		t.Error("a source that runs dry made a secret")
	}
}

func TestEachRandomByteCounts(t *testing.T) {
	_, zero, _ := NewSecret(strings.NewReader(strings.Repeat("\x00", 37)))
	for i := range 37 {
		b := make([]byte, 37)
		b[i] = 1
		if _, s, _ := NewSecret(bytes.NewReader(b)); s == zero {
			t.Errorf("byte %d of the random source changes nothing", i)
		}
	}
}

func TestWhatIsNoSecretHasNoIdentifier(t *testing.T) {
	_, s, _ := NewSecret(rand.Reader)
	for _, text := range []string{"", "hsk_", s[:len(s)-1], s + "0", "xsk_" + s[4:], strings.ReplaceAll(s, "_", "-")} {
		if id, ok := SecretID(text); ok {
			t.Errorf("%q has the identifier %s", text, id)
		}
	}
	rapid.Check(t, func(t *rapid.T) { // never panics
		if id, ok := SecretID(rapid.String().Draw(t, "text")); ok && id == "" {
			t.Error("an empty identifier")
		}
	})
}

func TestAKeyAdmitsItsOwnSecretWhileItIsGood(t *testing.T) {
	_, secret, _ := NewSecret(rand.Reader)
	_, another, _ := NewSecret(rand.Reader)
	for _, c := range []struct {
		name, secret string
		key          Key
		reason       string
	}{
		{"a key without end", secret, Key{}, ""},
		{"before the end", secret, Key{Expires: noon.Add(1)}, ""},
		{"at the end", secret, Key{Expires: noon}, "KEY_EXPIRED"},
		{"after the end", secret, Key{Expires: noon.Add(-1)}, "KEY_EXPIRED"},
		{"revoked", secret, Key{Revoked: noon.Add(-time.Hour)}, "KEY_REVOKED"},
		{"revoked, by a clock that is ahead", secret, Key{Revoked: noon.Add(time.Hour)}, "KEY_REVOKED"},
		{"another secret", another, Key{}, "KEY_UNKNOWN"},
		{"another secret, to a revoked key: not told that it was", another, Key{Revoked: noon}, "KEY_UNKNOWN"},
		{"another secret, to an expired key: not told that it did", another, Key{Expires: noon}, "KEY_UNKNOWN"},
		{"no secret", "", Key{}, "KEY_UNKNOWN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.key.Digest = DigestOf(secret)
			err := c.key.Admit(c.secret, noon)
			if c.reason == "" && err == nil {
				return
			}
			f, ok := err.(*fault.Error)
			if !ok || f.Kind != fault.Unauthenticated || f.Reason != c.reason {
				t.Errorf("got %v, want %q", err, c.reason)
			}
		})
	}
	if err := (Key{}).Admit("", noon); err == nil {
		t.Error("the zero key admits somebody")
	}
}

func TestAProposedKeyIsCompletedOrRefused(t *testing.T) {
	desk := Key{Title: "front desk", Role: Support, Bearer: "front desk"}
	mine := Key{Title: "link", Role: Owner, Person: "people/p0031"}
	with := func(k Key, change func(*Key)) Key { change(&k); return k }
	for _, c := range []struct {
		name   string
		key    Key
		faults string // fields, in order
	}{
		{"staff with title and bearer", desk, ""},
		{"an owner with their person", mine, ""},
		{"no title", with(desk, func(k *Key) { k.Title = "" }), "title"},
		{"a title with a line break", with(desk, func(k *Key) { k.Title = "a\nb" }), "title"},
		{"a title that is too long", with(desk, func(k *Key) { k.Title = strings.Repeat("x", 121) }), "title"},
		{"no role", with(desk, func(k *Key) { k.Role = Nobody }), "role"},
		{"a role that is none", with(desk, func(k *Key) { k.Role = 99 }), "role"},
		{"a bearer that no caller can have", with(desk, func(k *Key) { k.Bearer = "front\u0085desk" }), "bearer"},
		{"staff without bearer", with(desk, func(k *Key) { k.Bearer = "" }), "bearer"},
		{"staff with a person", with(desk, func(k *Key) { k.Person = "people/p1" }), "person"},
		{"an owner without person", with(mine, func(k *Key) { k.Person = "" }), "person"},
		{"an owner with a person's bare identifier", with(mine, func(k *Key) { k.Person = "p0031" }), "person"},
		{"an owner with a longer path", with(mine, func(k *Key) { k.Person = "people/p1/x" }), "person"},
		{"an owner named as bearer", with(mine, func(k *Key) { k.Bearer = "Ada Nettlefold" }), "bearer"},
		{"an end that has passed", with(desk, func(k *Key) { k.Expires = noon }), "expire_time"},
		{"everything wrong at once", Key{Person: "x", Expires: noon}, "title role person bearer expire_time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			k, faults := Proposed(c.key, noon)
			var names []string
			for _, f := range faults {
				names = append(names, f.Name)
			}
			if got := strings.Join(names, " "); got != c.faults {
				t.Errorf("got %q, want %q", got, c.faults)
			}
			if c.faults == "" && k.Role == Owner && k.Bearer != "owner" {
				t.Errorf("the bearer of an owner's key is %q", k.Bearer)
			}
		})
	}
}
