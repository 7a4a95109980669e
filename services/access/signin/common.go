package signin

import (
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"sort"
	"strings"
)

// commonText are words that many passwords are made of, from common knowledge.
//
//go:embed common.txt
var commonText string

// commonDigests are the commonest passwords of a list (COMMON.md says which), as
// the first bytes of their digests, in order: the list itself has names of
// people and foul words in it.
//
//go:embed common.bin
var commonDigests string

// digestBytes of a digest are kept. That one of some ten thousand meets another
// password by chance has a probability of about one in ten to the tenth.
const digestBytes = 6

// common reports whether a folded password is one of the commonest, or one of
// them over and over, with figures before or behind.
func common(plain string) bool {
	core := strings.Trim(plain, "0123456789")
	if core == "" || fewCharacters(plain) {
		return true
	}
	if listed(plain) || listed(core) || listed(core[:period(core)]) {
		return true
	}
	for line := range strings.Lines(commonText) {
		word := strings.TrimSpace(line)
		if word == "" || strings.HasPrefix(word, "#") {
			continue
		}
		if plain == word || strings.ReplaceAll(core, word, "") == "" {
			return true
		}
	}
	return false
}

// digestOf is what is kept of a folded password.
func digestOf(plain string) uint64 {
	sum := sha256.Sum256([]byte(plain))
	return binary.BigEndian.Uint64(sum[:]) >> (64 - 8*digestBytes)
}

// listed reports whether a folded text is in the list.
func listed(plain string) bool {
	want, n := digestOf(plain), len(commonDigests)/digestBytes
	at := func(i int) uint64 {
		var b [8]byte
		copy(b[8-digestBytes:], commonDigests[i*digestBytes:(i+1)*digestBytes])
		return binary.BigEndian.Uint64(b[:])
	}
	i := sort.Search(n, func(i int) bool { return at(i) >= want })
	return i < n && at(i) == want
}

// fewCharacters reports whether a text has fewer than five different ones.
func fewCharacters(s string) bool {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen) < 5
}
