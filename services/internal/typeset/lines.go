package typeset

import (
	"math"
	"slices"
	"strings"
)

// line is a line of words, ready to be placed.
type line struct {
	pieces []placed
	width  float64
}

// placed is a piece with where it begins, from the left of its line.
type placed struct {
	piece
	x float64
}

// broken sets words in lines of a width, ragged right, so that over the whole
// paragraph the lines are as even as can be: the sum of the squares of what is
// left over is least. The last line may be short, but not a few letters.
func (t *typefaces) broken(words []word, width, size float64) []line {
	words = t.narrow(words, width, size)
	ends := fit(words, width)
	var all []line
	from := 0
	for _, end := range ends {
		all, from = append(all, joined(words[from:end], end < len(words))), end
	}
	return all
}

// What else counts, in squares of hundredths of the width that are left over.
const (
	runt      = 1500.0 // a last line of a few letters
	hyphenate = 150.0  // a hyphen that was added
)

// fit finds behind which words lines end.
func fit(words []word, width float64) (ends []int) {
	n := len(words)
	best, back := make([]float64, n+1), make([]int, n+1)
	for end := 1; end <= n; end++ {
		best[end] = math.Inf(1)
		natural := 0.0
		for from := end - 1; from >= 0; from-- {
			natural += words[from].width
			if from < end-1 {
				natural += words[from+1].space
			}
			if from < end-1 && natural+words[end-1].hyphenAt(end < n) > width+slip {
				break
			}
			if c := best[from] + cost(words[from:end], natural, width, end == n, from > 0); c < best[end] {
				best[end], back[end] = c, from
			}
		}
	}
	for at := n; at > 0; at = back[at] {
		ends = append(ends, at)
	}
	slices.Reverse(ends)
	return ends
}

// shortest is the share of the width below which a last line looks left over.
const shortest = 0.2

// slip is what a line may be too wide by, for sums that are not exact.
const slip = 1e-6

func (w word) hyphenAt(broken bool) float64 {
	if broken {
		return w.hyphen
	}
	return 0
}

func cost(words []word, natural, width float64, last, more bool) float64 {
	left := 100 * (width - natural) / width
	switch {
	case last && more && natural < width*shortest:
		if len(words) == 1 {
			return runt
		}
		return runt * (1 - natural/(width*shortest))
	case last:
		return 0
	case words[len(words)-1].hyphen > 0:
		return left*left + hyphenate
	}
	return left * left
}

// narrow parts words that are wider than a line: at the spaces that are not
// broken at otherwise, and where that is not enough, between letters.
func (t *typefaces) narrow(words []word, width, size float64) (all []word) {
	for _, w := range words {
		if w.width <= width {
			all = append(all, w)
			continue
		}
		for _, part := range t.unglued(w, size) {
			all = append(all, t.cut(part, width, size)...)
		}
	}
	return all
}

// unglued parts a word at its spaces.
func (t *typefaces) unglued(w word, size float64) (all []word) {
	one := word{space: w.space}
	for _, p := range w.pieces {
		for i, text := range strings.Split(p.text, "\u00a0") {
			if i > 0 {
				all, one = append(all, one), word{space: t.width(" ", p.face, size)}
			}
			if text != "" {
				q := p
				q.text, q.width = text, t.width(text, p.face, size)
				one.pieces, one.width = append(one.pieces, q), one.width+q.width
			}
		}
	}
	one.hyphen = w.hyphen
	return append(all, one)
}

// cut parts a word that is wider than a line between letters.
func (t *typefaces) cut(w word, width, size float64) (all []word) {
	if w.width <= width {
		return []word{w}
	}
	one := word{space: w.space}
	for _, p := range w.pieces {
		measure := func(text string) float64 { return t.width(text, p.face, size) }
		for _, part := range cutAfter(p.text, width-one.width, width, measure) {
			if one.width+measure(part) > width && one.width > 0 {
				all, one = append(all, one), word{}
			}
			q := p
			q.text, q.width = part, measure(part)
			one.pieces, one.width = append(one.pieces, q), one.width+q.width
		}
	}
	one.hyphen = w.hyphen
	return append(all, one)
}

// cutAfter cuts a text, the first part of which has less room.
func cutAfter(text string, first, width float64, measure func(string) float64) []string {
	if measure(text) <= first {
		return []string{text}
	}
	return Cut(text, width, measure)
}

// joined places the words of one line.
func joined(words []word, goesOn bool) line {
	var l line
	for i, w := range words {
		if i > 0 {
			l.space(w)
		}
		for _, p := range w.pieces {
			l.add(p)
		}
		if i == len(words)-1 && goesOn && w.hyphen > 0 && len(w.pieces) > 0 {
			p := w.pieces[len(w.pieces)-1]
			p.text, p.width = "-", w.hyphen
			l.add(p)
		}
	}
	return l
}

// space puts a space before a word, into the piece before it, so that what is
// copied out of the file has it too.
func (l *line) space(next word) {
	if next.space == 0 || len(l.pieces) == 0 {
		return
	}
	last := &l.pieces[len(l.pieces)-1]
	last.text, last.width = last.text+" ", last.width+next.space
	l.width += next.space
}

// add puts a piece at the end, joined with one like it.
func (l *line) add(p piece) {
	if n := len(l.pieces); n > 0 && l.pieces[n-1].face == p.face && l.pieces[n-1].link == p.link {
		last := &l.pieces[n-1]
		last.text, last.width = last.text+p.text, last.width+p.width
	} else {
		l.pieces = append(l.pieces, placed{p, l.width})
	}
	l.width += p.width
}
