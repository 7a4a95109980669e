package works_test

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/console"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// deskOverDemo is a desk over the demo works that sends mail to a server, and
// somebody at it, with the page's scripts on or off.
func deskOverDemo(t *testing.T, data string, server *fickleServer, scripts bool, id string, role accessv1.Role) (*deskWorld, *telephone.Telephone) {
	t.Helper()
	layDemo(t, data)
	clock := atDemo()
	process, ctx, clients := start(t, works.Config{
		Data: data, Desk: works.DeskConfig{Listen: freeaddress.For(t)}, Clock: clock.Now,
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "https://care.aldermoor.example"},
		Mail: works.MailConfig{Server: server.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain",
			Timeout: 2 * time.Second, FinalTimeout: 300 * time.Millisecond},
	})
	d := &deskWorld{clock, t, process, ctx, clients, process.DeskURL()}
	p := telephone.New(t, 320, "light")
	p.Scripts(scripts)
	p.Name = fmt.Sprintf("%s-%v", id, scripts)
	d.enters(p, id, role)
	return d, p
}

// withAndWithoutScripts tells a story twice.
func withAndWithoutScripts(t *testing.T, story func(t *testing.T, scripts bool)) {
	for _, scripts := range []bool{false, true} {
		t.Run(map[bool]string{true: "with scripts", false: "without scripts"}[scripts], func(t *testing.T) { story(t, scripts) })
	}
}

// A campaign from the first word of its draft to the last vehicle, at the desk
// alone but for the passes, which nobody starts by hand.
func TestACampaignIsWrittenIssuedAndSeenThroughAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	withAndWithoutScripts(t, func(t *testing.T, scripts bool) {
		server := newFickleServer(t)
		server.behave(func(string) behaviour { return takes })
		d, p := deskOverDemo(t, t.TempDir(), server, scripts, "una", accessv1.Role_ROLE_ENGINEER)
		p.Press("Works")
		p.Press("Bulletins and campaigns")
		p.Press("Write a draft")

		// What is wrong is told at once, each at its field, and what was typed stays.
		p.Enter("Number", "c 1")
		p.Enter("What is wrong", "The layshaft of some gearboxes of the lot was hardened too little.")
		p.Enter("A unit stands here", "gearbox")
		p.Enter("Its lot is one of these", "L201509")
		p.Enter("It is used in one of these ways", "on the moon")
		p.Press("Keep the draft")
		p.Says("instead of “on the moon”")
		p.Enter("It is used in one of these ways", "")
		p.Press("Keep the draft")
		p.Says("a number in capitals, digits and hyphens", "at least one item: a campaign is carried out")
		if n := telephone.Ask[int](p, `document.querySelectorAll("[aria-invalid]").length`); n < 3 {
			t.Errorf("%d fields are marked as wrong", n)
		}
		if got := telephone.Ask[string](p, `document.querySelector("[name='bulletin.set.fitted.lots']").value`); got != "L201509" {
			t.Errorf("what was typed is gone: %q", got)
		}

		p.Enter("Number", "C-2026-91")
		p.Enter("What it is about, in a line", "Gearboxes of lot L201509")
		p.Enter("What can happen, in plain words", "Third gear can slip out under load, and the gearbox can lock.")
		p.Enter("What to do until it is put right", "Do not tow.")
		p.Enter("What can hurt, and what to do against it", "Chock the wheels.")
		p.Enter("Item 1: short name", "C1")
		p.Enter("Item 1: what is done, in a line", "Replace the layshaft")
		p.Enter("Item 1: parts", "1 AP-1210")
		p.Enter("Item 1: what is measured", "end float; mm; 0.10; 0.25")
		telephone.Ask[bool](p, `(document.querySelector("[name='bulletin.sample']").checked = true, true)`)
		p.Press("Show which vehicles")
		p.Says("Which vehicles it would be for", "AM0120A", "Nothing is kept yet.")
		p.Press("Keep the draft")
		p.Says("The draft is kept.", "C-2026-91, version 1", "end float 0.10 to 0.25 mm")
		on := d.listedBy("bulletins/C-2026-91/versions/1")
		if len(on) == 0 {
			t.Fatal("the set is empty")
		}
		p.Press("Issue it")
		p.Says(fmt.Sprintf("%d vehicle", len(on)), "would come on its list", "letter", "Unsubscribing from reminders does not stop these letters.")
		if n := d.campaignLetters(); n != 0 {
			t.Errorf("%d letters before the issue", n)
		}
		p.Press("Yes, issue it")
		p.Says("The bulletin is issued.")
		for range 12 {
			d.Move(3 * time.Hour)
			if _, err := d.clients.Reminders.RunPass(d.ctx, &reminderv1.RunPassRequest{}); err != nil {
				t.Fatal(err)
			}
		}
		if n := d.campaignLetters(); n < len(on) {
			t.Errorf("%d letters about %d vehicles", n, len(on))
		}
		// Two days later a session is over; somebody else goes on.
		d.enters(p, "uma", accessv1.Role_ROLE_ENGINEER)
		p.Press("Fleet")
		p.Press("Campaigns")
		p.Press("Gearboxes of lot L201509")
		p.Says("Who is missing, and why", "Record a step for "+on[0])
		for n, serial := range on {
			entry := got(d.clients.Schedules.RecordService(d.ctx, &schedulev1.RecordServiceRequest{Parent: "vehicles/" + serial, ServiceEntry: &schedulev1.ServiceEntry{Note: "Layshaft replaced by the campaign.", DoneBy: "Ferncombe Garage"}}))(t)
			p.Press("Record a step for " + serial)
			p.Set("What happened", "FOLLOW_UP_STEP_KIND_DONE")
			if n == 0 { // without the lot and the value it is not done
				p.Press("Record the step")
				p.Says("the service entry that shows it", "as the remedy of C1 asks")
				p.Set("What happened", "FOLLOW_UP_STEP_KIND_DONE")
			}
			p.Set("The work that shows it", entry.GetName()[strings.LastIndexByte(entry.GetName(), '/')+1:])
			p.Enter("C1: lot of AP-1210", "L202605")
			p.Enter("C1: end float", "0.18")
			p.Press("Record the step")
			p.Says("The step is on record.")
		}
		p.Says("Nobody is missing: every vehicle on the list is settled.")
		r := got(d.clients.Bulletins.GetCampaignReport(d.ctx, &bulletinv1.GetCampaignReportRequest{Name: "bulletins/C-2026-91/campaignReport"}))(t)
		if done := r.GetClasses().GetRemedied(); int(done) != len(on) || r.GetClasses().GetOutstanding() != 0 {
			t.Errorf("%d of %d are done: %v", done, len(on), r.GetClasses())
		}
	})
}

// listedBy gives the serials that a version is for.
func (d *deskWorld) listedBy(name string) (out []string) {
	d.t.Helper()
	r := got(d.clients.Bulletins.PreviewSet(d.ctx, &bulletinv1.PreviewSetRequest{Name: name, PageSize: 500,
		States: []bulletinv1.MatchState{bulletinv1.MatchState_MATCH_STATE_IN, bulletinv1.MatchState_MATCH_STATE_UNKNOWN}}))(d.t)
	for _, m := range r.GetMatches() {
		out = append(out, strings.TrimPrefix(m.GetVehicle(), "vehicles/"))
	}
	return out
}

// campaignLetters counts what went out about the campaign of the story.
func (d *deskWorld) campaignLetters() (n int) {
	d.t.Helper()
	r := got(d.clients.Reminders.ListNotices(d.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 500}))(d.t)
	for _, x := range r.GetNotices() {
		for _, l := range x.GetLines() {
			if l.GetItemId() == "C-2026-91" && x.GetState() == reminderv1.NoticeState_NOTICE_STATE_SENT {
				n++
			}
		}
	}
	return n
}

// A mailbox refuses for good; somebody takes the notice up again, and the next
// pass sends it.
func TestAParkedNoticeIsTakenUpAgainAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	withAndWithoutScripts(t, func(t *testing.T, scripts bool) {
		server := newFickleServer(t)
		server.behave(func(string) behaviour { return neverAfterDot })
		d, p := deskOverDemo(t, t.TempDir(), server, scripts, "bert", accessv1.Role_ROLE_SUPPORT)
		pass(t, d.ctx, d.clients)
		parked := func() []*reminderv1.Notice {
			return got(d.clients.Reminders.ListNotices(d.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", State: reminderv1.NoticeState_NOTICE_STATE_PARKED}))(t).GetNotices()
		}
		before := parked()
		if len(before) == 0 {
			t.Fatal("no notice is parked")
		}
		first := before[0]
		serial := strings.TrimPrefix(first.GetVehicle(), "vehicles/")
		p.Press("Fleet")
		p.Press("Parked notices and tasks")
		p.Says("Parked notices", serial)
		server.behave(func(string) behaviour { return takes })
		p.Press("Take up again for " + serial)
		p.Says("The notice is taken up again; the next pass sends it.")
		d.Move(time.Hour)
		pass(t, d.ctx, d.clients)
		if n := notice(t, d.ctx, d.clients, first.GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || len(parked()) >= len(before) {
			t.Errorf("got %v; %d parked before, %d after", n.GetState(), len(before), len(parked()))
		}
	})
}

// An engineer decides what the demo's workshop claimed.
func TestAClaimIsDecidedAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	withAndWithoutScripts(t, func(t *testing.T, scripts bool) {
		d, p := deskOverDemo(t, t.TempDir(), newFickleServer(t), scripts, "una", accessv1.Role_ROLE_ENGINEER)
		c := d.submittedClaim()
		serial := strings.Split(c.GetName(), "/")[1]
		p.Press("Fleet")
		p.Press("Claims")
		p.Press(serial)
		p.Says("Claim for "+serial, "1,184.50 GBP", "Cover on the day of the failure")
		p.Set("Decision", "CLAIM_OUTCOME_PARTLY")
		p.Enter("Parts paid for, GBP", "a lot")
		p.Enter("Why, for the customer", "Parts by the term; the carriage is not promised.")
		p.Press("Decide the claim")
		p.Says("Please enter an amount, as in 184.50.")
		p.Set("Decision", "CLAIM_OUTCOME_PARTLY")
		p.Enter("Parts paid for, GBP", "1,000.00")
		p.Press("Decide the claim")
		p.Says("The decision is on record.", "1,000.00 GBP for parts", "the carriage is not promised")
		if got := got(d.clients.Warranties.GetClaim(d.ctx, &warrantyv1.GetClaimRequest{Name: c.GetName()}))(t); got.GetTotals().GetPaidMinor() != 100_000 || got.GetState() != warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED {
			t.Errorf("got %v, %v", got.GetState(), got.GetTotals())
		}
		p.Press("All claims that wait")
		p.Says("No claim waits for a decision.")
	})
}

// submittedClaim makes a claim that waits for a decision.
func (d *deskWorld) submittedClaim() *warrantyv1.Claim {
	d.t.Helper()
	terms, err := aldermoor.WarrantyTerms()
	if err != nil {
		d.t.Fatal(err)
	}
	k := &console.Console{Access: d.clients.Access, Warranties: d.clients.Warranties, Out: io.Discard}
	for _, text := range terms {
		if err := k.AddWarrantyTerm(d.ctx, text); err != nil {
			d.t.Fatal(err)
		}
	}
	c := got(d.clients.Warranties.CreateClaim(d.ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/AM0164N", Claim: &warrantyv1.Claim{
		Position: "transfer-case", FailureDate: &date.Date{Year: 2026, Month: 5, Day: 12}, Symptom: "whine on overrun", Cause: "bearing pitted", Remedy: "bearing replaced", Currency: "GBP",
		Parts: []*warrantyv1.ClaimPart{{Part: "AP-1210", Quantity: 1, UnitPriceMinor: 118_450}},
	}}))(d.t)
	return got(d.clients.Warranties.SubmitClaim(d.ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "Handed in by the workshop."}))(d.t)
}

// Tables with mistakes are refused row by row, and nothing of them is kept; mended,
// they are looked at and then imported whole.
func TestTablesAreImportedAtTheDeskOnceNothingInThemIsWrong(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	withAndWithoutScripts(t, func(t *testing.T, scripts bool) {
		data := t.TempDir()
		d, p := deskOverDemo(t, data, newFickleServer(t), scripts, "ida", accessv1.Role_ROLE_ADMINISTRATOR)
		dir := t.TempDir()
		file := func(name, text string) string {
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			return path
		}
		known := func(ctx context.Context, part string) bool {
			_, err := d.clients.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: "parts/" + part})
			return err == nil
		}
		p.Press("Works")
		p.Press("Import")
		p.Attach("Files", file("notes.txt", "hello"))
		p.Press("Look at the files")
		p.Says("files ending in .csv, .xlsx, .yaml or .yml instead of “notes.txt”")
		parts := file("parts.csv", "part,title,status\nZZ-1,Bolt,orderable\nZZ-2,Bolt,orderabel\nZZ-3,,orderable\n")
		readings := file("readings.csv", "serial,reading date,value\nAM0101X,2026-05-01,100 mi\n")
		p.Attach("Files", parts, readings)
		p.Press("Look at the files")
		p.Says("things to put right. Nothing was written.", "parts.csv, row 3", "orderabel", "one of: orderable, use up, unavailable", "parts.csv, row 4", "readings.csv, row 2", "AM0101X")
		if known(d.ctx, "ZZ-1") {
			t.Error("a row without a fault was kept beside rows with faults")
		}
		file("parts.csv", "part,title,status\nZZ-1,Bolt,orderable\nZZ-2,Bolt,orderable\nZZ-3,Bolt,orderable\n")
		file("readings.csv", "serial,reading date,value\nAM0101G,2026-05-02,41990 mi\n")
		p.Attach("Files", parts, readings)
		p.Press("Look at the files")
		p.Says("Nothing is wrong. 4 records would be written; 0 records are there already, the same.", "From parts.csv, readings.csv.")
		if known(d.ctx, "ZZ-1") {
			t.Error("looking at the files kept them")
		}
		again := telephone.Ask[string](p, `document.querySelector("main form").action`)
		p.Press("Import 4 records")
		p.Says("4 records written; 0 records were there already.")
		if !known(d.ctx, "ZZ-1") || !known(d.ctx, "ZZ-3") {
			t.Error("what was imported is not there")
		}
		// The files wait no longer; nobody finds them at the old address.
		b, _ := d.admitted("iva", accessv1.Role_ROLE_ADMINISTRATOR)
		if a, page := b.send(strings.TrimPrefix(again, d.url), nil); a.StatusCode != 409 || !strings.Contains(page, "These files wait here no longer") {
			t.Errorf("sent again: %d", a.StatusCode)
		}
		left, err := filepath.Glob(filepath.Join(data, "run", "uploads", "*"))
		if err != nil || len(left) != 0 {
			t.Errorf("files are left on the disk: %v, %v", left, err)
		}
		builds := got(d.clients.Builds.ListBuilds(d.ctx, &buildv1.ListBuildsRequest{PageSize: 500}))(t).GetBuilds()
		if slices.ContainsFunc(builds, func(x *buildv1.Build) bool { return strings.Contains(x.GetName(), "ZZ") }) {
			t.Error("a build that nobody sent")
		}
	})
}
