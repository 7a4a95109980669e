package partsrpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle/vehiclewire"
)

// GetTechnicalSheet implements the API.
func (s *Service) GetTechnicalSheet(ctx context.Context, req *partsv1.GetTechnicalSheetRequest) (*partsv1.TechnicalSheet, error) {
	v, err := s.visit(ctx, req.GetBuild(), req.GetOnDate())
	if err != nil {
		return nil, err
	}
	var out *partsv1.TechnicalSheet
	s.store.ReadVersion(func(c *parts.Catalogue, version int64) {
		r := v.with(c, version)
		if req.GetPosition() == "" {
			out = v.wholeSheet(r)
			return
		}
		positions := r.PositionsCalled(req.GetPosition())
		if len(positions) == 0 {
			err = fault.New(fault.NotFound, "POSITION_NOT_ON_VEHICLE", "No position of %s is called %s.", r.Serial(), parts.Spoken(req.GetPosition()))
			return
		}
		out = sheetProto(r, r.Sheet(positions...))
	})
	if out != nil && access.CallerFrom(ctx).Role.Limited() { // the gate takes out of an answer what they may not see
		out = proto.CloneOf(out)
	}
	return out, err
}

// sheetProto writes a sheet.
func sheetProto(r *parts.Ready, sheet parts.Sheet) *partsv1.TechnicalSheet {
	out := &partsv1.TechnicalSheet{Build: build.Name(r.Serial()), OnDate: vehiclewire.DateProto(r.On())}
	write := records(r)
	for _, f := range sheet.Fluids {
		out.Fluids = append(out.Fluids, write.Fluid(f))
	}
	for _, one := range sheet.Settings {
		out.Settings = append(out.Settings, write.SheetSetting(one))
	}
	out.OpenQuestions = vehiclewire.Reasons(sheet.Open)
	return out
}
