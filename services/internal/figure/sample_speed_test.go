package figure_test

import "halfshaft/services/internal/figure"

// tallerTyres is the speedometer of AM0118Z, whose owner fitted taller tyres.
func tallerTyres() figure.Speedometer {
	s := figure.Speedometer{Vehicle: "AM0118Z", Curves: []figure.SpeedCurve{{Name: "before, 205R16"}, {Name: "after, 7.50-16"}}}
	for _, kmh := range []float64{20, 40, 60, 80, 100, 120} {
		s.Curves[0].Points = append(s.Curves[0].Points, figure.SpeedPoint{True: kmh, Shown: kmh * 1.05})
		s.Curves[1].Points = append(s.Curves[1].Points, figure.SpeedPoint{True: kmh, Shown: kmh * 0.966})
	}
	return s
}

// eightGears are the gears of a vehicle with a range of four high and of four
// low: 17.0 mph at 1,000 rev/min in top, 2.25 in the lowest.
func eightGears() figure.RoadSpeeds {
	g := figure.RoadSpeeds{Vehicle: "AM0147P", From: 700, To: 4200}
	for i, ratio := range []float64{2.996, 2.05, 1.377, 1} {
		name := []string{"1st", "2nd", "3rd", "4th"}[i]
		g.Gears = append(g.Gears,
			figure.Gear{Name: name + ", high", Range: 0, Speed: 27.32 / ratio},
			figure.Gear{Name: name + ", low", Range: 1, Speed: 27.32 * 1.148 / 2.888 / ratio})
	}
	return g
}

// twoGears have names that are too long for the room beside their lines.
func twoGears() figure.RoadSpeeds {
	return figure.RoadSpeeds{Vehicle: "AM0149T", From: 0, To: 3800, Gears: []figure.Gear{
		{Name: "Overdrive on top gear, high range", Speed: 34}, {Name: "Top gear in the high range of the transfer box", Speed: 33},
	}}
}
