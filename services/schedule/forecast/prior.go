package forecast

import (
	"math"
	"slices"

	"halfshaft/services/vehicle"
)

// Prior is what is known of a vehicle's pace before its first reading: that of
// its class of owner, or of the fleet. The logarithm of the pace is spread
// normally.
type Prior struct {
	PerYear vehicle.Distance // the median, in a year as it is lived
	Sigma   float64          // standard deviation of the natural logarithm
	Name    string           // of whom it is taken: "any such vehicle", "this fleet"
}

// AssumedPerYear and AssumedSigma are the pace of any such vehicle, and how the
// logarithm of it is spread: a median of 1,200 miles a year and 0.8, so
// that four in five drive 430 to 3,350 (common practice, no source;
// checks O-61 has the drivers' averages, which lie far above it).
const (
	AssumedPerYear = 1_200 * vehicle.Mile
	AssumedSigma   = 0.8
)

// Assumed is the prior of a vehicle of which nothing is known.
func Assumed() Prior {
	return Prior{PerYear: AssumedPerYear, Sigma: AssumedSigma, Name: "any such vehicle"}
}

// fleetWeight is how many vehicles the assumption counts for against the fleet.
const fleetWeight = 6

// FleetPrior is the prior of a fleet, from the paces of its vehicles in
// millimetres a year: median and spread (by the median of the deviations) of
// their logarithms, drawn towards the assumption while they are few. Paces of
// nought or less are left out.
func FleetPrior(perYear []float64) Prior {
	logs := make([]float64, 0, len(perYear))
	for _, r := range perYear {
		if r > 0 && !math.IsInf(r, 1) {
			logs = append(logs, math.Log(r))
		}
	}
	if len(logs) == 0 {
		return Assumed()
	}
	centre := Median(logs)
	for i, l := range logs {
		logs[i] = math.Abs(l - centre)
	}
	spread := madSigma * Median(logs)
	n := float64(len(logs))
	own := n / (n + fleetWeight)
	m := own*centre + (1-own)*math.Log(float64(AssumedPerYear))
	v := own*spread*spread + (1-own)*AssumedSigma*AssumedSigma
	return Prior{
		PerYear: vehicle.Distance(math.Round(math.Exp(m))),
		Sigma:   min(max(math.Sqrt(v), 0.3), 1.5),
		Name:    "the vehicles of this fleet",
	}
}

// Median orders the values and gives the middle one, or the mean of the two.
func Median(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return (values[n/2-1] + values[n/2]) / 2
}
