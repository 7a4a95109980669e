package works_test

import (
	"context"
	"io"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/console"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// At half past eleven in the evening of UTC it is tomorrow in Auckland, still
// today in Los Angeles, and today is the works' day for all that is asked.
func TestTodayIsTheWorksDayForAllThatIsAsked(t *testing.T) {
	for _, c := range []struct {
		zone  string
		at    time.Duration // since midnight UTC of the demo's day
		today vehicle.Date
	}{
		{"Pacific/Auckland", 23*time.Hour + 30*time.Minute, aldermoor.Today.AddDays(1)},
		{"America/Los_Angeles", 23*time.Hour + 30*time.Minute, aldermoor.Today},
		{"America/Los_Angeles", 24*time.Hour + 30*time.Minute, aldermoor.Today}, // half past midnight, UTC
		{"", 23*time.Hour + 30*time.Minute, aldermoor.Today},
	} {
		t.Run(c.zone+" "+c.at.String(), func(t *testing.T) {
			_, ctx, clients := startDemo(t, works.Config{
				Works: works.WorksConfig{Zone: c.zone}, Clock: handclock.At(aldermoor.Today.Start(time.UTC).Add(c.at)).Now,
			})
			desk, engineer := staffOf(ctx)
			today, yesterday := vehiclewire.DateProto(c.today), vehiclewire.DateProto(c.today.AddDays(-1))
			const name = "vehicles/AM0147P"

			page := got(clients.Enquiries.GetDossier(desk, &enquiryv1.GetDossierRequest{Name: name + "/dossier"}))(t)
			cover := got(clients.Warranties.GetCover(desk, &warrantyv1.GetCoverRequest{Name: name + "/covers/vehicle"}))(t)
			due := got(clients.Schedules.GetSchedule(desk, &schedulev1.GetScheduleRequest{Name: name + "/schedule"}))(t)
			for what, on := range map[string]vehicle.Date{
				"the page": dayIn(t, page.GetOnDate()), "the schedule on it": dayIn(t, page.GetSchedule().GetOnDate()),
				"the cover on it": dayIn(t, page.GetCovers()[0].GetOnDate()), "the cover": dayIn(t, cover.GetOnDate()), "what is due": dayIn(t, due.GetOnDate()),
			} {
				if on != c.today {
					t.Errorf("%s is of %s, want %s", what, on, c.today)
				}
			}

			// A follow-up of an enquiry is for today or later.
			e := &enquiryv1.Enquiry{Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_DEALER,
				Question: "When is it due?", Symptom: "none", FollowUpDate: yesterday}
			if _, err := clients.Enquiries.CreateEnquiry(desk, &enquiryv1.CreateEnquiryRequest{Parent: name, Enquiry: e}); status.Code(err) != codes.InvalidArgument {
				t.Errorf("a follow-up of yesterday: %v", err)
			}
			e.FollowUpDate = today
			got(clients.Enquiries.CreateEnquiry(desk, &enquiryv1.CreateEnquiryRequest{Parent: name, Enquiry: e}))(t)

			// A failure of today can be claimed. Of tomorrow too where that has come by
			// the owner's clock (half past midnight in London), and later not.
			claim := &warrantyv1.Claim{Position: "battery", FailureDate: vehiclewire.DateProto(c.today.AddDays(2)), Symptom: "flat"}
			if _, err := clients.Warranties.CreateClaim(engineer, &warrantyv1.CreateClaimRequest{Parent: name, Claim: claim}); status.Code(err) != codes.InvalidArgument {
				t.Errorf("a failure of the day after tomorrow: %v", err)
			}
			claim.FailureDate = today
			got(clients.Warranties.CreateClaim(engineer, &warrantyv1.CreateClaimRequest{Parent: name, Claim: claim}))(t)

			campaignOf(t, ctx, clients, c.today)
		})
	}
}

// campaignOf issues a campaign and follows a vehicle of it up, on a day.
func campaignOf(t *testing.T, ctx context.Context, clients works.Clients, today vehicle.Date) {
	t.Helper()
	k := &console.Console{Bulletins: clients.Bulletins, Builds: clients.Builds, Out: io.Discard}
	for _, err := range []error{k.AddBulletin(ctx, "testdata/bulletin-gearbox.yaml"), k.IssueBulletin(ctx, "C-2026-90")} {
		if err != nil {
			t.Fatal(err)
		}
	}
	b := got(clients.Bulletins.GetBulletin(ctx, &bulletinv1.GetBulletinRequest{Name: "bulletins/C-2026-90/versions/1"}))(t)
	name := &bulletinv1.GetFollowUpRequest{Name: "vehicles/AM0120A/followUps/C-2026-90"}
	f := got(clients.Bulletins.GetFollowUp(ctx, name))(t)
	if issued, entered := dayIn(t, b.GetIssueDate()), dayIn(t, f.GetEnterDate()); issued != today || entered != today {
		t.Errorf("issued on %s, on the list since %s, want %s", issued, entered, today)
	}
	told := &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED, StepDate: vehiclewire.DateProto(today.AddDays(1)), Text: "rang up"}
	record := &bulletinv1.RecordFollowUpStepRequest{Name: name.GetName(), Etag: f.GetEtag(), Step: told}
	if _, err := clients.Bulletins.RecordFollowUpStep(ctx, record); status.Code(err) != codes.InvalidArgument {
		t.Errorf("a step of tomorrow: %v", err)
	}
	told.StepDate = vehiclewire.DateProto(today)
	f = got(clients.Bulletins.RecordFollowUpStep(ctx, record))(t)
	// A booking counts from the day it is made, by the works' clock.
	f = got(clients.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{Name: name.GetName(), Etag: f.GetEtag(), Step: &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_BOOKED, StepDate: vehiclewire.DateProto(today.AddDays(10))}}))(t)
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED || dayIn(t, f.GetSinceDate()) != today {
		t.Errorf("booked it is %s since %s, want BOOKED since %s", f.GetState(), dayIn(t, f.GetSinceDate()), today)
	}
}

// dayIn reads a day of an answer.
func dayIn(t *testing.T, d *date.Date) vehicle.Date {
	t.Helper()
	on, err := vehiclewire.Date(d)
	if err != nil {
		t.Fatal(err)
	}
	return on
}
