package forecast_test

import (
	"flag"
	"math"
	"os"
	"slices"
	"testing"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write CALIBRATION.md anew, from many owners; read the difference before committing it")

const (
	mile = float64(vehicle.Mile) // millimetres

	// The constants of the model were chosen with the owners of seeds 1 to
	// 2,500 and the fleet of 1,000,000; these are others.
	reportSeed = 20_000_000
	fleetSeed  = 30_000_000
	askSeed    = 40_000_000
)

// fleet is what a works knows of its own vehicles.
type fleet struct {
	prior  forecast.Prior
	season forecast.Season
}

// newFleet learns from the ten readings of so many owners.
func newFleet(seed uint64, vehicles int) fleet {
	var paces []float64
	var histories []forecast.History
	for i := range vehicles {
		o := newOwner(seed + uint64(i))
		points := o.readings(10)
		var u forecast.Usage
		forecast.Estimate(&u, points, &forecast.Calendar{}, forecast.Assumed(), forecast.Never)
		paces = append(paces, float64(u.PerYear()))
		histories = append(histories, forecast.History{Points: points, LayUps: o.layUps})
	}
	season, _ := forecast.FleetSeason(histories...)
	return fleet{forecast.FleetPrior(paces), season}
}

// calendar takes the vehicle's own season, or the owner's, or the fleet's.
func (f fleet) calendar(o *owner, points []forecast.Point) forecast.Calendar {
	today := points[len(points)-1].Day
	var known []forecast.Span // lay-ups are told of half a year ahead
	for _, s := range o.layUps {
		if s.From <= today+180 {
			known = append(known, s)
		}
	}
	cal := forecast.Calendar{LayUps: forecast.WithHabit(known, today), Season: f.season}
	if o.declared.Source == forecast.Declared {
		cal.Season = o.declared
	}
	if own, ok := forecast.LearnSeason(points, known); ok {
		cal.Season = own
	}
	cal.Index()
	return cal
}

// score gathers one cell of a table.
type score struct {
	inside, all         int
	model, line, knower []float64 // days off
	signed, lineSigned  []float64 // days too late
	noSeason            []float64 // days too late when every day counts the same
}

func (s *score) coverage() float64 { return 100 * float64(s.inside) / float64(s.all) }

func (s *score) ratio() float64 { return middleOf(s.model) / middleOf(s.line) }

func middleOf(values []float64) float64 {
	v := slices.Clone(values)
	slices.Sort(v)
	return v[len(v)/2]
}

// straight is the day by a straight line through the first and the last point.
func straight(points []forecast.Point, miles float64) int32 {
	first, last := points[0], points[len(points)-1]
	way := float64(last.Distance - first.Distance)
	if way <= 0 {
		return last.Day + lifeDays/2
	}
	days := miles * mile / way * float64(last.Day-first.Day)
	return last.Day + int32(math.Min(days, lifeDays/2))
}

// judge forecasts for one owner and compares with what came.
func (f fleet) judge(o *owner, points []forecast.Point, cal *forecast.Calendar, miles float64, s *score) {
	last := points[len(points)-1]
	most := last.Day + lifeDays/2
	days := func(cal *forecast.Calendar) (p10, middle, p90 int32) {
		var u forecast.Usage
		forecast.Estimate(&u, points, cal, f.prior, last.Day)
		a, b, c := u.Reach(miles * mile)
		return min(cal.After(last.Day, a), most), min(cal.After(last.Day, b), most), min(cal.After(last.Day, c), most)
	}
	truth := min(o.reached(float64(last.Distance)/mile+miles), most)
	p10, middle, p90 := days(cal)
	line := straight(points, miles)
	_, plain, _ := days(&forecast.Calendar{})
	s.all++
	if p10 <= truth && truth <= p90 {
		s.inside++
	}
	s.model = append(s.model, math.Abs(float64(middle-truth)))
	s.line = append(s.line, math.Abs(float64(line-truth)))
	s.knower = append(s.knower, math.Abs(float64(o.told(last.Day, miles)-truth)))
	s.signed = append(s.signed, float64(middle-truth))
	s.lineSigned = append(s.lineSigned, float64(line-truth))
	s.noSeason = append(s.noSeason, float64(plain-truth))
}

var (
	counts = []int{1, 3, 10} // readings after the one at delivery
	ways   = []float64{250, 500, 1_500, 3_000}
)

// cell names a cell of the tables.
type cell struct {
	group    string
	readings int
	miles    float64
}

// tables judges many owners, each in the groups that fit.
func (f fleet) tables(seed uint64, owners int) map[cell]*score {
	all := map[cell]*score{}
	for i := range owners {
		o := newOwner(seed + uint64(i))
		reports := o.readings(counts[len(counts)-1])
		for _, n := range counts {
			points := reports[:min(n+1, len(reports))]
			cal := f.calendar(o, points)
			groups := []string{"all", cal.Season.Source.String()}
			if o.seasonal {
				switch date := vehicle.DateFromOrdinal(int(points[len(points)-1].Day)); {
				case date.Month >= 9 && date.Month <= 11:
					groups = append(groups, "autumn")
				case date.Month >= 3 && date.Month <= 5:
					groups = append(groups, "spring")
				}
			}
			for _, miles := range ways {
				var one score
				f.judge(o, points, &cal, miles, &one)
				for _, g := range groups {
					all[cell{g, n, miles}] = all[cell{g, n, miles}].with(&one)
				}
			}
		}
	}
	return all
}

// with adds the counts of another.
func (s *score) with(o *score) *score {
	if s == nil {
		s = &score{}
	}
	s.inside, s.all = s.inside+o.inside, s.all+o.all
	s.model, s.line, s.knower = append(s.model, o.model...), append(s.line, o.line...), append(s.knower, o.knower...)
	s.signed, s.lineSigned, s.noSeason = append(s.signed, o.signed...), append(s.lineSigned, o.lineSigned...), append(s.noSeason, o.noSeason...)
	return s
}

func TestTheRangeHoldsAsOftenAsItSays(t *testing.T) {
	f := newFleet(fleetSeed, 60)
	all := f.tables(reportSeed, 500)
	for _, n := range counts {
		for _, miles := range ways {
			s := all[cell{"all", n, miles}]
			// Of 500 owners 400 are expected inside, give or take 9 by chance.
			if c := s.coverage(); c < 74 || c > 86 {
				t.Errorf("%d readings, %g miles: %.1f %% in the 80 %% range", n, miles, c)
			}
			if r := s.ratio(); r > 1.25 {
				t.Errorf("%d readings, %g miles: %.2f times the error of a straight line", n, miles, r)
			}
		}
		if s := all[cell{"all", n, 500}]; s.ratio() > 0.9 {
			t.Errorf("%d readings, 500 miles: %.2f times the error of a straight line", n, s.ratio())
		}
	}
}

func TestAskingWhenItMattersTakesFewRequests(t *testing.T) {
	f := newFleet(fleetSeed, 60)
	nobody, quarterly, worth := f.ask(80, askNobody), f.ask(80, askQuarterly), f.ask(80, askWhenWorth(forecast.UsualAsking()))
	if worth.asked*4 > quarterly.asked {
		t.Errorf("%d requests, every quarter makes %d", worth.asked, quarterly.asked)
	}
	if worth.late+worth.wrong >= nobody.late+nobody.wrong {
		t.Errorf("%d late or wrong notices, without asking %d", worth.late+worth.wrong, nobody.late+nobody.wrong)
	}
}

// ask plays so many owners under a rule.
func (f fleet) ask(owners int, how rule) *outcome {
	var out outcome
	for i := range owners {
		f.play(newOwner(askSeed+uint64(i)), how, &out)
	}
	return &out
}

func TestCalibrationIsWrittenAnew(t *testing.T) {
	if !*update {
		t.Skip("only with -update; the long form compares")
	}
	if err := os.WriteFile("CALIBRATION.md", []byte(report()), 0o644); err != nil {
		t.Fatal(err)
	}
}
