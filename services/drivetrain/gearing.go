package drivetrain

import "halfshaft/services/vehicle"

// Gearing is everything between engine and road that turns slower than the
// engine does. Each ratio is turns in for one turn out.
type Gearing struct {
	Gears  []vehicle.Decimal // of the gearbox, from first upwards
	Ranges []Range           // of the transfer case
	Axle   vehicle.Decimal
}

// Range is one ratio of the transfer case, with its name: "high", "low".
type Range struct {
	Name  string
	Ratio vehicle.Decimal
}

// GearSpeed is how fast the vehicle goes in one gear and range, in miles per
// hour on new tyres.
type GearSpeed struct {
	Range         Range
	Gear          int // counted from 1
	Ratio         vehicle.Decimal
	Overall       float64 // gear, range and axle: turns of the engine for one of the wheel
	PerThousand   float64 // at 1,000 turns of the engine a minute
	AtEngineSpeed float64 // at the turns asked for
}

// Speeds gives the road speeds range by range, in each from first gear upwards.
func (g Gearing) Speeds(c Circumference, rpm float64) []GearSpeed {
	speeds := make([]GearSpeed, 0, len(g.Gears)*len(g.Ranges))
	for _, r := range g.Ranges {
		for i, gear := range g.Gears {
			overall := gear.Float64() * r.Ratio.Float64() * g.Axle.Float64()
			speeds = append(speeds, GearSpeed{
				Range: r, Gear: i + 1, Ratio: gear, Overall: overall,
				PerThousand:   RoadSpeed(1000, gear.Float64(), r.Ratio.Float64(), g.Axle.Float64(), c),
				AtEngineSpeed: RoadSpeed(rpm, gear.Float64(), r.Ratio.Float64(), g.Axle.Float64(), c),
			})
		}
	}
	return speeds
}
