package partswire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// UsesProto writes a page of uses, without its token.
func UsesProto(p *parts.UsePage) *partsv1.ListUsesResponse {
	out := &partsv1.ListUsesResponse{HasCount: int32(p.Has), HadCount: int32(p.Had), MayHaveCount: int32(p.MayHave)}
	for i := range p.Uses {
		u := &p.Uses[i]
		out.Uses = append(out.Uses, &partsv1.Use{
			Build: build.Name(u.Vehicle), Position: u.Position, Part: u.Part, ComponentSerial: u.Serial, Lot: u.Lot,
			FromDate: vehiclewire.DateProto(u.From), UntilDate: vehiclewire.DateProto(u.Until),
			Certainty: partsv1.UseCertainty(u.Certainty), Origin: buildv1.FittedOrigin(u.Origin), Record: u.Record,
			CameFrom: buildName(u.CameFrom), WentTo: buildName(u.WentTo), Reasons: vehiclewire.Reasons(u.Reasons),
		})
	}
	return out
}

func buildName(serial vehicle.Serial) string {
	if serial == "" {
		return ""
	}
	return build.Name(serial)
}
