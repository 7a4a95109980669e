package trend

import (
	"strings"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func quantity(text string) vehicle.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

// limit reads "mm 0.05 0.15 0.22": unit, lower and upper end, action limit; "-"
// for none.
func limit(text string) *schedule.MeasuredLimit {
	fields := strings.Fields(text)
	bound := func(n int) *vehicle.Decimal {
		if n >= len(fields) || fields[n] == "-" {
			return nil
		}
		d, err := vehicle.ParseDecimal(fields[n])
		if err != nil {
			panic(err)
		}
		return &d
	}
	return &schedule.MeasuredLimit{Characteristic: "end-float", Unit: fields[0], Lower: bound(1), Upper: bound(2), Action: bound(3), Method: "cold"}
}

const endFloat = "mm 0.05 0.15 0.22"

// series reads lines of "2020-01-01 0.11 mm", with "1200 mi" after it where the
// distance is known.
func series(limits string, lines ...string) *Series {
	s := &Series{Position: "output-shaft-bearing", Characteristic: "end-float"}
	if limits != "" {
		s.Limit = limit(limits)
	}
	for _, l := range lines {
		f := strings.Fields(l)
		v := Value{Date: day(f[0]), Quantity: quantity(f[1] + " " + f[2]), Record: "r/" + f[0], Limit: s.Limit, Item: "T02"}
		if len(f) > 3 {
			n, err := vehicle.ParseDecimal(f[3])
			if err != nil {
				panic(err)
			}
			v.Distance, _ = n.Times(vehicle.Mile)
			v.Known = true
		}
		s.Values = append(s.Values, v)
	}
	s.Sort()
	return s
}

// overhauled breaks a series on a day.
func (s *Series) overhauled(on string) *Series {
	s.Breaks = append(s.Breaks, Break{Date: day(on), Record: "builds/AM0147P/changes/c1", What: "the output shaft bearing was overhauled"})
	return s
}

// pack says which packs of shims were in before and after the last break.
func (s *Series) pack(before, after string) *Series {
	last := &s.Breaks[len(s.Breaks)-1]
	last.PackBefore, last.PackAfter = quantity(before), quantity(after)
	return s
}

// stage says when the values of a day were measured.
func (s *Series) stage(on string, stage Stage) *Series {
	for i := range s.Values {
		if s.Values[i].Date == day(on) {
			s.Values[i].Stage = stage
		}
	}
	return s
}

// rising are the values of a bearing that wears by 0.01 mm in two years.
var rising = []string{"2012-11-20 0.11 mm", "2013-11-14 0.11 mm", "2015-11-14 0.12 mm", "2017-11-14 0.13 mm", "2019-11-14 0.14 mm",
	"2021-11-14 0.15 mm", "2023-11-14 0.16 mm", "2025-11-14 0.17 mm"}

// steadily is a reach of 1,000 miles a year from a day and distance on, known
// to a fifth.
func steadily(from string, miles float64) Reach {
	return func(d vehicle.Distance) (early, likely, late vehicle.Date) {
		years := d.In(vehicle.Miles)/1000 - miles/1000
		at := func(f float64) vehicle.Date { return day(from).AddDays(int(years * f * daysPerYear)) }
		return at(0.8), at(1), at(1.25)
	}
}
