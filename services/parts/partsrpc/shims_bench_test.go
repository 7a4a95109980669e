package partsrpc_test

import (
	"fmt"
	"testing"

	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
)

// BenchmarkSelectShims gives the cost of choosing a pack beside that of the
// emptiest call there is, in the same run: from the shims of an ordinary
// setting, and from twenty sizes of which no two packs have the same total, in a
// window that none of them meets, which is the hardest.
func BenchmarkSelectShims(b *testing.B) {
	w, name := shimBench(b, settingRow(endFloat()))
	usual := &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
	}
	hardest := proto.CloneOf(usual)
	hardest.FittedPack, hardest.Lower, hardest.Upper, hardest.LargestCount = quantity("5.55 mm"), "0.040000001", "0.040000001", 11
	n, stock := int64(100_000_007), int32(11)
	for range 20 {
		n = n * 48271 % (1<<31 - 1) // Lehmer's generator, as Park and Miller chose it
		size := &partsv1.ShimSize{Thickness: quantity(fmt.Sprintf("0.%09d mm", 50_000_000+n%900_000_000)), Stock: &stock}
		hardest.Sizes = append(hardest.Sizes, size)
	}
	b.Run("empty call", func(b *testing.B) {
		for b.Loop() {
			if _, err := w.health.Check(b.Context(), &healthgrpc.HealthCheckRequest{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, c := range []struct {
		title string
		req   *partsv1.SelectShimsRequest
	}{{"usual", usual}, {"hardest", hardest}} {
		b.Run(c.title, func(b *testing.B) {
			for b.Loop() {
				if _, err := w.SelectShims(b.Context(), c.req); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
