package works_test

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/kv"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// staffOf gives contexts that call as the desk and as an engineer, in the
// process.
func staffOf(ctx context.Context) (desk, engineer context.Context) {
	return access.NewContext(ctx, access.Caller{Role: access.Support, Bearer: "front desk"}),
		access.NewContext(ctx, access.Caller{Role: access.Engineer, Bearer: "ida"})
}

// What a person on record asked, and was told, is under their key: the desk
// reads it, an engineer does not, no index knows it, and it is gone with them.
// Symptom, place and links stay.
func TestWhatAPersonAskedIsSealedAndGoneWithThem(t *testing.T) {
	p, ctx, clients := startDemo(t, works.Config{})
	desk, engineer := staffOf(ctx)
	c, rid := clients.Enquiries, uuid.NewString()
	got(c.CreateAnswerNote(engineer, &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
		Name: "answerNotes/noise-transfer-case", Title: "Which noises are normal?", Text: "A whine is."}}))(t)
	create := &enquiryv1.CreateEnquiryRequest{Parent: "vehicles/AM01042", RequestId: rid, Enquiry: &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_OWNER, Person: "people/p0003",
		Question: "MARKEDQUESTION about the noise", Positions: []string{"transfer-case"}, Symptom: "howl in low range"},
		Answer: &enquiryv1.EnquiryAnswer{Text: "MARKEDANSWER", Links: []string{"answerNotes/noise-transfer-case"}}}
	if _, err := c.CreateEnquiry(desk, create); status.Code(err) != codes.InvalidArgument {
		t.Fatalf("of a serial that is none: %v", err)
	}
	create.Parent = "vehicles/AM0103C"
	made := got(c.CreateEnquiry(desk, create))(t)
	if made.GetQuestion() == "" || made.GetRelease() != "R1" || made.GetMinutesToAnswer() != 1 {
		t.Errorf("made %v", made)
	}
	if again := got(c.CreateEnquiry(desk, create))(t); again.GetName() != made.GetName() || again.GetQuestion() != made.GetQuestion() {
		t.Errorf("asked again: %v", again)
	}
	get := &enquiryv1.GetEnquiryRequest{Name: made.GetName()}
	seen := got(c.GetEnquiry(engineer, get))(t)
	if seen.GetQuestion() != "" || seen.GetPerson() != "" || seen.GetAnswers()[0].GetText() != "" || seen.GetSymptom() == "" || len(seen.GetAnswers()[0].GetLinks()) != 1 {
		t.Errorf("the engineer is shown %v", seen)
	}
	// An engineer's change leaves the words as they are.
	seen.Symptom = "howl in low range, warm"
	got(c.UpdateEnquiry(engineer, &enquiryv1.UpdateEnquiryRequest{Enquiry: seen, RequestId: uuid.NewString()}))(t)
	if now := got(c.GetEnquiry(desk, get))(t); now.GetQuestion() != made.GetQuestion() || now.GetPerson() != "people/p0003" || now.GetSymptom() != seen.GetSymptom() {
		t.Errorf("after the engineer's change: %v", now)
	}
	if _, err := c.UpdateEnquiry(desk, &enquiryv1.UpdateEnquiryRequest{Enquiry: made}); status.Code(err) != codes.Aborted {
		t.Errorf("a change of an older version: %v", err)
	}
	for _, q := range []string{"MARKEDQUESTION", "MARKEDANSWER"} {
		if found := got(c.SearchEnquiries(desk, &enquiryv1.SearchEnquiriesRequest{Query: q}))(t); len(found.GetEnquiries()) > 0 {
			t.Errorf("%s is found by what is sealed", q)
		}
	}
	alike := got(c.SuggestAnswers(desk, &enquiryv1.SuggestAnswersRequest{Parent: "vehicles/AM0101G", Question: "it howls in low range"}))(t)
	if len(alike.GetEnquiries()) != 1 || alike.GetEnquiries()[0].GetEnquiry().GetPerson() != "" || alike.GetEnquiries()[0].GetEnquiry().GetAnswers()[0].GetText() != "" {
		t.Errorf("on another vehicle is suggested %v", alike)
	}
	if stands(t, ctx, p, "MARKED") {
		t.Error("their words stand in the store as they are")
	}

	person := got(clients.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p0003"}))(t)
	got(clients.Owners.ErasePerson(ctx, &ownerv1.ErasePersonRequest{Name: person.GetName(), Etag: person.GetEtag(), Ground: "asked for", EndTies: true, RequestId: uuid.NewString()}))(t)
	gone := got(c.GetEnquiry(desk, get))(t)
	if gone.GetQuestion() != "" || gone.GetAnswers()[0].GetText() != "" || gone.GetSymptom() == "" || len(gone.GetPositions()) != 1 || len(gone.GetAnswers()[0].GetLinks()) != 1 {
		t.Errorf("after the erasure: %v", gone)
	}
	if _, err := c.RecordAnswer(desk, &enquiryv1.RecordAnswerRequest{Name: gone.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: "x"}}); status.Code(err) != codes.FailedPrecondition {
		t.Errorf("an answer to somebody who was erased: %v", err)
	}
}

// stands reports whether some words stand in the store as they are.
func stands(t *testing.T, ctx context.Context, p *works.Process, words string) bool {
	t.Helper()
	found := false
	_, err := kv.Scan(ctx, p.Etcd(), "/halfshaft/", func(e kv.Entry) error {
		found = found || bytes.Contains(e.Value, []byte(words))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// The lists page through everything once, the latest first.
func TestEnquiriesAreListedAndFoundPageByPage(t *testing.T) {
	_, ctx, clients := startDemo(t, works.Config{})
	if err := works.LoadEnquiries(ctx, clients.Enquiries); err != nil {
		t.Fatal(err)
	}
	c := clients.Enquiries
	all, err := aldermoor.Enquiries()
	if err != nil {
		t.Fatal(err)
	}
	seen, last, token := map[string]bool{}, "", ""
	for {
		r := got(c.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", PageSize: 3, PageToken: token}))(t)
		for _, e := range r.GetEnquiries() {
			at := e.GetAskTime().AsTime().Format("2006-01-02T15:04:05")
			if seen[e.GetName()] || last != "" && at > last {
				t.Errorf("%s of %s comes twice or out of order", e.GetName(), at)
			}
			seen[e.GetName()], last = true, at
		}
		if token = r.GetNextPageToken(); token == "" {
			break
		}
	}
	if len(seen) != len(all) {
		t.Errorf("%d of %d are listed", len(seen), len(all))
	}
	open := got(c.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", OpenOnly: true}))(t).GetEnquiries()
	due := got(c.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", FollowUpByDate: dayProto(aldermoor.Today.AddDays(7))}))(t).GetEnquiries()
	if len(open) != 3 || len(due) != 1 || due[0].GetFollowUpDate() == nil {
		t.Errorf("open %d, to come back to in a week %d", len(open), len(due))
	}
	mine := got(c.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", Person: "people/p0047"}))(t).GetEnquiries()
	if len(mine) != 1 || !strings.HasPrefix(mine[0].GetName(), "vehicles/AM0147P/") {
		t.Errorf("of p0047: %v", mine)
	}
	var whole, paged []string
	for _, e := range got(c.SearchEnquiries(ctx, &enquiryv1.SearchEnquiriesRequest{Query: "drip start winter tyres"}))(t).GetEnquiries() {
		whole = append(whole, e.GetName())
	}
	for token = ""; ; {
		r := got(c.SearchEnquiries(ctx, &enquiryv1.SearchEnquiriesRequest{Query: "drip start winter tyres", PageSize: 1, PageToken: token}))(t)
		for _, e := range r.GetEnquiries() {
			paged = append(paged, e.GetName())
		}
		if token = r.GetNextPageToken(); token == "" {
			break
		}
	}
	if len(whole) < 3 || strings.Join(whole, " ") != strings.Join(paged, " ") {
		t.Errorf("found %v, page by page %v", whole, paged)
	}
}

// The page of a vehicle for the desk, and what an engineer's has not.
func TestThePageShowsPeopleToTheDeskAlone(t *testing.T) {
	_, ctx, clients := startDemo(t, works.Config{})
	if err := works.LoadEnquiries(ctx, clients.Enquiries); err != nil {
		t.Fatal(err)
	}
	desk, engineer := staffOf(ctx)
	ask := &enquiryv1.GetDossierRequest{Name: "vehicles/alpha mike zero one four seven papa/dossier"}
	full, bare := got(clients.Enquiries.GetDossier(desk, ask))(t), got(clients.Enquiries.GetDossier(engineer, ask))(t)
	if len(full.GetGaps())+len(bare.GetGaps()) > 0 {
		t.Errorf("gaps: %v, %v", full.GetGaps(), bare.GetGaps())
	}
	if full.GetContacts()[0].GetPerson().GetFullName() == "" || bare.GetContacts()[0].GetPerson() != nil {
		t.Errorf("the desk is shown %v, the engineer %v", full.GetContacts(), bare.GetContacts())
	}
	if full.GetEnquiries()[0].GetQuestion() == "" || bare.GetEnquiries()[0].GetQuestion() != "" || bare.GetEnquiries()[0].GetPerson() != "" {
		t.Errorf("the desk is shown %v, the engineer %v", full.GetEnquiries(), bare.GetEnquiries())
	}
	if full.GetName() != "vehicles/AM0147P/dossier" || len(full.GetVisits()) != 5 || len(full.GetSchedule().GetItems()) == 0 || len(full.GetAnswerNotes()) == 0 {
		t.Errorf("the page is %v", full)
	}
	if _, err := clients.Enquiries.GetDossier(desk, &enquiryv1.GetDossierRequest{Name: "vehicles/AM0199A/dossier"}); status.Code(err) != codes.NotFound && status.Code(err) != codes.InvalidArgument {
		t.Errorf("of a vehicle that is not there: %v", err)
	}
}
