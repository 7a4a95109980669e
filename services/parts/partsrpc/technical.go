package partsrpc

import (
	"context"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle/vehiclewire"
)

// GetTechnicalSheet implements the API.
func (s *Service) GetTechnicalSheet(ctx context.Context, req *partsv1.GetTechnicalSheetRequest) (*partsv1.TechnicalSheet, error) {
	out := &partsv1.TechnicalSheet{}
	return out, s.about(ctx, req.GetBuild(), req.GetOnDate(), func(r *parts.Ready) error {
		out.Build, out.OnDate = build.Name(r.Serial()), vehiclewire.DateProto(r.On())
		var positions []string
		if p := req.GetPosition(); p != "" {
			if positions = r.PositionsCalled(p); len(positions) == 0 {
				return fault.New(fault.NotFound, "POSITION_NOT_ON_VEHICLE", "No position of %s is called %s.", r.Serial(), parts.Spoken(p))
			}
		}
		sheet := r.Sheet(positions...)
		write := records(r)
		for _, f := range sheet.Fluids {
			out.Fluids = append(out.Fluids, write.Fluid(f))
		}
		for _, one := range sheet.Settings {
			out.Settings = append(out.Settings, write.SheetSetting(one))
		}
		out.OpenQuestions = vehiclewire.Reasons(sheet.Open)
		return nil
	})
}
