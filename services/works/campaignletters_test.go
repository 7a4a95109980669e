package works_test

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/console"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// TestLettersAboutACampaignGoThroughTheWholeWorks issues a campaign that one
// vehicle of the demo works is on and runs passes for two days: its owner, who
// opted out, and whoever else is tied to it are written to once each; what still
// waits when the campaign is withdrawn is silenced.
func TestLettersAboutACampaignGoThroughTheWholeWorks(t *testing.T) {
	const owner, other = "people/p0020", "people/p0319" // of AM0120A
	server := newFickleServer(t)
	ctx, c, clock, addresses := reminding(t, server)
	server.behave(func(to string) behaviour {
		if to == addresses[other] {
			return laterAtRcpt
		}
		return takes
	})
	k := &console.Console{Bulletins: c.Bulletins, Out: io.Discard}
	if err := k.AddBulletin(ctx, "testdata/bulletin-gearbox.yaml"); err != nil {
		t.Fatal(err)
	}
	if err := k.IssueBulletin(ctx, "C-2026-90"); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{
		OptOut: &reminderv1.OptOut{Vehicle: "vehicles/AM0120A", Person: owner, Way: "staff", Purpose: ownerv1.Purpose_PURPOSE_SERVICE}, RequestId: uuid.NewString(),
	}); err != nil {
		t.Fatal(err)
	}
	letters := map[string]*reminderv1.Notice{} // by person
	for range 16 {
		for _, n := range pass(t, ctx, c).GetNotices() {
			if n.GetVehicle() != "vehicles/AM0120A" {
				continue
			}
			if n.GetPurpose() != ownerv1.Purpose_PURPOSE_SAFETY && n.GetPerson() == owner {
				t.Errorf("told of service in spite of the opt-out: %v", n)
			}
			if n.GetPurpose() == ownerv1.Purpose_PURPOSE_SAFETY {
				if letters[n.GetPerson()] != nil || len(n.GetLines()) != 1 || n.GetLines()[0].GetItemId() != "C-2026-90" || n.GetLines()[0].GetCycle() != "C-2026-90.1" {
					t.Errorf("told twice, or otherwise than by its campaign: %v", n)
				}
				letters[n.GetPerson()] = n
			}
		}
		clock.Move(3 * time.Hour)
	}
	if len(letters) != 2 || letters[owner] == nil || letters[other] == nil {
		t.Fatalf("got the letters %v", letters)
	}
	copies := server.copies(addresses[owner])
	if len(copies) != 1 {
		t.Fatalf("%d mails went to the owner, who opted out of all but this one", len(copies))
	}
	if !bytes.Contains(copies[0], []byte("DO NOT DRIVE AM0120A")) || bytes.Contains(bytes.ToLower(copies[0]), []byte("list-unsubscribe")) {
		t.Errorf("the mail is %s", copies[0])
	}
	told(t, ctx, c)
	if err := k.WithdrawBulletin(ctx, "C-2026-90", "the lot was measured and is sound", ""); err != nil {
		t.Fatal(err)
	}
	server.behave(func(string) behaviour { return takes })
	for range 8 {
		clock.Move(3 * time.Hour)
		pass(t, ctx, c)
	}
	if n := notice(t, ctx, c, letters[other].GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SILENCED {
		t.Errorf("got %v, want SILENCED", n.GetState())
	}
}

// told wants the one letter that was taken so far on the list of the campaign,
// once, and in what is printed of where the campaign stands.
func told(t *testing.T, ctx context.Context, c works.Clients) {
	t.Helper()
	f := got(c.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: "vehicles/AM0120A/followUps/C-2026-90"}))(t)
	if steps := f.GetSteps(); len(steps) != 2 || steps[1].GetLetter() != "C-2026-90.1" || steps[1].GetRecordedBy() == "" || f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED {
		t.Errorf("the list has %v", f)
	}
	for _, quarter := range []string{"", vehicleQuarter(aldermoor.Today)} {
		var out bytes.Buffer
		k := &console.Console{Bulletins: c.Bulletins, Out: &out}
		if err := k.CampaignReport(ctx, "C-2026-90", quarter); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"On the list 1 vehicle: 1 told,", "1 of 1 told", "the last letter went out on 18 May 2026"} {
			if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), want) {
				t.Errorf("the report %s lacks %q: %s", quarter, want, out.String())
			}
		}
		if quarter != "" && !strings.Contains(out.String(), "+1 told") {
			t.Errorf("the quarter: %s", out.String())
		}
	}
	r := got(c.Bulletins.GetCampaignReport(ctx, &bulletinv1.GetCampaignReportRequest{Name: "bulletins/C-2026-90/campaignReport"}))(t)
	if n := len(r.GetCompletion()); n == 0 || r.GetCompletion()[n-1].GetVehicles() != 1 || r.GetNotified() != 1 {
		t.Errorf("the report: %v", r)
	}
}
