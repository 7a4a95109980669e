package console

import (
	"context"
	"strings"

	"github.com/google/uuid"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// AnswerNote is a note as somebody types it.
type AnswerNote struct {
	Title, Text, Caution string
	Releases, Positions  []string
	Keywords             []string
	Sample               bool
}

// noteName makes the resource name of what somebody typed.
func noteName(id string) string { return "answerNotes/" + strings.TrimPrefix(id, "answerNotes/") }

// AddNote writes a note, which nobody has reviewed yet.
func (c *Console) AddNote(ctx context.Context, id string, n AnswerNote) error {
	return c.printNote(c.Enquiries.CreateAnswerNote(ctx, &enquiryv1.CreateAnswerNoteRequest{
		AnswerNote: &enquiryv1.AnswerNote{
			Name: noteName(id), Title: n.Title, Text: n.Text, Caution: n.Caution,
			Releases: n.Releases, Positions: hyphenedAll(n.Positions), Keywords: n.Keywords, Sample: n.Sample,
		},
		RequestId: uuid.NewString(),
	}))
}

// NoteChange is what is to become of a note. What is nil or empty stays.
type NoteChange struct {
	Title, Text, Caution *string
	Releases, Positions  []string // in place of those there are
	Keywords             []string
	Retired              *bool
}

// ChangeNote changes a note. One whose words change must be reviewed again before
// staff are given it.
func (c *Console) ChangeNote(ctx context.Context, id string, change NoteChange) error {
	if change.empty() {
		return fault.InvalidField("change", "", "something to change: --title, --text, --caution, --release, --position or --keyword")
	}
	n, err := c.Enquiries.GetAnswerNote(ctx, &enquiryv1.GetAnswerNoteRequest{Name: noteName(id)})
	if err != nil {
		return err
	}
	change.onto(n)
	return c.printNote(c.Enquiries.UpdateAnswerNote(ctx, &enquiryv1.UpdateAnswerNoteRequest{AnswerNote: n, RequestId: uuid.NewString()}))
}

func (n NoteChange) empty() bool {
	return n.Title == nil && n.Text == nil && n.Caution == nil && n.Retired == nil && len(n.Releases)+len(n.Positions)+len(n.Keywords) == 0
}

func (n NoteChange) onto(p *enquiryv1.AnswerNote) {
	for to, from := range map[*string]*string{&p.Title: n.Title, &p.Text: n.Text, &p.Caution: n.Caution} {
		if from != nil {
			*to = *from
		}
	}
	for to, from := range map[*[]string][]string{&p.Releases: n.Releases, &p.Positions: hyphenedAll(n.Positions), &p.Keywords: n.Keywords} {
		if len(from) > 0 {
			*to = from
		}
	}
	if n.Retired != nil {
		p.Retired = *n.Retired
	}
}

// ReviewNote says that a note was reviewed as it stands.
func (c *Console) ReviewNote(ctx context.Context, id string) error {
	n, err := c.Enquiries.GetAnswerNote(ctx, &enquiryv1.GetAnswerNoteRequest{Name: noteName(id)})
	if err != nil {
		return err
	}
	return c.printNote(c.Enquiries.ReviewAnswerNote(ctx, &enquiryv1.ReviewAnswerNoteRequest{
		Name: n.GetName(), Etag: n.GetEtag(), RequestId: uuid.NewString(),
	}))
}

// Note prints a note.
func (c *Console) Note(ctx context.Context, id string) error {
	return c.printNote(c.Enquiries.GetAnswerNote(ctx, &enquiryv1.GetAnswerNoteRequest{Name: noteName(id)}))
}

func (c *Console) printNote(n *enquiryv1.AnswerNote, err error) error {
	if err != nil {
		return err
	}
	return c.print(n, func(s *sheet) { noteText(s, n) })
}

// Notes lists the notes, or those for a release.
func (c *Console) Notes(ctx context.Context, release string, reviewedOnly bool) error {
	all, err := page.All(func(token string) ([]*enquiryv1.AnswerNote, string, error) {
		r, err := c.Enquiries.ListAnswerNotes(ctx, &enquiryv1.ListAnswerNotesRequest{
			Release: release, ReviewedOnly: reviewedOnly, PageSize: 500, PageToken: token,
		})
		return r.GetAnswerNotes(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		var rows [][]string
		for _, n := range all {
			rows = append(rows, []string{idOf(n.GetName()), reviewWords(n), n.GetTitle()})
		}
		s.table("", rows)
		if len(all) == 0 {
			s.line("There are no notes of that kind.")
		}
	})
}

func reviewWords(n *enquiryv1.AnswerNote) string {
	switch {
	case n.GetRetired():
		return "no longer in use"
	case n.GetReviewedBy() == "":
		return "NOT REVIEWED"
	}
	return "reviewed"
}

func noteText(s *sheet, n *enquiryv1.AnswerNote) {
	s.line("%s (%s)", n.GetTitle(), idOf(n.GetName()))
	if n.GetCaution() != "" {
		s.text("  CAUTION ", n.GetCaution())
	}
	for paragraph := range strings.SplitSeq(n.GetText(), "\n") {
		s.text("  ", paragraph)
	}
	review := "  " + reviewWords(n)
	if n.GetReviewedBy() != "" {
		review += " by " + n.GetReviewedBy() + onTime(n.GetReviewTime())
	}
	s.line("%s", review)
	if n.GetSample() {
		s.line("  sample, to be signed by the works' engineer")
	}
}
