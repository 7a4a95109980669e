package schedulestore

import (
	"bytes"
	"encoding/binary"
	"iter"
	"slices"
)

// Stored is one record as it was marshalled, a tenth of its size as a message,
// and the revision that wrote it. Its bytes are not to be changed.
type Stored struct {
	ID       []byte
	Value    []byte
	Revision int64
}

// packed is the records of one kind of one vehicle, in order of identifier and
// one behind the other. A works has some hundred thousand records, and a
// slice, a string and a header for each would cost more than what they say.
//
// A record is the length of its identifier, the identifier, its revision, the
// length of its value and the value; the numbers are unsigned varints. What is
// packed is never changed, only packed anew.
type packed []byte

func (p packed) all() iter.Seq[Stored] {
	return func(yield func(Stored) bool) {
		for rest := p; len(rest) > 0; {
			var s Stored
			s, rest = rest.next()
			if !yield(s) {
				return
			}
		}
	}
}

// next takes the first record off.
func (p packed) next() (Stored, packed) {
	id, p := p.bytes()
	revision, n := binary.Uvarint(p)
	value, rest := p[n:].bytes()
	return Stored{id, value, int64(revision)}, rest
}

func (p packed) bytes() ([]byte, packed) {
	length, n := binary.Uvarint(p)
	end := n + int(length)
	return p[n:end:end], p[end:]
}

func (p packed) count() int {
	n := 0
	for range p.all() {
		n++
	}
	return n
}

// change is a record's new state; one without a Value is gone.
type change struct {
	Stored
	gone bool
}

// with gives the records after changes, of which the last of an identifier
// counts. All the changes of a vehicle are packed at once, because a fleet that
// is loaded record by record would be packed over and over.
func (p packed) with(changes []change) packed {
	slices.SortStableFunc(changes, func(a, b change) int { return bytes.Compare(a.ID, b.ID) })
	size := len(p)
	for _, c := range changes {
		size += len(c.ID) + len(c.Value) + 3*binary.MaxVarintLen32
	}
	out := make(packed, 0, size)
	take := func() {
		c := changes[0]
		changes = changes[1:]
		if !c.gone && (len(changes) == 0 || !bytes.Equal(changes[0].ID, c.ID)) {
			out = out.append(c.Stored)
		}
	}
	for have := range p.all() {
		replaced := false
		for len(changes) > 0 && bytes.Compare(changes[0].ID, have.ID) <= 0 {
			replaced = replaced || bytes.Equal(changes[0].ID, have.ID)
			take()
		}
		if !replaced {
			out = out.append(have)
		}
	}
	for len(changes) > 0 {
		take()
	}
	return slices.Clone(out) // to its size: it stays for long
}

func (p packed) append(s Stored) packed {
	p = binary.AppendUvarint(p, uint64(len(s.ID)))
	p = append(p, s.ID...)
	p = binary.AppendUvarint(p, uint64(s.Revision))
	p = binary.AppendUvarint(p, uint64(len(s.Value)))
	return append(p, s.Value...)
}
