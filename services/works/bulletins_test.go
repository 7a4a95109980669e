package works_test

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/console"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// A campaign from the file that the engineer writes to the report, in the whole
// works: the list of a lot, a vehicle that comes on it by the pass because its
// gearbox was moved there, and what is printed on the way.
func TestACampaignReadsAsTheGoldenFileSaysAndAMovedGearboxBringsAVehicleIn(t *testing.T) {
	racetest.Skip(t, "one command after the other")
	_, ctx, clients := startDemo(t, works.Config{Passes: "0 3 1 1 *"})
	var out bytes.Buffer
	k := &console.Console{Access: clients.Access, Owners: clients.Owners, Builds: clients.Builds, Parts: clients.Parts,
		Schedules: clients.Schedules, Reminders: clients.Reminders, Bulletins: clients.Bulletins, Out: &out}
	step := func(title string, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", title, err)
		}
		out.WriteString("\n")
	}
	step("add", k.AddBulletin(ctx, "testdata/bulletin-gearbox.yaml"))
	step("preview", k.PreviewBulletin(ctx, "C-2026-90"))
	step("issue", k.IssueBulletin(ctx, "C-2026-90"))

	const from, to, campaign = "AM0120A", "AM01218", "C-2026-90"
	name := "vehicles/" + to + "/followUps/" + campaign
	if _, err := clients.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: name}); status.Code(err) != codes.NotFound {
		t.Fatalf("before the move: %v", err)
	}
	got(clients.Builds.MoveComponent(ctx, &buildv1.MoveComponentRequest{
		Source: "builds/" + from, SourcePosition: "gearbox", Destination: "builds/" + to, DestinationPosition: "gearbox",
		MoveDate: dayProto(aldermoor.Today.AddDays(-1)), Reason: "the other one whines", RequestId: uuid.NewString()}))(t)
	f := waitFor(t, ctx, func() (*bulletinv1.FollowUp, error) {
		return clients.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: name})
	})
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN || len(f.GetLetterDates()) == 0 || !f.GetStopUse() {
		t.Errorf("it came on the list as %v", f)
	}
	waitFor(t, ctx, func() (*bulletinv1.FollowUp, error) { // the same pass says of the other that it has the gearbox no longer
		f, err := clients.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + from + "/followUps/" + campaign})
		if err == nil && !f.GetNoLongerMeets() {
			err = status.Error(codes.NotFound, "not yet")
		}
		return f, err
	})
	// The pass finds nothing more, and neither does whoever asks.
	step("refresh", k.RefreshCampaigns(ctx))
	step("notified", k.RecordCampaignStep(ctx, to, campaign, console.StepGiven{Kind: "notified", Text: "rang up"}))
	step("booked", k.RecordCampaignStep(ctx, to, campaign, console.StepGiven{Kind: "booked", On: aldermoor.Today.AddDays(10)}))
	step("list", k.Campaigns(ctx, to))
	step("missing", k.MissingFromCampaigns(ctx))
	step("report", k.CampaignReport(ctx, campaign, vehicleQuarter(aldermoor.Today)))
	step("withdraw", k.WithdrawBulletin(ctx, campaign, "the lot was measured and is sound", ""))
	golden(t, "campaign", out.String())
}

// A vehicle that a campaign holds in the works leaves it after the remedy and not
// before; one that the campaign is not for leaves when it is ready, and what left
// before is history.
func TestAVehicleThatACampaignHoldsLeavesTheWorksAfterTheRemedy(t *testing.T) {
	w := newWorld(t, works.Config{})
	by, today := w.as("engineer"), aldermoor.Today
	deliver := func(letter string, on vehicle.Date) error {
		rec := got(by.Builds.GetBuild(w.ctx, &buildv1.GetBuildRequest{Name: "builds/" + w.serials[letter]}))(t)
		rec.DeliveryDate = dayProto(on)
		_, err := by.Builds.AmendBuild(w.ctx, &buildv1.AmendBuildRequest{Build: rec, Reason: "it leaves", RequestId: uuid.NewString()})
		return err
	}
	held := w.built("H", "AM0970")
	w.built("K", "AM0971")
	b := aCampaign(matrixCampaign, held)
	b.HoldDelivery = true
	w.issued(b)
	err := deliver("H", today)
	if s := status.Convert(err); s.Code() != codes.FailedPrecondition || !strings.Contains(s.Message(), held+" is not to leave the works") ||
		!strings.Contains(s.Message(), matrixCampaign+", Propshaft bolts, holds delivery since 18 May 2026. Do the remedy and record it") {
		t.Errorf("held: %v", err)
	}
	if err := deliver("K", today); err != nil {
		t.Errorf("the other: %v", err)
	}
	if err := deliver("H", today.AddDays(-1)); err != nil {
		t.Errorf("a day before the hold: %v", err)
	}
	changed := got(by.Builds.RecordChange(w.ctx, &buildv1.RecordChangeRequest{Parent: "builds/" + held, RequestId: uuid.NewString(), Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: dayProto(today), Plate: "MX 970 X"}}))(t)
	w.stepped("H", by, &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: dayProto(today), Evidence: changed.GetName(),
		Parts:    []*bulletinv1.PartFitted{{Part: "AP-1110", Lot: "none", Quantity: 4}},
		Measured: []*bulletinv1.RemedyValue{{Characteristic: "torque", Value: &vehiclev1.Quantity{Value: "45", Unit: "N.m"}}},
	})
	if err := deliver("H", today); err != nil {
		t.Errorf("after the remedy: %v", err)
	}
}

func vehicleQuarter(d vehicle.Date) string {
	return d.String()[:4] + "-Q" + string(rune('1'+(int(d.Month)-1)/3))
}

// waitFor asks until something is there, half a minute at most: what brings it
// works behind the scenes.
func waitFor[M any](t *testing.T, ctx context.Context, ask func() (M, error)) M {
	t.Helper()
	for until := time.Now().Add(30 * time.Second); ; {
		m, err := ask()
		if err == nil {
			return m
		}
		if status.Code(err) != codes.NotFound || time.Now().After(until) || ctx.Err() != nil {
			t.Fatal(err)
		}
	}
}
