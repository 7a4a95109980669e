package partsrpc

import (
	"context"
	"errors"
	"fmt"
	"testing"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func mm(text string) *vehiclev1.Quantity { return &vehiclev1.Quantity{Value: text, Unit: "mm"} }

// request asks for a pack of some number of sizes.
func request(sizes int) *partsv1.SelectShimsRequest {
	req := &partsv1.SelectShimsRequest{Measured: mm("0.15"), FittedPack: mm("0.76")}
	for i := range sizes {
		req.Sizes = append(req.Sizes, &partsv1.ShimSize{Thickness: mm(fmt.Sprintf("0.%03d", 130+i))})
	}
	return req
}

func setting() *parts.Setting {
	return &parts.Setting{
		ID: "T1", Position: "output-shaft-bearing", Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.10",
		Shims: &parts.ShimDesign{Sign: parts.AddsFloat},
	}
}

func TestALargeSearchWaitsForAPlaceAsLongAsItsCallerDoes(t *testing.T) {
	s := &Service{searches: make(slots, 1)}
	if err := s.searches.enter(t.Context()); err != nil {
		t.Fatal(err)
	}
	gone, give := context.WithCancel(t.Context())
	give()
	if _, err := s.solve(gone, &problem{req: request(smallProblem + 1), setting: setting()}); !errors.Is(err, context.Canceled) {
		t.Errorf("without a place: %v", err)
	}
	if _, err := s.solve(t.Context(), &problem{req: request(smallProblem), setting: setting()}); err != nil {
		t.Errorf("a small one does not wait: %v", err)
	}
	s.searches.leave()
	if r, err := s.solve(t.Context(), &problem{req: request(smallProblem + 1), setting: setting()}); err != nil || len(r.Packs) == 0 {
		t.Errorf("with a place: %v, %v", r, err)
	}
	if len(s.searches) != 0 {
		t.Error("the place was not given back")
	}
}

func TestASettingThatCannotBeWorkedToIsNotTheCallersFault(t *testing.T) {
	s := &Service{searches: make(slots, 1)}
	// A unit that the catalogue takes for a length and shims are not measured in.
	odd := setting()
	odd.Unit = "ft"
	_, err := s.solve(t.Context(), &problem{req: request(1), setting: odd})
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.FailedPrecondition || f.Reason != "SETTING_UNFIT" {
		t.Errorf("got %v", err)
	}
	if !vehicle.Convertible("mm", "ft") {
		t.Error("the case tests nothing: mm does not convert into ft")
	}
}
