package links

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func ring(ids ...uint32) Ring {
	var r Ring
	for _, id := range ids {
		sum := sha256.Sum256([]byte{byte(id)})
		r = append(r, Key{id, sum[:]})
	}
	return r
}

func TestTheMACIsHMACSHA256(t *testing.T) {
	// RFC 4231 test case 2: key "Jefe".
	const want = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
	got := Key{Secret: []byte("Jefe")}.mac([]byte("what do ya want for nothing?"))
	if hex.EncodeToString(got) != want[:2*macSize] {
		t.Errorf("got %x, want the left half of %s", got, want)
	}
	h := hmac.New(sha256.New, []byte("Jefe"))
	h.Write([]byte("what do ya want for nothing?"))
	if hex.EncodeToString(h.Sum(nil)) != want {
		t.Error("the standard library disagrees with RFC 4231")
	}
}

func TestALinkReadsBackAndNothingElseDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Link{
			Purpose: rapid.SampledFrom([]Purpose{Odometer, Unsubscribe}).Draw(t, "purpose"),
			Subject: rapid.StringMatching(`[A-Z0-9]{5,14}\.[a-z0-9-]{1,40}`).Draw(t, "subject"),
			Expires: now.Add(time.Duration(rapid.IntRange(1, 1<<30).Draw(t, "seconds")) * time.Second),
		}
		token, err := ring(1).Token(l, Nonce{byte(rapid.Byte().Draw(t, "nonce"))})
		if err != nil {
			t.Fatal(err)
		}
		if got, err := ring(2, 1).Read(token, now); err != nil || got != l {
			t.Fatalf("got %v, %v; want %v", got, err, l)
		}
		if got, err := ring(1).Read(token, l.Expires); !errors.Is(err, ErrExpired) || got != l {
			t.Fatalf("at its end: got %v, %v", got, err)
		}
		if _, err := ring(2).Read(token, now); !errors.Is(err, ErrForged) {
			t.Fatalf("under another key: %v", err)
		}
		// Any one character changed is a forgery.
		at := rapid.IntRange(0, len(token)-1).Draw(t, "at")
		other := rapid.SampledFrom(strings.Split("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_", "")).Draw(t, "other")
		if changed := token[:at] + other + token[at+1:]; changed != token {
			if _, err := ring(1).Read(changed, now); !errors.Is(err, ErrForged) {
				t.Fatalf("%q for %q: %v", changed, token, err)
			}
		}
	})
}

func TestASubjectIsBounded(t *testing.T) {
	for _, subject := range []string{"", strings.Repeat("x", 201)} {
		if _, err := ring(1).Token(Link{Subject: subject}, Nonce{}); !errors.Is(err, ErrSubject) {
			t.Errorf("%d bytes: %v", len(subject), err)
		}
	}
	if _, err := (Ring{}).Token(Link{Subject: "x"}, Nonce{}); !errors.Is(err, ErrNoKey) {
		t.Errorf("no key: %v", err)
	}
}

func FuzzRead(f *testing.F) {
	token, _ := ring(1).Token(Link{Odometer, "AM0147P.p0031", now}, Nonce{})
	f.Add(token)
	f.Add("")
	f.Add(token[:len(token)-1])
	f.Fuzz(func(t *testing.T, text string) {
		l, err := ring(1).Read(text, now.Add(-time.Hour))
		if err == nil && text != token {
			t.Errorf("%q reads as %v", text, l)
		}
	})
}

func TestTheKeyFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "links.key")
	made, err := OpenRing(path, rand.Reader)
	if err != nil || len(made) != 1 || len(made[0].Secret) != KeySize {
		t.Fatalf("got %v, %v", made, err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("got mode %v, %v; want 0600", info.Mode(), err)
	}
	again, err := OpenRing(path, rand.Reader)
	if err != nil || string(again[0].Secret) != string(made[0].Secret) {
		t.Errorf("opened again: another key, %v", err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenRing(path, rand.Reader); err == nil {
		t.Error("a file that the group may read was accepted")
	}
	for _, text := range []string{"", "1\n", "x " + strings.Repeat("00", 32), "1 00", "1 " + strings.Repeat("zz", 32)} {
		if _, err := parseRing([]byte(text)); err == nil {
			t.Errorf("%q was accepted", text)
		}
		if _, err := parseRing([]byte(text)); err != nil && text != "" && strings.Contains(err.Error(), "0000") {
			t.Error("the error prints a secret")
		}
	}
}
