package build_test

import (
	"os"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/prototext"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// fleet reads testdata/fleet.textproto.
func fleet(t testing.TB) (map[vehicle.Serial]build.Record, build.ReleaseSet) {
	t.Helper()
	text, err := os.ReadFile("testdata/fleet.textproto")
	if err != nil {
		t.Fatal(err)
	}
	var rows buildv1.StageImportRequest
	if err := prototext.Unmarshal(text, &rows); err != nil {
		t.Fatal(err)
	}
	records, releases := map[vehicle.Serial]build.Record{}, build.ReleaseSet{}
	for _, row := range rows.GetRows() {
		if p := row.GetRelease(); p != nil {
			r, err := buildwire.Release(p)
			if err != nil {
				t.Fatal(err)
			}
			releases[r.ID] = &r
			continue
		}
		rec, err := buildwire.Record(row.GetBuild())
		if err != nil {
			t.Fatal(err)
		}
		records[rec.Serial] = rec
	}
	return records, releases
}

// first is the vehicle that most tests look at.
func first(t testing.TB) (build.Record, build.ReleaseSet) {
	t.Helper()
	records, releases := fleet(t)
	return records["AM0147P"], releases
}

func day(y int, m time.Month, d int) vehicle.Date { return vehicle.MustDate(y, m, d) }

func miles(t testing.TB, text string) vehicle.Entered {
	t.Helper()
	v, err := vehicle.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return vehicle.Entered{Value: v, Unit: vehicle.Miles}
}

// history names changes in the order given, which is the order in which they
// were recorded.
func history(changes ...build.Change) []build.Change {
	for i := range changes {
		changes[i].Serial, changes[i].ID = "AM0147P", "c"+string(rune('1'+i))
		changes[i].Created = time.Date(2020, 1, 1, 0, 0, i, 0, time.UTC)
	}
	return changes
}

func configure(t testing.TB, rec build.Record, changes []build.Change, releases build.ReleaseSet, on vehicle.Date) build.Configuration {
	t.Helper()
	c, err := build.Configure(rec, changes, releases, on)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// complaints gives the names of the fields that a check refused.
func complaints(fields []fault.Field) []string {
	var names []string
	for _, f := range fields {
		names = append(names, f.Name)
	}
	return names
}
