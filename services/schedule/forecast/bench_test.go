package forecast_test

import (
	"testing"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// twenty readings, uneven ones.
func twenty() []forecast.Point {
	var points []forecast.Point
	at := vehicle.Distance(0)
	for i := range int32(20) {
		points = append(points, forecast.Point{Day: 18_000 + i*91 + i*i%17, Distance: at})
		at += vehicle.Distance(100+(i*i*37)%400) * vehicle.Mile
	}
	return points
}

func BenchmarkEstimateOfTwentyPoints(b *testing.B) {
	points, cal := twenty(), forecast.Calendar{Season: forecast.InMonths(5, 10), LayUps: winters()}
	cal.Index()
	var u forecast.Usage
	b.ReportAllocs()
	for b.Loop() {
		forecast.Estimate(&u, points, &cal, forecast.Assumed(), 25_000)
	}
}

func BenchmarkReach(b *testing.B) {
	points, cal := twenty(), forecast.Calendar{}
	var u forecast.Usage
	forecast.Estimate(&u, points, &cal, forecast.Assumed(), 25_000)
	b.ReportAllocs()
	sum := 0.0
	for b.Loop() {
		p10, median, p90 := u.Reach(3e9)
		sum += p10 + median + p90
	}
}

func BenchmarkProbability(b *testing.B) {
	points, cal := twenty(), forecast.Calendar{}
	var u forecast.Usage
	forecast.Estimate(&u, points, &cal, forecast.Assumed(), 25_000)
	sum := 0.0
	for b.Loop() {
		sum += u.Probability(3e9, 300)
	}
}

func BenchmarkDayOfATime(b *testing.B) {
	for _, c := range []struct {
		name string
		cal  forecast.Calendar
	}{
		{"plain", forecast.Calendar{}},
		{"season", forecast.Calendar{Season: forecast.InMonths(5, 10)}},
		{"lay-ups", forecast.Calendar{LayUps: winters()}},
		{"season and lay-ups", forecast.Calendar{Season: forecast.InMonths(5, 10), LayUps: winters()}},
	} {
		b.Run(c.name, func(b *testing.B) {
			c.cal.Index()
			for b.Loop() {
				c.cal.After(20_500, 300)
			}
		})
	}
}

func BenchmarkLearnSeason(b *testing.B) {
	points := twenty()
	for b.Loop() {
		forecast.LearnSeason(points, nil)
	}
}
