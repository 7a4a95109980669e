package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ComponentDistanceProto writes how far a component of a vehicle has gone; the
// sentence is in the unit of the vehicle's dial.
func ComponentDistanceProto(serial vehicle.Serial, c *schedule.ComponentDistance, unit vehicle.Unit) *schedulev1.ComponentDistance {
	p := &schedulev1.ComponentDistance{
		Name:     "vehicles/" + string(serial) + "/componentDistances/" + c.Position,
		Position: c.Position, Part: c.Part, Serial: c.Serial, Lot: c.Lot,
		FittedDate: vehiclewire.DateProto(c.Fitted), Days: int32(c.Days), Distance: vehiclewire.DistanceProto(c.Distance),
		PriorDays: int32(c.PriorDays), PriorDistance: vehiclewire.DistanceProto(c.Prior), CameFrom: c.CameFrom,
		TotalDistance: vehiclewire.DistanceProto(c.Total()), OverhaulDate: vehiclewire.DateProto(c.Overhauled),
		Sentence: c.Sentence(unit),
	}
	if !c.Overhauled.IsZero() {
		p.DistanceSinceOverhaul = vehiclewire.DistanceProto(c.SinceOverhaul)
	}
	return p
}
