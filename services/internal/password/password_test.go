package password

import (
	"context"
	"encoding/hex"
	"strings"
	"sync"
	"testing"

	"halfshaft/services/fault"
)

// cheap is a cost that tests can pay.
var cheap = Cost{Passes: 1, KiB: 8, Threads: 1}

// From the reference implementation of Argon2 (test.c, argon2id, version 0x13:
// t=2, m=2^16, p=1, "password", "somesalt"); from memory. RFC 9106's own vector
// has a secret and associated data, which the library does not take.
func TestATagIsThatOfTheReference(t *testing.T) {
	cost := Cost{Passes: 2, KiB: 1 << 16, Threads: 1}
	got := cost.tag("password", []byte("somesalt"))
	if want := "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"; hex.EncodeToString(got) != want {
		t.Errorf("got %x, want %s", got, want)
	}
	written := encode(cost, []byte("somesalt"), got)
	if head := "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$"; !strings.HasPrefix(written, head) {
		t.Errorf("got %s, want %s…", written, head)
	}
	// A hash keeps the cost it was made at when the standard changes.
	if ok, err := New(cheap).Verify(t.Context(), "password", written); !ok || err != nil {
		t.Errorf("%s: %v, %v", written, ok, err)
	}
}

// RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 (64 MiB),
// 128-bit salt, 256-bit tag.
func TestTheStandardIsTheSecondRecommendedOption(t *testing.T) {
	if want := (Cost{Passes: 3, KiB: 65536, Threads: 4}); Standard != want || saltBytes != 16 || tagBytes != 32 {
		t.Errorf("got %v, %d, %d", Standard, saltBytes, tagBytes)
	}
}

func TestAPasswordIsKnownAgainAndNoOther(t *testing.T) {
	h := New(cheap)
	first, err := h.Hash(t.Context(), "four wheels and a spare")
	if err != nil {
		t.Fatal(err)
	}
	second, _ := h.Hash(t.Context(), "four wheels and a spare")
	if first == second || !strings.HasPrefix(first, "$argon2id$v=19$m=8,t=1,p=1$") {
		t.Errorf("got %s and %s", first, second)
	}
	long := strings.Repeat("x", 4*most)
	longHash, _ := h.Hash(t.Context(), long[:most])
	for _, c := range []struct {
		name, password, hash string
		want                 bool
	}{
		{"its own", "four wheels and a spare", first, true},
		{"another", "four wheels and no spare", first, false},
		{"none", "", first, false},
		{"nobody's hash", "four wheels and a spare", "", false},
		{"nobody's hash and no password", "", "", false},
		{"one whose beginning is right, longer than any that is taken", long, longHash, false},
	} {
		if ok, err := h.Verify(t.Context(), c.password, c.hash); ok != c.want || err != nil {
			t.Errorf("%s: got %v, %v", c.name, ok, err)
		}
	}
}

func TestAHashThatIsNoneIsADefect(t *testing.T) {
	good, _ := New(cheap).Hash(t.Context(), "x")
	for name, hash := range map[string]string{
		"no hash":              "x",
		"another algorithm":    strings.Replace(good, "argon2id", "argon2i", 1),
		"another version":      strings.Replace(good, "v=19", "v=16", 1),
		"more memory than any": strings.Replace(good, "m=8,", "m=99999999,", 1),
		"no passes":            strings.Replace(good, "t=1", "t=0", 1),
		"a salt that is none":  strings.Replace(good, "p=1$", "p=1$!", 1),
		"a tag cut off":        good[:len(good)-4],
	} {
		if ok, err := New(cheap).Verify(t.Context(), "x", hash); ok || !fault.Is(err, fault.Internal) {
			t.Errorf("%s: got %v, %v", name, ok, err)
		}
	}
}

func TestNoMoreThanAFewAreHashedAtOnce(t *testing.T) {
	h := New(cheap)
	var leave []func()
	for range atOnce {
		l, err := h.enter(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		leave = append(leave, l)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := h.Hash(gone, "x")
	if f, ok := err.(*fault.Error); !ok || f.Kind != fault.Exhausted || f.RetryAfter <= 0 {
		t.Errorf("one more than the turns there are: %v", err)
	}
	var waiting sync.WaitGroup
	waiting.Go(func() {
		if _, err := h.Hash(t.Context(), "x"); err != nil {
			t.Error(err)
		}
	})
	leave[0]()
	waiting.Wait()
}
