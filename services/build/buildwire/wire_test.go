package buildwire_test

import (
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
)

func fleet(t testing.TB) *buildv1.StageImportRequest {
	t.Helper()
	text, err := os.ReadFile("../testdata/fleet.textproto")
	if err != nil {
		t.Fatal(err)
	}
	rows := &buildv1.StageImportRequest{}
	if err := prototext.Unmarshal(text, rows); err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestWhatIsReadAndWrittenAgainIsTheSame(t *testing.T) {
	for _, row := range fleet(t).GetRows() {
		if p := row.GetRelease(); p != nil {
			r, err := buildwire.Release(p)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(p, buildwire.ReleaseProto(r), protocmp.Transform()); diff != "" {
				t.Errorf("%s (-want +got):\n%s", p.GetName(), diff)
			}
			continue
		}
		p := row.GetBuild()
		p.DeliveryReading = entered(p.GetDeliveryReading())
		for _, l := range p.GetRoadTest() {
			l.Reading = entered(l.GetReading())
		}
		rec, err := buildwire.Record(p)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(p, buildwire.RecordProto(rec), protocmp.Transform()); diff != "" {
			t.Errorf("%s (-want +got):\n%s", p.GetName(), diff)
		}
	}
}

// entered adds the millimetres, which a sender may leave out: a mile is
// exactly 1,609,344 mm (NIST SP 811, checks.md O-18).
func entered(d *vehiclev1.Distance) *vehiclev1.Distance {
	for text, mm := range map[string]int64{"212": 212 * 1_609_344, "180": 180 * 1_609_344, "95": 95 * 1_609_344} {
		if d.GetEnteredValue() == text {
			d.Millimetres = mm
		}
	}
	return d
}

func TestAChangeAndAnAmendmentAreReadAndWrittenTheSame(t *testing.T) {
	change := &buildv1.Change{
		Name: "builds/AM0147P/changes/0192f0", Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE,
		ChangeDate: &date.Date{Year: 2016, Month: 2, Day: 29}, AxleRatio: "4.70",
		Component:        &buildv1.Component{Position: "gearbox", Serial: "GB-1", PriorDistance: &vehiclev1.Distance{Millimetres: 1_609_344, EnteredValue: "1", EnteredUnit: "mi"}},
		Tyre:             &vehiclev1.Tyre{Size: "205R16"},
		SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 5, DrivenTeeth: 15},
		Dial:             &vehiclev1.Dial{Digits: 6, Unit: "km", TurnsPerUnit: 640, Tenths: true},
		DialStart:        &vehiclev1.Distance{EnteredValue: "0.0", EnteredUnit: "km"},
		Release:          "releases/R2", Positions: []string{"gearbox"}, Option: "winch", Plate: "AB 1", Reason: "worn", DoneBy: "P. Holt",
		Counterpart: "builds/AM0148N/changes/c1", RecordedBy: "desk", CreateTime: timestamppb.New(timestamppb.Now().AsTime()),
	}
	c, err := buildwire.Change(change)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(change, buildwire.ChangeProto(c), protocmp.Transform()); diff != "" {
		t.Errorf("change (-want +got):\n%s", diff)
	}
	rec, err := buildwire.Record(fleet(t).GetRows()[3].GetBuild())
	if err != nil {
		t.Fatal(err)
	}
	amendment := &buildv1.Amendment{
		Name: "builds/AM0147P/amendments/a1", Reason: "misread", Author: "desk",
		Fields: []*buildv1.AmendedField{{Path: "plate", Before: "A", After: "B"}}, Before: buildwire.RecordProto(rec),
	}
	a, err := buildwire.Amendment(amendment)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(amendment, buildwire.AmendmentProto(a), protocmp.Transform()); diff != "" {
		t.Errorf("amendment (-want +got):\n%s", diff)
	}
}

func TestEveryFieldThatCannotBeReadIsNamedAtOnce(t *testing.T) {
	b := &buildv1.Build{
		Name: "builds/AM0147P", Release: "R1", AxleRatio: "4,70",
		BuildDate:       &date.Date{Year: 2012, Month: 13, Day: 1},
		DeliveryReading: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "furlong"},
		Components:      []*buildv1.Component{{Position: "gearbox", FittedDate: &date.Date{Year: 2012}}},
		Measurements:    []*buildv1.Measurement{{Value: &vehiclev1.Quantity{Value: "thin", Unit: "mm"}}},
		RoadTest:        []*buildv1.RoadTestLine{{Reading: &vehiclev1.Distance{EnteredValue: "1", EnteredUnit: "mi", Millimetres: 5}}},
		CreateTime:      &timestamppb.Timestamp{Nanos: -1},
	}
	_, err := buildwire.Record(b)
	if !fault.Is(err, fault.Invalid) {
		t.Fatalf("got %v, want a refusal", err)
	}
	var got []string
	for _, f := range fault.FieldsOf("", err) {
		got = append(got, f.Name)
	}
	slices.Sort(got)
	want := []string{"axle_ratio", "build_date", "components[0].fitted_date", "create_time", "delivery_reading.entered_unit",
		"measurements[0].value.value", "release", "road_test[0].reading.millimetres"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

func TestAWrongCheckCharacterKeepsItsReason(t *testing.T) {
	_, err := buildwire.Record(&buildv1.Build{Name: "builds/AM0147Q"})
	if !build.WrongCheck(err) {
		t.Errorf("got %v, want the reason SERIAL_CHECK", err)
	}
}

// FuzzRecord reads and checks arbitrary messages: whatever comes, there is an
// answer, and what passes is stored and read again as the same.
func FuzzRecord(f *testing.F) {
	releases := build.ReleaseSet{}
	for _, row := range fleet(f).GetRows() {
		if p := row.GetRelease(); p != nil {
			r, err := buildwire.Release(p)
			if err != nil {
				f.Fatal(err)
			}
			releases[r.ID] = &r
			continue
		}
		raw, err := proto.Marshal(row.GetBuild())
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		var p buildv1.Build
		if proto.Unmarshal(raw, &p) != nil {
			return
		}
		rec, err := buildwire.Record(&p)
		wrong := build.CheckRecord(&rec, releases)
		build.CheckRecord(&rec, nil)
		if err != nil || len(wrong) > 0 {
			return
		}
		stored := buildwire.RecordProto(rec)
		again, err := buildwire.Record(stored)
		if err != nil {
			t.Fatalf("what was accepted cannot be read again: %v", err)
		}
		if !proto.Equal(stored, buildwire.RecordProto(again)) || len(build.Diff(&rec, &again)) > 0 {
			t.Fatal("what was accepted reads otherwise when stored")
		}
		c, err := build.AsBuilt(rec, releases)
		if err != nil {
			t.Fatalf("what was accepted has no configuration: %v", err)
		}
		buildwire.ConfigurationProto(c)
		for _, fitted := range c.Fitted {
			if fitted.Component.Part == "" {
				t.Fatalf("no part at %s", fitted.Component.Position)
			}
		}
	})
}

// FuzzChange checks arbitrary changes against a vehicle and replays them, right
// or wrong: no history may make a vehicle unreadable.
func FuzzChange(f *testing.F) {
	rows := fleet(f).GetRows()
	releases := build.ReleaseSet{}
	for _, row := range rows[:3] {
		r, err := buildwire.Release(row.GetRelease())
		if err != nil {
			f.Fatal(err)
		}
		releases[r.ID] = &r
	}
	rec, err := buildwire.Record(rows[3].GetBuild())
	if err != nil {
		f.Fatal(err)
	}
	for kind := range 12 {
		raw, err := proto.Marshal(&buildv1.Change{
			Name: "builds/AM0147P/changes/c", Kind: buildv1.ChangeKind(kind), Source: 1, ChangeDate: &date.Date{Year: 2014, Month: 1, Day: 1},
			Component: &buildv1.Component{Position: "gearbox"}, Release: "releases/R2", Positions: []string{"gearbox"}, Option: "winch",
		})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		var p buildv1.Change
		if proto.Unmarshal(raw, &p) != nil {
			return
		}
		c, _ := buildwire.Change(&p)
		today := rec.Built.AddDays(5000)
		build.CheckChange(&c, &rec, nil, releases, today)
		build.CheckImported(&c, &rec, releases, today)
		conf, err := build.Configure(rec, []build.Change{c}, releases, today)
		if err != nil {
			t.Fatal(err)
		}
		buildwire.ConfigurationProto(conf)
		if _, err := build.TimelineOf(rec, []build.Change{c}, releases); err != nil {
			t.Fatal(err)
		}
	})
}
