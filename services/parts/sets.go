package parts

import (
	"math/bits"
	"slices"
	"sync"
)

// docID numbers a part within a catalogue. It stays the same while the part is
// in it.
type docID uint32

// set is a set of parts: a list in order; or where it has many, a bit for
// every part of the catalogue; or a question to each part.
type set struct {
	list  []docID
	bits  bitmap              // instead of the list
	ask   func(id docID) bool // instead of either, until it is counted
	count func()              // turns the question into bits
	n     int                 // of a question an estimate, too high
}

// dense is the share of the catalogue, as 1/dense, from which bits take less
// room than a list.
const dense = 32

func (s *set) add(id docID) {
	switch {
	case s.bits != nil:
		s.bits = s.bits.grown(id)
		s.bits.put(id)
	case len(s.list) == 0 || s.list[len(s.list)-1] < id:
		s.list = append(s.list, id)
	default:
		at, _ := slices.BinarySearch(s.list, id)
		s.list = slices.Insert(s.list, at, id)
	}
	s.n++
}

func (s *set) remove(id docID) {
	if s.bits != nil {
		s.bits[id/64] &^= 1 << (id % 64)
	} else if at, ok := slices.BinarySearch(s.list, id); ok {
		s.list = slices.Delete(s.list, at, at+1)
	}
	s.n--
}

// shape chooses between list and bits for a catalogue of that many parts, with
// a margin so that it does not choose to and fro.
func (s *set) shape(parts int) {
	switch {
	case s.bits == nil && s.n*dense > parts && s.n > dense:
		s.bits = newBitmap(parts)
		for _, id := range s.list {
			s.bits.put(id)
		}
		s.list = nil
	case s.bits != nil && s.n*dense*2 < parts:
		s.list = make([]docID, 0, s.n)
		for id := range s.bits.each {
			s.list = append(s.list, id)
		}
		s.bits = nil
	case s.bits != nil:
		s.bits = s.bits.grown(docID(parts))
	case cap(s.list)-len(s.list) > len(s.list)/8+4:
		s.list = slices.Clip(append(make([]docID, 0, len(s.list)), s.list...))
	}
}

// has looks a part up; from is where to look in a list, and moves on with it:
// what is asked for must not go back.
func (s *set) has(id docID, from *int) bool {
	switch {
	case s.bits != nil:
		return s.bits.has(id)
	case s.ask != nil:
		return s.ask(id)
	}
	list := s.list[*from:]
	step := 1
	for step < len(list) && list[step] < id {
		step *= 2
	}
	low := step / 2
	at, ok := slices.BinarySearch(list[low:min(step+1, len(list))], id)
	*from += low + at
	return ok
}

// bitmap has a bit for each number.
type bitmap []uint64

func newBitmap(n int) bitmap                 { return make(bitmap, n/64+1) }
func (b bitmap) put(id docID)                { b[id/64] |= 1 << (id % 64) }
func (b bitmap) has(id docID) bool           { return int(id/64) < len(b) && b[id/64]&(1<<(id%64)) != 0 }
func (b bitmap) each(yield func(docID) bool) { eachBit(b, 0, yield) }

func (b bitmap) wipe() {
	for i := range b {
		b[i] = 0
	}
}

func eachBit(words []uint64, first docID, yield func(docID) bool) bool {
	for i, w := range words {
		for ; w != 0; w &= w - 1 {
			if !yield(first + docID(i*64+bits.TrailingZeros64(w))) {
				return false
			}
		}
	}
	return true
}

func (b bitmap) grown(id docID) bitmap {
	if more := int(id/64) + 1 - len(b); more > 0 {
		return append(b, make(bitmap, more)...)
	}
	return b
}

// merge puts in everything that a set has.
func (b bitmap) merge(s *set) {
	for i, w := range s.bits {
		b[i] |= w
	}
	for _, id := range s.list {
		b.put(id)
	}
}

// scratch lends bitmaps to one search, so that none allocates by the size of
// the catalogue.
type scratch struct {
	kept []bitmap
	used int
}

var scratches = sync.Pool{New: func() any { return new(scratch) }}

// empty lends a bitmap for n parts without any.
func (s *scratch) empty(n int) bitmap {
	if s.used == len(s.kept) {
		s.kept = append(s.kept, nil)
	}
	b := s.kept[s.used]
	if words := n/64 + 1; cap(b) < words {
		b = make(bitmap, words)
	} else {
		b = b[:words]
		b.wipe()
	}
	s.kept[s.used] = b
	s.used++
	return b
}

// giveBack ends the use of everything lent.
func (s *scratch) giveBack() {
	s.used = 0
	scratches.Put(s)
}
