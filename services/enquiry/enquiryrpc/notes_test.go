package enquiryrpc

import (
	"context"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/fault"
)

// offered gives the names of the notes that are read out for a vehicle of R3: by
// the page and by what is suggested, which must be the same.
func (w *works) offered(t *testing.T) string {
	t.Helper()
	d, err := w.GetDossier(desk(t.Context()), &enquiryv1.GetDossierRequest{Name: "vehicles/AM0147P/dossier"})
	if err != nil {
		t.Fatal(err)
	}
	r, err := w.SuggestAnswers(desk(t.Context()), &enquiryv1.SuggestAnswersRequest{Parent: "vehicles/AM0147P", Question: "a drip"})
	if err != nil {
		t.Fatal(err)
	}
	onPage, suggested := noteNames(d.GetAnswerNotes()), noteNames(r.GetAnswerNotes())
	if onPage != suggested {
		t.Errorf("on the page are %q, suggested %q", onPage, suggested)
	}
	return suggested
}

func noteNames(notes []*enquiryv1.AnswerNote) string {
	var out []string
	for _, n := range notes {
		out = append(out, strings.TrimPrefix(n.GetName(), "answerNotes/"))
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

// A note is read out from its review until a word of it changes or it is taken
// out of use, for its releases and no other; whoever reviews says of which
// version.
func TestANoteIsReadOutAsItWasReviewedAndNoLonger(t *testing.T) {
	w := newWorks(t, "UTC")
	write, review := desk(t.Context()), engineer(t.Context())
	n, err := w.CreateAnswerNote(write, &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
		Name: "answerNotes/drip", Title: "A drip", Text: "A film is normal.", Releases: []string{"R3"}, ReviewedBy: "me", ReviewTime: nil}})
	if err != nil || n.GetReviewedBy() != "" {
		t.Fatalf("written: %v, %v", n, err)
	}
	change := func(ctx context.Context, change func(*enquiryv1.AnswerNote)) {
		t.Helper()
		to := proto.Clone(n).(*enquiryv1.AnswerNote)
		change(to)
		if n, err = w.UpdateAnswerNote(ctx, &enquiryv1.UpdateAnswerNoteRequest{AnswerNote: to}); err != nil {
			t.Fatal(err)
		}
	}
	reviewed := func(want string) {
		t.Helper()
		if got := w.offered(t); got != want {
			t.Errorf("offered is %q, want %q", got, want)
		}
	}
	reviewed("")
	early := n.GetEtag()
	if n, err = w.ReviewAnswerNote(review, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()}); err != nil || n.GetReviewedBy() != "ida" || !n.GetReviewTime().AsTime().Equal(noon) {
		t.Fatalf("reviewed: %v, %v", n, err)
	}
	reviewed("drip")
	change(write, func(n *enquiryv1.AnswerNote) { n.Caution = "Oil on a lining." })
	reviewed("") // what was reviewed is what is read out
	for _, etag := range []string{early, ""} {
		if _, err := w.ReviewAnswerNote(review, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: etag}); err == nil {
			t.Errorf("reviewed over another version, %q", etag)
		}
	}
	n, _ = w.ReviewAnswerNote(review, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()})
	reviewed("drip")
	change(write, func(n *enquiryv1.AnswerNote) { n.Retired = true })
	reviewed("")
	if _, err := w.ReviewAnswerNote(review, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()}); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("reviewed, out of use: %v", err)
	}
	change(write, func(n *enquiryv1.AnswerNote) { n.Retired = false })
	reviewed("drip") // its words are those that were reviewed
	change(write, func(n *enquiryv1.AnswerNote) { n.Releases = []string{"R1", "R2"} })
	n, _ = w.ReviewAnswerNote(review, &enquiryv1.ReviewAnswerNoteRequest{Name: n.GetName(), Etag: n.GetEtag()})
	reviewed("") // not for R3
	// What rests on it stays answered by it.
	w.created(t, func(r *enquiryv1.CreateEnquiryRequest) {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: "So.", Links: []string{"answerNotes/drip"}}
	})
}

func TestANoteIsRefusedForAllThatIsWrongAtOnce(t *testing.T) {
	w := newWorks(t, "UTC")
	_, err := w.CreateAnswerNote(desk(t.Context()), &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{
		Name: "answerNotes/drip", Title: "Two\nlines", Releases: []string{"release three"}, Positions: []string{"Left"}, Keywords: []string{" "}}})
	if got := fieldNames(err); got != "answer_note.title answer_note.text answer_note.releases[0] answer_note.positions[0] answer_note.keywords[0]" {
		t.Errorf("complained of %s: %v", got, err)
	}
	_, err = w.CreateAnswerNote(desk(t.Context()), &enquiryv1.CreateAnswerNoteRequest{AnswerNote: &enquiryv1.AnswerNote{Name: "answerNotes/A drip", Title: "x", Text: "y"}})
	if got := fieldNames(err); got != "answer_note.name" {
		t.Errorf("complained of %s: %v", got, err)
	}
}
