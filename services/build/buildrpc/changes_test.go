package buildrpc_test

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

func fitted(t testing.TB, w *works, name, position string) *buildv1.Fitted {
	t.Helper()
	c := must(w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: name}))(t)
	for _, f := range c.GetFitted() {
		if f.GetComponent().GetPosition() == position {
			return f
		}
	}
	return nil
}

func TestAMovedComponentIsOnOneVehicleWithItsHistory(t *testing.T) {
	w := startWithFleet(t)
	moved := must(w.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/am-0147 p", SourcePosition: "transfer-case", Destination: "builds/AM0148N", MoveDate: on(2020, 5, 5),
		ComponentDistance: &vehiclev1.Distance{EnteredValue: "20400", EnteredUnit: "mi"}, Reason: "exchange unit", DoneBy: "P. Holt",
	}))(t)
	if moved.GetRemoved().GetCounterpart() != moved.GetFitted().GetName() || moved.GetFitted().GetCounterpart() != moved.GetRemoved().GetName() {
		t.Errorf("the halves do not name each other: %v", moved)
	}
	if f := fitted(t, w, "builds/AM0147P", "transfer-case"); f != nil {
		t.Errorf("still on the first vehicle: %v", f)
	}
	c := fitted(t, w, "builds/AM0148N", "transfer-case").GetComponent()
	if c.GetSerial() != "TC-2201" || c.GetPart() != "AP-1200" || c.GetPriorDistance().GetEnteredValue() != "20400" ||
		!proto.Equal(c.GetBeddingInDate(), on(2012, 3, 20)) || !proto.Equal(c.GetFittedDate(), on(2020, 5, 5)) {
		t.Errorf("on the second: %v", c)
	}
	// Found where it is and, as former, where it was.
	found := must(w.FindBuilds(t.Context(), &buildv1.FindBuildsRequest{Query: "TC 2201"}))(t)
	if len(found.GetMatches()) != 2 || !found.GetMatches()[0].GetFormer() || found.GetMatches()[1].GetFormer() {
		t.Errorf("found: %v", found.GetMatches())
	}
	// The unit that stood there before is on no vehicle now, and free again.
	must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2020, 5, 5),
		Component: &buildv1.Component{Position: "transfer-case", Serial: "TC-2333"},
	}}))(t)
	// But not before it was taken off.
	_, err := w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0149L", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2019, 1, 1),
		Component: &buildv1.Component{Position: "transfer-case", Serial: "TC-2201"},
	}})
	f := refused(t, err, fault.FailedPrecondition, "COMPONENT_ELSEWHERE")
	if len(f.Fields) != 1 || f.Fields[0].Name != "change.component.serial" {
		t.Errorf("fields: %+v", f.Fields)
	}
}

func TestAComponentMovesBetweenPositionsOfOneVehicle(t *testing.T) {
	w := startWithFleet(t)
	must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2019, 1, 1),
		Component: &buildv1.Component{Position: "swivel-housing-left", Serial: "SW-1"},
	}}))(t)
	must(w.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/AM0147P", SourcePosition: "swivel-housing-left", Destination: "builds/AM0147P", DestinationPosition: "swivel-housing-right",
		MoveDate: on(2020, 1, 1), Reason: "swapped sides",
	}))(t)
	if f := fitted(t, w, "builds/AM0147P", "swivel-housing-right"); f.GetComponent().GetSerial() != "SW-1" {
		t.Errorf("right: %v", f)
	}
	if f := fitted(t, w, "builds/AM0147P", "swivel-housing-left"); f != nil {
		t.Errorf("left: %v", f)
	}
}

func TestAMoveThatCannotBeIsRefusedInItsOwnWords(t *testing.T) {
	w := startWithFleet(t)
	good := &buildv1.MoveComponentRequest{Source: "builds/AM0147P", SourcePosition: "gearbox", Destination: "builds/AM0148N", MoveDate: on(2020, 1, 1), Reason: "exchange"}
	for _, c := range []struct {
		name  string
		spoil func(*buildv1.MoveComponentRequest)
		kind  fault.Kind
		field string
	}{
		{"nothing there", func(r *buildv1.MoveComponentRequest) { r.SourcePosition = "tow-hitch" }, fault.FailedPrecondition, ""},
		{"in the future", func(r *buildv1.MoveComponentRequest) { r.MoveDate = on(2027, 1, 1) }, fault.Invalid, "move_date"},
		{"no date", func(r *buildv1.MoveComponentRequest) { r.MoveDate = nil }, fault.Invalid, "move_date"},
		{"before the second vehicle was delivered", func(r *buildv1.MoveComponentRequest) { r.MoveDate = on(2014, 1, 1) }, fault.Invalid, "move_date"},
		{"to where nothing belongs", func(r *buildv1.MoveComponentRequest) { r.DestinationPosition = "wings" }, fault.Invalid, "destination_position"},
		{"to itself", func(r *buildv1.MoveComponentRequest) { r.Destination = r.Source }, fault.Invalid, "destination"},
		{"without a reason", func(r *buildv1.MoveComponentRequest) { r.Reason = "" }, fault.Invalid, "reason"},
		{"to no vehicle", func(r *buildv1.MoveComponentRequest) { r.Destination = "builds/AM0013G" }, fault.NotFound, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := proto.CloneOf(good)
			c.spoil(r)
			_, err := w.MoveComponent(t.Context(), r)
			if err == nil {
				t.Fatal("it was done")
			}
			f := rpcerr.FromStatus(err)
			if f.Kind != c.kind || c.field != "" && (len(f.Fields) == 0 || f.Fields[0].Name != c.field) {
				t.Errorf("got %v", f)
			}
		})
	}
}

// Whoever moves or fits one component at the same moment, in two processes
// over one store, only one gets it.
func TestOneComponentNeverEndsOnTwoVehicles(t *testing.T) {
	one := startWithFleet(t)
	two := open(t, one.store)
	var wg sync.WaitGroup
	var mu sync.Mutex
	done := 0
	act := func(f func(context.Context) error) {
		wg.Go(func() {
			if f(t.Context()) == nil {
				mu.Lock()
				defer mu.Unlock()
				done++
			}
		})
	}
	for i, w := range []*works{one, two, one, two} {
		destination := []string{"builds/AM0148N", "builds/AM0149L"}[i%2]
		act(func(ctx context.Context) error {
			_, err := w.MoveComponent(ctx, &buildv1.MoveComponentRequest{
				Source: "builds/AM0147P", SourcePosition: "gearbox", Destination: destination, MoveDate: on(2020, 1, 1), Reason: "exchange",
			})
			return err
		})
		act(func(ctx context.Context) error {
			_, err := w.RecordChange(ctx, &buildv1.RecordChangeRequest{Parent: destination, Change: &buildv1.Change{
				Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2020, 1, 1),
				Component: &buildv1.Component{Position: "transfer-case", Serial: "TC-NEW"},
			}})
			return err
		})
	}
	wg.Wait()
	if done < 2 { // one move and one fitting at least; the same fitting twice on one vehicle is allowed
		t.Errorf("%d writes went through, want at least 2", done)
	}
	for _, serial := range []string{"GB-1190", "TC-NEW"} {
		var places []string
		for _, name := range []string{"builds/AM0147P", "builds/AM0148N", "builds/AM0149L"} {
			c := must(one.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: name}))(t)
			for _, f := range c.GetFitted() {
				if f.GetComponent().GetSerial() == serial {
					places = append(places, name)
				}
			}
		}
		if len(places) != 1 {
			t.Errorf("%s is on %v", serial, places)
		}
	}
}

// Two processes fit the same new component to two vehicles at the same moment,
// again and again: each time exactly one of them succeeds.
func TestOfTwoWhoFitOneComponentAtOnceOneIsRefused(t *testing.T) {
	one := startWithFleet(t)
	two := open(t, one.store)
	for round := range 25 {
		errs := make([]error, 2)
		begin := make(chan struct{})
		var wg sync.WaitGroup
		for i, w := range []*works{one, two} {
			wg.Go(func() {
				<-begin
				_, errs[i] = w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{
					Parent: []string{"builds/AM0147P", "builds/AM0148N"}[i],
					Change: &buildv1.Change{
						Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2020, 1, 1),
						Component: &buildv1.Component{Position: "engine", Serial: fmt.Sprintf("NEW-%d", round)},
					},
				})
			})
		}
		close(begin)
		wg.Wait()
		if (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("round %d: got %v and %v, want one refusal", round, errs[0], errs[1])
		}
		for _, err := range errs {
			if err != nil {
				refused(t, err, fault.FailedPrecondition, "COMPONENT_ELSEWHERE")
			}
		}
	}
}

func TestChangesWrittenAtOnceAllStandInTheOrderRecorded(t *testing.T) {
	w := startWithFleet(t)
	var wg sync.WaitGroup
	const writers = 12
	errs := make([]error, writers)
	for i := range writers {
		wg.Go(func() {
			_, errs[i] = w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
				Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1), Plate: fmt.Sprintf("P %d", i),
			}})
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
	}
	all := must(w.ListChanges(t.Context(), &buildv1.ListChangesRequest{Parent: "builds/AM0147P"}))(t).GetChanges()
	if len(all) != writers {
		t.Fatalf("got %d changes, want %d", len(all), writers)
	}
	moments := map[string]bool{}
	for _, c := range all {
		moments[c.GetCreateTime().AsTime().String()] = true
	}
	if len(moments) != writers {
		t.Errorf("%d changes have %d moments: their order is lost", writers, len(moments))
	}
}

func TestOnlyWhatTheServiceGivesIsNotReadFromAChange(t *testing.T) {
	w := startWithFleet(t)
	c := must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Name: "builds/AM0148N/changes/mine", Counterpart: "builds/AM0148N/changes/x", RecordedBy: "somebody",
		Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1), Plate: "AB 1",
	}}))(t)
	if !strings.HasPrefix(c.GetName(), "builds/AM0147P/changes/") || c.GetCounterpart() != "" || c.GetRecordedBy() != "drawing office" {
		t.Errorf("got %v", c)
	}
	_, err := w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{Source: 1, Tyre: &vehiclev1.Tyre{}, AxleRatio: "x"}})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) != 3 {
		t.Errorf("got %v", f)
	}
}

func TestAConfigurationIsGivenForAnyDayOfTheVehiclesLife(t *testing.T) {
	w := startWithFleet(t)
	must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, Source: buildv1.ChangeSource_CHANGE_SOURCE_OWNER, ChangeDate: on(2016, 2, 29), Tyre: &vehiclev1.Tyre{Size: "235/85R16"},
	}}))(t)
	for _, c := range []struct {
		request *buildv1.GetConfigurationRequest
		tyre    string
	}{
		{&buildv1.GetConfigurationRequest{OnDate: on(2016, 2, 28)}, "7.50-16"},
		{&buildv1.GetConfigurationRequest{OnDate: on(2016, 2, 29)}, "235/85R16"},
		{&buildv1.GetConfigurationRequest{}, "235/85R16"},
		{&buildv1.GetConfigurationRequest{AsBuilt: true}, "7.50-16"},
	} {
		c.request.Name = "builds/AM0147P"
		got := must(w.GetConfiguration(t.Context(), c.request))(t)
		if got.GetTyre().GetSize() != c.tyre || len(got.GetFitted()) < 8 || len(got.GetFitted()[0].GetReasons()) == 0 {
			t.Errorf("%v: got %v", c.request, got)
		}
	}
	_, err := w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: "builds/AM0147P", OnDate: on(2012, 4, 9)})
	refused(t, err, fault.FailedPrecondition, "NOT_BUILT_YET")
	_, err = w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: "builds/AM0147P", OnDate: on(2013, 2, 29)})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}
