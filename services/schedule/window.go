package schedule

import "halfshaft/services/vehicle"

// Window is when a due item may well be done. Zero dates where nothing is to be
// done, or where the day is not in sight.
type Window struct {
	SensibleFrom vehicle.Date // one of its limits is used up to five sixths
	Latest       vehicle.Date // one of its limits is passed by a tenth
}

// The window's edges, as parts of a limit (common practice, no source: work is
// brought forward by two months of a year, and a tenth over is let pass).
const (
	sensibleParts, sensibleOf = 5, 6
	latestParts, latestOf     = 11, 10
)

// Window gives an item's window. What an event started has none after its due
// date, save where it does no good before: those are checks of what was just
// fitted, or of what may be harmed.
func (s *Schedule) Window(st *Status) Window {
	if !st.Open() || st.anchor == noDay || st.due == noDay {
		return Window{}
	}
	from, latest := st.anchor, st.due
	if st.basis == basisEvent {
		from = max(from, st.notBy)
		latest = max(latest, from)
	} else {
		from = min(s.part(st, sensibleParts, sensibleOf), st.due)
		latest = max(s.part(st, latestParts, latestOf), st.due)
	}
	if st.actBy != noDay {
		latest = max(latest, st.actBy)
	}
	return Window{from.date(), latest.date()}
}

// part gives the day on which that part of the time or of the distance is over,
// whichever comes first.
func (s *Schedule) part(st *Status, parts, of int64) day {
	first := endDay
	if st.timeDue != noDay {
		begin := st.anchor
		if st.kept != noDay {
			begin = min(begin, st.kept)
		}
		first = begin + day(int64(st.timeDue-begin)*parts/of)
	}
	if st.limit > 0 {
		first = min(first, max(st.anchor, st.here, s.when(st.anchorAt+vehicle.Distance(int64(st.limit)*parts/of))))
	}
	return first
}
