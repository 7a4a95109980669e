package jobsheet

import (
	"testing"

	"halfshaft/services/vehicle"
)

func miles(n int64) vehicle.Distance { return vehicle.Distance(n) * vehicle.Mile }

func TestTheDialGoesOnByItsFactorAndRollsOver(t *testing.T) {
	five := vehicle.Dial{Digits: 5, Unit: vehicle.Miles}
	read := func(text string) vehicle.Entered { return vehicle.Entered{Value: *decimal(text), Unit: vehicle.Miles} }
	for name, c := range map[string]struct {
		last   vehicle.Entered
		gone   vehicle.Distance
		factor int64
		dial   vehicle.Dial
		want   vehicle.Distance
	}{
		"a dial that reads true goes on by what the vehicle goes":     {read("1000"), miles(500), 1_000_000, five, miles(1500)},
		"one whose miles are longer than a mile counts fewer of them": {read("1000"), miles(525), 1_050_000, five, miles(1500)},
		"one whose miles are shorter counts more":                     {read("1000"), miles(475), 950_000, five, miles(1500)},
		"five digits begin anew":                                      {read("99900"), miles(250), 1_000_000, five, miles(150)},
		"a dial of unknown digits does not":                           {read("99900"), miles(250), 1_000_000, vehicle.Dial{}, miles(100_150)},
		"a vehicle that was never read":                               {vehicle.Entered{}, miles(250), 1_000_000, five, 0},
		"without a factor nothing is said":                            {read("1000"), miles(250), 0, five, 0},
		"a million miles are no overflow":                             {read("0"), miles(1_000_000), 2_000_000, vehicle.Dial{}, miles(500_000)},
	} {
		if got := Expect(c.last, c.gone, c.factor, c.dial); got != c.want {
			t.Errorf("%s: got %s, want %s", name, got.Text(vehicle.Miles), c.want.Text(vehicle.Miles))
		}
	}
}
