package signin

import (
	"bufio"
	"encoding/binary"
	"flag"
	"os"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "make common.bin anew from the list that HALFSHAFT_PASSWORDS names")

// How many of the list are kept, as COMMON.md says.
const (
	longOnes    = 6_000
	ofAnyLength = 10_000
	leastLength = 5
)

func TestCommonPasswordsAreThoseOfTheListThatCommonMDNames(t *testing.T) {
	if n := len(commonDigests) / digestBytes; !*update && (len(commonDigests)%digestBytes != 0 || n < longOnes) {
		t.Fatalf("%d bytes are no list", len(commonDigests))
	}
	path := os.Getenv("HALFSHAFT_PASSWORDS")
	if path == "" {
		t.Skip("HALFSHAFT_PASSWORDS names no list")
	}
	want := fromList(t, path)
	if *update {
		if err := os.WriteFile("common.bin", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if string(want) != commonDigests {
		t.Errorf("common.bin is not what %s says; run this test with -update", path)
	}
}

// fromList makes the digests of a list that begins with the commonest.
func fromList(t *testing.T, path string) []byte {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var digests []uint64
	long, any := map[string]bool{}, map[string]bool{}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		word := strings.TrimRight(lines.Text(), "\r")
		plain, length := folded(word), utf8.RuneCountInString(word)
		switch {
		case !utf8.ValidString(word):
		case length >= ShortestPassword && len(long) < longOnes && !long[plain]:
			long[plain] = true
			digests = append(digests, digestOf(plain))
		case length >= leastLength && len(any) < ofAnyLength && !any[plain]:
			any[plain] = true
			digests = append(digests, digestOf(plain))
		}
	}
	slices.Sort(digests)
	var out []byte
	for _, d := range slices.Compact(digests) {
		out = append(out, binary.BigEndian.AppendUint64(nil, d)[8-digestBytes:]...)
	}
	return out
}

// Some that stand in lists of others too: the frequency lists of zxcvbn (MIT)
// and its successor, package @zxcvbn-ts/language-common 4.1.3.
func TestWhatOthersCallCommonIsRefused(t *testing.T) {
	for _, password := range []string{
		"leavemealone", "unbelievable", "professional", "justinbieber", "1qaz2wsx3edc4rfv", "123qweasdzxc", "chickenwing101",
		"needforspeed", "supernatural", "counterstrike", "finalfantasy", "Leave Me Alone", "michelle1234", "1999jennifer", "sunshine-sunshine",
	} {
		if err := CheckPassword("password", password); err == nil {
			t.Errorf("%s is taken", password)
		}
	}
}

func TestRepetitionsAndRowsOfKeysAreRefused(t *testing.T) {
	for password, taken := range map[string]bool{
		"aaaaaaaaaaaa": false, "123456789012": false, "qwertyuiop12": false, "abcdefghijkl": false, "zyxwvutsrqpo": false,
		"gearbox7gearbox7": false, "gearbox7gearbox7gear": false, "12gearboxesgearboxes34": false, "ölkännchenölkännchen": false,
		"qwertzuiopü!": false, "azertyuiopqsdf": false, "1qaz-2wsx-3edc-x": false, "lkjhgfdsa9876": false, "aaaabbbbccccdddd": false,
		"first hub seal then brake": true, "ijkl came by on a tuesday": true, "stuv and xyz make few words": true, "gearboxes7inshedgearboxes7inshed": true,
	} {
		if err := CheckPassword("password", password); (err == nil) != taken {
			t.Errorf("%s: %v", password, err)
		}
	}
}

// The period, the slow way.
func FuzzPeriod(f *testing.F) {
	for _, s := range []string{"", "a", "abab", "abcabca", "ölöl", "aab"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if !utf8.ValidString(s) || len(s) > 200 {
			return
		}
		want := len(s)
		for i := range s {
			if i > 0 && i <= len(s)/2 && strings.HasPrefix(strings.Repeat(s[:i], len(s)/i+1), s) {
				want = i
				break
			}
		}
		if got := period(s); got != want {
			t.Errorf("%q: got %d, want %d", s, got, want)
		}
	})
}
