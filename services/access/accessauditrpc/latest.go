package accessauditrpc

import (
	"context"
	"slices"
	"strconv"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// longBefore is how much later than it happened a line may have come into the
// chain, for a store that was out of reach meanwhile. Before what is older
// nothing is looked for.
const longBefore = 48 * time.Hour

// latest lists lines from the end. What waits for its place stands on the first
// page, however many that are.
func (s *Service) latest(ctx context.Context, r *accessv1.ListAuditLinesRequest, st accessaudit.State, wanted filter, size int) (*accessv1.ListAuditLinesResponse, error) {
	key, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	out := &accessv1.ListAuditLinesResponse{}
	before := st.End.Sequence + 1
	if key == "" {
		for _, p := range slices.Backward(st.Pending) {
			if l, err := audit.Parse(p.Text); err == nil && wanted.line(l) {
				out.Lines = append(out.Lines, unsealed(l, p.Text))
			}
		}
	} else if before, err = strconv.ParseInt(key, 10, 64); err != nil || before < 1 {
		return nil, fault.InvalidField("page_token", r.GetPageToken(), "the next_page_token of the same request")
	}
	seen := 0
	for l, err := range s.lines(ctx, accessaudit.Span{Revision: st.Revision, From: min(before, st.End.Sequence+1), Latest: true}, r.GetObject()) {
		if err != nil {
			return nil, err
		}
		line := said(l)
		if l.Sequence <= r.GetAfter() || wanted.isLongBefore(line) {
			break
		}
		if len(out.Lines) >= size || seen == lookThrough {
			out.NextPageToken = page.Token(r, strconv.FormatInt(before, 10))
			break
		}
		seen++
		before = l.Sequence
		if wanted.sealed(line) {
			out.Lines = append(out.Lines, accesswire.LineProto(l, line))
		}
	}
	return out, nil
}

// isLongBefore reports whether a line is so old that none before it is asked for.
func (f filter) isLongBefore(said *audit.Line) bool {
	return said != nil && f.since != nil && said.Time.Before(f.since.AsTime().Add(-longBefore))
}
