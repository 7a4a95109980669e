package audit

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"halfshaft/services/vehicle"
)

// Digest is a SHA-256.
type Digest [sha256.Size]byte

// String writes the digest in hexadecimal.
func (d Digest) String() string { return hex.EncodeToString(d[:]) }

// ParseDigest reads what String writes.
func ParseDigest(text string) (Digest, bool) {
	var d Digest
	if len(text) != hex.EncodedLen(len(d)) {
		return d, false
	}
	n, err := hex.Decode(d[:], []byte(text))
	return d, err == nil && n == len(d) && d.String() == text
}

// Sealed is a line at its place in the chain.
type Sealed struct {
	Sequence   int64
	KeptUntil  vehicle.Date // until when the text must be kept, that day included
	TextSHA256 Digest
	Hash       Digest // of the chain up to and including this line
	Text       string // empty once it was removed
}

// chainMark begins what is hashed, so that no hash of the chain is ever one of
// something else.
const chainMark = "halfshaft audit line 1"

// ChainHash gives the hash of a line: of these five lines of text, each ended
// by a line feed. The hash before the first line is all zeros. The day is in
// it because it is what a line without its text must still be held to.
func ChainHash(previous Digest, sequence int64, keptUntil vehicle.Date, text Digest) Digest {
	return sha256.Sum256(fmt.Appendf(nil, "%s\n%d\n%s\n%s\n%s\n", chainMark, sequence, previous, keptUntil, text))
}

// Seal puts the text of a line to the end of a chain.
func Seal(last Checkpoint, text string) (Sealed, error) {
	line, err := Parse(text)
	if err != nil {
		return Sealed{}, err
	}
	s := Sealed{Sequence: last.Sequence + 1, KeptUntil: KeptUntil(line), TextSHA256: sha256.Sum256([]byte(text)), Text: text}
	s.Hash = ChainHash(last.Hash, s.Sequence, s.KeptUntil, s.TextSHA256)
	return s, nil
}

// Checkpoint is where a chain had come to. The zero Checkpoint is that of a
// chain without lines.
type Checkpoint struct {
	Sequence int64
	Hash     Digest
	Time     time.Time // when it was taken; zero if nobody said
}

// Checkpoint gives where the chain has come to with this line.
func (s Sealed) Checkpoint() Checkpoint { return Checkpoint{Sequence: s.Sequence, Hash: s.Hash} }

// How long the text of a line is kept, in years.
const (
	yearsOfChanges = 10 // a change, or what may have been one
	yearsOfOthers  = 2  // what was read, refused, or changed nothing
)

// KeptUntil gives the last day on which the text of a line must stand.
func KeptUntil(l Line) vehicle.Date {
	years := yearsOfOthers
	if l.Outcome == Changed || l.Outcome == Failed {
		years = yearsOfChanges
	}
	return vehicle.DateOf(l.Time.UTC()).AddMonths(12 * years)
}

// WithoutText is the line as it is after its time: the hashes stay.
func (s Sealed) WithoutText() Sealed {
	s.Text = ""
	return s
}
