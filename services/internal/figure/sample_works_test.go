package figure_test

import (
	"math"

	"halfshaft/services/internal/figure"
)

// campaign is the completion of C-2026-01 with three rounds of letters.
func campaign() figure.Completion {
	c := figure.Completion{
		Name: "C-2026-01, gearbox bearing", Total: 37, Today: day("2026-11-27"),
		Points: []figure.CompletionPoint{{On: day("2026-01-19")}},
		Letters: []figure.Letter{
			{On: day("2026-02-02"), Name: "first letter", Sent: 34}, {On: day("2026-05-04"), Name: "second letter", Sent: 15},
			{On: day("2026-09-28"), Name: "third letter", Sent: 8},
		},
	}
	on := day("2026-02-10")
	for done := 1; done <= 31; done++ {
		c.Points = append(c.Points, figure.CompletionPoint{On: on, Done: done})
		on = on.AddDays(1 + done*done%11*3/2)
		if done == 19 {
			on = on.AddDays(40)
		}
	}
	return c
}

// weeklyLoad is what falls due at the works from today's week on.
func weeklyLoad(weeks int, capacity float64) figure.Load {
	l := figure.Load{Name: "Aldermoor Works", Unit: "vehicles", Capacity: capacity}
	for i := range weeks {
		l.Weeks = append(l.Weeks, figure.Week{From: day("2026-11-23").AddDays(7 * i), Due: math.Floor(3.5 + 3.4*math.Sin(float64(i)/3.1) + float64(i*i%5)*0.7)})
	}
	return l
}
