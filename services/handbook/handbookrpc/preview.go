package handbookrpc

import (
	"context"
	"encoding/json"
	"sync"

	"google.golang.org/genproto/googleapis/type/date"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookprint"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// day reads a day that another service wrote; zero for none.
func day(d *date.Date) vehicle.Date {
	out, err := vehiclewire.Date(d)
	if err != nil {
		return vehicle.Date{}
	}
	return out
}

// draft is a handbook as it would be on a day, beside the last issue.
type draft struct {
	handbook.Made
	book    *handbook.Compiled
	before  *handbookstore.Issue // nil: there is none
	changes []handbook.Change
}

// draft makes the handbook of a vehicle for the caller.
func (s *Service) draft(ctx context.Context, serial vehicle.Serial, on vehicle.Date) (*draft, error) {
	g, err := s.gather(ctx, serial, on)
	if err != nil {
		return nil, err
	}
	m := g.makeup()
	book, err := s.bookFor(m.Release, on)
	if err != nil {
		return nil, err
	}
	record := g.record(s.Works, on)
	d := &draft{book: book}
	d.Made = book.Make(handbook.Subject{Serial: serial, On: on, Makeup: m, Works: s.Works, Cover: cover(record)}, record)
	issues := s.store.Issues(serial)
	if len(issues) == 0 {
		return d, nil
	}
	d.before = &issues[len(issues)-1]
	old, err := s.archived(d.before.Message)
	if err != nil {
		return nil, err
	}
	d.changes = handbook.Compare(old, &d.Handbook)
	return d, nil
}

// cover is the rows of the title page.
func cover(r *handbook.Record) [][2]string {
	rows := [][2]string{{"Serial", string(r.Serial)}, {"Release", r.Release}, {"Wheelbase", r.Wheelbase}}
	if !r.Built.IsZero() {
		rows = append(rows, [2]string{"Built", r.Built.Long()})
	}
	return rows
}

// archived reads the text of an issue in parts. It is shared and not to be changed.
func (s *Service) archived(i *handbookv1.HandbookIssue) (*handbook.Handbook, error) {
	f := fileOf(i.GetFiles(), asJSON, "")
	return s.read.get(f.GetSha256(), func() (*handbook.Handbook, error) {
		raw, err := s.store.File(f.GetSha256())
		if err != nil {
			return nil, err
		}
		h := &handbook.Handbook{}
		if err := json.Unmarshal(raw, h); err != nil {
			return nil, &fault.Error{Kind: fault.Internal, Reason: "HANDBOOK_DAMAGED", Message: "the text of an issued handbook cannot be read", Cause: err}
		}
		return h, nil
	})
}

// mostRead is how many texts of issues are kept that were read: some 300 kB each.
const mostRead = 32

// readTexts keeps the texts of issues that were read last: one is read at each
// look at what the next would be. They go by the hashes of their files, which
// never have another content.
type readTexts struct {
	mu sync.Mutex
	by map[string]*handbook.Handbook
}

// get gives a text that is kept, or reads it. Where there are too many, any other
// goes.
func (t *readTexts) get(digest string, read func() (*handbook.Handbook, error)) (*handbook.Handbook, error) {
	t.mu.Lock()
	h := t.by[digest]
	t.mu.Unlock()
	if h != nil {
		return h, nil
	}
	h, err := read()
	if err != nil {
		return nil, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.by == nil {
		t.by = map[string]*handbook.Handbook{}
	}
	for old := range t.by {
		if len(t.by) < mostRead {
			break
		}
		delete(t.by, old)
	}
	t.by[digest] = h
	return h, nil
}

// edition is what is printed of a draft: number 0 for one that is not issued.
func (d *draft) edition(number int, text string) handbookprint.Edition {
	e := handbookprint.Edition{Issue: number, Text: text, Changes: d.changes}
	if d.before != nil {
		e.Before = d.before.Number
	}
	return e
}

// GetHandbookPreview implements the HandbookService.
func (s *Service) GetHandbookPreview(ctx context.Context, r *handbookv1.GetHandbookPreviewRequest) (*handbookv1.HandbookPreview, error) {
	serial, _, err := resname.Serial("name", handbookwire.PreviewForm, r.GetName())
	if err != nil {
		return nil, err
	}
	on, err := vehiclewire.Date(r.GetOnDate())
	if err != nil {
		return nil, fault.InvalidField("on_date", r.GetOnDate().String(), "a day of the calendar")
	}
	if on.IsZero() {
		on = s.today()
	}
	d, err := s.draft(ctx, serial, on)
	if err != nil {
		return nil, err
	}
	out := &handbookv1.HandbookPreview{
		Name: handbookwire.PreviewName(serial), Book: d.book.Name(), OnDate: vehiclewire.DateProto(on),
		Changes: handbookwire.ChangesProto(d.changes), Choices: handbookwire.ChoicesProto(d.Choices), Problems: d.Problems,
	}
	if d.before != nil {
		out.LastIssue = handbookwire.IssueName(serial, d.before.Number)
	}
	return out, nil
}
