package console

import (
	"context"

	"google.golang.org/grpc"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/internal/page"
)

// DueRetention prints what the next retention passes will remove, and why.
func (c *Console) DueRetention(ctx context.Context) error {
	var lines []*privacyv1.RetentionLine
	for _, ask := range []func(context.Context, *privacyv1.ListRetentionRequest, ...grpc.CallOption) (*privacyv1.ListRetentionResponse, error){
		c.Owners.ListRetention, c.Reminders.ListRetention, c.Access.ListRetention,
	} {
		these, err := page.All(func(token string) ([]*privacyv1.RetentionLine, string, error) {
			r, err := ask(ctx, &privacyv1.ListRetentionRequest{PageSize: 500, PageToken: token})
			return r.GetLines(), r.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		lines = append(lines, these...)
	}
	return printAll(c, lines, func(s *sheet) {
		if len(lines) == 0 {
			s.line("Nothing is past its time.")
		}
		for _, l := range lines {
			text := l.GetSentence() + " Its time was over on " + day(l.GetDueDate()) + "."
			if l.GetHeld() {
				text += " A hold keeps it: it is not removed."
			}
			s.text(l.GetName()+"  ", text)
		}
	})
}
