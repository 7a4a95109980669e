package handbookstore_test

import (
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// open starts a store over a client and a directory, until the test ends.
func open(t testing.TB, c *clientv3.Client, dir string) *handbookstore.Store {
	t.Helper()
	s, err := handbookstore.Open(t.Context(), handbookstore.Config{Store: kv.NewStore(c), Group: &projection.Group{}, Dir: dir, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

func book(version int) *handbookv1.Book {
	return &handbookv1.Book{Name: handbookwire.BookName("small", version), Title: "Handbook"}
}

const serial = vehicle.Serial("AM0147P")

// issue is an issue with one file of some content, which is kept.
func issue(t *testing.T, s *handbookstore.Store, n int, content string) *handbookv1.HandbookIssue {
	t.Helper()
	digest, err := s.Keep([]byte(content))
	if err != nil {
		t.Fatal(err)
	}
	return &handbookv1.HandbookIssue{Name: handbookwire.IssueName(serial, n), Files: []*handbookv1.HandbookFile{{MediaType: "text/html", Sha256: digest, SizeBytes: int64(len(content))}}}
}

func request() handbookstore.Request {
	return handbookstore.Request{ID: uuid.NewString(), Payload: &handbookv1.GetBookRequest{Name: "x"}}
}

func TestWhatIsWrittenIsReadAtOnceAndAfterAStartAnew(t *testing.T) {
	c, dir := etcdtest.Client(t), t.TempDir()
	s := open(t, c, dir)
	for _, n := range []int{2, 1} {
		if _, err := s.CreateBook(t.Context(), request(), "small", n, book(n)); err != nil {
			t.Fatal(err)
		}
	}
	for n := 1; n <= 11; n++ { // numbers of two digits come after those of one
		if _, err := s.CreateIssue(t.Context(), request(), serial, n, issue(t, s, n, "as issued")); err != nil {
			t.Fatal(err)
		}
	}
	for _, one := range []*handbookstore.Store{s, open(t, c, dir)} {
		if b, err := one.Book("small", handbookwire.Latest); err != nil || b.Book.Version != 2 {
			t.Errorf("the latest version is %v: %v", b.Message, err)
		}
		if i, err := one.Issue(serial, handbookwire.Latest); err != nil || i.Number != 11 || i.Message.GetName() != "vehicles/AM0147P/handbookIssues/11" {
			t.Errorf("the last issue is %v: %v", i.Message, err)
		}
		if _, err := one.Issue(serial, 12); !fault.Is(err, fault.NotFound) {
			t.Errorf("an issue that is not there: %v", err)
		}
		if _, err := one.Issue("AM0101G", handbookwire.Latest); !fault.Is(err, fault.NotFound) {
			t.Errorf("an issue of another vehicle: %v", err)
		}
	}
}

func TestARecordIsWrittenOnceAndARequestIsAnsweredAgain(t *testing.T) {
	s := open(t, etcdtest.Client(t), t.TempDir())
	q := request()
	first := issue(t, s, 1, "first")
	if _, err := s.CreateIssue(t.Context(), q, serial, 1, first); err != nil {
		t.Fatal(err)
	}
	again := issue(t, s, 1, "another")
	if _, err := s.CreateIssue(t.Context(), q, serial, 1, again); err != nil || again.GetFiles()[0].GetSha256() != first.GetFiles()[0].GetSha256() {
		t.Errorf("the same request: %v, %v", again, err)
	}
	if _, err := s.CreateIssue(t.Context(), request(), serial, 1, issue(t, s, 1, "another")); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("the same number again: %v", err)
	}
	if err := s.Put(t.Context(), []handbookstore.Record{handbookstore.IssueRecord(serial, 2, issue(t, s, 2, "imported")), handbookstore.IssueRecord(serial, 1, again)}); err == nil {
		t.Error("an import writes over an issue")
	}
	if n := len(s.Issues(serial)); n != 1 {
		t.Errorf("%d issues: a part of a refused transaction is there", n)
	}
}

func TestAFileIsKeptUnderItsDigestAndProvedWhenItIsRead(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "handbooks")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	s := open(t, etcdtest.Client(t), dir)
	digest, err := s.Keep([]byte("abc"))
	// FIPS 180-4, example "abc"
	if want := "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"; err != nil || digest != want {
		t.Fatalf("kept under %s, want %s: %v", digest, want, err)
	}
	path := filepath.Join(dir, "ba", digest)
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file is %v: %v", info, err)
	}
	if content, err := s.File(digest); err != nil || string(content) != "abc" {
		t.Errorf("read %q: %v", content, err)
	}
	if err := os.WriteFile(path, []byte("abd"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.File(digest); !fault.Is(err, fault.Internal) {
		t.Errorf("a damaged file: %v", err)
	}
	if _, err := s.Keep([]byte("abc")); err != nil { // mends it
		t.Fatal(err)
	}
	if content, err := s.File(digest); err != nil || string(content) != "abc" {
		t.Errorf("kept anew: %q, %v", content, err)
	}
	for _, wrong := range []string{"", "../../etc/passwd", strings.ToUpper(digest), digest[:62], digest + "00"} {
		if _, err := s.File(wrong); !fault.Is(err, fault.FailedPrecondition) {
			t.Errorf("%q: %v", wrong, err)
		}
	}
	if left, err := filepath.Glob(filepath.Join(dir, "*", ".writing-*")); err != nil || len(left) > 0 {
		t.Errorf("files in the making are left: %q, %v", left, err)
	}
	half := filepath.Join(filepath.Dir(path), ".writing-1") // of a process that was killed
	if err := os.WriteFile(half, []byte("ab"), 0o600); err != nil {
		t.Fatal(err)
	}
	again := open(t, etcdtest.Client(t), dir)
	if _, err := os.Stat(half); !os.IsNotExist(err) {
		t.Errorf("half a file is left at the next start: %v", err)
	}
	if content, err := again.File(digest); err != nil || string(content) != "abc" {
		t.Errorf("after the next start: %q, %v", content, err)
	}
}

func TestAProcessWithoutADirectoryKeepsNothing(t *testing.T) {
	s := open(t, etcdtest.Client(t), "")
	if _, err := s.Keep([]byte("abc")); !fault.Is(err, fault.FailedPrecondition) {
		t.Error(err)
	}
	if n := s.Absent(); n != 0 {
		t.Errorf("%d files are absent of none", n)
	}
}

func TestTheArchiveIsComparedWithWhatIsOnRecord(t *testing.T) {
	c, dir := etcdtest.Client(t), t.TempDir()
	s := open(t, c, dir)
	paths := map[int]string{}
	for n, content := range []string{"one", "two", "three"} {
		i := issue(t, s, n+1, content)
		if _, err := s.CreateIssue(t.Context(), request(), serial, n+1, i); err != nil {
			t.Fatal(err)
		}
		digest := i.GetFiles()[0].GetSha256()
		paths[n+1] = filepath.Join(dir, digest[:2], digest)
	}
	if a, err := handbookstore.CheckArchive(t.Context(), c, dir); err != nil || a.Issues != 3 || a.Files != 3 || len(a.Lacking) != 0 {
		t.Fatalf("%+v, %v", a, err)
	}
	if err := os.Remove(paths[2]); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(paths[3], []byte("four"), 0o600); err != nil {
		t.Fatal(err)
	}
	a, err := handbookstore.CheckArchive(t.Context(), c, dir)
	if err != nil || len(a.Lacking) != 2 {
		t.Fatalf("%+v, %v", a, err)
	}
	for i, want := range []string{"vehicles/AM0147P/handbookIssues/2, text/html is missing", "vehicles/AM0147P/handbookIssues/3, text/html is not as it was issued"} {
		if got := a.Lacking[i].String(); !strings.HasPrefix(got, want) {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if n := s.Absent(); n != 1 {
		t.Errorf("%d files are absent, want 1", n)
	}
	if _, err := s.File(filepath.Base(paths[2])); !fault.Is(err, fault.FailedPrecondition) || !strings.Contains(err.Error(), "not in the archive") {
		t.Errorf("a file that is missing: %v", err)
	}
}
