package accessauditrpc

import (
	"context"
	"slices"
	"strconv"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// historyPage is the standard size of a page of a history.
const historyPage = 50

// ListHistory implements the AuditService; see mayAsk for whose it gives. Changes that have no place in the
// chain yet are the latest, and stand on the first page.
func (s *Service) ListHistory(ctx context.Context, r *accessv1.ListHistoryRequest) (*accessv1.ListHistoryResponse, error) {
	size, err := page.Size(r.GetPageSize(), historyPage, mostPage)
	if err != nil {
		return nil, err
	}
	if err := checkObject("parent", r.GetParent()); err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	if err := mayAsk(caller, r.GetParent()); err != nil {
		return nil, err
	}
	key, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	st, err := s.store.State(ctx, 0)
	if err != nil {
		return nil, err
	}
	out := &accessv1.ListHistoryResponse{}
	before := st.End.Sequence + 1
	if key == "" {
		out.Lines = waiting(st.Pending, r.GetParent())
	} else if before, err = strconv.ParseInt(key, 10, 64); err != nil || before < 1 {
		return nil, fault.InvalidField("page_token", r.GetPageToken(), "the next_page_token of the same request")
	}
	if err := s.past(ctx, r, out, st.Revision, before, size); err != nil {
		return nil, err
	}
	discreet(caller, out.Lines)
	return out, nil
}

// waiting gives the changes of an object that have no place in the chain yet,
// the latest first.
func waiting(pending []accessaudit.Pending, object string) []*accessv1.AuditLine {
	var lines []*accessv1.AuditLine
	for _, p := range slices.Backward(pending) {
		if l, err := audit.Parse(p.Text); err == nil && isChange(l.Outcome) && l.IsAbout(object) {
			lines = append(lines, unsealed(l, p.Text))
		}
	}
	return lines
}

// isChange reports whether an outcome belongs into a history.
func isChange(o audit.Outcome) bool { return o == audit.Changed || o == audit.Failed }

// past adds the changes in the chain before a number, until the page is full.
func (s *Service) past(ctx context.Context, r *accessv1.ListHistoryRequest, out *accessv1.ListHistoryResponse, revision, before int64, size int) error {
	for seen := 0; ; {
		index, err := s.store.About(ctx, accessaudit.Span{Revision: revision, From: before, Latest: true}, r.GetParent(), mostPage)
		if err != nil {
			return err
		}
		changes := slices.DeleteFunc(slices.Clone(index), func(x accessaudit.Indexed) bool {
			return x.Outcome != audit.Changed.String() && x.Outcome != audit.Failed.String()
		})
		for l, err := range s.store.Get(ctx, revision, numbersOf(changes)) {
			if err != nil {
				return err
			}
			if len(out.Lines) >= size {
				out.NextPageToken = page.Token(r, strconv.FormatInt(before, 10))
				return nil
			}
			before = l.Sequence
			if line := said(l); line != nil && line.IsAbout(r.GetParent()) {
				out.Lines = append(out.Lines, accesswire.LineProto(l, line))
			}
		}
		if len(index) < mostPage {
			return nil
		}
		before = index[len(index)-1].Number
		if seen += len(index); seen >= lookThrough {
			out.NextPageToken = page.Token(r, strconv.FormatInt(before, 10))
			return nil
		}
	}
}
