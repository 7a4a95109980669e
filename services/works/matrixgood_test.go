package works_test

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/onetime"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// finish calls well what the walk over the cells could only call in vain,
// because a good call would change the world for the next: once each, as
// somebody who may, so that a refusal in the matrix is the door's and not the
// request's.
func (w *world) finish() {
	w.finishImports()
	w.finishAccess()
	w.finishSignIn()
	w.finishBuilds()
	w.finishSchedules()
	w.finishJobSheets()
	w.finishReminders()
	w.finishEnquiries()
	w.finishBulletins()
	w.finishWarranty()
	w.finishNotices()
	w.finishOwners()
}

// finishImports imports into each service a record that it has.
func (w *world) finishImports() {
	t, engineer, id := w.t, w.as("engineer"), uuid.NewString()
	release := got(engineer.Builds.GetRelease(w.ctx, &buildv1.GetReleaseRequest{Name: "releases/R1"}))(t)
	got(engineer.Builds.StageImport(w.ctx, &buildv1.StageImportRequest{ImportId: id, Rows: []*buildv1.BuildRow{{Row: &buildv1.BuildRow_Release{Release: release}}}}))(t)
	got(engineer.Builds.CommitImport(w.ctx, &buildv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	part := got(engineer.Parts.GetPart(w.ctx, &partsv1.GetPartRequest{Name: "parts/AP-1010"}))(t)
	got(engineer.Parts.StageImport(w.ctx, &partsv1.StageImportRequest{ImportId: id, Rows: []*partsv1.PartRow{{Row: &partsv1.PartRow_Part{Part: part}}}}))(t)
	got(engineer.Parts.CommitImport(w.ctx, &partsv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	programme := got(engineer.Schedules.GetProgramme(w.ctx, &schedulev1.GetProgrammeRequest{Name: "programmes/packhorse"}))(t)
	got(engineer.Schedules.StageImport(w.ctx, &schedulev1.StageImportRequest{ImportId: id, Rows: []*schedulev1.HistoryRow{{Row: &schedulev1.HistoryRow_Programme{Programme: programme}}}}))(t)
	got(engineer.Schedules.CommitImport(w.ctx, &schedulev1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	person := got(w.as("administrator").Owners.GetPerson(w.ctx, &ownerv1.GetPersonRequest{Name: "people/p0001"}))(t)
	got(engineer.Owners.StageImport(w.ctx, &ownerv1.StageImportRequest{ImportId: id, Rows: []*ownerv1.OwnerRow{{Row: &ownerv1.OwnerRow_Person{Person: person}}}}))(t)
	got(engineer.Owners.CommitImport(w.ctx, &ownerv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	term := got(engineer.Warranties.GetWarrantyTerm(w.ctx, &warrantyv1.GetWarrantyTermRequest{Name: "warrantyTerms/WORKS-12/versions/1"}))(t)
	got(engineer.Warranties.StageImport(w.ctx, &warrantyv1.StageImportRequest{ImportId: id, Rows: []*warrantyv1.WarrantyRow{{Row: &warrantyv1.WarrantyRow_WarrantyTerm{WarrantyTerm: term}}}}))(t)
	campaign := got(engineer.Bulletins.GetBulletin(w.ctx, &bulletinv1.GetBulletinRequest{Name: "bulletins/" + matrixCampaign + "/versions/1"}))(t)
	got(engineer.Bulletins.StageImport(w.ctx, &bulletinv1.StageImportRequest{ImportId: id, Rows: []*bulletinv1.BulletinRow{{Row: &bulletinv1.BulletinRow_Bulletin{Bulletin: campaign}}}}))(t)
	got(engineer.Bulletins.CommitImport(w.ctx, &bulletinv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	got(engineer.Warranties.CommitImport(w.ctx, &warrantyv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	note := &enquiryv1.AnswerNote{Name: "answerNotes/imported", Title: "A drip", Text: "A film is normal.", Sample: true}
	got(engineer.Enquiries.StageImport(w.ctx, &enquiryv1.StageImportRequest{ImportId: id, Rows: []*enquiryv1.EnquiryRow{{Row: &enquiryv1.EnquiryRow_AnswerNote{AnswerNote: note}}}}))(t)
	got(engineer.Enquiries.CommitImport(w.ctx, &enquiryv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
	book := got(engineer.Handbooks.GetBook(w.ctx, &handbookv1.GetBookRequest{Name: "books/small/versions/1"}))(t)
	got(engineer.Handbooks.KeepHandbookFile(w.ctx, &handbookv1.KeepHandbookFileRequest{Data: []byte("a page")}))(t)
	got(engineer.Handbooks.StageImport(w.ctx, &handbookv1.StageImportRequest{ImportId: id, Rows: []*handbookv1.HandbookRow{{Row: &handbookv1.HandbookRow_Book{Book: book}}}}))(t)
	got(engineer.Handbooks.CommitImport(w.ctx, &handbookv1.CommitImportRequest{ImportId: id, Chunks: 1}))(t)
}

func (w *world) finishAccess() {
	t, admin, rid := w.t, w.as("administrator").Access, uuid.NewString
	keys := got(admin.ListKeys(w.ctx, &accessv1.ListKeysRequest{PageSize: 500}))(t).GetKeys()
	for _, k := range keys {
		if k.GetTitle() == "of scoped-support" {
			got(admin.RotateKey(w.ctx, &accessv1.RotateKeyRequest{Name: k.GetName(), Etag: k.GetEtag(), RequestId: rid()}))(t)
		}
	}
	ida := got(admin.GetAccount(w.ctx, &accessv1.GetAccountRequest{Name: "accounts/ida"}))(t)
	ida.FullName = "Ida Brackenbury-Low"
	got(admin.UpdateAccount(w.ctx, &accessv1.UpdateAccountRequest{Account: ida, RequestId: rid()}))(t)
}

// finishSignIn has somebody take an invitation, sign in and leave again.
func (w *world) finishSignIn() {
	t, admin, pages := w.t, w.as("administrator").SignIn, w.as("service").SignIn
	const account, first, second = "accounts/ida", "eleven herrings on the quay", "twelve herrings on the quay"
	invited := got(admin.InviteAccount(w.ctx, &accessv1.InviteAccountRequest{Account: account, RequestId: uuid.NewString()}))(t)
	got(pages.CheckInvitation(w.ctx, &accessv1.CheckInvitationRequest{Secret: invited.GetSecret()}))(t)
	proof := &accessv1.Proof{Secret: &accessv1.Proof_Invitation{Invitation: invited.GetSecret()}}
	begun := got(pages.BeginPassword(w.ctx, &accessv1.BeginPasswordRequest{Account: account, Proof: proof, Password: first}))(t)
	code := func() string {
		w.clock.Move(time.Minute)
		c, err := onetime.Code(strings.ReplaceAll(begun.GetCodeSecret(), " ", ""), onetime.Step(w.clock.Now()))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	added := got(pages.FinishPassword(w.ctx, &accessv1.FinishPasswordRequest{Account: account, Proof: proof, Ceremony: begun.GetCeremony(), Code: code(), Network: "127.0.0.0/8"}))(t)
	session := added.GetGrant().GetSecret()
	got(pages.ChangePassword(w.ctx, &accessv1.ChangePasswordRequest{Account: account, Session: session, Current: first, Password: second, Network: "127.0.0.0/8"}))(t)
	granted := got(pages.SignIn(w.ctx, &accessv1.SignInRequest{Account: account, Password: second, Code: code(), Network: "127.0.0.0/8"}))(t)
	session = granted.GetSecret()
	got(pages.CheckSession(w.ctx, &accessv1.CheckSessionRequest{Secret: session}))(t)
	got(pages.CreateRecoveryCodes(w.ctx, &accessv1.CreateRecoveryCodesRequest{Account: account, Session: session}))(t)
	got(pages.BeginPasskey(w.ctx, &accessv1.BeginPasskeyRequest{Account: account, Proof: &accessv1.Proof{Secret: &accessv1.Proof_Session{Session: session}}}))(t)
	got(admin.EndSession(w.ctx, &accessv1.EndSessionRequest{Name: granted.GetSession().GetName(), Account: account}))(t)
	got(admin.EndSessions(w.ctx, &accessv1.EndSessionsRequest{Account: account}))(t)
	got(pages.SignOut(w.ctx, &accessv1.SignOutRequest{Secret: session, Account: account}))(t)
}

func (w *world) finishBuilds() {
	t, engineer, rid := w.t, w.as("engineer"), uuid.NewString
	name := "builds/" + w.serials["L"]
	b := got(engineer.Builds.GetBuild(w.ctx, &buildv1.GetBuildRequest{Name: name}))(t)
	b.FinishNote = "as it should be"
	got(engineer.Builds.AmendBuild(w.ctx, &buildv1.AmendBuildRequest{Build: b, Reason: "a slip", RequestId: rid()}))(t)
	got(engineer.Builds.RecordChange(w.ctx, &buildv1.RecordChangeRequest{Parent: name, RequestId: rid(), Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: dayProto(aldermoor.Today), Source: buildv1.ChangeSource_CHANGE_SOURCE_WORKS, Plate: "MX 999", Reason: "a new one"}}))(t)
	release := proto.CloneOf(got(engineer.Builds.GetRelease(w.ctx, &buildv1.GetReleaseRequest{Name: "releases/R5"}))(t))
	release.Name, release.Etag, release.CreateTime = "releases/R99", "", nil
	release.EffectiveDate = dayProto(aldermoor.Today.AddDays(100))
	got(engineer.Builds.CreateRelease(w.ctx, &buildv1.CreateReleaseRequest{Release: release, RequestId: rid()}))(t)
	got(engineer.Parts.ListUses(w.ctx, &partsv1.ListUsesRequest{Part: "parts/AP-1010"}))(t)
}

func (w *world) finishSchedules() {
	t, engineer, rid := w.t, w.as("engineer"), uuid.NewString
	p := proto.CloneOf(got(engineer.Schedules.GetProgramme(w.ctx, &schedulev1.GetProgrammeRequest{Name: "programmes/packhorse"}))(t))
	n, err := strconv.Atoi(last(p.GetName()))
	if err != nil {
		t.Fatal(err)
	}
	p.Name, p.EffectiveDate = "programmes/packhorse/versions/"+strconv.Itoa(n+1), dayProto(aldermoor.Today.AddDays(50))
	got(engineer.Schedules.CreateProgramme(w.ctx, &schedulev1.CreateProgrammeRequest{Programme: p, RequestId: rid()}))(t)

	own, v := w.as("owner").Schedules, "vehicles/"+w.serials["A"]
	for _, u := range got(w.as("support").Schedules.ListUseFacts(w.ctx, &schedulev1.ListUseFactsRequest{Parent: v}))(t).GetUseFacts() {
		if last(u.GetName()) == w.on["A"]["use"] {
			u.EndDate = dayProto(aldermoor.Today.AddDays(10))
			got(own.EndUse(w.ctx, &schedulev1.EndUseRequest{UseFact: u, RequestId: rid()}))(t)
		}
	}
	for _, e := range got(own.ListServiceEntries(w.ctx, &schedulev1.ListServiceEntriesRequest{Parent: v}))(t).GetServiceEntries() {
		if last(e.GetName()) == w.on["A"]["own_entry"] {
			got(own.VoidServiceEntry(w.ctx, &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "a slip", RequestId: rid()}))(t)
		}
	}
	for _, r := range got(own.ListReadings(w.ctx, &schedulev1.ListReadingsRequest{Parent: v}))(t).GetReadings() {
		if last(r.GetName()) == w.on["A"]["reading"] {
			got(w.as("support").Schedules.SettleReading(w.ctx, &schedulev1.SettleReadingRequest{Name: r.GetName(), Etag: r.GetEtag(), RequestId: rid(),
				Settlement: &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_AS_READ, Reason: "looked at"}}))(t)
		}
	}
	got(own.RecordReading(w.ctx, &schedulev1.RecordReadingRequest{Parent: v, RequestId: rid(), Reading: &schedulev1.Reading{
		Value: &vehiclev1.Distance{EnteredValue: "21200", EnteredUnit: "mi"}}}))(t)
}

func (w *world) finishReminders() {
	t, own, desk, rid := w.t, w.as("owner").Reminders, w.as("support").Reminders, uuid.NewString
	v, person := "vehicles/"+w.serials["A"], w.people["owner"]
	for _, a := range got(own.ListAnswers(w.ctx, &reminderv1.ListAnswersRequest{Parent: v}))(t).GetAnswers() {
		got(own.WithdrawAnswer(w.ctx, &reminderv1.WithdrawAnswerRequest{Name: a.GetName(), Etag: a.GetEtag(), RequestId: rid()}))(t)
	}
	feed := got(own.CreateCalendarFeed(w.ctx, &reminderv1.CreateCalendarFeedRequest{Parent: v, Person: person, RequestId: rid()}))(t)
	got(w.as("service").Reminders.ReadCalendar(w.ctx, &reminderv1.ReadCalendarRequest{Secret: feed.GetSecret()}))(t)
	got(own.EndCalendarFeed(w.ctx, &reminderv1.EndCalendarFeedRequest{Name: feed.GetCalendarFeed().GetName(), RequestId: rid()}))(t)
	got(desk.EndOptOut(w.ctx, &reminderv1.EndOptOutRequest{Name: "optOuts/" + w.on["A"]["opt_out"], RequestId: rid()}))(t)
	got(own.WithdrawLinks(w.ctx, &reminderv1.WithdrawLinksRequest{Person: person, RequestId: rid()}))(t)
	got(own.SendConfirmation(w.ctx, &reminderv1.SendConfirmationRequest{
		Parent: v, Person: person, Matter: reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_TRANSFER, RequestId: rid()}))(t)
	c := got(desk.GetCadence(w.ctx, &reminderv1.GetCadenceRequest{Name: "cadences/routine"}))(t)
	c.EarlyDays++
	got(w.as("engineer").Reminders.UpdateCadence(w.ctx, &reminderv1.UpdateCadenceRequest{Cadence: c, RequestId: rid()}))(t)
	got(w.as("service").Reminders.TakeTextEvent(w.ctx, &reminderv1.TakeTextEventRequest{EventId: "m1", Event: &reminderv1.TakeTextEventRequest_Said{
		Said: &reminderv1.TextSaid{Phone: "+441632960999", Text: "hello", EventTime: timestamppb.New(w.clock.Now())}}}))(t)
	got(desk.TakeReturn(w.ctx, &reminderv1.TakeReturnRequest{Recipients: []string{"returns@aldermoor.example"},
		Message: []byte("From: somebody@post.example\r\nTo: returns@aldermoor.example\r\nSubject: hello\r\n\r\nA question.\r\n")}))(t)
}

// finishEnquiries writes and reviews a note, and carries an enquiry on.
func (w *world) finishEnquiries() {
	t, desk, engineer, rid := w.t, w.as("support").Enquiries, w.as("engineer").Enquiries, uuid.NewString
	n := got(desk.CreateAnswerNote(w.ctx, &enquiryv1.CreateAnswerNoteRequest{RequestId: rid(), AnswerNote: &enquiryv1.AnswerNote{
		Name: "answerNotes/drip", Title: "A drip at the swivel", Text: "A film is normal, a drop that falls is not."}}))(t)
	n.Text += " Look at the level."
	n = got(engineer.UpdateAnswerNote(w.ctx, &enquiryv1.UpdateAnswerNoteRequest{AnswerNote: n, RequestId: rid()}))(t)
	n = got(engineer.ReviewAnswerNote(w.ctx, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag(), RequestId: rid()}))(t)
	got(desk.GetAnswerNote(w.ctx, &enquiryv1.GetAnswerNoteRequest{Name: n.GetName()}))(t)
	e := got(desk.GetEnquiry(w.ctx, &enquiryv1.GetEnquiryRequest{Name: "vehicles/" + w.serials["A"] + "/enquiries/" + w.on["A"]["enquiry"]}))(t)
	e.Symptom = "drip at the left swivel"
	e = got(desk.UpdateEnquiry(w.ctx, &enquiryv1.UpdateEnquiryRequest{Enquiry: e, RequestId: rid()}))(t)
	got(desk.RecordAnswer(w.ctx, &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Etag: e.GetEtag(), Close: true, RequestId: rid(),
		Answer: &enquiryv1.EnquiryAnswer{Text: "A film is normal.", Links: []string{n.GetName()}}}))(t)
}

// finishNotices sends notices to a server that takes none, so that they are
// parked, and prints the letters that go out instead.
func (w *world) finishNotices() {
	t, desk, rid := w.t, w.as("support").Reminders, uuid.NewString
	report := got(desk.RunPass(w.ctx, &reminderv1.RunPassRequest{}))(t)
	for _, n := range report.GetNotices() {
		n := got(desk.GetNotice(w.ctx, &reminderv1.GetNoticeRequest{Name: n.GetName()}))(t).GetNotice()
		if n.GetState() == reminderv1.NoticeState_NOTICE_STATE_PARKED {
			got(desk.RetryNotice(w.ctx, &reminderv1.RetryNoticeRequest{Name: n.GetName(), Etag: n.GetEtag(), RequestId: rid()}))(t)
			break
		}
	}
	got(desk.SendHandbook(w.ctx, &reminderv1.SendHandbookRequest{Parent: "vehicles/" + w.serials["A"], Person: w.people["owner"], RequestId: rid()}))(t)
	letters := got(desk.PrintLetters(w.ctx, &reminderv1.PrintLettersRequest{PageSize: 1}))(t).GetNotices()
	if len(letters) > 0 {
		got(desk.MarkPosted(w.ctx, &reminderv1.MarkPostedRequest{Notices: []string{letters[0].GetName()}, PostedDate: dayProto(aldermoor.Today.AddDays(1)), RequestId: rid()}))(t)
	}
	for _, task := range got(desk.ListTasks(w.ctx, &reminderv1.ListTasksRequest{}))(t).GetTasks()[:1] {
		got(desk.CompleteTask(w.ctx, &reminderv1.CompleteTaskRequest{Name: task.GetName(), Etag: task.GetEtag(), Outcome: "rang up", RequestId: rid()}))(t)
	}
}

func (w *world) finishOwners() {
	t, desk, rid := w.t, w.as("support").Owners, uuid.NewString
	v := "vehicles/" + w.serials["K"]
	transfer := got(desk.ListTransfers(w.ctx, &ownerv1.ListTransfersRequest{Parent: v}))(t).GetTransfers()[0]
	got(w.as("third").Owners.CancelTransfer(w.ctx, &ownerv1.CancelTransferRequest{Name: transfer.GetName(), Etag: transfer.GetEtag(), RequestId: rid()}))(t)
	offer := got(w.as("third").Owners.OfferTransfer(w.ctx, &ownerv1.OfferTransferRequest{Parent: v, OfferedBy: w.people["third"], RequestId: rid()}))(t)
	got(desk.AcceptTransfer(w.ctx, &ownerv1.AcceptTransferRequest{Parent: v, Code: offer.GetCode(), RequestId: rid(),
		NewOwner: &ownerv1.Person{FullName: "Somebody New", Email: "new@post.example", TimeZone: "Europe/London"}}))(t)

	tie := got(desk.ListTies(w.ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + w.serials["L"]}))(t).GetTies()[0]
	tie.Notices = false
	tie = got(desk.UpdateTie(w.ctx, &ownerv1.UpdateTieRequest{Tie: tie, RequestId: rid()}))(t)
	tie.EndDate = dayProto(aldermoor.Today.AddDays(2))
	got(desk.EndTie(w.ctx, &ownerv1.EndTieRequest{Tie: tie, RequestId: rid()}))(t)

	sealed := got(w.as("service").Owners.SealForPerson(w.ctx, &ownerv1.SealForPersonRequest{Person: w.people["owner"], Plaintext: []byte("x"), Purpose: "test"}))(t)
	got(w.as("service").Owners.OpenForPerson(w.ctx, &ownerv1.OpenForPersonRequest{Person: w.people["owner"], Sealed: sealed.GetSealed(), Purpose: "test"}))(t)
	p := got(w.as("owner").Owners.GetPerson(w.ctx, &ownerv1.GetPersonRequest{Name: w.people["owner"]}))(t)
	p.Language = "de-DE"
	p = got(w.as("owner").Owners.UpdatePerson(w.ctx, &ownerv1.UpdatePersonRequest{Person: p, RequestId: rid()}))(t)
	got(desk.MarkUndeliverable(w.ctx, &ownerv1.MarkUndeliverableRequest{Name: p.GetName(), Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, Address: p.GetEmail(), Reason: "came back", RequestId: rid()}))(t)
	standing := got(desk.GetStanding(w.ctx, &ownerv1.GetStandingRequest{Name: "vehicles/" + w.serials["A"] + "/standing"}))(t)
	standing.State, standing.Note = ownerv1.StandingState_STANDING_STATE_EXPORTED, "seen on a ship"
	got(desk.UpdateStanding(w.ctx, &ownerv1.UpdateStandingRequest{Standing: standing, RequestId: rid()}))(t)
	seller := got(desk.GetPerson(w.ctx, &ownerv1.GetPersonRequest{Name: w.people["seller"]}))(t)
	got(w.as("administrator").Owners.ErasePerson(w.ctx, &ownerv1.ErasePersonRequest{Name: seller.GetName(), Etag: seller.GetEtag(), Ground: "asked for", EndTies: true, RequestId: rid()}))(t)
}

// matrixWorks is the configuration in which every method can be answered well.
func matrixWorks(t *testing.T) works.Config {
	server := newFickleServer(t)
	server.behave(func(string) behaviour { return neverAtRcpt })
	return works.Config{
		CallLimits: unlimited, HTTP: "127.0.0.1:0", Desk: works.DeskConfig{Listen: freeaddress.For(t)},
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example",
			PublicURL: "https://care.aldermoor.example", Letters: true, Postal: []string{"1 Foundry Yard", "Fictionbury FB1 1AA"}},
		Mail: works.MailConfig{Server: server.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
	}
}

// finishJobSheets takes one sheet in, strikes out another and cancels a third.
func (w *world) finishJobSheets() {
	t, c, rid, v := w.t, w.as("engineer").JobSheets, uuid.NewString, "vehicles/"+w.serials["L"]
	made := got(c.CreateJobSheet(w.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: v, ItemIds: []string{"T01"}, RequestId: rid()}))(t)
	back := &jobsheetv1.JobReturn{
		ServiceDate: dayProto(aldermoor.Today), DoneBy: "Ned", Jobs: []*jobsheetv1.JobDone{{Number: 1, Done: true}},
		Confirmed: []*jobsheetv1.JobConfirmation{{Line: "reading", Text: "the dial was out"}},
		Changes:   []*buildv1.Change{{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Component: &buildv1.Component{Position: "transfer-case"}}},
	}
	got(c.CheckJobReturn(w.ctx, &jobsheetv1.CheckJobReturnRequest{Name: made.GetName(), JobReturn: back}))(t)
	got(c.ReturnJobSheet(w.ctx, &jobsheetv1.ReturnJobSheetRequest{Name: made.GetName(), JobReturn: back, Etag: made.GetEtag(), RequestId: rid()}))(t)
	stream := got(c.DownloadJobSheet(w.ctx, &jobsheetv1.DownloadJobSheetRequest{Name: made.GetName()}))(t)
	got(stream.Recv())(t)
	wrong := got(c.CreateJobSheet(w.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: v, ItemIds: []string{"T01"}, RequestId: rid()}))(t)
	back.Changes = nil
	wrong = got(c.ReturnJobSheet(w.ctx, &jobsheetv1.ReturnJobSheetRequest{Name: wrong.GetName(), JobReturn: back, Etag: wrong.GetEtag(), RequestId: rid()}))(t)
	got(c.VoidJobReturn(w.ctx, &jobsheetv1.VoidJobReturnRequest{Name: wrong.GetName(), Reason: "entered twice", Etag: wrong.GetEtag(), RequestId: rid()}))(t)
	other := got(c.CreateJobSheet(w.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: v, ItemIds: []string{"T01"}, RequestId: rid()}))(t)
	got(c.CancelJobSheet(w.ctx, &jobsheetv1.CancelJobSheetRequest{Name: other.GetName(), Etag: other.GetEtag(), RequestId: rid()}))(t)
	got(w.as("engineer").Builds.RecordChanges(w.ctx, &buildv1.RecordChangesRequest{Parent: "builds/" + w.serials["L"], RequestId: rid(), Changes: []*buildv1.Change{{
		Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, ChangeDate: dayProto(aldermoor.Today), Source: buildv1.ChangeSource_CHANGE_SOURCE_WORKS,
		Reason: "looked at again", Component: &buildv1.Component{Position: "transfer-case"}}}}))(t)
}
