package audit

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"iter"
	"slices"

	"halfshaft/services/vehicle"
)

// Fault is something wrong with a chain, and where.
type Fault struct {
	Sequence int64
	Sentence string
}

// MaxFaults is how many faults a report names; beyond that the rest of the
// chain says no more.
const MaxFaults = 100

// mostKept bounds what is remembered of a chain that is wrong everywhere; more
// than are named, because faults are not found in order.
const mostKept = 100 * MaxFaults

// Expected is what a chain is held against.
type Expected struct {
	Today       vehicle.Date // in UTC: texts kept until before today may be gone
	Checkpoints []Checkpoint // taken before; the chain must still agree with each
	Known       bool         // that the chain ends at End, as the store says
	End         Checkpoint
}

// Report is the outcome of a proof.
type Report struct {
	Lines   int64      // how many were read
	Removed int64      // of them without a text, rightly or not
	Last    Checkpoint // the line with the highest number
	Faults  []Fault    // by place; none when the chain is whole
}

// Whole reports whether nothing is wrong.
func (r Report) Whole() bool { return len(r.Faults) == 0 }

// Verify reads a chain from its first line to its end and says what is wrong
// with it. An error of the lines ends it.
func Verify(lines iter.Seq2[Sealed, error], e Expected) (Report, error) {
	v := &verifier{expected: e, trusted: []Digest{{}}, checkpoints: map[int64][]Checkpoint{}}
	for _, c := range e.Checkpoints {
		v.checkpoints[c.Sequence] = append(v.checkpoints[c.Sequence], c)
	}
	for s, err := range lines {
		if err != nil {
			return v.report, err
		}
		v.take(s)
	}
	v.finish()
	return v.report, nil
}

// gap is a run of numbers that were not seen yet.
type gap struct {
	first, last int64
	before      []Digest // what may be the hash before the first
}

// verifier holds what the next line is held against.
type verifier struct {
	expected    Expected
	checkpoints map[int64][]Checkpoint
	report      Report

	// trusted are the hashes that the line before may have: the one it states,
	// and where that one is wrong the one it ought to have. The next line says
	// which of the two the chain was made with.
	trusted []Digest
	doubt   *doubt
	gaps    []gap
	last    Sealed
}

// doubt is a line whose hash is not the one it ought to have.
type doubt struct {
	line  Sealed
	ought []Digest
}

func (v *verifier) fault(at int64, format string, args ...any) {
	if len(v.report.Faults) < mostKept {
		v.report.Faults = append(v.report.Faults, Fault{at, fmt.Sprintf(format, args...)})
	}
}

// take looks at the line that comes next.
func (v *verifier) take(s Sealed) {
	v.report.Lines++
	if s.Text == "" {
		v.report.Removed++
	}
	v.alone(s)
	switch next := v.report.Last.Sequence + 1; {
	case s.Sequence == next:
		v.follows(s)
	case s.Sequence > next:
		v.settle(nil)
		v.gaps = append(v.gaps, gap{next, s.Sequence - 1, v.trusted})
		v.trusted = nil // what stood before this line is not known
		v.follows(s)
	default:
		v.outOfPlace(s)
		return
	}
	v.last, v.report.Last = s, s.Checkpoint()
	v.against(s)
}

// alone looks at what a line says of itself.
func (v *verifier) alone(s Sealed) {
	switch {
	case s.Sequence < 1:
		v.fault(s.Sequence, "There is a line with the number %d; numbers begin at 1.", s.Sequence)
	case s.Text == "":
		if today := v.expected.Today; !s.KeptUntil.Before(today) {
			v.fault(s.Sequence, "The text of line %d is gone, though it is to be kept until %s.", s.Sequence, s.KeptUntil.Long())
		}
	case sha256.Sum256([]byte(s.Text)) != s.TextSHA256:
		v.fault(s.Sequence, "The text of line %d was changed: it is not the one whose digest stands beside it.", s.Sequence)
	default:
		line, err := Parse(s.Text)
		if err != nil {
			v.fault(s.Sequence, "The text of line %d was changed: it is no line of the audit.", s.Sequence)
		} else if KeptUntil(line) != s.KeptUntil {
			v.fault(s.Sequence, "Line %d was changed: its text is to be kept until %s, and it says %s.",
				s.Sequence, KeptUntil(line).Long(), s.KeptUntil.Long())
		}
	}
}

// hashAfter gives the hash that a line ought to have after another.
func (s Sealed) hashAfter(previous Digest) Digest {
	return ChainHash(previous, s.Sequence, s.KeptUntil, s.TextSHA256)
}

// follows holds the hash of a line against those before it.
func (v *verifier) follows(s Sealed) {
	if v.trusted == nil {
		v.trusted = []Digest{s.Hash}
		return
	}
	for i, previous := range v.trusted {
		if s.hashAfter(previous) == s.Hash {
			v.settle(&i)
			v.trusted = []Digest{s.Hash}
			return
		}
	}
	v.settle(nil)
	ought := make([]Digest, len(v.trusted))
	for i, previous := range v.trusted {
		ought[i] = s.hashAfter(previous)
	}
	v.doubt = &doubt{s, ought}
	// The stated one first; of several that it ought to have, the first follows
	// from what the line before states.
	v.trusted = []Digest{s.Hash, ought[0]}
}

// settle says what is wrong with the line in doubt, now that the next one told
// which of its hashes the chain goes on from; nil when none did.
func (v *verifier) settle(which *int) {
	d := v.doubt
	if d == nil {
		return
	}
	v.doubt = nil
	n := d.line.Sequence
	switch {
	case which == nil:
		v.fault(n, "Line %d does not follow from line %d: one of them was changed, put in or taken out here.", n, n-1)
	case *which == 0:
		v.fault(n, "Line %d does not follow from line %d: its text was changed, or line %d was replaced by one with a hash of its own.", n, n-1, n-1)
	default:
		v.fault(n, "The hash of line %d was changed: its text and the lines around it give another.", n)
	}
}

// outOfPlace says what a line is that comes after one of a higher number.
func (v *verifier) outOfPlace(s Sealed) {
	for i, g := range v.gaps {
		if s.Sequence < g.first || s.Sequence > g.last {
			continue
		}
		v.fault(s.Sequence, "Line %d is out of order: it stands after line %d.", s.Sequence, v.report.Last.Sequence)
		v.gaps = slices.Replace(v.gaps, i, i+1, split(g, s)...)
		v.against(s)
		return
	}
	v.fault(s.Sequence, "Line %d is there twice.", s.Sequence)
}

// split takes a line out of a gap.
func split(g gap, s Sealed) []gap {
	var rest []gap
	if g.first < s.Sequence {
		rest = append(rest, gap{g.first, s.Sequence - 1, g.before})
	}
	if s.Sequence < g.last {
		rest = append(rest, gap{s.Sequence + 1, g.last, []Digest{s.Hash}})
	}
	return rest
}

// against holds a line against the checkpoints taken of it.
func (v *verifier) against(s Sealed) {
	for _, c := range v.checkpoints[s.Sequence] {
		if c.Hash != s.Hash {
			v.fault(s.Sequence, "Line %d is not the one of the checkpoint%s: it or a line before it was changed since.", s.Sequence, taken(c))
		}
	}
}

// finish looks at what is missing.
func (v *verifier) finish() {
	v.settle(nil)
	last := v.report.Last.Sequence
	for _, g := range v.gaps {
		v.missing(g.first, g.last, "")
	}
	end := last
	for _, c := range v.expected.Checkpoints {
		if c.Sequence > end {
			v.missing(end+1, c.Sequence, fmt.Sprintf(": the checkpoint%s has them", taken(c)))
			end = c.Sequence
		}
	}
	if v.expected.Known {
		v.ends(last, end)
	}
	slices.SortStableFunc(v.report.Faults, func(a, b Fault) int { return cmp.Compare(a.Sequence, b.Sequence) })
	if len(v.report.Faults) > MaxFaults {
		v.report.Faults = v.report.Faults[:MaxFaults]
	}
}

// ends holds the last line against the end that the store knows of. reported
// is up to where lines were said to be missing.
func (v *verifier) ends(last, reported int64) {
	switch end := v.expected.End; {
	case end.Sequence > last:
		if reported < end.Sequence {
			v.missing(reported+1, end.Sequence, ": the store says that the chain ends there")
		}
	case end.Sequence < last:
		v.fault(end.Sequence+1, "The store says that the chain ends at line %d; what stands after it was put in.", end.Sequence)
	case end.Hash != v.report.Last.Hash:
		v.fault(last, "The last line, %d, is not the one that the store says the chain ends with.", last)
	}
}

func (v *verifier) missing(first, last int64, why string) {
	if first == last {
		v.fault(first, "Line %d is missing%s.", first, why)
		return
	}
	v.fault(first, "Lines %d to %d are missing%s.", first, last, why)
}

// taken tells when a checkpoint was taken, if it says.
func taken(c Checkpoint) string {
	if c.Time.IsZero() {
		return fmt.Sprintf(" at line %d", c.Sequence)
	}
	return fmt.Sprintf(" of %s at line %d", vehicle.DateOf(c.Time.UTC()).Long(), c.Sequence)
}
