package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle/vehiclewire"
)

// ShimWork reads the change of a pack of shims. A count of 0 counts as 1.
func ShimWork(p *schedulev1.ShimWork) (schedule.ShimWork, error) {
	var r reader
	w := schedule.ShimWork{
		Position: p.GetPosition(), Characteristic: p.GetCharacteristic(),
		Before: r.quantity("measured_before", p.GetMeasuredBefore()), PackBefore: r.quantity("pack_before", p.GetPackBefore()),
		Pack: r.quantity("pack", p.GetPack()), After: r.quantity("measured_after", p.GetMeasuredAfter()),
	}
	for i, s := range p.GetShims() {
		used := schedule.ShimUsed{
			Thickness: r.quantity(vehiclewire.At("shims", i, "thickness"), s.GetThickness()), Count: int(s.GetCount()), Part: s.GetPart(),
		}
		if used.Count == 0 {
			used.Count = 1
		}
		w.Shims = append(w.Shims, used)
	}
	return w, r.Err()
}

// ShimWorkProto writes the change of a pack of shims.
func ShimWorkProto(w *schedule.ShimWork) *schedulev1.ShimWork {
	p := &schedulev1.ShimWork{
		Position: w.Position, Characteristic: w.Characteristic, MeasuredBefore: vehiclewire.QuantityProto(w.Before),
		PackBefore: vehiclewire.QuantityProto(w.PackBefore), Pack: vehiclewire.QuantityProto(w.Pack), MeasuredAfter: vehiclewire.QuantityProto(w.After),
	}
	for _, s := range w.Shims {
		p.Shims = append(p.Shims, &schedulev1.ShimUsed{Thickness: vehiclewire.QuantityProto(s.Thickness), Count: int32(s.Count), Part: s.Part})
	}
	return p
}
