package schedule

import (
	"slices"

	"halfshaft/services/vehicle"
)

// UseFact is a dated statement about how a vehicle lives. End is the last day,
// zero while it lasts.
type UseFact struct {
	Kind                  UseKind
	Start, End            vehicle.Date
	FirstMonth, LastMonth int // of the season, 1 to 12, for Seasonal; over the turn of the year when the last is before the first
}

// useSet is a set of kinds of use.
type useSet uint16

func setOf(k UseKind) useSet { return 1 << k }

// day is a number of days since 1970-01-01.
type day int32

const (
	noDay  day = -1 << 30 // no date
	endDay day = 1 << 30  // later than any date
)

func dayOf(d vehicle.Date) day {
	if d.IsZero() {
		return noDay
	}
	return day(d.Ordinal())
}

func (d day) date() vehicle.Date {
	if d == noDay || d == endDay {
		return vehicle.Date{}
	}
	return vehicle.DateFromOrdinal(int(d))
}

// span is a run of days, both ends included.
type span struct{ from, to day }

// spansOf gives the days of the facts of some kinds, in order and joined, in
// the memory of spans.
func spansOf(spans []span, facts []UseFact, kinds useSet) []span {
	for i := range facts {
		f := &facts[i]
		if kinds&setOf(f.Kind) == 0 {
			continue
		}
		s := span{dayOf(f.Start), endDay}
		if !f.End.IsZero() {
			s.to = dayOf(f.End)
		}
		if s.to >= s.from {
			spans = append(spans, s)
		}
	}
	return joined(spans)
}

// joined orders spans and joins those that touch.
func joined(spans []span) []span {
	slices.SortFunc(spans, func(a, b span) int { return int(a.from) - int(b.from) })
	out := spans[:0]
	for _, s := range spans {
		if n := len(out); n > 0 && s.from <= out[n-1].to+1 {
			out[n-1].to = max(out[n-1].to, s.to)
			continue
		}
		out = append(out, s)
	}
	return out
}

// hardUse gives the days of severe use for one item: any of the kinds it
// names, or any two kinds at once where it names none.
func hardUse(facts []UseFact, on useSet) []span {
	if on != 0 {
		return spansOf(nil, facts, on)
	}
	var pairs []span
	for k := SaltCoast; k < LaidUp; k++ {
		one := spansOf(nil, facts, setOf(k))
		rest := spansOf(nil, facts, setOf(LaidUp)-setOf(k+1)) // the kinds after k
		for _, a := range one {
			for _, b := range rest {
				if s := (span{max(a.from, b.from), min(a.to, b.to)}); s.from <= s.to {
					pairs = append(pairs, s)
				}
			}
		}
	}
	return joined(pairs)
}

// firstFrom gives the first day of the spans that is not before d, endDay when
// there is none.
func firstFrom(spans []span, d day) day {
	for _, s := range spans {
		if s.to >= d {
			return max(s.from, d)
		}
	}
	return endDay
}

// coveredBy gives the span that holds d.
func coveredBy(spans []span, d day) (span, bool) {
	for _, s := range spans {
		if s.from <= d && d <= s.to {
			return s, true
		}
	}
	return span{}, false
}
