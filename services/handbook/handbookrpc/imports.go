package handbookrpc

import (
	"bytes"
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// What the title and the language of an issue are held to, as those of a book are.
const maxTitle = 120 // characters

var language = regexp.MustCompile(`^[a-z]{2,3}(-[A-Z]{2})?$`)

// maxFileBytes keeps a file below what one message holds.
const maxFileBytes = 900 << 10

// KeepHandbookFile implements the HandbookService.
func (s *Service) KeepHandbookFile(_ context.Context, r *handbookv1.KeepHandbookFileRequest) (*handbookv1.KeepHandbookFileResponse, error) {
	if n := len(r.GetData()); n == 0 || n > maxFileBytes {
		return nil, fault.InvalidField("data", fmt.Sprintf("%d bytes", n), "1 to 921,600 bytes")
	}
	digest, err := s.store.Keep(r.GetData())
	return &handbookv1.KeepHandbookFileResponse{Sha256: digest}, err
}

// StageImport implements the HandbookService. Each row is checked by itself;
// what it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *handbookv1.StageImportRequest) (*handbookv1.StageImportResponse, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
	if err != nil {
		return nil, err
	}
	if err := staging.Fits(len(r.GetRows()), len(raw)); err != nil {
		return nil, err
	}
	var wrong []fault.Field
	for i, p := range r.GetRows() {
		row, err := s.readRow(p)
		wrong = append(wrong, fault.FieldsOf(fmt.Sprintf("rows[%d]", i), err)...)
		if err == nil {
			wrong = append(wrong, fault.FieldsUnder(fmt.Sprintf("rows[%d].handbook_issue", i), s.filesMissing(row.serial, row.issue))...)
		}
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	staged, err := s.staging.Take(ctx, r.GetImportId(), int(r.GetSequence()), raw)
	if err != nil {
		return nil, err
	}
	return &handbookv1.StageImportResponse{StagedChunks: staged}, nil
}

// importRow is one record of an import, read.
type importRow struct {
	name   string
	book   *handbook.Book // nil for an issue
	issue  *handbookv1.HandbookIssue
	serial vehicle.Serial
	number int
	record handbookstore.Record
}

// readRow reads one row and refuses it with all that is wrong with it by itself.
func (s *Service) readRow(p *handbookv1.HandbookRow) (importRow, error) {
	switch {
	case p.GetBook() != nil:
		r, err := s.readBookRow(p.GetBook())
		return r, fault.Under("book", err)
	case p.GetHandbookIssue() != nil:
		r, err := readIssueRow(p.GetHandbookIssue())
		return r, fault.Under("handbook_issue", err)
	}
	return importRow{}, fault.InvalidField("", "", "a version of a book or an issue")
}

func (s *Service) readBookRow(from *handbookv1.Book) (importRow, error) {
	m := proto.CloneOf(from)
	m.Etag = ""
	if size := proto.Size(m); size > maxBookBytes {
		return importRow{name: m.GetName()}, fault.InvalidField("", fmt.Sprintf("%d bytes", size), "at most 184,320 bytes")
	}
	b, err := handbookwire.Book(m)
	if err != nil {
		return importRow{name: m.GetName()}, err
	}
	fields := fault.FieldsOf("", b.Check(s.compiler))
	if t := m.GetCreateTime(); t != nil && !t.IsValid() {
		fields = append(fields, notATime)
	}
	return importRow{name: m.GetName(), book: b, record: handbookstore.BookRecord(b.ID, b.Version, m)}, fault.InvalidFields(fields)
}

var notATime = fault.Field{Name: "create_time", Got: "another", Want: "a time in the years 1 to 9999"}

func readIssueRow(from *handbookv1.HandbookIssue) (importRow, error) {
	m := proto.CloneOf(from)
	m.Etag = ""
	serial, n, err := handbookwire.IssueID("name", m.GetName())
	if err != nil {
		return importRow{name: m.GetName()}, err
	}
	var fields []fault.Field
	must := func(ok bool, name, got, want string) {
		if !ok {
			fields = append(fields, fault.Field{Name: name, Got: got, Want: want})
		}
	}
	must(n != handbookwire.Latest, "name", m.GetName(), "the number of an issue")
	_, version, err := handbookwire.BookID("book", m.GetBook())
	must(err == nil && version != handbookwire.Latest, "book", m.GetBook(), "books/BOOK/versions/VERSION")
	on, err := vehiclewire.Date(m.GetOnDate())
	must(err == nil && !on.IsZero(), "on_date", m.GetOnDate().String(), "a day of the calendar")
	must(!fault.Longer(m.GetText(), maxWhy) && !strings.ContainsAny(m.GetText(), "\n\r\t"), "text", fault.NotRepeated+")", whyForm)
	must(!fault.Longer(m.GetIssuedBy(), maxWhy), "issued_by", fault.NotRepeated+")", fault.AtMost(maxWhy))
	must(m.GetCreateTime() == nil || m.GetCreateTime().IsValid(), "create_time", "another", notATime.Want)
	must(!fault.Longer(m.GetTitle(), maxTitle) && !strings.ContainsAny(m.GetTitle(), "\n\r\t"), "title", m.GetTitle(), "one line of "+fault.AtMost(maxTitle))
	must(m.GetLanguage() == "" || language.MatchString(m.GetLanguage()), "language", m.GetLanguage(), `a language, such as "en-GB"`)
	must(len(m.GetChanges()) <= maxTold, "changes", strconv.Itoa(len(m.GetChanges())), "at most 200")
	fields = append(fields, fileFaults(m.GetFiles())...)
	m.Name = handbookwire.IssueName(serial, n)
	return importRow{name: m.Name, issue: m, serial: serial, number: n, record: handbookstore.IssueRecord(serial, n, m)}, fault.InvalidFields(fields)
}

// fileFaults says what is wrong with what an issue says of its files.
func fileFaults(files []*handbookv1.HandbookFile) (wrong []fault.Field) {
	var seen []form
	for i, f := range files {
		at := fmt.Sprintf("files[%d].", i)
		one := form{f.GetMediaType(), f.GetPaper()}
		raw, err := hex.DecodeString(f.GetSha256())
		if err != nil || len(raw) != 32 || hex.EncodeToString(raw) != f.GetSha256() {
			wrong = append(wrong, fault.Field{Name: at + "sha256", Got: f.GetSha256(), Want: "64 small hexadecimal digits"})
		}
		if one.mediaType != asPDF && one.mediaType != asHTML && one.mediaType != asJSON || (one.mediaType == asPDF) != isPaper(one.paper) || one.mediaType != asPDF && one.paper != "" {
			wrong = append(wrong, fault.Field{Name: at + "media_type", Got: strings.TrimSpace(one.mediaType + " " + one.paper), Want: "application/pdf with a paper, text/html or application/json"})
		}
		if slices.Contains(seen, one) {
			wrong = append(wrong, fault.Field{Name: at + "media_type", Got: strings.TrimSpace(one.mediaType + " " + one.paper), Want: "each form once"})
		}
		seen = append(seen, one)
	}
	if fileOf(files, asJSON, "") == nil {
		wrong = append(wrong, fault.Field{Name: "files", Got: "none of application/json", Want: "the text in parts, by which the next issue is compared"})
	}
	return wrong
}

// filesMissing says which files of an issue are not kept here, not whole, or not
// what they are said to be.
func (s *Service) filesMissing(serial vehicle.Serial, m *handbookv1.HandbookIssue) (wrong []fault.Field) {
	for i, f := range m.GetFiles() {
		content, err := s.store.File(f.GetSha256())
		if err != nil {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("files[%d].sha256", i), Got: f.GetSha256(), Want: "a file that is kept here or lies beside the import, in the folder handbook_files"})
		} else if int64(len(content)) != f.GetSizeBytes() {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("files[%d].size_bytes", i), Got: fmt.Sprint(f.GetSizeBytes()), Want: fmt.Sprint(len(content))})
		} else if want := notOf(serial, m.GetBook(), f.GetMediaType(), content); want != "" {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("files[%d].sha256", i), Got: "a file that is something else", Want: want})
		}
	}
	return wrong
}

// notOf says what a file of an issue should be and is not; "" where it is. It
// stays for ever, under this name and on our pages, and the next issue is compared
// with it. Pages of ours have no scripts, and lead nowhere by themselves.
func notOf(serial vehicle.Serial, book, mediaType string, content []byte) (want string) {
	switch mediaType {
	case asPDF:
		if !bytes.HasPrefix(content, []byte("%PDF-")) {
			return "a PDF"
		}
	case asHTML:
		if page := bytes.ToLower(content); !bytes.HasPrefix(page, []byte("<!doctype html")) || bytes.Contains(page, []byte("http-equiv")) || bytes.Contains(page, []byte("<script")) {
			return "a page as handbooks are set, without scripts and without http-equiv"
		}
	case asJSON:
		if h := (handbook.Handbook{}); json.Unmarshal(content, &h) != nil || h.Serial != serial || h.Book != book {
			return fmt.Sprintf("the text of the handbook of %s, made from %s", serial, book)
		}
	}
	return ""
}

// CommitImport implements the HandbookService.
func (s *Service) CommitImport(ctx context.Context, r *handbookv1.CommitImportRequest) (*handbookv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := &importReview{s: s, names: map[string]bool{}}
	if err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()), look.chunk, look.verdict); err != nil {
		return nil, err
	}
	return &handbookv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, s.store.CatchUp(ctx)
}

// Apply implements staging.Applier. A record that stands is left as it is: it was
// found to be the same.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.readChunk(chunk)
	if err != nil {
		return err
	}
	if err := s.store.CatchUp(ctx); err != nil {
		return err
	}
	by, now := cmp.Or(access.CallerFrom(ctx).Bearer, "import"), vehiclewire.MomentProto(s.now())
	var records []handbookstore.Record
	for _, r := range rows {
		if s.kept(r) != nil {
			continue
		}
		switch m := r.record.Message.(type) {
		case *handbookv1.Book:
			m.CreateTime = cmp.Or(m.CreateTime, now)
		case *handbookv1.HandbookIssue:
			m.IssuedBy, m.CreateTime = cmp.Or(m.IssuedBy, by), cmp.Or(m.CreateTime, now)
		}
		records = append(records, r.record)
	}
	return s.store.Put(ctx, records)
}

// kept gives the record of a row's name, nil for none.
func (s *Service) kept(r importRow) proto.Message {
	if r.book != nil {
		if v, err := s.store.Book(r.book.ID, r.book.Version); err == nil {
			return v.Message
		}
		return nil
	}
	if i, err := s.store.Issue(r.serial, r.number); err == nil {
		return i.Message
	}
	return nil
}

// readChunk reads the rows of a staged chunk, which were checked when staged.
func (s *Service) readChunk(chunk []byte) ([]importRow, error) {
	var r handbookv1.StageImportRequest
	if err := proto.Unmarshal(chunk, &r); err != nil {
		return nil, fmt.Errorf("read a staged chunk: %w", err)
	}
	var rows []importRow
	for _, p := range r.GetRows() {
		row, err := s.readRow(p)
		if err != nil {
			return nil, fmt.Errorf("read a staged row: %w", err)
		}
		rows = append(rows, row)
	}
	return rows, nil
}
