package warrantyrpc_test

import (
	"testing"
	"time"

	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
)

// BenchmarkGetCover measures GetCover against an empty call to the same server
// in the same run, each in turn, and reports the ratio. What other services
// answer is given without a call.
func BenchmarkGetCover(b *testing.B) {
	w := start(b, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-06-01", "900"), counted("2026-11-21", "3000")}})
	empty := healthv1.NewHealthClient(w.server.InProcess())
	request := &warrantyv1.GetCoverRequest{Name: theVehicle + "/covers/gearbox", OnDate: calendar("2026-11-20")}
	var reading, idling time.Duration
	for b.Loop() {
		begin := time.Now()
		if _, err := empty.Check(b.Context(), &healthv1.HealthCheckRequest{}); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		if _, err := w.GetCover(b.Context(), request); err != nil {
			b.Fatal(err)
		}
		idling += middle.Sub(begin)
		reading += time.Since(middle)
	}
	b.ReportMetric(float64(reading.Nanoseconds())/float64(b.N), "ns/cover")
	b.ReportMetric(float64(idling.Nanoseconds())/float64(b.N), "ns/empty")
	b.ReportMetric(float64(reading)/float64(idling), "x-empty")
}
