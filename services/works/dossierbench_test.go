package works_test

import (
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// BenchmarkDossier asks for the page for the telephone over TCP as support
// staff do, turn by turn with an empty call. It prints how long the page takes
// how many times as long as the empty call that is, and
// what both took of the processor, which other work on the machine does not change.
func BenchmarkDossier(b *testing.B) {
	p, err := works.Start(b.Context(), works.Config{Data: b.TempDir(), Passes: works.Never, Clock: atDemo().Now, Listen: "127.0.0.1:0", CallLimits: unlimited})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { p.Close() })
	ctx := works.Operator(b.Context())
	dir := filepath.Join(b.TempDir(), "files")
	if err := os.CopyFS(dir, aldermoor.Files); err != nil {
		b.Fatal(err)
	}
	if faultless, err := works.Import(ctx, p.Clients(), aldermoor.Today, []string{dir}, false, io.Discard, io.Discard); err != nil || !faultless {
		b.Fatal(faultless, err)
	}
	if err := works.LoadEnquiries(ctx, p.Clients().Enquiries); err != nil {
		b.Fatal(err)
	}
	conn, err := works.Dial(p.Address().String(), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	keyed := accessgate.Present(conn, p.FirstSecret())
	desk := works.NewClients(func(string) grpc.ClientConnInterface { return keyed })
	health := healthv1.NewHealthClient(conn)
	serials := []string{"AM0101G", "AM01082", "AM0147P", "AM0129T", "AM0164N"}
	var page, empty time.Duration
	before := processor(b)
	for i := 0; b.Loop(); i++ {
		begin := time.Now()
		if _, err := health.Check(b.Context(), &healthv1.HealthCheckRequest{}); err != nil {
			b.Fatal(err)
		}
		between := time.Now()
		d, err := desk.Enquiries.GetDossier(b.Context(), &enquiryv1.GetDossierRequest{Name: "vehicles/" + serials[i%len(serials)] + "/dossier"})
		if err != nil {
			b.Fatal(err)
		}
		if len(d.GetGaps()) > 0 {
			b.Fatal(d.GetGaps())
		}
		page += time.Since(between)
		empty += between.Sub(begin)
	}
	b.ReportMetric(float64((processor(b)-before).Microseconds())/1000/float64(b.N), "cpu-ms/turn")
	b.ReportMetric(float64(page.Microseconds())/1000/float64(b.N), "ms/dossier")
	b.ReportMetric(float64(page)/float64(empty), "x-empty-call")
	b.ReportMetric(0, "ns/op")
}

// processor gives what this process has had of the processor.
func processor(b *testing.B) time.Duration {
	b.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
