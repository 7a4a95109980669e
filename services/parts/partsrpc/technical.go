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
	on, err := s.day("on_date", req.GetOnDate())
	if err != nil {
		return nil, err
	}
	out := &partsv1.TechnicalSheet{OnDate: vehiclewire.DateProto(on)}
	return out, s.about(ctx, req.GetBuild(), req.GetOnDate(), func(r *parts.Ready) error {
		out.Build = build.Name(r.Serial())
		if p := req.GetPosition(); p != "" && !r.Has(p) {
			return fault.New(fault.NotFound, "POSITION_NOT_ON_VEHICLE", "%s has no %s.", r.Serial(), parts.Spoken(p))
		}
		sheet := r.Sheet(req.GetPosition())
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
