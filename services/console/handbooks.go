package console

import (
	"context"
	"fmt"
	"os"

	"github.com/google/uuid"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Handbook prints what a vehicle's handbook would be: which sections that depend
// on the vehicle are in it, and why, what is different from the last issue, and
// what keeps it from being issued.
func (c *Console) Handbook(ctx context.Context, serial string, on vehicle.Date) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	m, err := c.Handbooks.GetHandbookPreview(ctx, &handbookv1.GetHandbookPreviewRequest{
		Name: "vehicles/" + serialOf(name) + "/handbook", OnDate: vehiclewire.DateProto(on),
	})
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) {
		s.line("Handbook of %s as it would be on %s, from %s", serialOf(name), day(m.GetOnDate()), m.GetBook())
		for _, p := range m.GetProblems() {
			s.text("  missing: ", p)
		}
		for _, choice := range m.GetChoices() {
			mark := "in   "
			if !choice.GetIncluded() {
				mark = "out  "
			}
			s.text("  "+mark, choice.GetReason().GetSentence())
		}
		if m.GetLastIssue() == "" {
			s.line("It was never issued.")
			return
		}
		changesSheet(s, m.GetChanges(), idOf(m.GetLastIssue()))
	})
}

// changesSheet says what is different from an issue.
func changesSheet(s *sheet, changes []*handbookv1.HandbookChange, before string) {
	if len(changes) == 0 {
		s.line("Nothing is different from issue %s.", before)
		return
	}
	s.line("Different from issue %s:", before)
	for _, one := range changes {
		s.text("  - "+one.GetTitle()+": ", one.GetSentence())
	}
}

// IssueHandbook issues the handbook of a vehicle.
func (c *Console) IssueHandbook(ctx context.Context, serial, why string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	m, err := c.Handbooks.IssueHandbook(ctx, &handbookv1.IssueHandbookRequest{
		Parent: "vehicles/" + serialOf(name), Text: why, RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { issueSheet(s, m) })
}

// issueSheet says what an issue is and what files it has.
func issueSheet(s *sheet, m *handbookv1.HandbookIssue) {
	s.line("%s  issue %s of %s, from %s", serialOf(m.GetName()), idOf(m.GetName()), day(m.GetOnDate()), m.GetBook())
	if m.GetText() != "" {
		s.text("  ", m.GetText())
	}
	for _, f := range m.GetFiles() {
		what := f.GetMediaType()
		if f.GetPaper() != "" {
			what += fmt.Sprintf(", %s, %d pages", f.GetPaper(), f.GetPageCount())
		}
		s.line("  %s, %d bytes, SHA-256 %s", what, f.GetSizeBytes(), f.GetSha256())
	}
	for _, one := range m.GetChanges() {
		s.text("  - "+one.GetTitle()+": ", one.GetSentence())
	}
}

// HandbookIssues prints the issues of a vehicle, the latest first.
func (c *Console) HandbookIssues(ctx context.Context, serial string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	all, err := page.All(func(token string) ([]*handbookv1.HandbookIssue, string, error) {
		r, err := c.Handbooks.ListHandbookIssues(ctx, &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/" + serialOf(name), PageSize: 500, PageToken: token})
		return r.GetHandbookIssues(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("%s: no handbook was issued yet.", serialOf(name))
		}
		for _, m := range all {
			issueSheet(s, m)
		}
	})
}

// HandbookForm is which handbook is wanted, and as what.
type HandbookForm struct {
	Issue     string // number, "-" for the last, "preview" for what it would be now
	MediaType string
	Paper     string
	File      string // where it is written
}

// DownloadHandbook writes a handbook to a file, whole or not at all.
func (c *Console) DownloadHandbook(ctx context.Context, serial string, form HandbookForm) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	stream, err := c.Handbooks.DownloadHandbook(ctx, &handbookv1.DownloadHandbookRequest{
		Name: "vehicles/" + serialOf(name) + "/handbookIssues/" + form.Issue, MediaType: form.MediaType, Paper: form.Paper,
	})
	if err != nil {
		return err
	}
	content, file, err := received(stream)
	if err != nil {
		return err
	}
	if err := os.WriteFile(form.File, content, 0o600); err != nil {
		return fmt.Errorf("write the handbook: %w", err)
	}
	return c.print(file, func(s *sheet) {
		pages := ""
		if file.GetPageCount() > 0 {
			pages = fmt.Sprintf(", %s, %d pages", file.GetPaper(), file.GetPageCount())
		}
		s.line("%s: %s%s, %d bytes, SHA-256 %s", form.File, file.GetMediaType(), pages, file.GetSizeBytes(), file.GetSha256())
	})
}
