package works

import (
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/testdata/aldermoor"
)

// loadEnquiries writes the demo's notes, has them reviewed, and records what
// was asked, through the API as staff would.
func loadEnquiries(ctx context.Context, c enquiryv1.EnquiryServiceClient) error {
	notes, err := aldermoor.AnswerNotes()
	if err != nil {
		return err
	}
	for _, n := range notes {
		if err := loadNote(ctx, c, n); err != nil {
			return fmt.Errorf("load the note %s: %w", n.Name, err)
		}
	}
	enquiries, err := aldermoor.Enquiries()
	if err != nil {
		return err
	}
	for _, e := range enquiries {
		if err := loadEnquiry(ctx, c, e); err != nil {
			return fmt.Errorf("load an enquiry about %s: %w", e.Serial, err)
		}
	}
	return nil
}

func loadNote(ctx context.Context, c enquiryv1.EnquiryServiceClient, n aldermoor.AnswerNote) error {
	made, err := c.CreateAnswerNote(ctx, &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
		Name: "answerNotes/" + n.Name, Title: n.Title, Text: n.Text, Caution: n.Caution,
		Releases: n.Releases, Positions: n.Positions, Keywords: n.Keywords, Sample: true,
	}})
	if err != nil {
		return err
	}
	_, err = c.ReviewAnswerNote(ctx, &enquiryv1.ReviewAnswerNoteRequest{Name: made.GetName(), Etag: made.GetEtag()})
	return err
}

func loadEnquiry(ctx context.Context, c enquiryv1.EnquiryServiceClient, e aldermoor.Enquiry) error {
	p := &enquiryv1.Enquiry{
		Channel:   enquiryv1.EnquiryChannel(enquiryv1.EnquiryChannel_value["ENQUIRY_CHANNEL_"+strings.ToUpper(e.Channel)]),
		AskerKind: enquiryv1.AskerKind(enquiryv1.AskerKind_value["ASKER_KIND_"+strings.ToUpper(e.Asker)]),
		Question:  e.Question, Positions: e.Positions, Symptom: e.Symptom, Closed: e.Closed,
		AskTime: timestamppb.New(aldermoor.Today.AddDays(-e.DaysAgo).Start(time.UTC).Add(10 * time.Hour)),
	}
	if e.Person != "" {
		p.Person = "people/" + e.Person
	}
	if e.Organisation != "" {
		p.Organisation = "organisations/" + e.Organisation
	}
	if e.FollowUpDays > 0 {
		p.FollowUpDate = vehiclewire.DateProto(aldermoor.Today.AddDays(e.FollowUpDays))
	}
	r := &enquiryv1.CreateEnquiryRequest{Parent: "vehicles/" + e.Serial, Enquiry: p}
	if e.Answer != "" {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: e.Answer, Links: e.Links}
	}
	_, err := c.CreateEnquiry(ctx, r)
	return err
}
