package accessauditrpc

import (
	"context"
	"iter"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// Sizes of pages, and how many lines one page looks through: where a filter
// matches few, a page may hold less than was asked for, or nothing, and still
// name a next one.
const (
	linesPage   = 100
	mostPage    = 500
	lookThrough = 20_000
)

// ListAuditLines implements the AuditService. Lines that have no place in the
// chain yet are the latest, without a number.
func (s *Service) ListAuditLines(ctx context.Context, r *accessv1.ListAuditLinesRequest) (*accessv1.ListAuditLinesResponse, error) {
	size, err := page.Size(r.GetPageSize(), linesPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := s.after(r)
	if err != nil {
		return nil, err
	}
	wanted, err := newFilter(r)
	if err != nil {
		return nil, err
	}
	st, err := s.store.State(ctx, 0)
	if err != nil {
		return nil, err
	}
	if r.GetLatestFirst() {
		return s.latest(ctx, r, st, wanted, size)
	}
	out := &accessv1.ListAuditLinesResponse{}
	last, seen := after, 0
	for l, err := range s.lines(ctx, accessaudit.Span{Revision: st.Revision, From: after}, r.GetObject()) {
		if err != nil {
			return nil, err
		}
		if len(out.Lines) == size || seen == lookThrough {
			out.NextPageToken = page.Token(r, strconv.FormatInt(last, 10))
			return out, nil
		}
		seen++
		last = l.Sequence
		if line := said(l); wanted.sealed(line) {
			out.Lines = append(out.Lines, accesswire.LineProto(l, line))
		}
	}
	for _, p := range st.Pending {
		if l, err := audit.Parse(p.Text); err == nil && wanted.line(l) {
			out.Lines = append(out.Lines, unsealed(l, p.Text))
		}
	}
	return out, nil
}

// after reads after which place the page begins.
func (s *Service) after(r *accessv1.ListAuditLinesRequest) (int64, error) {
	if r.GetAfter() < 0 {
		return 0, fault.InvalidField("after", strconv.FormatInt(r.GetAfter(), 10), "0 or more")
	}
	key, err := page.After(r, r.GetPageToken())
	if err != nil || key == "" {
		return r.GetAfter(), err
	}
	n, err := strconv.ParseInt(key, 10, 64)
	if err != nil {
		return 0, fault.InvalidField("page_token", r.GetPageToken(), "the next_page_token of the same request")
	}
	if r.GetLatestFirst() {
		return r.GetAfter(), nil // the token is of the other end
	}
	return max(n, r.GetAfter()), nil
}

// lines gives the lines of a span, of all or of those that the index has for an
// object. It ends with an error where the store cannot be read.
func (s *Service) lines(ctx context.Context, sp accessaudit.Span, object string) iter.Seq2[audit.Sealed, error] {
	if object == "" {
		return s.store.Lines(ctx, sp)
	}
	return func(yield func(audit.Sealed, error) bool) {
		for rest := sp; ; {
			index, err := s.store.About(ctx, rest, object, mostPage)
			if err != nil {
				yield(audit.Sealed{}, err)
				return
			}
			for l, err := range s.store.Get(ctx, rest.Revision, numbersOf(index)) {
				if !yield(l, err) || err != nil {
					return
				}
			}
			if len(index) < mostPage {
				return
			}
			rest.From = index[len(index)-1].Number
		}
	}
}

func numbersOf(index []accessaudit.Indexed) []int64 {
	out := make([]int64, len(index))
	for i, x := range index {
		out[i] = x.Number
	}
	return out
}

// unsealed writes a line without a place.
func unsealed(l audit.Line, text string) *accessv1.AuditLine {
	p := &accessv1.AuditLine{Text: text}
	accesswire.Describe(p, l)
	return p
}

// filter says which lines are asked for.
type filter struct {
	since, until  *timestamppb.Timestamp
	actor, object string
	outcomes      []audit.Outcome
}

func newFilter(r *accessv1.ListAuditLinesRequest) (filter, error) {
	for name, t := range map[string]*timestamppb.Timestamp{"since_time": r.GetSinceTime(), "until_time": r.GetUntilTime()} {
		if t != nil && !t.IsValid() {
			return filter{}, fault.InvalidField(name, t.String(), "a time in the years 1 to 9999")
		}
	}
	if o := r.GetObject(); o != "" {
		if err := checkObject("object", o); err != nil {
			return filter{}, err
		}
	}
	f := filter{since: r.GetSinceTime(), until: r.GetUntilTime(), actor: r.GetActor(), object: r.GetObject()}
	for _, o := range r.GetOutcomes() {
		if _, known := accessv1.AuditOutcome_name[int32(o)]; !known || o == accessv1.AuditOutcome_AUDIT_OUTCOME_UNSPECIFIED {
			return filter{}, fault.InvalidField("outcomes", o.String(), "outcomes of lines")
		}
		f.outcomes = append(f.outcomes, accesswire.Outcome(o))
	}
	return f, nil
}

// checkObject refuses what cannot be an object's name.
func checkObject(field, name string) error {
	kind, id, _ := strings.Cut(name, "/")
	if kind == "" || id == "" || strings.HasSuffix(name, "/") || strings.Contains(name, "//") {
		return fault.InvalidField(field, name, "the name of an object: vehicles/AM0147P, people/p0031")
	}
	return nil
}

// said gives what the text of a line in the chain says; nil for one whose text
// is gone, or cannot be read.
func said(s audit.Sealed) *audit.Line {
	l, err := audit.Parse(s.Text)
	if err != nil {
		return nil
	}
	return &l
}

// sealed reports whether a line of the chain is asked for, by what it says. One
// that says nothing comes only where nothing is filtered.
func (f filter) sealed(said *audit.Line) bool {
	if said == nil {
		return f.all()
	}
	return f.line(*said)
}

// all reports whether nothing is filtered.
func (f filter) all() bool {
	return f.since == nil && f.until == nil && f.actor == "" && f.object == "" && len(f.outcomes) == 0
}

func (f filter) line(l audit.Line) bool {
	switch {
	case f.since != nil && l.Time.Before(f.since.AsTime()), f.until != nil && !l.Time.Before(f.until.AsTime()):
		return false
	case f.actor != "" && l.Actor != f.actor, f.object != "" && !l.IsAbout(f.object):
		return false
	}
	return len(f.outcomes) == 0 || slices.Contains(f.outcomes, l.Outcome)
}
