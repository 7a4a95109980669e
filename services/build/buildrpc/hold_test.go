package buildrpc_test

import (
	"context"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// board are the bulletins, in memory.
type board struct {
	t      testing.TB
	issued []*bulletinv1.Bulletin
	of     map[string][]*bulletinv1.VehicleBulletin // by vehicle
	away   bool
	asked  int
}

func (b *board) ask(ctx context.Context) error {
	b.asked++
	if c := access.CallerFrom(ctx); c.Role != access.Service || c.Bearer != "build" {
		b.t.Errorf("asked as %+v", c)
	}
	if b.away {
		return status.Error(codes.Unavailable, "not now")
	}
	return nil
}

func (b *board) ListBulletins(ctx context.Context, _ *bulletinv1.ListBulletinsRequest, _ ...grpc.CallOption) (*bulletinv1.ListBulletinsResponse, error) {
	return &bulletinv1.ListBulletinsResponse{Bulletins: b.issued}, b.ask(ctx)
}

func (b *board) ListVehicleBulletins(ctx context.Context, r *bulletinv1.ListVehicleBulletinsRequest, _ ...grpc.CallOption) (*bulletinv1.ListVehicleBulletinsResponse, error) {
	return &bulletinv1.ListVehicleBulletinsResponse{VehicleBulletins: b.of[r.GetParent()]}, b.ask(ctx)
}

// hold issues a campaign that holds delivery from a day, for serials or, with
// none, for what its condition says.
func (b *board) hold(from *date.Date, serials ...string) *bulletinv1.Bulletin {
	c := &bulletinv1.Bulletin{Name: "bulletins/C-2026-02/versions/1", Kind: bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, Title: "Relay arm",
		HoldDelivery: true, HoldFromDate: from, Set: &bulletinv1.BulletinSet{Serials: serials}}
	if len(serials) == 0 {
		c.Set.Condition = &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Option{Option: "towing"}}
	}
	b.issued = append(b.issued, c)
	return c
}

// on puts a vehicle on the list of a campaign.
func (b *board) on(serial string, c *bulletinv1.Bulletin, entered *date.Date, held bool) {
	parent := "vehicles/" + serial
	b.of[parent] = append(b.of[parent], &bulletinv1.VehicleBulletin{Bulletin: c, FollowUp: &bulletinv1.FollowUp{EnterDate: entered, HoldDelivery: held}})
}

// held is the service with the vehicles of the fleet, beside bulletins of which
// one holds delivery since 10 November 2026, as hold has it.
func held(t *testing.T, serials ...string) (*works, *board, *bulletinv1.Bulletin) {
	t.Helper()
	b := &board{t: t, of: map[string][]*bulletinv1.VehicleBulletin{}}
	c := b.hold(on(2026, 11, 10), serials...)
	w := openWith(t, kv.NewStore(etcdtest.Client(t)), b)
	for _, row := range fleet(t).GetRows() {
		if r := row.GetRelease(); r != nil {
			must(w.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: r}))(t)
		} else {
			must(w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: row.GetBuild()}))(t)
		}
	}
	return w, b, c
}

// delivered amends the day on which AM0147P left the works.
func (w *works) delivered(t *testing.T, day *date.Date, change func(*buildv1.Build)) error {
	t.Helper()
	b := must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	b.DeliveryDate = day
	if change != nil {
		change(b)
	}
	_, err := w.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "the day it left"})
	return err
}

// The service's day is 25 November 2026.
func TestAVehicleDoesNotLeaveFromTheDayOfAHold(t *testing.T) {
	w, b, c := held(t, "AM0147P")
	b.on("AM0147P", c, on(2026, 11, 12), true)
	f := refused(t, w.delivered(t, on(2026, 11, 12), nil), fault.FailedPrecondition, "DELIVERY_HELD")
	want := "AM0147P is not to leave the works on 12 November 2026. C-2026-02, Relay arm, holds delivery since 12 November 2026. " +
		"Do the remedy and record it on the list of the campaign, or withdraw the bulletin."
	if f.Message != want {
		t.Errorf("got %q", f.Message)
	}
	if err := w.delivered(t, on(2026, 11, 11), nil); err != nil {
		t.Errorf("the day before it came on the list: %v", err)
	}
	b.of["vehicles/AM0147P"][0].FollowUp.HoldDelivery = false // the remedy is recorded
	if err := w.delivered(t, on(2026, 11, 20), nil); err != nil {
		t.Errorf("after the remedy: %v", err)
	}
	if err := w.delivered(t, on(2026, 11, 21), func(p *buildv1.Build) { p.FrameNumber += "X" }); err != nil {
		t.Errorf("after the remedy, with another amendment: %v", err)
	}
}

func TestADeliveryWithMoreOfTheRecordIsRefusedWhereTheHoldCannotBeTold(t *testing.T) {
	w, _, _ := held(t)
	f := refused(t, w.delivered(t, on(2026, 11, 20), func(p *buildv1.Build) { p.FrameNumber += "X" }), fault.FailedPrecondition, "HOLD_NOT_TOLD")
	if !strings.Contains(f.Message, "record that without a new day of delivery first") {
		t.Errorf("got %q", f.Message)
	}
	if err := w.delivered(t, on(2026, 11, 20), nil); err != nil {
		t.Errorf("the day alone, of a vehicle that it is not for: %v", err)
	}
}

func TestANewVehicleIsRefusedByWhatHoldsItOrMay(t *testing.T) {
	w, _, c := held(t, "AM0150Z")
	one := proto.CloneOf(fleet(t).GetRows()[3].GetBuild())
	one.Name, one.FrameNumber, one.Components, one.BuildDate, one.DeliveryDate = "builds/AM0150Z", "new", nil, on(2026, 10, 1), on(2026, 11, 20)
	create := func() error {
		_, err := w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: one})
		return err
	}
	refused(t, create(), fault.FailedPrecondition, "DELIVERY_HELD")
	refused(t, importOf(t, w, id1, one), fault.FailedPrecondition, "DELIVERY_HELD")
	c.Set.Serials, c.Set.Condition = nil, &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Option{Option: "towing"}}
	refused(t, create(), fault.FailedPrecondition, "HOLD_NOT_TOLD")
	refused(t, importOf(t, w, id2, one), fault.FailedPrecondition, "HOLD_NOT_TOLD")
	c.Set.ExceptSerials = []string{"AM0150Z"}
	if err := create(); err != nil {
		t.Errorf("excepted: %v", err)
	}
}

func importOf(t *testing.T, w *works, id string, b *buildv1.Build) error {
	_, err := bring(t, w, id, []*buildv1.BuildRow{{Row: &buildv1.BuildRow_Build{Build: b}}})
	return err
}

// TestHistoryPassesUnasked: after one question nothing is asked about deliveries
// before it and before the earliest hold.
func TestHistoryPassesUnasked(t *testing.T) {
	w, b, _ := held(t, "AM0150Z")
	b.asked = 0
	b.away = true
	if err := w.delivered(t, on(2026, 11, 9), nil); err != nil {
		t.Errorf("the day before the hold, of which the fleet's deliveries asked: %v", err)
	}
	if b.asked != 0 {
		t.Errorf("asked %d times about history", b.asked)
	}
	w.now.Add(10 * 60)
	refused(t, w.delivered(t, on(2026, 11, 8), nil), fault.Unavailable, "HOLDS_OUT_OF_REACH")
	f := refused(t, w.delivered(t, on(2026, 11, 25), nil), fault.Unavailable, "HOLDS_OUT_OF_REACH")
	if !strings.Contains(f.Message, "whether AM0147P may leave the works cannot be asked") {
		t.Errorf("got %q", f.Message)
	}
	if err := w.delivered(t, nil, nil); err != nil {
		t.Errorf("a delivery that was none: %v", err)
	}
}

func TestAnAmendmentThatLeavesTheDeliveryAsItIsAsksNothing(t *testing.T) {
	w, b, c := held(t, "AM0150Z")
	if err := w.delivered(t, on(2026, 11, 25), nil); err != nil {
		t.Fatal(err)
	}
	c.Set.Serials = append(c.Set.Serials, "AM0147P")
	b.away, b.asked = true, 0
	if err := w.delivered(t, on(2026, 11, 25), func(p *buildv1.Build) { p.FrameNumber += "X" }); err != nil || b.asked != 0 {
		t.Errorf("%v, asked %d times", err, b.asked)
	}
}
