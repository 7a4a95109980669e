package figure

import (
	"strings"
	"unicode"
)

// A figure does not know the font in which it will be drawn, so it reckons
// with a wide one: no character is reckoned narrower than it is in DejaVu
// Sans, one of the widest fonts that stand behind system-ui. A bold letter is
// about a tenth wider than its plain one.

// width is how wide a text of a size is at most.
func width(text string, size float64, bold bool) float64 {
	sum := 0.0
	for _, r := range text {
		sum += advance(r)
	}
	if bold {
		sum *= 1.12
	}
	return sum * size
}

// advance is the width of a character of size 1. That none of Latin-1 and
// Latin Extended-A is wider in DejaVu Sans was measured with Chromium.
func advance(r rune) float64 {
	switch {
	case strings.ContainsRune("ijl'|", r):
		return 0.36
	case strings.ContainsRune("frtI.,:;!()[]/ -·\u00a0\u202f", r):
		return 0.45
	case strings.ContainsRune("mwMWµ%@&#^~+=<>±÷×¬≤≥–−…©®¼½¾Ææ", r), r > 0xff:
		return 1.08
	case unicode.IsUpper(r):
		return 0.79
	}
	return 0.65
}

// fitted shortens a text that is wider than most, and marks where it was cut.
func fitted(text string, most, size float64, bold bool) string {
	if width(text, size, bold) <= most {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		short := strings.TrimRight(string(runes[:n]), " ,;:.-(") + "…"
		if width(short, size, bold) <= most {
			return short
		}
	}
	return ""
}

// wrapped breaks a text into lines that are no wider than most. A word that is
// wider by itself is cut.
func wrapped(text string, most, size float64) []string {
	var lines []string
	for _, word := range strings.Fields(text) {
		if n := len(lines); n > 0 && width(lines[n-1]+" "+word, size, false) <= most {
			lines[n-1] += " " + word
		} else {
			lines = append(lines, fitted(word, most, size, false))
		}
	}
	return lines
}

// box is an upright rectangle that is taken on the sheet.
type box struct{ left, top, right, bottom float64 }

// boxOf is the room a text takes: from the top of its capitals and accents to
// the bottom of its descenders.
func boxOf(t Text) box {
	w := width(t.Text, t.Size, t.Bold)
	left := t.At.X
	switch t.Anchor {
	case Middle:
		left -= w / 2
	case End:
		left -= w
	}
	return box{left, t.At.Y - 0.82*t.Size, left + w, t.At.Y + 0.26*t.Size}
}

func (b box) grown(by float64) box {
	return box{b.left - by, b.top - by, b.right + by, b.bottom + by}
}

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

func (b box) within(o box) bool {
	return b.left >= o.left && b.right <= o.right && b.top >= o.top && b.bottom <= o.bottom
}

// crossed says whether the line from p to q has a part in the box.
func (b box) crossed(p, q Point) bool {
	from, to := 0.0, 1.0
	for _, side := range [4][2]float64{
		{p.X - q.X, p.X - b.left}, {q.X - p.X, b.right - p.X},
		{p.Y - q.Y, p.Y - b.top}, {q.Y - p.Y, b.bottom - p.Y},
	} {
		switch direction, room := side[0], side[1]; {
		case direction == 0 && room < 0:
			return false
		case direction < 0:
			from = max(from, room/direction)
		case direction > 0:
			to = min(to, room/direction)
		}
	}
	return from <= to
}
