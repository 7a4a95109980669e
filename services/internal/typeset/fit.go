package typeset

// Strip is a part of a column of text that is never parted: a line, as a rule.
type Strip struct {
	Before float64 // space above it, unless it is the first of a page
	Height float64
	Keep   Keep // how much it matters that the next strip is on the same page
}

// Keep says how much it matters that two strips stay on one page. Where not all
// can be kept, what matters least is parted.
type Keep int

// What matters less and what matters more. The zero value is a place where a
// page may end.
const (
	Free   Keep = iota
	Loose       // rows of a group
	Soft        // blocks that stay together, fields
	Paired      // a group's first two and last two rows
	Firm        // the first two and the last two lines of a paragraph
	Whole       // lines of a row, of a step beside a caution
	Hard        // a heading and what it heads, a caution and its step
)

// Fit is how many strips go onto a page of a height; at least one, so that
// there is an end.
func Fit(strips []Strip, room float64) int {
	used := 0.0
	var last, fill [Hard + 1]int // where a page may end, by what that parts
	for i, s := range strips {
		if i > 0 {
			used += s.Before
		}
		if used += s.Height; used > room {
			return best(last, fill, max(i, 1))
		}
		last[s.Keep], fill[s.Keep] = i+1, int(100*used/room)
	}
	return len(strips)
}

// How full a page is at least, in percent, before a group of rows is parted to
// fill it, and what belongs together otherwise. A table goes on below its head
// on the next page, so little is lost where it is parted; a page
// that is empty below looks as if something were missing.
const (
	emptiestLoose = 85
	emptiestSoft  = 35
)

func best(last, fill [Hard + 1]int, most int) int {
	if last[Loose] > last[Free] && fill[Free] < emptiestLoose {
		last[Free], fill[Free] = last[Loose], fill[Loose]
	}
	if last[Soft] > last[Free] && fill[Free] < emptiestSoft {
		return last[Soft]
	}
	for _, n := range last {
		if n > 0 {
			return n
		}
	}
	return most
}
