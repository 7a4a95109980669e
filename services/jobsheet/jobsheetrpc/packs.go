package jobsheetrpc

import (
	"context"
	"fmt"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// packs looks up which pack to fit for what may be measured. What the parts
// service refuses is a gap of the sheet.
func (s *Service) packs(ctx context.Context, sheet *jobsheet.Sheet) {
	for i := range sheet.Jobs {
		j := &sheet.Jobs[i]
		for k := range j.Shims {
			set := &j.Shims[k]
			for _, t := range j.Trials(set) {
				c, err := s.pack(ctx, sheet.Serial, set, set.Pack, t)
				if err != nil {
					sheet.Gaps = append(sheet.Gaps, vehicle.Reason{Rule: "NOT_READ", Sentence: fmt.Sprintf(
						"Which pack to fit at %s could not be worked out: %s.", strings.ReplaceAll(set.Position, "-", " "), strings.TrimSuffix(rpcerr.FromStatus(err).Message, "."))})
					break
				}
				set.Choices = append(set.Choices, c)
			}
		}
	}
}

// pack asks which pack to fit for one measured value.
func (s *Service) pack(ctx context.Context, serial vehicle.Serial, set *jobsheet.Shims, in vehicle.Quantity, t jobsheet.Trial) (jobsheet.Choice, error) {
	c := jobsheet.Choice{Measured: t.Measured, Last: t.Last}
	a, err := s.Parts.SelectShims(ctx, &partsv1.SelectShimsRequest{
		Build: "builds/" + string(serial), Position: set.Position, Characteristic: set.Characteristic, Subject: set.Subject,
		Measured: vehiclewire.QuantityProto(t.Measured), FittedPack: vehiclewire.QuantityProto(in),
	})
	if err != nil {
		return c, err
	}
	if len(a.GetReasons()) > 0 {
		c.Sentence = a.GetReasons()[0].GetSentence()
	}
	if len(a.GetPacks()) == 0 {
		return c, nil
	}
	best := a.GetPacks()[0]
	c.PackText = shimsText(best.GetShims())
	c.Pack, c.Result = quantityOf(best.GetThickness()), quantityOf(best.GetResult())
	return c, nil
}

// shimsText writes shims for people: "0.51 mm (AP-2076) + 2 x 0.13 mm (AP-2074)".
func shimsText(shims []*partsv1.ShimCount) string {
	var parts []string
	for _, s := range shims {
		text := s.GetThickness().GetValue() + " " + s.GetThickness().GetUnit()
		if s.GetCount() > 1 {
			text = fmt.Sprintf("%d x %s", s.GetCount(), text)
		}
		if s.GetPart() != "" {
			text += " (" + strings.TrimPrefix(s.GetPart(), "parts/") + ")"
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, " + ")
}

// quantityOf reads what another service wrote; zero for what cannot be read.
func quantityOf(q *vehiclev1.Quantity) vehicle.Quantity {
	if q == nil {
		return vehicle.Quantity{}
	}
	out, err := vehiclewire.Quantity(q)
	if err != nil {
		return vehicle.Quantity{}
	}
	return out
}
