package page

import (
	"testing"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

func TestATokenServesItsOwnListAndNoOther(t *testing.T) {
	asked := &schedulev1.ListReadingsRequest{Parent: "vehicles/AM0147P", PageSize: 10}
	token := Token(asked, "2026-05-01/r9")

	again := &schedulev1.ListReadingsRequest{Parent: "vehicles/AM0147P", PageSize: 20, PageToken: token}
	if key, err := After(again, token); err != nil || key != "2026-05-01/r9" {
		t.Errorf("another size: got %q, %v", key, err)
	}
	other := &schedulev1.ListReadingsRequest{Parent: "vehicles/AM0148R", PageToken: token}
	if _, err := After(other, token); !fault.Is(err, fault.Invalid) {
		t.Errorf("another vehicle: got %v, want a refusal", err)
	}
	if _, err := After(&partsv1.ListPartsRequest{}, token); !fault.Is(err, fault.Invalid) {
		t.Errorf("another method: got %v, want a refusal", err)
	}
	for _, bad := range []string{"x", "!!!!", token[:8]} {
		if _, err := After(asked, bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("token %q: got %v, want a refusal", bad, err)
		}
	}
	if key, err := After(asked, ""); err != nil || key != "" {
		t.Errorf("first page: got %q, %v", key, err)
	}
}

func TestASizeIsKeptWithinItsBounds(t *testing.T) {
	for _, c := range []struct {
		asked int32
		want  int
	}{{0, 50}, {7, 7}, {500, 500}, {501, 500}} {
		if got, err := Size(c.asked, 50, 500); err != nil || got != c.want {
			t.Errorf("Size(%d): got %d, %v; want %d", c.asked, got, err, c.want)
		}
	}
	if _, err := Size(-1, 50, 500); !fault.Is(err, fault.Invalid) {
		t.Errorf("Size(-1): got %v, want a refusal", err)
	}
}
