package buildrpc_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
)

// near compares with the relative tolerance of checks.md, 1e-6.
func near(got, want float64) bool { return math.Abs(got-want) <= 1e-6*math.Abs(want) }

// sample is a made-up release with the numbers of O-15 and O-17. Its tyre was
// measured at 2457 mm, which is 655.0037 turns a mile.
func sample() *buildv1.Release {
	return &buildv1.Release{
		Name: "releases/S1", Title: "made up", EffectiveDate: on(2010, 1, 1),
		Fitments: []*buildv1.Fitment{{Position: "gearbox", Part: "AP-1"}, {Position: "transfer-case", Part: "AP-2"}},
		Options: []*buildv1.Option{{OptionId: "long-gears", Fitments: []*buildv1.Fitment{
			{Position: "gearbox", Part: "AP-3", Ratios: []string{"2.996", "0.800"}}}}},
		Driveline: &buildv1.Driveline{
			Gears: []string{"2.996", "1.000"}, TransferHigh: "1.148", TransferLow: "2.888", AxleRatio: "4.70",
			Tyre:             &vehiclev1.Tyre{Size: "235/85R16", Pattern: "all-terrain", CircumferenceMm: 2457},
			SpeedometerDrive: pair(5, 15), Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000},
			AvailableSpeedometerDrives: []*vehiclev1.SpeedometerDrive{pair(6, 16), pair(5, 14), pair(5, 16), pair(5, 15)},
			Sample:                     true,
		},
	}
}

func pair(driver, driven int32) *vehiclev1.SpeedometerDrive {
	return &vehiclev1.SpeedometerDrive{DriverTeeth: driver, DrivenTeeth: driven}
}

// sampled has one vehicle of that release.
func sampled(t *testing.T) *works {
	t.Helper()
	w := start(t)
	release := must(w.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: sample()}))(t)
	want := sample()
	want.Etag, want.CreateTime = release.GetEtag(), release.GetCreateTime()
	if diff := cmp.Diff(want, must(w.GetRelease(t.Context(), &buildv1.GetReleaseRequest{Name: "releases/S1"}))(t), protocmp.Transform()); diff != "" {
		t.Fatalf("the release is not kept as it was made (-want +got):\n%s", diff)
	}
	must(w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: &buildv1.Build{
		Name: "builds/AM0147P", FrameNumber: "FN 1", Release: "releases/S1", BuildDate: on(2012, 1, 1), DeliveryDate: on(2012, 2, 1)}}))(t)
	return w
}

func (w *works) driveLine(t *testing.T, r *buildv1.GetDriveLineRequest) *buildv1.VehicleDriveLine {
	t.Helper()
	r.Name = "builds/am 0147 p/driveLine"
	return must(w.GetDriveLine(t.Context(), r))(t)
}

func (w *works) change(t *testing.T, c *buildv1.Change) {
	t.Helper()
	if c.Source == buildv1.ChangeSource_CHANGE_SOURCE_UNSPECIFIED {
		c.Source = buildv1.ChangeSource_CHANGE_SOURCE_SERVICE
	}
	must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: c}))(t)
}

func rule(reasons []*vehiclev1.Reason, rule string) *vehiclev1.Reason {
	for _, r := range reasons {
		if r.GetRule() == rule {
			return r
		}
	}
	return nil
}

func TestADriveLineAnswersByTheRecord(t *testing.T) {
	w := sampled(t)
	d := w.driveLine(t, &buildv1.GetDriveLineRequest{EngineSpeedRpm: 3000})
	if d.GetName() != "builds/AM0147P/driveLine" || !d.GetSample() || d.GetSpeedUnit() != "mph" || len(d.GetMissing()) != 0 {
		t.Errorf("got %v", d)
	}
	// 1 609 344 mm / 2457 mm (F1); the values of O-15 and O-17 are for 655 turns.
	n := d.GetTyre().GetRevsPerMile()
	if !near(n, 655.003663) || d.GetTyre().GetEstimated() || d.GetTyre().GetCircumferenceMm() != 2457 {
		t.Errorf("tyre %v", d.GetTyre())
	}
	speeds := d.GetRoadSpeeds() // high 1, high 2, low 1, low 2
	if len(speeds) != 4 || speeds[1].GetRange() != "high" || speeds[1].GetGear() != 2 || speeds[2].GetRange() != "low" {
		t.Fatalf("speeds %v", speeds)
	}
	// O-15: 16.977362 mph in top, 2.252543 in low first, per 1,000 rev/min (F1).
	if !near(speeds[1].GetSpeedPerThousandRpm()*n/655, 16.977362) || !near(speeds[2].GetSpeedPerThousandRpm()*n/655, 2.252543) {
		t.Errorf("per 1000 rev/min %f and %f", speeds[1].GetSpeedPerThousandRpm(), speeds[2].GetSpeedPerThousandRpm())
	}
	if !near(speeds[1].GetSpeedAtEngineSpeed(), 3*speeds[1].GetSpeedPerThousandRpm()) || d.GetEngineSpeedRpm() != 3000 {
		t.Errorf("at 3000 rev/min %f", speeds[1].GetSpeedAtEngineSpeed())
	}
	// O-17 (F4): K_v = 1026.166667 against 1000: reads 2.617 % high, k = 0.974501.
	s := d.GetSpeedometer()
	if !near(s.GetCableTurnsPerMile()*655/n, 1026.166667) || s.GetDialTurnsPerMile() != 1000 {
		t.Errorf("turns %v", s)
	}
	if math.Abs(s.GetReadsHighPercent()-2.617) > 1e-3 || math.Abs(float64(s.GetOdometerFactorPpm())-974_501*655/n) > 1 {
		t.Errorf("factor %v", s)
	}
	if row := s.GetDialSpeeds()[4]; len(s.GetDialSpeeds()) != 7 || row.GetSpeed() != 50 || math.Abs(row.GetIndicatedSpeed()-51.3086) > 1e-3 {
		t.Errorf("dial speeds %v", s.GetDialSpeeds())
	}
	if again := w.driveLine(t, &buildv1.GetDriveLineRequest{}); again.GetEngineSpeedRpm() != 2500 {
		t.Errorf("an engine speed not asked for is %d", again.GetEngineSpeedRpm())
	}
}

func TestTheAdviceKeepsToTheLaw(t *testing.T) {
	w := sampled(t)
	a := w.driveLine(t, &buildv1.GetDriveLineRequest{}).GetAdvice()
	if math.Abs(a.GetReadsAt_50Mph()-51.3086) > 1e-3 || a.GetReadsAt_50MphLeast() != a.GetReadsAt_50Mph() || a.GetCaution() == "" {
		t.Errorf("at 50 mph %v", a)
	}
	// O-54: UN Regulation No. 39 § 5.3.
	for i, want := range []struct{ v, most float64 }{{40, 48}, {80, 92}, {120, 136}} {
		b := a.GetNow().GetBand()[i]
		if b.GetTrueKmh() != want.v || b.GetLeastKmh() != want.v || !near(b.GetMostKmh(), want.most) || !b.GetWithin() {
			t.Errorf("at %.0f km/h %v", want.v, b)
		}
	}
	// By hand, 3078.5 turns x driver/driven: 5/15 reads 1.026, 5/14 1.0995; 5/16
	// 0.962 shows less than the truth, and 6/16 1.154 shows 138.5 at 120.
	got := []int32{}
	for _, f := range a.GetPairs() {
		got = append(got, f.GetDrive().GetDrivenTeeth())
	}
	if !slices.Equal(got, []int32{15, 14}) {
		t.Errorf("pairs with driven teeth %v", got)
	}

	// A longer axle makes it read low; of the gears offered, none helps.
	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, ChangeDate: on(2020, 5, 1), AxleRatio: "4.12"})
	d := w.driveLine(t, &buildv1.GetDriveLineRequest{AvailableSpeedometerDrives: []*vehiclev1.SpeedometerDrive{pair(5, 15), pair(5, 16)}})
	a = d.GetAdvice()
	if a.GetNow().GetInBand() || len(a.GetPairs()) != 0 || a.GetNearest().GetDrive().GetDrivenTeeth() != 15 || rule(a.GetReasons(), "NO_DRIVE_GEARS") == nil || rule(a.GetReasons(), "READS_LOW") == nil {
		t.Errorf("where none helps: %v", a)
	}
	if r := rule(d.GetReasons(), "READ_BEFORE"); r == nil || !strings.Contains(r.GetSentence(), "Until 1 May 2020 it read 2.6 % high") || !strings.HasPrefix(r.GetRecord(), "builds/AM0147P/changes/") {
		t.Errorf("before: %v", r)
	}
	if before := w.driveLine(t, &buildv1.GetDriveLineRequest{OnDate: on(2020, 4, 30)}); before.GetAxleRatio() != "4.70" || rule(before.GetReasons(), "READ_BEFORE") != nil {
		t.Errorf("the day before: %v", before)
	}
}

func TestADialInKilometresIsAnsweredInKilometres(t *testing.T) {
	w := sampled(t)
	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, ChangeDate: on(2020, 5, 1), Dial: &vehiclev1.Dial{Digits: 6, Unit: "km", TurnsPerUnit: 640},
		DialStart: &vehiclev1.Distance{EnteredValue: "0", EnteredUnit: "km"}})
	d := w.driveLine(t, &buildv1.GetDriveLineRequest{})
	n := d.GetTyre().GetRevsPerMile()
	// O-15: 27.322415 km/h in top.
	if top := d.GetRoadSpeeds()[1].GetSpeedPerThousandRpm(); d.GetSpeedUnit() != "km/h" || !near(top*n/655, 27.322415) {
		t.Errorf("%f %s in top", top, d.GetSpeedUnit())
	}
	// O-18 (NIST SP 811): 640 turns a kilometre are 640 x 1.609344 a mile.
	if got := d.GetSpeedometer().GetDialTurnsPerMile(); !near(got, 1029.98016) {
		t.Errorf("%f turns a mile", got)
	}
	if rows := d.GetSpeedometer().GetDialSpeeds(); len(rows) != 6 || rows[5].GetSpeed() != 120 {
		t.Errorf("rows %v", rows)
	}
}

func TestWhatIsNotOnRecordIsNamedAndNeverGuessed(t *testing.T) {
	w := sampled(t)
	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, ChangeDate: on(2018, 1, 1), Tyre: &vehiclev1.Tyre{Size: "235/85R16", Pattern: "road"}})
	d := w.driveLine(t, &buildv1.GetDriveLineRequest{})
	a := d.GetAdvice()
	if !d.GetTyre().GetEstimated() || d.GetTyre().GetTolerancePercent() != 2 || rule(d.GetReasons(), "TYRE_ESTIMATED") == nil ||
		a.GetReadsAt_50MphLeast() >= a.GetReadsAt_50Mph() || a.GetReadsAt_50MphMost() <= a.GetReadsAt_50Mph() {
		t.Errorf("an estimated tyre widens the answer: %v, %v", d.GetTyre(), a)
	}

	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, ChangeDate: on(2019, 1, 1), Option: "long-gears"})
	if d = w.driveLine(t, &buildv1.GetDriveLineRequest{}); !slices.Equal(d.GetGears(), []string{"2.996", "0.800"}) {
		t.Errorf("an option's gears: %v", d.GetGears())
	}
	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_OWNER, ChangeDate: on(2020, 1, 1),
		Component: &buildv1.Component{Position: "gearbox", Part: "OWN-5"}})
	d = w.driveLine(t, &buildv1.GetDriveLineRequest{})
	if r := rule(d.GetMissing(), "GEARBOX_RATIOS_UNKNOWN"); r == nil || len(d.GetRoadSpeeds()) != 0 || len(d.GetGears()) != 0 || d.GetSpeedometer() == nil || d.GetTransferLow() != "2.888" {
		t.Errorf("an owner's gearbox: %v", d)
	}
	w.change(t, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, ChangeDate: on(2021, 1, 1), Tyre: &vehiclev1.Tyre{Size: "6.00-16"}})
	d = w.driveLine(t, &buildv1.GetDriveLineRequest{})
	if rule(d.GetMissing(), "TYRE_UNKNOWN") == nil || d.GetSpeedometer() != nil || d.GetAdvice() != nil || d.GetTyre().GetCircumferenceMm() != 0 || d.GetAxleRatio() != "4.70" {
		t.Errorf("a tyre that nobody knows: %v", d)
	}
}

func TestAQuestionAboutADriveLineThatMakesNoSenseIsRefused(t *testing.T) {
	w := sampled(t)
	ask := func(r *buildv1.GetDriveLineRequest) error {
		if r.Name == "" {
			r.Name = "builds/AM0147P/driveLine"
		}
		_, err := w.GetDriveLine(t.Context(), r)
		return err
	}
	refused(t, ask(&buildv1.GetDriveLineRequest{Name: "builds/AM0147P"}), fault.Invalid, "INVALID_FIELD")
	refused(t, ask(&buildv1.GetDriveLineRequest{Name: "builds/AM0147Q/driveLine"}), fault.Invalid, "SERIAL_CHECK")
	refused(t, ask(&buildv1.GetDriveLineRequest{Name: "builds/AM0013G/driveLine"}), fault.NotFound, "BUILD_NOT_FOUND")
	refused(t, ask(&buildv1.GetDriveLineRequest{OnDate: on(2011, 12, 31)}), fault.FailedPrecondition, "NOT_BUILT_YET")
	refused(t, ask(&buildv1.GetDriveLineRequest{OnDate: on(2011, 2, 30)}), fault.Invalid, "INVALID_FIELD")
	f := refused(t, ask(&buildv1.GetDriveLineRequest{EngineSpeedRpm: 10_001, AvailableSpeedometerDrives: []*vehiclev1.SpeedometerDrive{pair(5, 15), pair(5, 0)}}),
		fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) != 2 || f.Fields[0].Name != "engine_speed_rpm" || f.Fields[1].Name != "available_speedometer_drives[1].driven_teeth" {
		t.Errorf("fields %+v", f.Fields)
	}

	other := proto.CloneOf(sample())
	other.Name, other.Fitments[0].Ratios = "releases/S2", []string{"1,0"}
	_, err := w.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: other})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) < 1 || f.Fields[0].Name != "release.fitments[0].ratios[0]" {
		t.Errorf("fields %+v", f.Fields)
	}
}
