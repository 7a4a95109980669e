package forecast

// SeasonSource says where the weights of the months come from.
type SeasonSource uint8

// The sources, in the order in which the better one is to be preferred last.
const (
	Uniform  SeasonSource = iota // no season is known: every day counts the same
	Fleet                        // from the fleet's readings
	Declared                     // the owner said so
	Learned                      // from the vehicle's own readings
)

// Season is the weight of a day in each month, January first, with a mean of 1
// over the days of a year. The zero value is no season: the weights are read
// only when the source is not Uniform.
type Season struct {
	Weights [12]float64
	Source  SeasonSource

	common float64 // sum over the days of a common year; 0 when not yet known
}

// InMonths is the season of a vehicle used from one month to another, both
// included and counted from 1, over the turn of the year when the last is
// before the first. Months out of 1 to 12 give no season.
func InMonths(first, last int) Season {
	if first < 1 || first > 12 || last < 1 || last > 12 {
		return Season{}
	}
	s := Season{Source: Declared}
	for m := first - 1; ; m = (m + 1) % 12 {
		s.Weights[m] = 1
		if m == last-1 {
			break
		}
	}
	s.normalise()
	return s
}

// normalise brings the mean over the days of a mean year to 1.
func (s *Season) normalise() {
	sum := s.Weights[1] * 0.2425
	for m, w := range s.Weights {
		sum += w * float64(monthDays[m])
	}
	if sum <= 0 {
		*s = Season{}
		return
	}
	for m := range s.Weights {
		s.Weights[m] *= yearDays / sum
	}
	s.common = yearDays - s.Weights[1]*0.2425
}

// year is the time in a common year.
func (s *Season) year() float64 {
	if s.common > 0 {
		return s.common
	}
	all := 0.0
	for m, w := range s.Weights {
		all += w * float64(monthDays[m])
	}
	return all
}

// months gives the run of months, counted from 1, in which the vehicle is used:
// the shortest that holds nine tenths of the use. It reports false when that is
// over nine months, which is no season worth a word.
func (s *Season) months() (first, last int, ok bool) {
	if s.Source == Uniform {
		return 0, 0, false
	}
	for n := 1; n <= 9; n++ {
		best, from := 0.0, 0
		for m := range 12 {
			sum := 0.0
			for k := range n {
				sum += s.Weights[(m+k)%12] * float64(monthDays[(m+k)%12])
			}
			if sum > best {
				best, from = sum, m
			}
		}
		if best >= 0.9*yearDays*(1-1e-3) {
			return from + 1, (from+n-1)%12 + 1, true
		}
	}
	return 0, 0, false
}
