package audit

import (
	"crypto/sha256"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// removedMark stands in an export in place of a text whose time is over; the
// digest of the text follows it. No text begins like this.
const removedMark = "removed "

// Export writes a line of an export, without its line feed: the number, the
// hash, the day until when the text is kept, and the text, with a space
// between. Where the text was removed, "removed" and its digest stand for it.
func (s Sealed) Export() string {
	text := s.Text
	if text == "" {
		text = removedMark + s.TextSHA256.String()
	}
	return strconv.FormatInt(s.Sequence, 10) + " " + s.Hash.String() + " " + s.KeptUntil.String() + " " + text
}

// ParseExport reads what Export writes. It does not prove anything.
func ParseExport(line string) (Sealed, error) {
	bad := func() (Sealed, error) {
		const show = 80
		return Sealed{}, fault.InvalidField("line", shorten(line, show), "a line of an export: NUMBER HASH DAY TEXT")
	}
	parts := strings.SplitN(line, " ", 4)
	if len(parts) != 4 || parts[3] == "" {
		return bad()
	}
	sequence, err := strconv.ParseInt(parts[0], 10, 64)
	hash, okHash := ParseDigest(parts[1])
	day, errDay := vehicle.ParseDate(parts[2])
	if err != nil || strconv.FormatInt(sequence, 10) != parts[0] || !okHash || errDay != nil {
		return bad()
	}
	s := Sealed{Sequence: sequence, Hash: hash, KeptUntil: day}
	if digest, removed := strings.CutPrefix(parts[3], removedMark); removed {
		sum, ok := ParseDigest(digest)
		if !ok {
			return bad()
		}
		s.TextSHA256 = sum
		return s, nil
	}
	s.Text = parts[3]
	s.TextSHA256 = sha256.Sum256([]byte(s.Text))
	return s, nil
}
