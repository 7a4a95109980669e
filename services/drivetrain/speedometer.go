package drivetrain

import (
	"halfshaft/services/vehicle"
)

// Speedometer is the way from the road to the needle. Its methods want one
// that OdometerFactor accepts.
type Speedometer struct {
	Tyre  Circumference
	Drive Drive
	Dial  vehicle.Dial
}

// CableTurns is how often the cable turns in a true mile (K_v): the turns of
// the wheel times the axle ratio, times driver over driven teeth.
func (s Speedometer) CableTurns() float64 { return s.Drive.cableTurnsPerMile(s.Tyre) }

// DialTurns is for how many turns of the cable the dial counts a mile (K_i). A
// dial in kilometres is brought to miles.
func (s Speedometer) DialTurns() float64 { return dialTurnsPerMile(s.Dial) }

// Reads is what the dial shows over what is true: 1.026 reads 2.6 % high. Odometer
// and needle hang on one cable, so it holds for distance and for speed.
func (s Speedometer) Reads() float64 { return s.CableTurns() / s.DialTurns() }

// Factor is OdometerFactor.
func (s Speedometer) Factor() (ppm int64, err error) { return OdometerFactor(s.Tyre, s.Drive, s.Dial) }

// DialSpeed is one speed, in the unit of the dial for an hour, seen both ways.
type DialSpeed struct {
	Speed     float64
	Indicated float64 // what the dial reads when Speed is true
	True      float64 // what is true when the dial reads Speed
}

// Table gives what the dial reads at the true speeds that people ask about, and
// the other way about: 10 to 70 mph, or 20 to 120 km/h where it counts
// kilometres.
func (s Speedometer) Table() []DialSpeed {
	step, most := 10, 70
	if s.Dial.Unit == vehicle.Kilometres {
		step, most = 20, 120
	}
	reads := s.Reads()
	var table []DialSpeed
	for v := step; v <= most; v += step {
		table = append(table, DialSpeed{float64(v), float64(v) * reads, float64(v) / reads})
	}
	return table
}

func dialTurnsPerMile(d vehicle.Dial) float64 {
	return float64(d.TurnsPerUnit) * float64(vehicle.Mile) / float64(d.Unit.Distance())
}
