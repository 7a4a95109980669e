package handbookrpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/internal/rpcerr"
)

// rows wraps records.
func rows(all ...proto.Message) (out []*handbookv1.HandbookRow) {
	for _, m := range all {
		switch m := m.(type) {
		case *handbookv1.Book:
			out = append(out, &handbookv1.HandbookRow{Row: &handbookv1.HandbookRow_Book{Book: m}})
		case *handbookv1.HandbookIssue:
			out = append(out, &handbookv1.HandbookRow{Row: &handbookv1.HandbookRow_HandbookIssue{HandbookIssue: m}})
		}
	}
	return out
}

// takeIn stages records as one chunk and commits them.
func takeIn(t *testing.T, c handbookv1.HandbookServiceClient, id string, all ...proto.Message) (*handbookv1.CommitImportResponse, error) {
	t.Helper()
	if _, err := c.StageImport(t.Context(), &handbookv1.StageImportRequest{ImportId: id, Rows: rows(all...)}); err != nil {
		return nil, err
	}
	return c.CommitImport(t.Context(), &handbookv1.CommitImportRequest{ImportId: id, Chunks: 1})
}

// fields are those that an error complains of.
func fields(err error) (names []string) {
	for _, f := range rpcerr.FromStatus(err).Fields {
		names = append(names, f.Name)
	}
	return names
}

// archived is an issue from another works, with its files in bytes.
func archived(t *testing.T) (b *handbookv1.Book, i *handbookv1.HandbookIssue, files [][]byte) {
	t.Helper()
	from, _ := started(t, &others{tyres: "25 psi"})
	enter(t, from, book(1, from2008))
	i = issue(t, from)
	for _, f := range i.GetFiles() {
		content, _, err := fetch(t, from, &handbookv1.DownloadHandbookRequest{Name: i.GetName(), MediaType: f.GetMediaType(), Paper: f.GetPaper()})
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, content)
	}
	b, err := from.GetBook(t.Context(), &handbookv1.GetBookRequest{Name: "books/small/versions/-"})
	if err != nil {
		t.Fatal(err)
	}
	return b, i, files
}

func TestAnIssueIsTakenInWithItsFilesAndNeverOverAnother(t *testing.T) {
	b, i, files := archived(t)
	c, _ := started(t, &others{tyres: "25 psi"})
	_, err := takeIn(t, c, "without-files", b, i)
	if got := fields(err); len(got) != len(files) || got[0] != "rows[1].handbook_issue.files[0].sha256" {
		t.Fatalf("without its files: %q, %v", got, err)
	}
	for n, content := range files {
		kept, err := c.KeepHandbookFile(t.Context(), &handbookv1.KeepHandbookFileRequest{Data: content})
		if err != nil || kept.GetSha256() != i.GetFiles()[n].GetSha256() {
			t.Fatalf("%v, %v", kept, err)
		}
	}
	if _, err := takeIn(t, c, "without-book", i); !slices.Equal(fields(err), []string{"rows[vehicles/AM0147P/handbookIssues/1].handbook_issue.book"}) {
		t.Errorf("without its book: %v", err)
	}
	late := proto.CloneOf(i)
	late.Name = "vehicles/AM0147P/handbookIssues/3"
	if _, err := takeIn(t, c, "with-a-gap", b, i, late); !slices.Equal(fields(err), []string{"rows[vehicles/AM0147P/handbookIssues/3].handbook_issue.name"}) {
		t.Errorf("with a gap: %v", err)
	}
	done, err := takeIn(t, c, "all-of-it", b, i)
	if err != nil || done.GetWritten() != 2 {
		t.Fatalf("%v, %v", done, err)
	}
	got, err := c.GetHandbookIssue(t.Context(), &handbookv1.GetHandbookIssueRequest{Name: i.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	if got.Etag, i.Etag = "", ""; !proto.Equal(got, i) {
		t.Errorf("taken in is %v, want %v", got, i)
	}
	if again, err := takeIn(t, c, "once-more", b, i); err != nil || again.GetWritten() != 0 || again.GetUnchanged() != 2 {
		t.Errorf("the same again: %v, %v", again, err)
	}
	other := proto.CloneOf(i)
	other.Text = "another reason"
	if _, err := takeIn(t, c, "over-it", other); err == nil || !strings.Contains(err.Error(), "never imported over") {
		t.Errorf("another record under its name: %v", err)
	}
}

func TestWhatIsWrongWithAnImportedIssueIsSaidAllAtOnce(t *testing.T) {
	_, i, _ := archived(t)
	c, _ := started(t, &others{})
	i.Book, i.OnDate, i.Text = "small", nil, "two\nlines"
	i.Files = []*handbookv1.HandbookFile{{MediaType: "application/pdf", Paper: "A3", Sha256: "x"}, {MediaType: "text/html", Sha256: strings.Repeat("0", 64)}, {MediaType: "text/html", Sha256: strings.Repeat("0", 64)}}
	_, err := takeIn(t, c, "wrong", i)
	want := []string{"book", "on_date", "text", "files[0].sha256", "files[0].media_type", "files[2].media_type", "files"}
	for n := range want {
		want[n] = "rows[0].handbook_issue." + want[n]
	}
	if got := fields(err); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	i.Title, i.Language = "A title\nof two lines", "English"
	if _, err := takeIn(t, c, "wrong-words", i); !slices.Contains(fields(err), "rows[0].handbook_issue.title") || !slices.Contains(fields(err), "rows[0].handbook_issue.language") {
		t.Errorf("a title of two lines in no language: %v", err)
	}
	if _, err := c.KeepHandbookFile(t.Context(), &handbookv1.KeepHandbookFileRequest{}); status.Code(err) != codes.InvalidArgument {
		t.Errorf("a file without bytes: %v", err)
	}
}

// What is taken in stays for ever, is compared with the next issue and is opened
// in browsers: each file must be what it says, and about this vehicle.
func TestFilesOfAnImportedIssueMustBeWhatTheySay(t *testing.T) {
	b, whole, files := archived(t)
	at := func(mediaType string) int {
		return slices.IndexFunc(whole.GetFiles(), func(f *handbookv1.HandbookFile) bool { return f.GetMediaType() == mediaType })
	}
	text, page := string(files[at("application/json")]), string(files[at("text/html")])
	for name, a := range map[string]struct {
		mediaType, content, field string
	}{
		"a text that is none":               {"application/json", `["not a handbook"]`, "sha256"},
		"the text of another vehicle":       {"application/json", strings.ReplaceAll(text, "AM0147P", "AM0148R"), "sha256"},
		"the text of another book":          {"application/json", strings.ReplaceAll(text, "books/small", "books/other"), "sha256"},
		"a page that is none":               {"text/html", "%PDF-1.7", "sha256"},
		"a page that leads elsewhere alone": {"text/html", strings.Replace(page, "<title>", `<meta http-equiv="refresh" content="0; url=https://moor.example/"><title>`, 1), "sha256"},
		"a page with a script":              {"text/html", strings.Replace(page, "<title>", "<SCRIPT>1</SCRIPT><title>", 1), "sha256"},
		"a print that is none":              {"application/pdf", page, "sha256"},
	} {
		t.Run(name, func(t *testing.T) {
			c, _ := started(t, &others{tyres: "25 psi"})
			i := proto.CloneOf(whole)
			n := at(a.mediaType)
			for m, content := range files {
				if m == n {
					content = []byte(a.content)
				}
				kept, err := c.KeepHandbookFile(t.Context(), &handbookv1.KeepHandbookFileRequest{Data: content})
				if err != nil {
					t.Fatal(err)
				}
				i.Files[m].Sha256, i.Files[m].SizeBytes = kept.GetSha256(), int64(len(content))
			}
			_, err := takeIn(t, c, "import", b, i)
			if err == nil {
				t.Fatal("it was taken in")
			}
			if want := fmt.Sprintf("rows[1].handbook_issue.files[%d].%s", n, a.field); !slices.Equal(fields(err), []string{want}) {
				t.Errorf("got %v, want %s", err, want)
			}
		})
	}
}
