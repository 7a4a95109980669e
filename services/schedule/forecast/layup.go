package forecast

import "math"

// What makes lay-ups a habit.
const (
	shortRest  = 45  // days: less is an absence
	longRest   = 300 // days: more is no winter
	restVaries = 60  // days by which two beginnings may differ, but for the year
	restStale  = 400 // days after which a lay-up that was not repeated was the last
	restsAhead = 12  // years that are filled in
)

// WithHabit appends to the lay-ups those that are to be expected: where the last
// two came a year apart, the last is repeated in each of the next twelve years.
// Nothing is appended where the last one is open, or the habit was given up, or
// there is but one. A distance to be driven over some years is reached too early
// on paper when only the winter that was told of is left out.
func WithHabit(layUps []Span, today int32) []Span {
	n := len(layUps)
	if n < 2 || !winter(layUps[n-1]) || !winter(layUps[n-2]) {
		return layUps
	}
	last := layUps[n-1]
	apart := float64(last.From - layUps[n-2].From)
	if math.Abs(apart-yearDays) > restVaries || today-last.To > restStale {
		return layUps
	}
	for k := 1; k <= restsAhead; k++ {
		shift := int32(math.Round(float64(k) * yearDays))
		if next := (Span{last.From + shift, last.To + shift}); next.From > today {
			layUps = append(layUps, next)
		}
	}
	return layUps
}

func winter(s Span) bool {
	days := s.To - s.From + 1
	return days >= shortRest && days <= longRest
}
