package schedulerpc_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// used writes what a question gives: "AM0147P 2020-05-01 2 AP-7 L1" a line.
func (w *works) used(size int32, lot string, parts ...string) []string {
	w.t.Helper()
	all, err := page.All(func(token string) ([]*schedulev1.PartUse, string, error) {
		r, err := w.ListPartsUsed(w.t.Context(), &schedulev1.ListPartsUsedRequest{Parts: parts, Lot: lot, PageSize: size, PageToken: token})
		return r.GetUses(), r.GetNextPageToken(), err
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return lines(all)
}

func lines(uses []*schedulev1.PartUse) (out []string) {
	for _, u := range uses {
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %d %s %s", strings.TrimPrefix(u.GetVehicle(), "vehicles/"), iso(u.GetServiceDate()),
			u.GetUsed().GetQuantity(), u.GetUsed().GetPart(), u.GetUsed().GetLot())))
	}
	return out
}

func (w *works) entry(serial, on string, parts ...*schedulev1.PartUsed) *schedulev1.ServiceEntry {
	w.t.Helper()
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: "vehicles/" + serial,
		ServiceEntry: &schedulev1.ServiceEntry{ServiceDate: calendar(on), Parts: parts}}))(w.t)
}

func TestPartsUsedAreFoundByPartAndLotInWhateverWayTheyAreWritten(t *testing.T) {
	w := start(t, "2016-01-01", every("E01", "", 12))
	other := string(must(vehicle.NewSerial("AM0101"))(t))
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built(other, "2016-01-01")}))(t)
	w.entry("AM0147P", "2020-05-01", &schedulev1.PartUsed{Part: "AP-7", Quantity: 2, Lot: "L-1"}, &schedulev1.PartUsed{Part: "AP-8", Quantity: 1})
	w.entry("AM0147P", "2019-05-01", &schedulev1.PartUsed{Part: "ap7", Quantity: 1}, &schedulev1.PartUsed{Part: "AP-7", Quantity: 3, Lot: "l1"})
	wrong := w.entry(other, "2021-05-01", &schedulev1.PartUsed{Part: "AP-7", Quantity: 4, Lot: "L2"})
	first, second, third := "AM0147P 2019-05-01 1 ap7", "AM0147P 2019-05-01 3 AP-7 l1", "AM0147P 2020-05-01 2 AP-7 L-1"
	fourth, eighth := other+" 2021-05-01 4 AP-7 L2", "AM0147P 2020-05-01 1 AP-8"
	for _, c := range []struct {
		what, lot string
		parts     []string
		want      []string
	}{
		{"a part", "", []string{"AP.7"}, []string{fourth, first, second, third}},
		{"two parts", "", []string{"AP-7", "AP-8"}, []string{fourth, first, second, third, eighth}},
		{"a lot", "L 1", nil, []string{second, third}},
		{"a lot of a part", "L2", []string{"AP-7"}, []string{fourth}},
		{"a lot of another part", "L2", []string{"AP-8"}, nil},
		{"a part that nobody used", "", []string{"AP-9"}, nil},
	} {
		for _, size := range []int32{1, 2, 500} {
			if got := w.used(size, c.lot, c.parts...); !slices.Equal(got, c.want) {
				t.Errorf("%s, by pages of %d:\n got %q\nwant %q", c.what, size, got, c.want)
			}
		}
	}
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: wrong.GetName(), Reason: "another vehicle's", Etag: wrong.GetEtag()}))(t)
	if got := w.used(500, "L2"); got != nil {
		t.Errorf("an entry that was struck out is among them: %q", got)
	}
	w.entry(other, "2022-05-01", &schedulev1.PartUsed{Part: "AP-7", Quantity: 1})
	if got, want := w.used(500, "", "AP-7"), []string{other + " 2022-05-01 1 AP-7", first, second, third}; !slices.Equal(got, want) {
		t.Errorf("what was recorded just now:\n got %q\nwant %q", got, want)
	}
}

func TestShimsOfKnownNumberCountAsPartsUsedOnce(t *testing.T) {
	w := start(t, "2016-01-01", every("T02", "", 24))
	shim := func(part string, count int32) *schedulev1.ShimUsed {
		return &schedulev1.ShimUsed{Thickness: &vehiclev1.Quantity{Value: "0.10", Unit: "mm"}, Count: count, Part: part}
	}
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2020-05-01"), Parts: []*schedulev1.PartUsed{{Part: "AP-31", Quantity: 2}},
		Items: []*schedulev1.ItemDone{{ItemId: "T02", Shims: []*schedulev1.ShimWork{{
			Position: "output-shaft-bearing", Characteristic: "end-float", Shims: []*schedulev1.ShimUsed{shim("AP31", 2), shim("AP-32", 0), shim("", 1)},
		}}}},
	}}))(t)
	if got, want := w.used(500, "", "AP-31", "AP-32"), []string{"AM0147P 2020-05-01 2 AP-31", "AM0147P 2020-05-01 1 AP-32"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestAQuestionAboutNoPartAndNoLotIsRefused(t *testing.T) {
	w := start(t, "2016-01-01", every("E01", "", 12))
	for field, r := range map[string]*schedulev1.ListPartsUsedRequest{
		"parts":     {},
		"lot":       {Lot: " - "},
		"parts[1]":  {Parts: []string{"AP-1", "-"}},
		"page_size": {Parts: []string{"AP-1"}, PageSize: -1},
	} {
		_, err := w.ListPartsUsed(t.Context(), r)
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != field {
			t.Errorf("got %v, want a refusal of %s", f.Fields, field)
		}
	}
	if _, err := w.ListPartsUsed(t.Context(), &schedulev1.ListPartsUsedRequest{Parts: make([]string, 101)}); err == nil {
		t.Error("101 parts are taken")
	}
}

// BenchmarkListPartsUsed asks for a page among 10,000 vehicles with 100,000
// entries of three parts each: a part of every vehicle, and a lot of a few.
func BenchmarkListPartsUsed(b *testing.B) {
	w := open(b, kv.NewStore(etcdtest.Client(b)))
	must(w.builds.CreateRelease(b.Context(), &buildv1.CreateReleaseRequest{Release: release()}))(b)
	random := rand.New(rand.NewPCG(1, 2))
	var builds []*buildv1.BuildRow
	var rows []*schedulev1.HistoryRow
	for n := 0; len(builds) < 10_000; n++ {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM%05d", n))
		if err != nil {
			continue // not issued
		}
		builds = append(builds, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: built(string(serial), "2016-01-01")}})
		for y := range 10 {
			rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: &schedulev1.ServiceEntry{
				Name: fmt.Sprintf("vehicles/%s/serviceEntries/s%d", serial, y), ServiceDate: calendar(fmt.Sprintf("%d-10-15", 2016+y)),
				Parts: []*schedulev1.PartUsed{
					{Part: "AP-1010", Quantity: 1, Lot: fmt.Sprintf("L%d", random.IntN(5000))}, {Part: "AP-1020", Quantity: 2},
					{Part: fmt.Sprintf("AP-%d", 2000+random.IntN(500)), Quantity: 1},
				},
			}}})
		}
	}
	pieces(b, len(builds), func(id string, sequence int32, from, to int) error {
		_, err := w.builds.StageImport(b.Context(), &buildv1.StageImportRequest{ImportId: id, Sequence: sequence, Rows: builds[from:to]})
		return err
	}, func(id string, n int32) error {
		_, err := w.builds.CommitImport(b.Context(), &buildv1.CommitImportRequest{ImportId: id, Chunks: n})
		return err
	})
	pieces(b, len(rows), func(id string, sequence int32, from, to int) error {
		_, err := w.StageImport(b.Context(), &schedulev1.StageImportRequest{ImportId: id, Sequence: sequence, Rows: rows[from:to]})
		return err
	}, func(id string, n int32) error {
		_, err := w.CommitImport(b.Context(), &schedulev1.CommitImportRequest{ImportId: id, Chunks: n})
		return err
	})
	health := healthv1.NewHealthClient(w.server.InProcess())
	b.Run("empty call", func(b *testing.B) {
		for b.Loop() {
			must(health.Check(b.Context(), &healthv1.HealthCheckRequest{}))(b)
		}
	})
	for name, r := range map[string]*schedulev1.ListPartsUsedRequest{
		"a lot":                    {Lot: "L7"},
		"a page of a common part":  {Parts: []string{"AP-1020"}},
		"500 uses of a rare part":  {Parts: []string{"AP-2007"}, PageSize: 500},
		"500 uses of a common one": {Parts: []string{"AP-1020"}, PageSize: 500},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				must(w.ListPartsUsed(b.Context(), r))(b)
			}
		})
	}
}

// pieces imports rows by the thousand, so that a slow machine keeps the deadline
// of a call.
func pieces(t testing.TB, n int, stage func(id string, sequence int32, from, to int) error, commit func(id string, n int32) error) {
	t.Helper()
	for first := 0; first < n; first += 1000 {
		id, sequence := fmt.Sprint("from", first), int32(0)
		for from := first; from < min(first+1000, n); from += 100 {
			if err := stage(id, sequence, from, min(from+100, n)); err != nil {
				t.Fatal(err)
			}
			sequence++
		}
		if err := commit(id, sequence); err != nil {
			t.Fatal(err)
		}
	}
}
