package console

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// AuditFilter says which lines of the audit are asked for, as typed.
type AuditFilter struct {
	After        int64
	Since, Until vehicle.Date // in UTC; Until included
	Actor        string
	Object       string   // a name, or a serial as spoken
	Outcomes     []string // changed, unchanged, read, refused, failed
}

func (c *Console) auditRequest(ctx context.Context, f AuditFilter) (*accessv1.ListAuditLinesRequest, error) {
	r := &accessv1.ListAuditLinesRequest{PageSize: 500, After: f.After, Actor: f.Actor}
	if !f.Since.IsZero() {
		r.SinceTime = timestamppb.New(f.Since.Start(time.UTC))
	}
	if !f.Until.IsZero() {
		r.UntilTime = timestamppb.New(f.Until.AddDays(1).Start(time.UTC))
	}
	for _, typed := range f.Outcomes {
		o, ok := enumOf(accessv1.AuditOutcome_value, "AUDIT_OUTCOME_", typed)
		if !ok {
			return nil, fault.InvalidField("outcome", typed, kinds(accessv1.AuditOutcome_name, "AUDIT_OUTCOME_"))
		}
		r.Outcomes = append(r.Outcomes, accessv1.AuditOutcome(o))
	}
	if f.Object != "" {
		var err error
		if r.Object, err = c.object(ctx, f.Object); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// object gives the name of what somebody means: a name as it is, or the
// vehicle of a serial as spoken.
func (c *Console) object(ctx context.Context, typed string) (string, error) {
	if strings.Contains(typed, "/") {
		return typed, nil
	}
	name, err := c.open(ctx, typed)
	if err != nil {
		return "", err
	}
	return "vehicles/" + serialOf(name), nil
}

// eachLine hands on every line that was asked for, in order of the chain.
func (c *Console) eachLine(ctx context.Context, r *accessv1.ListAuditLinesRequest, take func(*accessv1.AuditLine) error) error {
	return page.Each(func(token string) ([]*accessv1.AuditLine, string, error) {
		r.PageToken = token
		out, err := c.Audit.ListAuditLines(ctx, r)
		return out.GetLines(), out.GetNextPageToken(), err
	}, take)
}

// AuditLines prints lines of the audit.
func (c *Console) AuditLines(ctx context.Context, f AuditFilter) error {
	r, err := c.auditRequest(ctx, f)
	if err != nil {
		return err
	}
	n := 0
	err = c.eachLine(ctx, r, func(l *accessv1.AuditLine) error {
		n++
		return printAll(c, []*accessv1.AuditLine{l}, func(s *sheet) { auditLine(s, l) })
	})
	if err == nil && n == 0 && !c.JSON {
		_, err = fmt.Fprintln(c.Out, "There is no such line.")
	}
	return err
}

func auditLine(s *sheet, l *accessv1.AuditLine) {
	number := "new"
	if l.GetSequence() > 0 {
		number = fmt.Sprint(l.GetSequence())
	}
	if l.GetText() == "" {
		s.line("%6s  its text was kept until %s; the hashes stay.", number, day(l.GetKeptUntilDate()))
		return
	}
	s.line("%6s  %s  %s", number, l.GetLineTime().AsTime().Format("15:04:05 UTC"), l.GetSentence())
	var more []string
	if o := l.GetObjects(); len(o) > 0 {
		more = append(more, "about "+strings.Join(o, ", "))
	}
	if l.GetCredential() != "" {
		more = append(more, "by "+l.GetCredential())
	}
	if l.GetNetwork() != "" {
		more = append(more, "from "+l.GetNetwork())
	}
	if len(more) > 0 {
		s.line("        %s", strings.Join(more, "; "))
	}
}

// History prints what became of an object, the latest first.
func (c *Console) History(ctx context.Context, typed string) error {
	name, err := c.object(ctx, typed)
	if err != nil {
		return err
	}
	lines, err := page.All(func(token string) ([]*accessv1.AuditLine, string, error) {
		out, err := c.Audit.ListHistory(ctx, &accessv1.ListHistoryRequest{Parent: name, PageSize: 500, PageToken: token})
		return out.GetLines(), out.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, lines, func(s *sheet) {
		if len(lines) == 0 {
			s.line("Nothing is on record of a change of %s.", name)
			if strings.HasPrefix(name, "people/") {
				s.line("Who was erased because their time was over is told by \"halfshaft person erasures\".")
			}
		}
		for _, l := range lines {
			s.line("%s", l.GetSentence())
		}
	})
}

// AuditCheckpoint prints where the chain has come to, in the line that
// "audit verify" reads again.
func (c *Console) AuditCheckpoint(ctx context.Context) error {
	p, err := c.Audit.GetAuditCheckpoint(ctx, &accessv1.GetAuditCheckpointRequest{})
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) {
		s.line("%d %s %s", p.GetSequence(), p.GetHash(), p.GetCheckpointTime().AsTime().Format(time.RFC3339))
	})
}

// CheckAudit has the chain proved where it is kept, and prints the outcome. A
// chain that is not whole is ErrRefused.
func (c *Console) CheckAudit(ctx context.Context, checkpoints []*accessv1.AuditCheckpoint) error {
	r, err := c.Audit.CheckAudit(ctx, &accessv1.CheckAuditRequest{Checkpoints: checkpoints})
	if err != nil {
		return err
	}
	return c.PrintAuditCheck(r, len(checkpoints))
}

// PrintAuditCheck prints the outcome of a proof that held the chain against so
// many checkpoints.
func (c *Console) PrintAuditCheck(r *accessv1.CheckAuditResponse, checkpoints int) error {
	err := c.print(r, func(s *sheet) {
		for _, f := range r.GetFaults() {
			s.line("%s", f.GetSentence())
		}
		if len(r.GetFaults()) == 0 {
			s.line("The chain is whole: %s, to %d %s.", plural(int(r.GetLines()), "line", "lines"), r.GetCheckpoint().GetSequence(), r.GetCheckpoint().GetHash())
		}
		if checkpoints > 0 && len(r.GetFaults()) == 0 {
			s.line("It agrees with %s.", plural(checkpoints, "checkpoint", "checkpoints"))
		}
		if checkpoints == 0 {
			s.line("No checkpoint was given: a chain that was made anew as a whole, or cut at its end, would look the same.")
		}
		if n := r.GetRemovedLines(); n > 0 {
			s.line("Of %s the text was removed; their hashes prove that they stood there.", plural(int(n), "line", "lines"))
		}
		if n := r.GetPendingLines(); n > 0 {
			s.line("%s for a place in the chain, which proves nothing of %s yet.", plural(int(n), "line waits", "lines wait"), either(n == 1, "it", "them"))
		}
	})
	if err == nil && len(r.GetFaults()) > 0 {
		err = ErrRefused
	}
	return err
}

func either(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// ExportAudit writes the whole chain for keeping elsewhere: one line for each,
// its number, its hash, the day until when its text is kept, and the text.
func (c *Console) ExportAudit(ctx context.Context, to io.Writer, name string) error {
	w := bufio.NewWriter(to)
	last := &accessv1.AuditLine{Hash: strings.Repeat("0", 64)}
	err := c.eachLine(ctx, &accessv1.ListAuditLinesRequest{PageSize: 500}, func(l *accessv1.AuditLine) error {
		if l.GetSequence() == 0 {
			return nil // it has no place yet
		}
		text := l.GetText()
		if text == "" {
			text = "removed " + l.GetTextSha256()
		}
		d := l.GetKeptUntilDate()
		last = proto.CloneOf(l)
		_, err := fmt.Fprintf(w, "%d %s %04d-%02d-%02d %s\n", l.GetSequence(), l.GetHash(), d.GetYear(), d.GetMonth(), d.GetDay(), text)
		return err
	})
	if err == nil {
		err = w.Flush()
	}
	if err != nil {
		return err
	}
	checkpoint := &accessv1.AuditCheckpoint{Sequence: last.GetSequence(), Hash: last.GetHash()}
	return c.print(checkpoint, func(s *sheet) {
		s.line("%s written to %s.", plural(int(last.GetSequence()), "line", "lines"), name)
		s.line("It ends at %d %s: keep that apart.", checkpoint.GetSequence(), checkpoint.GetHash())
	})
}
