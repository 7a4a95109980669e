package partsrpc_test

import (
	"fmt"
	"testing"

	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
)

// BenchmarkAnswer gives the cost of an answer beside that of the emptiest call
// there is, a health check over the same connection, in the same run.
func BenchmarkAnswer(b *testing.B) {
	w := start(b)
	rows := gearboxes()
	var places []*buildv1.Fitment
	for i := range 60 {
		part := fmt.Sprintf("LP-%d", i)
		rows = append(rows, partRow(aPart(part, "Part of the bench")))
		places = append(places, &buildv1.Fitment{Position: fmt.Sprintf("place-%d", i), Part: part, Quantity: 1})
	}
	name := w.addVehicle(b, "AM0101", places...)
	must(w.load(b, "first", rows...))(b)
	b.Run("empty call", func(b *testing.B) {
		for b.Loop() {
			if _, err := w.health.Check(b.Context(), &healthgrpc.HealthCheckRequest{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, question := range []string{"gearbox", "AP-2000", "wide ratio gearbox"} {
		b.Run(question, func(b *testing.B) {
			for b.Loop() {
				if _, err := w.AnswerPart(b.Context(), &partsv1.AnswerPartRequest{Build: name, Question: question}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
