package figure_test

import (
	"fmt"
	"math"

	"halfshaft/services/internal/figure"
)

// wearingShaft is the output shaft of AM01082, outside its window and on its
// way to its action limit.
func wearingShaft() figure.Measured {
	m := figure.Measured{
		Name: "End float of the output shaft bearing of AM01082", Unit: "mm", Decimals: 2, Today: day("2026-11-27"),
		Lower: new(0.05), Upper: new(0.15), Action: new(0.25), Chance: 80,
		Meets: &figure.Meeting{Limit: 0.25, Early: figure.Place{On: day("2029-01-10")}, Likely: figure.Place{On: day("2030-04-02")}, Late: figure.Place{On: day("2033-06-01")}},
	}
	for _, v := range []struct {
		on    string
		value float64
		aside bool
	}{
		{"2018-05-02", 0.10, false}, {"2019-06-11", 0.11, false}, {"2020-09-20", 0.13, false}, {"2021-08-03", 0.22, true},
		{"2022-05-30", 0.14, false}, {"2023-07-07", 0.16, false}, {"2024-09-12", 0.17, false}, {"2026-05-19", 0.19, false},
	} {
		m.Values = append(m.Values, figure.Value{Place: figure.Place{On: day(v.on)}, Value: v.value, Aside: v.aside})
	}
	for y := 2018; y <= 2031; y++ {
		likely := 0.10 + 0.0118*float64(y-2018)
		ahead := 0.006 + 0.0035*math.Max(0, float64(y-2026))
		m.Trend = append(m.Trend, figure.TrendPoint{Place: figure.Place{On: day(fmt.Sprintf("%d-06-01", y))}, Low: likely - ahead, Likely: likely, High: likely + ahead})
	}
	return m
}

// reshimmed is a value that began anew twice, over distance.
func reshimmed() figure.Measured {
	m := figure.Measured{
		Name: "End float of the output shaft bearing of AM0101G", Unit: "mm", Decimals: 2, ByDistance: true,
		Lower: new(0.05), Upper: new(0.15),
		Renewals: []figure.Renewal{
			{Place: figure.Place{On: day("2022-03-14"), At: miles(21_050)}, Name: "re-shimmed"},
			{Place: figure.Place{On: day("2026-03-02"), At: miles(33_300)}, Name: "re-shimmed"},
		},
	}
	for _, v := range [][2]float64{{2000, 0.08}, {7800, 0.12}, {14_100, 0.16}, {21_000, 0.21}, {21_100, 0.13}, {26_400, 0.16}, {33_200, 0.20}, {33_350, 0.10}} {
		m.Values = append(m.Values, figure.Value{Place: figure.Place{At: miles(v[0])}, Value: v[1]})
	}
	return m
}

// oneTread is the only value of a tyre.
func oneTread() figure.Measured {
	return figure.Measured{
		Name: "Tread of the left front tyre of AM0103C", Unit: "mm", Decimals: 1, Lower: new(1.6), Today: day("2026-11-27"),
		Values: []figure.Value{{Place: figure.Place{On: day("2026-05-04"), At: miles(4100)}, Value: 7.5}},
	}
}
