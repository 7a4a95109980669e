package console

import (
	"context"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
)

func TestEveryKindOfChangeIsSentAsItWasTyped(t *testing.T) {
	miles := func(value string, mm int64) *vehiclev1.Distance {
		return &vehiclev1.Distance{Millimetres: mm, EnteredValue: value, EnteredUnit: "mi"}
	}
	for _, c := range []struct {
		name  string
		typed ChangeOf
		want  *buildv1.Change
	}{
		{"a position with spaces and a life elsewhere", FitChange{Position: "Rear axle  differential", Part: "AP-3010", Prior: "12,000 miles"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Component: &buildv1.Component{
				Position: "rear-axle-differential", Part: "AP-3010", PriorDistance: miles("12000", 12000*1609344)}}},
		{"a position left empty", RemoveChange{"winch"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_REMOVE, Component: &buildv1.Component{Position: "winch"}}},
		{"an overhaul that found out the serial", OverhaulChange{Position: "gearbox", Serial: "G1"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Component: &buildv1.Component{Position: "gearbox", Serial: "G1"}}},
		{"tyres, measured", TyresChange{"7.50-16", "bar", "2450 mm"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, Tyre: &vehiclev1.Tyre{Size: "7.50-16", Pattern: "bar", CircumferenceMm: 2450}}},
		{"an axle ratio as it is printed", AxleRatioChange{"4.70 to 1"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, AxleRatio: "4.70"}},
		{"drive gears as they are printed", SpeedometerDriveChange{"6/16"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE, SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 6, DrivenTeeth: 16}}},
		{"a dial whose start has its unit", DialChange{Digits: 5, Unit: "miles", TurnsPerUnit: 1000, Tenths: true, Start: "0.5"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000, Tenths: true},
				DialStart: miles("0.5", 804672)}},
		{"an upgrade", UpgradeChange{"R3", []string{"air-cleaner", "oil filter"}},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_UPGRADE, Release: "releases/R3", Positions: []string{"air-cleaner", "oil-filter"}}},
		{"an option added", OptionChange{Option: "tow-hitch"},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, Option: "tow-hitch"}},
		{"an option taken off", OptionChange{Option: "tow-hitch", Removed: true},
			&buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_REMOVED, Option: "tow-hitch"}},
		{"no plate any more", PlateChange{" "}, &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := &buildv1.Change{}
			if wrong := c.typed.enter(got); wrong != nil {
				t.Fatalf("refused: %v", wrong)
			}
			if diff := cmp.Diff(c.want, got, protocmp.Transform()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestWhatCannotBeReadIsRefusedByItsName(t *testing.T) {
	for _, c := range []struct {
		name  string
		typed ChangeOf
		field string
	}{
		{"a prior distance that may be of any unit", FitChange{Position: "gearbox", Prior: "12000"}, "prior"},
		{"a prior distance in leagues", FitChange{Position: "gearbox", Prior: "12 leagues"}, "prior.unit"},
		{"a circumference in inches", TyresChange{Size: "7.50-16", Circumference: "96in"}, "circumference"},
		{"a circumference below nothing", TyresChange{Size: "7.50-16", Circumference: "-2450mm"}, "circumference"},
		{"a ratio in words", AxleRatioChange{"long"}, "axle_ratio"},
		{"one gear", SpeedometerDriveChange{"6"}, "speedometer_drive"},
		{"a gear of no whole teeth", SpeedometerDriveChange{"6:16.5"}, "speedometer_drive"},
		{"a dial in furlongs", DialChange{Digits: 5, Unit: "furlongs", Start: "0"}, "unit"},
		{"a dial that started at a word", DialChange{Digits: 5, Unit: "km", Start: "nothing"}, "start.value"},
	} {
		t.Run(c.name, func(t *testing.T) {
			wrong := c.typed.enter(&buildv1.Change{})
			if len(wrong) != 1 || wrong[0].Name != c.field || wrong[0].Want == "" {
				t.Errorf("got %+v, want one about %s", wrong, c.field)
			}
		})
	}
}

func TestAChangeTellsWhyAndUnderWhoseAuthorityAllAtOnce(t *testing.T) {
	for _, c := range []struct {
		name  string
		typed Change
		want  string
	}{
		{"neither", Change{What: RemoveChange{"winch"}}, "source reason"},
		{"an authority that is none", Change{What: RemoveChange{"winch"}, Source: "garage", Reason: "sold"}, "source"},
		{"everything wrong", Change{What: AxleRatioChange{"x"}, Reason: " "}, "axle_ratio source reason"},
		{"a plate needs neither", Change{What: PlateChange{"PH 1"}}, ""},
		{"a plate under an authority that is none", Change{What: PlateChange{"PH 1"}, Source: "garage"}, "source"},
		{"all said", Change{What: RemoveChange{"winch"}, Source: "owner", Reason: "sold"}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, wrong := c.typed.proto()
			var names []string
			for _, f := range wrong {
				names = append(names, f.Name)
			}
			if got := strings.Join(names, " "); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestAReadingIsReadWithItsUnitJoinedOnApartOrNotSaid(t *testing.T) {
	for text, want := range map[string]string{
		"48210mi": "48210 mi", "48,210 km": "48210 km", "48210.5": "48210.5 km", " 7 miles ": "7 mi", "": "",
	} {
		d, err := dialReading("reading", text, "km")
		if err != nil || entered(d) != want {
			t.Errorf("%q: got %q, %v, want %q", text, entered(d), err, want)
		}
	}
	for _, text := range []string{"mi", "48 210", "4,82 mi", " "} {
		if d, err := dialReading("reading", text, "km"); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: got %v, %v, want a refusal", text, d, err)
		}
	}
}

// deskBuilds records changes and, once it has, answers nothing more.
type deskBuilds struct {
	buildv1.BuildServiceClient
	requests []*buildv1.RecordChangeRequest
}

func (b *deskBuilds) FindBuilds(context.Context, *buildv1.FindBuildsRequest, ...grpc.CallOption) (*buildv1.FindBuildsResponse, error) {
	return &buildv1.FindBuildsResponse{Matches: []*buildv1.BuildMatch{{Build: "builds/AM0147P", MatchedBy: "serial"}}}, nil
}

func (b *deskBuilds) GetConfiguration(context.Context, *buildv1.GetConfigurationRequest, ...grpc.CallOption) (*buildv1.Configuration, error) {
	if len(b.requests)%2 == 1 {
		return nil, status.Error(codes.Unavailable, "gone")
	}
	return &buildv1.Configuration{OnDate: &date.Date{Year: 2026, Month: 5, Day: 18}, Tyre: &vehiclev1.Tyre{Size: "7.50-16", Pattern: "bar"},
		Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000}}, nil
}

func (b *deskBuilds) RecordChange(_ context.Context, r *buildv1.RecordChangeRequest, _ ...grpc.CallOption) (*buildv1.Change, error) {
	b.requests = append(b.requests, r)
	made := proto.CloneOf(r.GetChange())
	made.Name = "builds/AM0147P/changes/c1"
	return made, nil
}

func (b *deskBuilds) ListChanges(context.Context, *buildv1.ListChangesRequest, ...grpc.CallOption) (*buildv1.ListChangesResponse, error) {
	return nil, status.Error(codes.Unavailable, "gone")
}

func (b *deskBuilds) GetDriveLine(context.Context, *buildv1.GetDriveLineRequest, ...grpc.CallOption) (*buildv1.VehicleDriveLine, error) {
	return nil, status.Error(codes.Unavailable, "gone")
}

// noSchedules is a schedule service that cannot be reached.
type noSchedules struct {
	schedulev1.ScheduleServiceClient
}

func (noSchedules) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	return nil, status.Error(codes.Unavailable, "gone")
}

func (noSchedules) ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	return nil, status.Error(codes.Unavailable, "gone")
}

// noDoor is an access service that cannot be reached.
type noDoor struct{ accessv1.AccessServiceClient }

func (noDoor) WhoAmI(context.Context, *accessv1.WhoAmIRequest, ...grpc.CallOption) (*accessv1.WhoAmIResponse, error) {
	return nil, status.Error(codes.Unavailable, "gone")
}

// Whoever took an error for a refusal would record the change again.
func TestARecordedChangeIsNeverReportedAsAFailure(t *testing.T) {
	builds, out := &deskBuilds{}, &strings.Builder{}
	k := &Console{Access: noDoor{}, Builds: builds, Schedules: noSchedules{}, Out: out}
	typed := Change{What: TyresChange{Size: "235/85R16"}, Source: "owner", Reason: "taller"}
	if err := k.RecordChange(t.Context(), "am 0147 p", typed); err != nil {
		t.Fatalf("got %v", err)
	}
	for _, want := range []string{"the tyres became 235/85R16", "before    7.50-16 bar", "The schedule could not be asked",
		"halfshaft record event AM0147P wheel-refitted --on 2026-05-18", "What did the odometer show", "builds/AM0147P/changes/c1"} {
		if got := strings.Join(strings.Fields(out.String()), " "); !strings.Contains(got, strings.Join(strings.Fields(want), " ")) {
			t.Errorf("%q is not in:\n%s", want, out)
		}
	}
	builds.requests = append(builds.requests, nil) // answers again
	if err := k.RecordChange(t.Context(), "am 0147 p", typed); err != nil {
		t.Fatalf("got %v", err)
	}
	first, second := builds.requests[0].GetRequestId(), builds.requests[2].GetRequestId()
	if len(first) != 36 || first == second {
		t.Errorf("request ids: %q, %q", first, second)
	}
}
