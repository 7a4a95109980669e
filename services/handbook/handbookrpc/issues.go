package handbookrpc

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle/vehiclewire"
)

// Bounds of what is kept.
const (
	maxIssues = 2_000 // of one vehicle
	maxWhy    = 400   // characters of why one was issued, and by whom
	maxTold   = 200   // changes that a record lists; the document has all
)

// whyForm is how it is said why a handbook was issued.
var whyForm = "one line of " + fault.AtMost(maxWhy) + ", without names"

// IssueHandbook implements the HandbookService.
func (s *Service) IssueHandbook(ctx context.Context, r *handbookv1.IssueHandbookRequest) (*handbookv1.HandbookIssue, error) {
	serial, _, err := resname.Serial("parent", handbookwire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if fault.Longer(r.GetText(), maxWhy) || strings.ContainsAny(r.GetText(), "\n\r\t") {
		return nil, fault.InvalidField("text", fault.NotRepeated+")", whyForm)
	}
	q := handbookstore.Request{ID: r.GetRequestId(), Payload: r}
	first := &handbookv1.HandbookIssue{}
	if revision, found, err := s.store.Lookup(ctx, q, first); err != nil || found {
		first.Etag = kv.Etag(revision)
		return first, err
	}
	on := s.today()
	d, err := s.draft(ctx, serial, on)
	if err != nil {
		return nil, err
	}
	if len(d.Problems) > 0 {
		return nil, incomplete(d.Problems)
	}
	number := 1
	if d.before != nil {
		number = d.before.Number + 1
	}
	if number > maxIssues {
		return nil, fault.New(fault.FailedPrecondition, "TOO_MANY_ISSUES", "There are %d issues of this handbook already.", maxIssues)
	}
	i := &handbookv1.HandbookIssue{
		Name: handbookwire.IssueName(serial, number), Book: d.book.Name(), OnDate: vehiclewire.DateProto(on),
		Changes: handbookwire.ChangesProto(d.changes[:min(len(d.changes), maxTold)]), Choices: handbookwire.ChoicesProto(d.Choices),
		Title: d.book.Title, Language: d.book.Language,
		Text: r.GetText(), IssuedBy: access.CallerFrom(ctx).Bearer, CreateTime: timestamppb.New(s.now()),
	}
	if i.Files, err = s.keep(d, d.edition(number, r.GetText())); err != nil {
		return nil, err
	}
	s.importing.RLock()
	revision, err := s.store.CreateIssue(audit.Making(ctx, i.GetName()), q, serial, number, i)
	s.importing.RUnlock()
	if fault.Is(err, fault.AlreadyExists) {
		return nil, fault.New(fault.Aborted, "CONFLICT", "Somebody else issued this handbook at the same time: look whether theirs will do, or issue it again.")
	}
	if err != nil {
		return nil, err
	}
	i.Etag = kv.Etag(revision)
	return i, nil
}

// incomplete says all that keeps a handbook from being issued.
func incomplete(problems []string) error {
	return fault.New(fault.FailedPrecondition, "HANDBOOK_INCOMPLETE", "The handbook cannot be issued, because values are missing: %s.", strings.Join(problems, "; "))
}

// GetHandbookIssue implements the HandbookService.
func (s *Service) GetHandbookIssue(ctx context.Context, r *handbookv1.GetHandbookIssueRequest) (*handbookv1.HandbookIssue, error) {
	serial, n, err := handbookwire.IssueID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	i, err := s.store.Issue(serial, n)
	if err != nil {
		return nil, err
	}
	return shown(ctx, i), nil
}

// shown is an issue as it is answered: who issued it is for the works.
func shown(ctx context.Context, i handbookstore.Issue) *handbookv1.HandbookIssue {
	m := proto.CloneOf(i.Message)
	m.Etag = kv.Etag(i.Revision)
	if access.CallerFrom(ctx).Role.Limited() {
		m.IssuedBy = ""
	}
	return m
}

// ListHandbookIssues implements the HandbookService.
func (s *Service) ListHandbookIssues(ctx context.Context, r *handbookv1.ListHandbookIssuesRequest) (*handbookv1.ListHandbookIssuesResponse, error) {
	serial, _, err := resname.Serial("parent", handbookwire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	size, err := page.Size(r.GetPageSize(), 50, 500)
	if err != nil {
		return nil, err
	}
	before, err := s.before(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	var found []handbookstore.Issue
	for _, i := range slices.Backward(s.store.Issues(serial)) {
		if before == 0 || i.Number < before {
			found = append(found, i)
		}
	}
	out := &handbookv1.ListHandbookIssuesResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(i handbookstore.Issue) string { return fmt.Sprint(i.Number) })
	for _, i := range found {
		out.HandbookIssues = append(out.HandbookIssues, shown(ctx, i))
	}
	return out, nil
}

// before reads the number that a page token holds; 0 for the first page.
func (s *Service) before(request proto.Message, token string) (int, error) {
	after, err := page.After(request, token)
	if err != nil || after == "" {
		return 0, err
	}
	n, err := strconv.Atoi(after)
	if err != nil || n < 1 {
		return 0, fault.InvalidField("page_token", token, "the next_page_token of the same request")
	}
	return n, nil
}
