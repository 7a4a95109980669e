package partsrpc_test

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/projection"
	"halfshaft/services/parts/partsrpc"
	"halfshaft/services/schedule/schedulerpc"
)

// usesWorks is the parts service beside the real build and schedule services.
type usesWorks struct {
	*works
	schedules schedulev1.ScheduleServiceClient
}

// startUses starts the three. Without a way to the schedule service given, it
// is asked over the same server.
func startUses(t testing.TB, schedules schedulev1.ScheduleServiceClient) *usesWorks {
	t.Helper()
	store, group := kv.NewStore(etcdtest.Client(t)), &projection.Group{}
	logger := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	server := grpcserver.New(grpcserver.Config{Gate: gate{}, Logger: logger})
	conn := server.InProcess()
	w := &usesWorks{
		works:     &works{store: store, builds: buildv1.NewBuildServiceClient(conn), PartsServiceClient: partsv1.NewPartsServiceClient(conn), health: healthgrpc.NewHealthClient(conn)},
		schedules: schedulev1.NewScheduleServiceClient(conn),
	}
	if schedules == nil {
		schedules = w.schedules
	}
	builds := must(buildrpc.New(t.Context(), buildrpc.Config{Store: store, Group: group, Clock: clock}))(t)
	schedule := must(schedulerpc.New(t.Context(), schedulerpc.Config{Store: store, Group: group, Builds: w.builds, Clock: clock}))(t)
	service := must(partsrpc.New(t.Context(), partsrpc.Config{
		Store: store, Group: group, Builds: w.builds, Schedules: schedules, Clock: clock, Logger: logger,
	}))(t)
	builds.RegisterService(server)
	schedule.RegisterService(server)
	service.RegisterService(server)
	served := make(chan error, 1)
	go func() { served <- server.Serve(context.Background()) }()
	t.Cleanup(func() {
		for _, end := range []func() error{service.Close, schedule.Close, server.Close, builds.Close} {
			if err := end(); err != nil {
				t.Error(err)
			}
		}
		if err := <-served; err != nil {
			t.Error(err)
		}
	})
	for _, ready := range []func(context.Context) error{schedule.Ready, service.Ready} {
		if err := ready(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

// addServiced is addVehicle with a service programme, without which no work can
// be recorded.
func (w *usesWorks) addServiced(t testing.TB, body string) (name string) {
	t.Helper()
	must(w.schedules.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: &schedulev1.Programme{
		Name: "programmes/trial/versions/1", Title: "trial", EffectiveDate: on(2000, 1, 1), Sample: true,
		Items: []*schedulev1.Item{{ItemId: "E01", Title: "Engine oil", Group: "engine", SourceMark: "b", Every: &schedulev1.Limit{Months: 12}}},
	}}))(t)
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: &buildv1.Release{
		Name: "releases/R2", Title: "Second", Programme: "programmes/trial", EffectiveDate: on(2010, 1, 1),
		Fitments: []*buildv1.Fitment{{Position: "gearbox", Part: "AP-2000"}},
		Driveline: &buildv1.Driveline{
			Gears: []string{"2.996"}, TransferHigh: "1.148", AxleRatio: "4.70", Tyre: &vehiclev1.Tyre{Size: "7.50-16"},
			SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 5, DrivenTeeth: 15},
			Dial:             &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000},
		},
	}}))(t)
	name = "builds/" + serial(t, body)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: &buildv1.Build{
		Name: name, FrameNumber: "F-" + body, Release: "releases/R2", BuildDate: on(2012, 6, 1), DeliveryDate: on(2012, 7, 1),
	}}))(t)
	return name
}

// uses writes the answer to a question a line each, after the counts.
func (w *usesWorks) uses(t testing.TB, req *partsv1.ListUsesRequest) []string {
	t.Helper()
	var counts string
	all, err := page.All(func(token string) ([]*partsv1.Use, string, error) {
		req.PageToken = token
		r, err := w.ListUses(t.Context(), req)
		counts = fmt.Sprintf("%d have, %d had, %d may", r.GetHasCount(), r.GetHadCount(), r.GetMayHaveCount())
		return r.GetUses(), r.GetNextPageToken(), err
	})
	if err != nil {
		t.Fatal(err)
	}
	lines := []string{counts}
	for _, u := range all {
		line := fmt.Sprintf("%s %s %s", strings.ToLower(strings.TrimPrefix(u.GetCertainty().String(), "USE_CERTAINTY_")), u.GetBuild(), u.GetPosition())
		line += fmt.Sprintf(" %d-%d %s %s", u.GetFromDate().GetYear(), u.GetUntilDate().GetYear(), u.GetPart(), u.GetLot())
		if u.GetCameFrom() != "" {
			line += " <" + u.GetCameFrom()
		}
		if u.GetWentTo() != "" {
			line += " >" + u.GetWentTo()
		}
		if len(u.GetReasons()) == 0 {
			t.Errorf("%s has no reason", line)
		}
		lines = append(lines, strings.Join(strings.Fields(line), " "))
	}
	return lines
}

func (w *usesWorks) expect(t testing.TB, what string, req *partsv1.ListUsesRequest, want ...string) {
	t.Helper()
	if got := w.uses(t, req); !slices.Equal(got, want) {
		t.Errorf("%s:\n got %q\nwant %q", what, got, want)
	}
}

func (w *usesWorks) fit(t testing.TB, name, part, serial, lot string, day int32) {
	t.Helper()
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: name, Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2014, 1, day),
		Component: &buildv1.Component{Position: "gearbox", Part: part, Serial: serial, Lot: lot}, Reason: "a trial",
	}}))(t)
}

func TestAComponentIsFollowedOverThreeVehicles(t *testing.T) {
	w := startUses(t, nil)
	a, b, c := w.addVehicle(t, "AM0101"), w.addVehicle(t, "AM0102"), w.addVehicle(t, "AM0103")
	w.fit(t, a, "AP-2000", "G-77", "L1", 1)
	for i, way := range [][2]string{{a, b}, {b, c}} {
		must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
			Source: way[0], Destination: way[1], SourcePosition: "gearbox", DestinationPosition: "gearbox",
			MoveDate: on(2016+2*int32(i), 1, 1), Reason: "swapped",
		}))(t)
	}
	w.expect(t, "its serial", &partsv1.ListUsesRequest{ComponentSerial: "g77", PageSize: 2}, "1 have, 2 had, 0 may",
		"had "+a+" gearbox 2014-2016 AP-2000 L1 >"+b, "had "+b+" gearbox 2016-2018 AP-2000 L1 <"+a+" >"+c, "has "+c+" gearbox 2018-0 AP-2000 L1 <"+b)
	w.expect(t, "on a day between", &partsv1.ListUsesRequest{ComponentSerial: "G-77", OnDate: on(2017, 1, 1)}, "1 have, 1 had, 0 may",
		"had "+a+" gearbox 2014-2016 AP-2000 L1 >"+b, "has "+b+" gearbox 2016-2018 AP-2000 L1 <"+a+" >"+c)
	_, err := w.ListUses(t.Context(), &partsv1.ListUsesRequest{ComponentSerial: "G-78"})
	refused(t, err, fault.NotFound, "COMPONENT_NOT_FOUND")
}

func TestUsesFollowAmendmentsAndServiceEntriesAtOnce(t *testing.T) {
	w := startUses(t, nil)
	name := w.addServiced(t, "AM0101")
	must(w.load(t, "first", gearboxes()...))(t)
	ofLot := &partsv1.ListUsesRequest{Part: "parts/ap2000", Lot: "L7"}
	w.expect(t, "before anybody knows the lot", ofLot, "0 have, 0 had, 1 may", "may_have "+name+" gearbox 2012-0 AP-2000")

	record := must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: name}))(t)
	record.Components = []*buildv1.Component{{Position: "gearbox", Lot: "L-7"}}
	must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: record, Reason: "found in the works' book"}))(t)
	w.expect(t, "amended", ofLot, "1 have, 0 had, 0 may", "has "+name+" gearbox 2012-0 AP-2000 L-7")
	record = must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: name}))(t)
	record.Components[0].Lot = "L8"
	must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: record, Reason: "misread"}))(t)
	w.expect(t, "amended again", ofLot, "0 have, 0 had, 0 may")

	vehicle := "vehicles/" + strings.TrimPrefix(name, "builds/")
	entry := must(w.schedules.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: vehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: on(2020, 5, 1), Parts: []*schedulev1.PartUsed{{Part: "AP 2000", Quantity: 1, Lot: "L7"}},
	}}))(t)
	w.expect(t, "used in service", ofLot, "1 have, 0 had, 0 may", "has "+name+" gearbox 2020-0 AP 2000 L7")
	w.expect(t, "the lot alone", &partsv1.ListUsesRequest{Lot: "l7"}, "1 have, 0 had, 0 may", "has "+name+" gearbox 2020-0 AP 2000 L7")
	w.expect(t, "the other lot is gone", &partsv1.ListUsesRequest{Lot: "L8"}, "0 have, 1 had, 0 may", "had "+name+" gearbox 2012-2020 AP-2000 L8")
	must(w.schedules.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: entry.GetName(), Reason: "another vehicle's", Etag: entry.GetEtag()}))(t)
	w.expect(t, "the entry struck out", &partsv1.ListUsesRequest{Lot: "L8"}, "1 have, 0 had, 0 may", "has "+name+" gearbox 2012-0 AP-2000 L8")

	w.expect(t, "what took its place", &partsv1.ListUsesRequest{Part: "parts/AP-2001"}, "0 have, 0 had, 0 may")
	w.expect(t, "with supersessions", &partsv1.ListUsesRequest{Part: "parts/AP-2001", WithSupersessions: true}, "1 have, 0 had, 0 may",
		"has "+name+" gearbox 2012-0 AP-2000 L8")
}

// What nobody records is found by the catalogue, and another catalogue at once.
func TestASmallPartIsFoundWhereTheCataloguePutsIt(t *testing.T) {
	w := startUses(t, nil)
	a, b := w.addVehicle(t, "AM0101"), w.addVehicle(t, "AM0102")
	must(w.load(t, "first", gearboxRows()...))(t)
	plug := &partsv1.ListUsesRequest{Part: "parts/AP-2110"}
	w.expect(t, "of both", plug, "0 have, 0 had, 2 may",
		"may_have "+a+" gearbox-drain-plug 2012-0 AP-2110", "may_have "+b+" gearbox-drain-plug 2012-0 AP-2110")
	w.fit(t, b, "AP-2999", "", "", 1)
	w.expect(t, "of the gearbox that came new", plug, "0 have, 0 had, 2 may",
		"may_have "+a+" gearbox-drain-plug 2012-0 AP-2110", "may_have "+b+" gearbox-drain-plug 2012-2014 AP-2110", "may_have "+b+" gearbox-drain-plug 2014-0 AP-2110")
	must(w.load(t, "second", applicationRow(&partsv1.Application{Name: "applications/A1", Position: "gearbox-drain-plug", Part: "parts/AP-2110",
		Conditions: &partsv1.Conditions{BuiltUntilDate: on(2011, 12, 31)}})))(t)
	w.expect(t, "for vehicles built before", plug, "0 have, 0 had, 0 may")
}

// A list that silently lacked what was used in service would clear vehicles
// that nobody may clear.
func TestWithoutTheServiceEntriesThereIsNoAnswer(t *testing.T) {
	nowhere := must(grpc.NewClient("unix:"+t.TempDir()+"/nobody", grpc.WithTransportCredentials(insecure.NewCredentials())))(t)
	defer nowhere.Close()
	elsewhere := grpcserver.New(grpcserver.Config{Gate: gate{}}) // serves no schedules
	served := make(chan error, 1)
	go func() { served <- elsewhere.Serve(context.Background()) }()
	for what, way := range map[string]grpc.ClientConnInterface{"nobody is there": nowhere, "it is not served there": elsewhere.InProcess()} {
		t.Run(what, func(t *testing.T) {
			w := startUses(t, schedulev1.NewScheduleServiceClient(way))
			w.addVehicle(t, "AM0101")
			for _, req := range []*partsv1.ListUsesRequest{{Part: "parts/AP-2000"}, {Lot: "L7"}} {
				_, err := w.ListUses(t.Context(), req)
				refused(t, err, fault.Unavailable, "SCHEDULES_OUT_OF_REACH")
			}
		})
	}
	elsewhere.Close()
	<-served
}

func TestAQuestionAboutUsesSaysWhatIsWrongWithIt(t *testing.T) {
	w := startUses(t, nil)
	w.addVehicle(t, "AM0101")
	for _, c := range []struct {
		field string
		req   *partsv1.ListUsesRequest
	}{
		{"part", &partsv1.ListUsesRequest{}},
		{"part", &partsv1.ListUsesRequest{Part: "AP-2000"}},
		{"part", &partsv1.ListUsesRequest{Part: "parts/--"}},
		{"lot", &partsv1.ListUsesRequest{Lot: "-"}},
		{"component_serial", &partsv1.ListUsesRequest{ComponentSerial: strings.Repeat("x", 121)}},
		{"with_supersessions", &partsv1.ListUsesRequest{Lot: "L7", WithSupersessions: true}},
		{"on_date", &partsv1.ListUsesRequest{Part: "parts/AP-2000", OnDate: on(2026, 2, 30)}},
		{"until_date", &partsv1.ListUsesRequest{Part: "parts/AP-2000", FromDate: on(2026, 2, 2), UntilDate: on(2026, 2, 1)}},
		{"page_size", &partsv1.ListUsesRequest{Part: "parts/AP-2000", PageSize: -1}},
		{"page_token", &partsv1.ListUsesRequest{Part: "parts/AP-2000", PageToken: "x"}},
	} {
		_, err := w.ListUses(t.Context(), c.req)
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != c.field {
			t.Errorf("%v: got %v, want a refusal of %s", c.req, f.Fields, c.field)
		}
	}
	_, err := w.ListUses(t.Context(), &partsv1.ListUsesRequest{Part: "parts/AP-9999"})
	refused(t, err, fault.NotFound, "PART_NOT_FOUND")
	_, err = w.ListUses(t.Context(), &partsv1.ListUsesRequest{Lot: "L9"})
	refused(t, err, fault.NotFound, "LOT_NOT_FOUND")
}
