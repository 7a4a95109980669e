package sitetest

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/console"
	"halfshaft/testdata/aldermoor"
)

// claimedSerial is a vehicle whose warranty runs.
const claimedSerial = "AM0164N"

const tourVehicle = "vehicles/" + aldermoor.TourSerial

// tellStories enters what the demo leaves empty: a reading that nobody would
// believe, claims, a handbook and a job sheet.
func (s *site) tellStories() error {
	if _, err := s.Schedules.RecordReading(s.ctx, &schedulev1.RecordReadingRequest{Parent: tourVehicle, Reading: &schedulev1.Reading{
		Value: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "mi"}, Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
	}}); err != nil {
		return fmt.Errorf("a doubtful reading: %w", err)
	}
	if err := s.claim(); err != nil {
		return fmt.Errorf("a claim: %w", err)
	}
	if err := s.draftClaim(); err != nil {
		return fmt.Errorf("the draft of a claim: %w", err)
	}
	if err := s.decidedClaim(); err != nil {
		return fmt.Errorf("a claim that is decided: %w", err)
	}
	if err := s.issueHandbook(tourVehicle); err != nil {
		return err
	}
	sheet, err := s.JobSheets.CreateJobSheet(s.ctx, &jobsheetv1.CreateJobSheetRequest{
		Parent: tourVehicle, ItemIds: []string{"E01", "T02"}, VisitDate: demoDay(),
	})
	if err != nil {
		return fmt.Errorf("a job sheet: %w", err)
	}
	s.found["sheet"] = lastOf(sheet.GetName())
	return s.invite()
}

// issueHandbook issues the handbook of a vehicle.
func (s *site) issueHandbook(vehicle string) error {
	if _, err := s.Handbooks.IssueHandbook(s.ctx, &handbookv1.IssueHandbookRequest{Parent: vehicle, Text: "the owner asked for one"}); err != nil {
		return fmt.Errorf("the handbook of %s: %w", vehicle, err)
	}
	return nil
}

// invite makes an account and leaves its invitation lying.
func (s *site) invite() error {
	if _, err := s.Access.CreateAccount(s.ctx, &accessv1.CreateAccountRequest{
		Account: &accessv1.Account{Name: "accounts/orla", FullName: "Orla Pennywhistle", Role: accessv1.Role_ROLE_SUPPORT},
	}); err != nil {
		return fmt.Errorf("an account: %w", err)
	}
	invited, err := s.SignIn.InviteAccount(s.ctx, &accessv1.InviteAccountRequest{Account: "accounts/orla"})
	if err != nil {
		return fmt.Errorf("an invitation: %w", err)
	}
	s.found["invitation"] = invited.GetSecret()
	return nil
}

// now is what the demo has for now.
func (s *site) now() (time.Time, error) {
	a, err := s.Access.GetAccount(s.ctx, &accessv1.GetAccountRequest{Name: "accounts/orla"})
	return a.GetCreateTime().AsTime(), err
}

// claim hands a claim in.
func (s *site) claim() error {
	k := &console.Console{Access: s.Access, Builds: s.Builds, Warranties: s.Warranties, Out: io.Discard}
	if err := k.CreateClaim(s.ctx, claimedSerial, []byte(`
position: transfer-case
failure_date: 2026-05-12
symptom: whine on overrun
cause: bearing pitted
remedy: bearing and seal replaced
parts:
  - {part: AP-1210, quantity: 1, failed_lot: L-77, unit_price_minor: 8450}
labour:
  - {text: output housing off and on, minutes: 130, hourly_rate_minor: 6000}
currency: GBP
`), console.ClaimTyped{Other: []string{"carriage at 12.00"}}); err != nil {
		return err
	}
	r, err := s.Warranties.ListClaims(s.ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/" + claimedSerial})
	if err != nil {
		return err
	}
	if len(r.GetClaims()) == 0 {
		return errors.New("it was made and is not listed")
	}
	name := r.GetClaims()[0].GetName()
	s.found["claimed"], s.found["claim"] = claimedSerial, lastOf(name)
	return k.MoveClaim(s.ctx, name, "submit", "")
}

// draftClaim begins a claim of the dealer that has the vehicle.
func (s *site) draftClaim() error {
	given, err := s.Access.ListAssignments(s.ctx, &accessv1.ListAssignmentsRequest{Parent: tourVehicle, Open: true})
	if err != nil {
		return err
	}
	if len(given.GetAssignments()) == 0 {
		return errors.New("no dealer has the vehicle")
	}
	c, err := s.Warranties.CreateClaim(s.ctx, &warrantyv1.CreateClaimRequest{Parent: tourVehicle, Claim: &warrantyv1.Claim{
		Position: "front-axle-differential", FailureDate: demoDay(), Symptom: "hums on overrun", Organisation: given.GetAssignments()[0].GetOrganisation(),
		Parts:  []*warrantyv1.ClaimPart{{Part: "AP-1410", Quantity: 2, FailedLot: "L-77", UnitPriceMinor: 2450}},
		Labour: []*warrantyv1.ClaimLabour{{Text: "differential out and in", Minutes: 240, HourlyRateMinor: 6000}}, Currency: "GBP",
	}})
	if err != nil {
		return err
	}
	s.found["draft"] = lastOf(c.GetName())
	return nil
}

// decidedClaim is one that was let begin, accepted in part and asked back from a
// supplier.
func (s *site) decidedClaim() error {
	c, err := s.Warranties.CreateClaim(s.ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/" + claimedSerial, Claim: &warrantyv1.Claim{
		Position: "transfer-case", FailureDate: demoDay(), Symptom: "oil at the output flange", Cause: "lip of the seal cut", Remedy: "seal replaced",
		Parts:  []*warrantyv1.ClaimPart{{Part: "AP-1215", Quantity: 1, UnitPriceMinor: 1850}},
		Labour: []*warrantyv1.ClaimLabour{{Text: "output flange off and on", Minutes: 75, HourlyRateMinor: 6000}}, Currency: "GBP",
	}})
	if err != nil {
		return err
	}
	name := c.GetName()
	s.found["decided"] = lastOf(name)
	steps := []func() error{
		func() error {
			c, err = s.Warranties.SubmitClaim(s.ctx, &warrantyv1.SubmitClaimRequest{Name: name, Etag: c.GetEtag()})
			return err
		},
		func() error {
			c, err = s.Warranties.AuthoriseClaim(s.ctx, &warrantyv1.AuthoriseClaimRequest{Name: name, LimitMinor: 5000, Text: "flange off, and look", Etag: c.GetEtag()})
			return err
		},
		func() error {
			c, err = s.Warranties.DecideClaim(s.ctx, &warrantyv1.DecideClaimRequest{Name: name, Etag: c.GetEtag(), Decision: &warrantyv1.ClaimDecision{
				Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_PARTLY, PartsMinor: 1850, LabourMinor: 6000, Reason: "an hour is what it takes"}})
			return err
		},
		func() error {
			_, err = s.Warranties.RecordRecovery(s.ctx, &warrantyv1.RecordRecoveryRequest{Name: name, Etag: c.GetEtag(), Recovery: &warrantyv1.ClaimRecovery{
				State: warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, Supplier: "Brookford Gears", AskedMinor: 1850, Text: "their reference BG-1142"}})
			return err
		},
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// findNames looks up what the paths of pages name.
func (s *site) findNames() error {
	s.found["serial"] = aldermoor.TourSerial
	s.found["release"], s.found["part"] = "R5", "AP-1010"
	s.found["kind"], s.found["account"] = "dealer", "bert"
	s.found["bulletin"], s.found["version"], s.found["campaign"] = "C-2026-01", "1", "C-2026-01"
	readings, err := s.Schedules.ListReadings(s.ctx, &schedulev1.ListReadingsRequest{Parent: tourVehicle, PageSize: 500})
	if err != nil {
		return err
	}
	for _, r := range readings.GetReadings() {
		if r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			s.found["reading"] = lastOf(r.GetName())
		}
	}
	entries, err := s.Schedules.ListServiceEntries(s.ctx, &schedulev1.ListServiceEntriesRequest{Parent: tourVehicle, PageSize: 500})
	if err != nil {
		return err
	}
	most := 0
	for _, e := range entries.GetServiceEntries() { // the one with the most to show
		if n := len(e.GetItems()); n > most {
			most, s.found["entry"] = n, lastOf(e.GetName())
		}
	}
	asked, err := s.Enquiries.ListEnquiries(s.ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", OpenOnly: true})
	if err != nil {
		return err
	}
	for _, e := range asked.GetEnquiries() {
		s.found["asked"], s.found["enquiry"] = serialIn(e.GetName()), lastOf(e.GetName())
	}
	given, err := s.Access.ListAssignments(s.ctx, &accessv1.ListAssignmentsRequest{Parent: tourVehicle, Open: true})
	if err != nil {
		return err
	}
	for _, a := range given.GetAssignments() {
		s.found["assignment"] = lastOf(a.GetName())
	}
	listed, err := s.Bulletins.ListFollowUps(s.ctx, &bulletinv1.ListFollowUpsRequest{Parent: "vehicles/-", Bulletin: "bulletins/C-2026-01"})
	if err != nil {
		return err
	}
	for _, f := range listed.GetFollowUps() {
		s.found["listed"] = serialIn(f.GetName())
	}
	for _, word := range []string{"reading", "entry", "enquiry", "assignment", "listed"} {
		if s.found[word] == "" {
			return fmt.Errorf("the demo has no %s", word)
		}
	}
	return s.findNotices()
}

// findNotices finds the mail about service that an owner who reads a language got
// last.
func (s *site) findNotices() error {
	r, err := s.Reminders.ListNotices(s.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 500})
	if err != nil {
		return err
	}
	for _, n := range r.GetNotices() {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_MAIL && n.GetPurpose() == ownerv1.Purpose_PURPOSE_SERVICE {
			s.found["notice-"+n.GetLanguage()] = n.GetName()
			s.found["person-"+n.GetLanguage()] = n.GetPerson()
		}
	}
	for _, language := range []string{"en", "de"} {
		if s.found["notice-"+language] == "" {
			return fmt.Errorf("nobody who reads %s got a mail", language)
		}
		serial, _, _ := strings.Cut(lastOf(s.found["notice-"+language]), ".")
		if err := s.issueHandbook("vehicles/" + serial); err != nil {
			return err
		}
	}
	return s.signLinks()
}

// lastOf is the last step of a resource's name.
func lastOf(name string) string { return name[strings.LastIndex(name, "/")+1:] }

// serialIn is the vehicle of a resource below it.
func serialIn(name string) string { return strings.Split(name, "/")[1] }

func demoDay() *date.Date {
	return &date.Date{Year: int32(aldermoor.Today.Year), Month: int32(aldermoor.Today.Month), Day: int32(aldermoor.Today.Day)}
}
