package handbookrpc_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookrpc"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// others are the services that are asked, with one vehicle and what a test wants
// them to say.
type others struct {
	buildv1.BuildServiceClient
	partsv1.PartsServiceClient
	schedulev1.ScheduleServiceClient
	warrantyv1.WarrantyServiceClient
	options []string
	tyres   string // the setting of tyres; empty for none on record
	down    bool   // the schedule service gives no answer
}

func (o *others) GetBuild(_ context.Context, r *buildv1.GetBuildRequest, _ ...grpc.CallOption) (*buildv1.Build, error) {
	if r.GetName() != "builds/AM0147P" {
		return nil, status.Error(codes.NotFound, "There is no such vehicle here.")
	}
	return &buildv1.Build{Name: r.GetName(), Release: "releases/R4"}, nil
}

func (o *others) GetConfiguration(context.Context, *buildv1.GetConfigurationRequest, ...grpc.CallOption) (*buildv1.Configuration, error) {
	return &buildv1.Configuration{Release: "releases/R4", Options: o.options, Wheelbase: "short", Market: "GB"}, nil
}

func (o *others) GetDriveLine(context.Context, *buildv1.GetDriveLineRequest, ...grpc.CallOption) (*buildv1.VehicleDriveLine, error) {
	return &buildv1.VehicleDriveLine{}, nil
}

func (o *others) GetTechnicalSheet(context.Context, *partsv1.GetTechnicalSheetRequest, ...grpc.CallOption) (*partsv1.TechnicalSheet, error) {
	sheet := &partsv1.TechnicalSheet{}
	if o.tyres != "" {
		sheet.Settings = []*partsv1.SheetSetting{{Window: o.tyres, Setting: &partsv1.Setting{Position: "tyres", Characteristic: "front-pressure"}}}
	}
	return sheet, nil
}

func (o *others) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	if o.down {
		return nil, status.Error(codes.Unavailable, "away")
	}
	return &schedulev1.Schedule{}, nil
}

func (o *others) GetProgramme(context.Context, *schedulev1.GetProgrammeRequest, ...grpc.CallOption) (*schedulev1.Programme, error) {
	return &schedulev1.Programme{}, nil
}

func (o *others) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	entry := &schedulev1.ServiceEntry{ServiceDate: &date.Date{Year: 2026, Month: 3, Day: 1}, Reading: &vehiclev1.Distance{EnteredValue: "12345.6", EnteredUnit: "mi"}, Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}
	void := proto.CloneOf(entry)
	void.VoidReason = "another vehicle's"
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: []*schedulev1.ServiceEntry{void, entry}}, nil
}

func (o *others) ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	return &schedulev1.ListReadingsResponse{}, nil
}

func (o *others) ListMeasuredSeries(context.Context, *schedulev1.ListMeasuredSeriesRequest, ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error) {
	return &schedulev1.ListMeasuredSeriesResponse{}, nil
}

func (o *others) ListCovers(context.Context, *warrantyv1.ListCoversRequest, ...grpc.CallOption) (*warrantyv1.ListCoversResponse, error) {
	return &warrantyv1.ListCoversResponse{}, nil
}

// caller is who the next calls are by.
type caller struct{ access.Caller }

// started runs the service over an empty store, behind a real connection. Its
// clock says 23:30 in London on 19 May 2026, which is the 20th at the works.
func started(t *testing.T, o *others) (handbookv1.HandbookServiceClient, *caller) {
	t.Helper()
	as := &caller{access.Caller{Role: access.Engineer, Bearer: "ida"}}
	s, err := handbookrpc.New(t.Context(), handbookrpc.Config{
		Store: kv.NewStore(etcdtest.Client(t)), Group: &projection.Group{}, Dir: t.TempDir(), Builds: o, Parts: o, Schedules: o, Warranties: o,
		Works: handbook.ContactPlace{Name: "Aldermoor Works", Telephone: "+44 1632 960100"}, Zone: time.FixedZone("works", 3600),
		Clock: func() time.Time { return time.Date(2026, 5, 19, 23, 30, 0, 0, time.UTC) },
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	server := grpc.NewServer(
		grpc.UnaryInterceptor(func(ctx context.Context, r any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
			answer, err := h(access.NewContext(ctx, as.Caller), r)
			return answer, rpcerr.Status(ctx, nil, err).Err()
		}),
		grpc.StreamInterceptor(func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
			return rpcerr.Status(ss.Context(), nil, h(srv, ss)).Err()
		}))
	s.RegisterService(server)
	wire := bufconn.Listen(1 << 20)
	served := make(chan error, 1)
	go func() { served <- server.Serve(wire) }()
	conn, err := grpc.NewClient("passthrough:handbooks", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return wire.DialContext(ctx) }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(); server.Stop(); <-served })
	return handbookv1.NewHandbookServiceClient(conn), as
}

// text is a passage of words.
func text(words, when string) *handbookv1.Passage {
	return &handbookv1.Passage{AppliesWhen: when, Passage: &handbookv1.Passage_Text{Text: words}}
}

// book is a small book with a page for a winch.
func book(version int, effective *date.Date) *handbookv1.Book {
	return &handbookv1.Book{
		Name: fmt.Sprintf("books/small/versions/%d", version), Title: "Owner's handbook", Language: "en-GB", Sample: true, EffectiveDate: effective,
		Chapters: []*handbookv1.Chapter{{Title: "All", Sections: []*handbookv1.Section{
			{SectionId: "about", Title: "About", Passages: []*handbookv1.Passage{text("The book of {serial}, front {setting tyres front-pressure}.", "")}},
			{SectionId: "winch", Title: "The winch", AppliesWhen: `"winch" in options`, Passages: []*handbookv1.Passage{text("Pull.", "")}},
			{SectionId: "services", Title: "Services", Passages: []*handbookv1.Passage{{Passage: &handbookv1.Passage_Values{Values: &handbookv1.Values{Kind: handbookv1.ValuesKind_VALUES_KIND_SERVICE_PAGES, Caption: "Services"}}}}},
		}}},
	}
}

var from2008 = &date.Date{Year: 2008, Month: 1, Day: 1}

func enter(t *testing.T, c handbookv1.HandbookServiceClient, b *handbookv1.Book) {
	t.Helper()
	if _, err := c.CreateBook(t.Context(), &handbookv1.CreateBookRequest{Book: b, RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
}

func issue(t *testing.T, c handbookv1.HandbookServiceClient) *handbookv1.HandbookIssue {
	t.Helper()
	i, err := c.IssueHandbook(t.Context(), &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0147P", RequestId: uuid.NewString()})
	if err != nil {
		t.Fatal(err)
	}
	return i
}

func TestABookIsRefusedWithAllThatIsWrongWithItAndAVersionNeverChanges(t *testing.T) {
	c, _ := started(t, &others{})
	wrong := book(1, from2008)
	wrong.Language, wrong.Chapters[0].Sections[1].AppliesWhen = "English", `"winch" in`
	_, err := c.CreateBook(t.Context(), &handbookv1.CreateBookRequest{Book: wrong})
	if f := rpcerr.FromStatus(err); len(f.Fields) != 2 || f.Fields[0].Name != "book.language" || f.Fields[1].Name != "book.chapters[0].sections[1].applies_when" {
		t.Errorf("got %v", f)
	}
	if _, err := c.CreateBook(t.Context(), &handbookv1.CreateBookRequest{Book: book(1, from2008), ValidateOnly: true}); err != nil {
		t.Fatal(err)
	}
	if list, err := c.ListBooks(t.Context(), &handbookv1.ListBooksRequest{}); err != nil || len(list.GetBooks()) != 0 {
		t.Errorf("what was only looked at is there: %v, %v", list, err)
	}
	enter(t, c, book(2, from2008))
	if _, err := c.CreateBook(t.Context(), &handbookv1.CreateBookRequest{Book: book(2, from2008), RequestId: uuid.NewString()}); status.Code(err) != codes.AlreadyExists {
		t.Errorf("the same version again: %v", err)
	}
	_, err = c.CreateBook(t.Context(), &handbookv1.CreateBookRequest{Book: book(3, &date.Date{Year: 2007, Month: 1, Day: 1}), RequestId: uuid.NewString()})
	if f := rpcerr.FromStatus(err); len(f.Fields) != 1 || f.Fields[0].Name != "book.effective_date" {
		t.Errorf("a version before an earlier one: %v", err)
	}
}

func TestBooksAndIssuesAreListedPageByPage(t *testing.T) {
	c, _ := started(t, &others{tyres: "25 psi"})
	for n := 1; n <= 11; n++ {
		enter(t, c, book(n, from2008))
	}
	var names []string
	for token := ""; ; {
		r, err := c.ListBooks(t.Context(), &handbookv1.ListBooksRequest{PageSize: 4, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range r.GetBooks() {
			if names = append(names, b.GetName()); b.GetEtag() == "" || b.GetChapters() != nil {
				t.Errorf("%s has the etag %q and %d chapters", b.GetName(), b.GetEtag(), len(b.GetChapters()))
			}
		}
		if token = r.GetNextPageToken(); token == "" {
			break
		}
	}
	if len(names) != 11 || names[10] != "books/small/versions/11" {
		t.Errorf("listed are %q", names)
	}
	for range 3 {
		issue(t, c)
	}
	first, err := c.ListHandbookIssues(t.Context(), &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/AM0147P", PageSize: 2})
	if err != nil || len(first.GetHandbookIssues()) != 2 || first.GetHandbookIssues()[0].GetName() != "vehicles/AM0147P/handbookIssues/3" {
		t.Fatalf("%v, %v", first, err)
	}
	rest, err := c.ListHandbookIssues(t.Context(), &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/AM0147P", PageSize: 2, PageToken: first.GetNextPageToken()})
	if err != nil || len(rest.GetHandbookIssues()) != 1 || rest.GetNextPageToken() != "" {
		t.Errorf("%v, %v", rest, err)
	}
	if _, err := c.ListBooks(t.Context(), &handbookv1.ListBooksRequest{PageSize: 2, PageToken: first.GetNextPageToken()}); status.Code(err) != codes.InvalidArgument {
		t.Errorf("a token of another list: %v", err)
	}
}

func TestAValueThatIsMissingIsNamedAndNothingIsIssued(t *testing.T) {
	o := &others{}
	c, _ := started(t, o)
	if _, err := c.GetHandbookPreview(t.Context(), &handbookv1.GetHandbookPreviewRequest{Name: "vehicles/AM0147P/handbook"}); !strings.Contains(fmt.Sprint(err), "There is no book for release R4") {
		t.Errorf("without a book: %v", err)
	}
	enter(t, c, book(1, from2008))
	p, err := c.GetHandbookPreview(t.Context(), &handbookv1.GetHandbookPreviewRequest{Name: "vehicles/AM0147P/handbook"})
	if err != nil || !slices.Equal(p.GetProblems(), []string{"about: there is no value for {setting tyres front-pressure}"}) {
		t.Errorf("%q, %v", p.GetProblems(), err)
	}
	if got := p.GetOnDate(); got.GetDay() != 20 { // at the works
		t.Errorf("today is %v", got)
	}
	if len(p.GetChoices()) != 1 || p.GetChoices()[0].GetIncluded() || !strings.Contains(p.GetChoices()[0].GetReason().GetSentence(), "with the option winch") {
		t.Errorf("choices: %v", p.GetChoices())
	}
	_, err = c.IssueHandbook(t.Context(), &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0147P"})
	if status.Code(err) != codes.FailedPrecondition || !strings.Contains(err.Error(), "about: there is no value") {
		t.Errorf("issued with a hole: %v", err)
	}
	o.tyres, o.down = "25 psi", true
	if _, err := c.IssueHandbook(t.Context(), &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0147P"}); status.Code(err) != codes.Unavailable {
		t.Errorf("issued while a service is away: %v", err)
	}
	if _, err := c.IssueHandbook(t.Context(), &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0101G"}); status.Code(err) != codes.NotFound {
		t.Errorf("a vehicle that is not there: %v", err)
	}
	if list, err := c.ListHandbookIssues(t.Context(), &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/AM0147P"}); err != nil || len(list.GetHandbookIssues()) != 0 {
		t.Errorf("%v, %v", list, err)
	}
}

func TestTheNextIssueSaysWhatChangedAndARepeatedRequestIssuesOnce(t *testing.T) {
	o := &others{tyres: "25 psi"}
	c, as := started(t, o)
	enter(t, c, book(1, from2008))
	ask := &handbookv1.IssueHandbookRequest{Parent: "vehicles/AM0147P", Text: strings.Repeat("ü", 401), RequestId: uuid.NewString()}
	if _, err := c.IssueHandbook(t.Context(), ask); status.Code(err) != codes.InvalidArgument || !strings.Contains(err.Error(), "at most 400 characters") {
		t.Errorf("401 characters of why: %v", err)
	}
	ask.Text = strings.Repeat("ü", 400)
	first, err := c.IssueHandbook(t.Context(), ask)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := c.IssueHandbook(t.Context(), ask); err != nil || !proto.Equal(first, again) {
		t.Errorf("the same request gives %v, %v", again, err)
	}
	ask.Text = "something else"
	if _, err := c.IssueHandbook(t.Context(), ask); status.Code(err) != codes.InvalidArgument {
		t.Errorf("the same id for another request: %v", err)
	}
	o.tyres, o.options = "27 psi", []string{"winch"}
	second := issue(t, c)
	var told []string
	for _, one := range second.GetChanges() {
		told = append(told, one.GetSentence())
	}
	if want := []string{"“The book of AM0147P, front 25 psi” is now “The book of AM0147P, front 27 psi”.", "“The winch” is new."}; !slices.Equal(told, want) {
		t.Errorf("told is %q, want %q", told, want)
	}
	if second.GetIssuedBy() != "ida" {
		t.Errorf("issued by %q", second.GetIssuedBy())
	}
	as.Role = access.Owner
	for _, name := range []string{second.GetName(), "vehicles/AM0147P/handbookIssues/-"} {
		if i, err := c.GetHandbookIssue(t.Context(), &handbookv1.GetHandbookIssueRequest{Name: name}); err != nil || i.GetIssuedBy() != "" || i.GetName() != second.GetName() || i.GetEtag() != second.GetEtag() {
			t.Errorf("an owner is told %v, %v", i, err)
		}
	}
}

func fetch(t *testing.T, c handbookv1.HandbookServiceClient, r *handbookv1.DownloadHandbookRequest) ([]byte, *handbookv1.HandbookFile, error) {
	t.Helper()
	stream, err := c.DownloadHandbook(t.Context(), r)
	if err != nil {
		t.Fatal(err)
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
		if content = append(content, chunk.GetData()...); chunk.GetFile() != nil {
			file = chunk.GetFile()
		}
	}
}

func TestEachFormOfAnIssueIsSentAsItWasKept(t *testing.T) {
	o := &others{tyres: "25 psi"}
	c, _ := started(t, o)
	enter(t, c, book(1, from2008))
	i := issue(t, c)
	o.tyres = "27 psi"
	for _, f := range i.GetFiles() {
		content, said, err := fetch(t, c, &handbookv1.DownloadHandbookRequest{Name: i.GetName(), MediaType: f.GetMediaType(), Paper: f.GetPaper()})
		if err != nil || int64(len(content)) != f.GetSizeBytes() || !proto.Equal(said, f) {
			t.Errorf("%s %s: %d bytes of %d, %v", f.GetMediaType(), f.GetPaper(), len(content), f.GetSizeBytes(), err)
		}
	}
	page, _, err := fetch(t, c, &handbookv1.DownloadHandbookRequest{Name: "vehicles/AM0147P/handbookIssues/-", MediaType: "text/html"})
	if err != nil || !strings.Contains(string(page), "front 25") || strings.Count(string(page), "12,345.6\u00a0mi") != 1 {
		t.Errorf("the issue is not as it was (%v)", err)
	}
	now, _, err := fetch(t, c, &handbookv1.DownloadHandbookRequest{Name: "vehicles/AM0147P/handbookIssues/preview", MediaType: "text/html"})
	if err != nil || !strings.Contains(string(now), "front 27") || !strings.Contains(string(now), "not issued") {
		t.Errorf("the preview is not that of now (%v)", err)
	}
	for _, r := range []*handbookv1.DownloadHandbookRequest{
		{Name: i.GetName(), MediaType: "image/png"}, {Name: i.GetName(), Paper: "A3"}, {Name: i.GetName(), MediaType: "text/html", Paper: "A5"}, {Name: "vehicles/AM0147P/handbookIssues/0"},
	} {
		if _, _, err := fetch(t, c, r); status.Code(err) != codes.InvalidArgument {
			t.Errorf("%v: %v", r, err)
		}
	}
	if _, _, err := fetch(t, c, &handbookv1.DownloadHandbookRequest{Name: "vehicles/AM0147P/handbookIssues/2"}); status.Code(err) != codes.NotFound {
		t.Errorf("an issue that is not there: %v", err)
	}
}
