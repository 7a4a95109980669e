package vehicle

import "bytes"

// Slips gives every serial from which what was heard is one slip away, for
// staff to ask the caller about; it never decides for them. A slip is
//
//   - the letter O for the digit 0 or I for 1 or the reverse, once or all
//     through (these come first: they are the most frequent by far),
//   - two neighbours swapped,
//   - a character doubled,
//   - two characters swapped across a third,
//   - any other character put for another, or not understood (anything that
//     is no letter, digit or separator, as the '?' in "AM01?7P"),
//   - a character left out.
//
// Within a kind the order is by the place of the slip, then by the character.
// What was heard is itself never in the list, and each serial is there once.
// Nothing is found in text of the wrong length.
func Slips(heard string) []Serial {
	if spelled, ok := unspoken(heard); ok {
		heard = spelled
	}
	var buffer [maxBody + 2]byte
	text, ok := hear(buffer[:0], heard)
	if !ok {
		return nil
	}
	s := slipper{heard: text}
	s.lookAlikes()
	s.swaps(1)
	s.doubled()
	s.swaps(2)
	s.substitutions()
	s.missing()
	return s.found
}

// hear is normalise for a doubtful ear: what is neither character nor
// separator stays in its place as '?'.
func hear(dst []byte, text string) ([]byte, bool) {
	if len(text) > maxHeard {
		return nil, false
	}
	for _, r := range text {
		if isSeparator(r) {
			continue
		}
		if len(dst) == cap(dst) {
			return nil, false
		}
		c, ok := upper(r)
		if !ok {
			c = '?'
		}
		dst = append(dst, c)
	}
	return dst, len(dst) >= minBody
}

// slipper collects the serials that undo one slip of heard.
type slipper struct {
	heard []byte
	found []Serial
}

// try keeps a candidate that is a serial, other than heard, and new.
func (s *slipper) try(candidate []byte) {
	if bytes.Equal(candidate, s.heard) || !validSerial(candidate) {
		return
	}
	for _, f := range s.found {
		if string(f) == string(candidate) {
			return
		}
	}
	s.found = append(s.found, Serial(candidate))
}

// with gives a copy of heard to change.
func (s *slipper) with() []byte { return bytes.Clone(s.heard) }

// twin is the digit that a letter is taken for, or the reverse; 0 for none.
func twin(c byte) byte {
	switch c {
	case 'O':
		return '0'
	case '0':
		return 'O'
	case 'I':
		return '1'
	case '1':
		return 'I'
	}
	return 0
}

// lookAlikes tries each O, 0, I and 1 for its twin, then all of one kind at
// once: who says "oh" for zero says it every time.
func (s *slipper) lookAlikes() {
	for i, c := range s.heard {
		if t := twin(c); t != 0 {
			candidate := s.with()
			candidate[i] = t
			s.try(candidate)
		}
	}
	noOh := bytes.ReplaceAll(s.heard, []byte("O"), []byte("0"))
	s.try(noOh)
	s.try(bytes.ReplaceAll(s.heard, []byte("I"), []byte("1")))
	s.try(bytes.ReplaceAll(noOh, []byte("I"), []byte("1")))
}

// swaps tries each pair of characters that far apart the other way round.
func (s *slipper) swaps(apart int) {
	for i := range len(s.heard) - apart {
		candidate := s.with()
		candidate[i], candidate[i+apart] = candidate[i+apart], candidate[i]
		s.try(candidate)
	}
}

// doubled tries each pair of equal neighbours as one character.
func (s *slipper) doubled() {
	for i := range len(s.heard) - 1 {
		if s.heard[i] == s.heard[i+1] {
			s.try(append(bytes.Clone(s.heard[:i]), s.heard[i+1:]...))
		}
	}
}

// substitutions tries every other character in every place.
func (s *slipper) substitutions() {
	candidate := s.with()
	for i, was := range s.heard {
		for v := range modulus - 1 {
			candidate[i] = characterOf(v)
			s.try(candidate)
		}
		candidate[i] = was
	}
}

// missing tries every character before, between and after those heard.
func (s *slipper) missing() {
	candidate := make([]byte, len(s.heard)+1)
	for i := range candidate {
		copy(candidate, s.heard[:i])
		copy(candidate[i+1:], s.heard[i:])
		for v := range modulus - 1 {
			candidate[i] = characterOf(v)
			s.try(candidate)
		}
	}
}
