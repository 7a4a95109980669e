package bulletinrpc_test

import (
	"fmt"
	"testing"

	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

// BenchmarkListVehicleBulletins gives the cost of what holds for a vehicle, with
// ten bulletins of which one is for it, beside that of the emptiest call there
// is, a health check over the same connection, in the same run.
func BenchmarkListVehicleBulletins(b *testing.B) {
	w := start(b)
	serials := w.fleet(b, 100, 10)
	w.issued(b, ofLot("C-1"))
	for i := range 9 {
		other := ofLot(fmt.Sprintf("A-%d", i))
		other.Kind, other.Remedy = bulletinv1.BulletinKind_BULLETIN_KIND_ADVICE, nil
		other.Set.Condition.GetFitted().Lots = []string{fmt.Sprintf("X%d", i)}
		w.issued(b, other)
	}
	b.Run("empty call", func(b *testing.B) {
		for b.Loop() {
			if _, err := w.health.Check(b.Context(), &healthgrpc.HealthCheckRequest{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("list", func(b *testing.B) {
		for b.Loop() {
			r, err := w.ListVehicleBulletins(b.Context(), &bulletinv1.ListVehicleBulletinsRequest{Parent: "vehicles/" + serials[0]})
			if err != nil || len(r.GetVehicleBulletins()) != 1 {
				b.Fatal(r, err)
			}
		}
	})
}
