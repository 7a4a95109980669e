package accessgate

import (
	"context"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/kv"
)

func TestARequestOfAnOwnerOrADealerIsTheirsAlone(t *testing.T) {
	s, callers := sees(t)
	for role, want := range map[access.Role]string{access.Owner: "people/p1", access.Dealer: "organisations/ferncombe", access.Support: ""} {
		got := "nothing"
		_, err := s.call(forwards(callers[role]), accessv1.AccessService_EndAssignment_FullMethodName,
			&accessv1.EndAssignmentRequest{Name: "vehicles/AM0147P/assignments/1"}, func(ctx context.Context, _ any) (any, error) {
				got = kv.AskerFrom(ctx)
				return &accessv1.Assignment{}, nil
			})
		if err != nil || got != want {
			t.Errorf("the role %s asks as %q, want %q: %v", role, got, want, err)
		}
	}
}
