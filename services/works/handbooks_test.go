package works_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/console"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookprint"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// handbookWorks is the demo with its book, and somebody to ring.
func handbookWorks(t *testing.T, data string) (*works.Process, context.Context, works.Clients) {
	t.Helper()
	config := works.Config{Data: data, Works: works.WorksConfig{
		Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", Postal: []string{"1 Foundry Yard", "Fictionbury FB1 1AA"}}}
	p, ctx, clients := startDemo(t, config)
	books, err := aldermoor.Books()
	if err != nil {
		t.Fatal(err)
	}
	k := &console.Console{Access: clients.Access, Handbooks: clients.Handbooks, Out: io.Discard}
	for _, text := range books {
		if err := k.ImportBook(ctx, text); err != nil {
			t.Fatal(err)
		}
	}
	return p, ctx, clients
}

// download gives the bytes of a handbook, and what they are.
func download(ctx context.Context, c works.Clients, name, mediaType, paper string) ([]byte, *handbookv1.HandbookFile, error) {
	stream, err := c.Handbooks.DownloadHandbook(ctx, &handbookv1.DownloadHandbookRequest{Name: name, MediaType: mediaType, Paper: paper})
	if err != nil {
		return nil, nil, err
	}
	var content []byte
	var file *handbookv1.HandbookFile
	for {
		chunk, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return content, file, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if len(chunk.GetData()) > 64<<10 {
			return nil, nil, errors.New("a chunk of more than 64 KiB")
		}
		if chunk.GetFile() != nil {
			file = chunk.GetFile()
		}
		content = append(content, chunk.GetData()...)
	}
}

// The book has a value for every place that it asks for one, on each vehicle of
// the demo as it is now, changes and all.
func TestEveryVehicleOfTheDemoHasAHandbookWithoutABlank(t *testing.T) {
	racetest.Skip(t, "paper is set, one book after the other")
	_, ctx, clients := handbookWorks(t, "")
	r, err := clients.Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{PageSize: 500})
	if err != nil || len(r.GetBuilds()) < 60 {
		t.Fatal(len(r.GetBuilds()), err)
	}
	for _, b := range r.GetBuilds() {
		serial := strings.TrimPrefix(b.GetName(), "builds/")
		m, err := clients.Handbooks.GetHandbookPreview(ctx, &handbookv1.GetHandbookPreviewRequest{Name: "vehicles/" + serial + "/handbook"})
		if err != nil {
			t.Fatalf("%s: %v", serial, err)
		}
		for _, p := range m.GetProblems() {
			t.Errorf("%s: %s", serial, p)
		}
	}
}

func TestAnIssuedHandbookStaysAsItWasAndTheNextSaysWhatChanged(t *testing.T) {
	racetest.Skip(t, "paper is set, one book after the other")
	data := t.TempDir()
	_, ctx, clients := handbookWorks(t, data)
	desk, engineer := staffOf(ctx)
	rid := uuid.NewString()
	ask := &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0102E", Text: "delivery", RequestId: rid}
	first, err := clients.Handbooks.IssueHandbook(desk, ask)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := clients.Handbooks.IssueHandbook(desk, ask); err != nil || again.GetName() != first.GetName() {
		t.Fatalf("the same request again: %v, %v", again.GetName(), err)
	}
	if first.GetName() != "vehicles/AM0102E/handbookIssues/1" || len(first.GetFiles()) != 5 || len(first.GetChanges()) != 0 || first.GetIssuedBy() != "front desk" {
		t.Fatalf("%v", first)
	}
	kept := map[string][]byte{}
	for _, f := range first.GetFiles() {
		content, got, err := download(desk, clients, first.GetName(), f.GetMediaType(), f.GetPaper())
		if err != nil {
			t.Fatal(err)
		}
		if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != f.GetSha256() || got.GetSha256() != f.GetSha256() || int64(len(content)) != f.GetSizeBytes() {
			t.Errorf("%s %s is not what the record says", f.GetMediaType(), f.GetPaper())
		}
		if f.GetMediaType() == "application/pdf" && (f.GetPageCount() < 25 || f.GetPageCount() > 60) {
			t.Errorf("%s has %d pages", f.GetPaper(), f.GetPageCount())
		}
		kept[f.GetSha256()] = content
	}

	_, err = clients.Builds.RecordChange(engineer, &buildv1.RecordChangeRequest{Parent: "builds/AM0102E", RequestId: uuid.NewString(), Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, ChangeDate: dayProto(aldermoor.Today), Source: buildv1.ChangeSource_CHANGE_SOURCE_WORKS, Option: "winch", Reason: "ordered"}})
	if err != nil {
		t.Fatal(err)
	}
	m, err := clients.Handbooks.GetHandbookPreview(desk, &handbookv1.GetHandbookPreviewRequest{Name: "vehicles/AM0102E/handbook"})
	if err != nil || m.GetLastIssue() != first.GetName() {
		t.Fatal(m.GetLastIssue(), err)
	}
	second, err := clients.Handbooks.IssueHandbook(engineer, &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0102E", Text: "winch fitted", RequestId: uuid.NewString()})
	if err != nil {
		t.Fatal(err)
	}
	var added []string
	for _, c := range second.GetChanges() {
		if c.GetKind() == handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_ADDED {
			added = append(added, c.GetSectionId())
		}
	}
	if want := []string{"winch", "winch-wire"}; !slices.Equal(added, want) {
		t.Errorf("added are %q, want %q", added, want)
	}
	page, _, err := download(desk, clients, "vehicles/AM0102E/handbookIssues/-", "text/html", "")
	if err != nil || !strings.Contains(string(page), "What has changed since issue 1") || !strings.Contains(string(page), "“The wire rope” is new.") {
		t.Errorf("the second issue does not say what changed (%v)", err)
	}
	if strings.Contains(string(page), "<script") || strings.Contains(string(page), "http://") || strings.Contains(string(page), "<link") {
		t.Error("the page asks for something beside itself")
	}
	for _, f := range first.GetFiles() { // the first is as it was
		content, _, err := download(desk, clients, first.GetName(), f.GetMediaType(), f.GetPaper())
		if err != nil || string(content) != string(kept[f.GetSha256()]) {
			t.Errorf("%s %s of the first issue changed (%v)", f.GetMediaType(), f.GetPaper(), err)
		}
	}
	damaged := first.GetFiles()[0].GetSha256()
	if err := os.WriteFile(filepath.Join(data, "handbooks", damaged[:2], damaged), []byte("%PDF-1.4 another"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := download(desk, clients, first.GetName(), "application/pdf", first.GetFiles()[0].GetPaper()); status.Code(err) != codes.Internal {
		t.Errorf("a file that is not as it was issued is sent: %v", err)
	}
}

// Nobody's name, plate or key goes into what is kept as long as the vehicle.
func TestNobodyStandsInAHandbook(t *testing.T) {
	_, ctx, clients := handbookWorks(t, "")
	content, _, err := download(ctx, clients, "vehicles/AM0101G/handbookIssues/preview", "application/json", "")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"AM 100 PH", "K300", "Ferncombe", "Harbour Road", "people/"} {
		if strings.Contains(string(content), name) {
			t.Errorf("%q stands in it", name)
		}
	}
}

// The whole text of one handbook, for people to read.
func TestTheTextOfAHandbookIsTheGoldenOne(t *testing.T) {
	racetest.Skip(t, "paper is set, one book after the other")
	_, ctx, clients := handbookWorks(t, "")
	content, _, err := download(ctx, clients, "vehicles/AM0147P/handbookIssues/preview", "application/json", "")
	if err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", "handbooks", "AM0147P.json")
	if *update {
		if err := os.MkdirAll(filepath.Dir(golden), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(golden, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || string(want) != string(content) {
		t.Errorf("the handbook is not the golden one (%v): look at it, and run with -update", err)
	}
}

// A thing for the door pocket: not longer than it has to be, and as a page no
// heavier than others.
func TestAHandbookFitsIntoTheDoorPocketAndItsPageOntoATelephone(t *testing.T) {
	racetest.Skip(t, "paper is set, one book after the other")
	_, ctx, clients := handbookWorks(t, "")
	content, _, err := download(ctx, clients, "vehicles/"+veryDifferent[0]+"/handbookIssues/preview", "application/json", "")
	if err != nil {
		t.Fatal(err)
	}
	other := read(t, content)
	for _, serial := range veryDifferent {
		name := "vehicles/" + serial + "/handbookIssues/preview"
		_, file, err := download(ctx, clients, name, "application/pdf", "A5")
		if err != nil {
			t.Fatal(err)
		}
		if n := file.GetPageCount(); n < 30 || n > 45 {
			t.Errorf("%s has %d pages of A5", serial, n)
		}
		page, _, err := download(ctx, clients, name, "text/html", "")
		if err != nil || len(page) >= 100_000 {
			t.Errorf("the page of %s weighs %d bytes: %v", serial, len(page), err)
		}
		content, _, err := download(ctx, clients, name, "application/json", "")
		if err != nil {
			t.Fatal(err)
		}
		for what, before := range map[string]*handbook.Handbook{"all is new": {}, "another vehicle was before": other} {
			now := read(t, content) // which is marked
			changes := handbook.Compare(before, now)
			page, err := handbookprint.HTML(now, handbookprint.Edition{Issue: 2, Before: 1, Text: "everything", Changes: changes})
			if err != nil || len(page) >= 100_000 || len(changes) == 0 && serial != veryDifferent[0] {
				t.Errorf("the page of %s where %s weighs %d bytes and has %d changes: %v", serial, what, len(page), len(changes), err)
			}
		}
	}
}

func read(t *testing.T, content []byte) *handbook.Handbook {
	t.Helper()
	var h handbook.Handbook
	if err := json.Unmarshal(content, &h); err != nil {
		t.Fatal(err)
	}
	return &h
}
