package ownerrpc_test

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/owner/ownerrpc"
)

func TestAPersonIsMadeReadAndChanged(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ctx, desk := h.desk()
	request := &ownerv1.CreatePersonRequest{Person: person("p0031"), RequestId: uuid(1)}
	made, err := desk.CreatePerson(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	want := person("p0031")
	want.CreateTime, want.Etag = made.GetCreateTime(), made.GetEtag()
	if !proto.Equal(made, want) || !made.GetCreateTime().AsTime().Equal(today) || made.GetEtag() == "" {
		t.Errorf("got %v, want %v", made, want)
	}
	if got, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p0031"}); err != nil || !proto.Equal(got, made) {
		t.Errorf("read: got %v, %v", got, err)
	}

	changed := proto.Clone(made).(*ownerv1.Person)
	changed.Phone, changed.CreateTime = "+442079460018", nil
	update := &ownerv1.UpdatePersonRequest{Person: changed, RequestId: uuid(2)}
	after, err := desk.UpdatePerson(ctx, update)
	if err != nil || after.GetPhone() != "+442079460018" || !proto.Equal(after.GetCreateTime(), made.GetCreateTime()) || after.GetEtag() == made.GetEtag() {
		t.Errorf("changed: got %v, %v", after, err)
	}

	// Each request again gives its own answer, whatever came after it.
	if again, err := desk.CreatePerson(ctx, request); err != nil || !proto.Equal(again, made) {
		t.Errorf("created again: got %v, %v; want %v", again, err, made)
	}
	if again, err := desk.UpdatePerson(ctx, update); err != nil || !proto.Equal(again, after) {
		t.Errorf("changed again: got %v, %v; want %v", again, err, after)
	}
	other := proto.Clone(request).(*ownerv1.CreatePersonRequest)
	other.Person.FullName = "Bede Nettlefold"
	_, err = desk.CreatePerson(ctx, other)
	wantReason(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")

	_, err = desk.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: changed})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	changed.Etag = ""
	_, err = desk.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: changed})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	_, err = desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: person("p0031")})
	wantReason(t, err, codes.AlreadyExists, "PERSON_EXISTS")
	_, err = desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p0032"})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
	for _, name := range []string{"", "p0031", "people/", "people/a/b"} {
		_, err = desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: name})
		wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	}
}

func TestAPersonWithoutANameGetsOneThatSaysNothing(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ctx, desk := h.desk()
	p := person("")
	p.Name = ""
	made, err := desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: p})
	if err != nil || len(made.GetName()) != len("people/")+12 {
		t.Errorf("got %v, %v", made, err)
	}
}

func TestAllThatIsWrongIsSaidAtOnceAndNothingPersonalIsQuoted(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ctx, desk := h.desk()
	_, err := desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{
		FullName: "Ada\nNettlefold", Email: "ada nettlefold.example", Phone: "01632 960111", Language: "english", DistanceUnit: "furlong", TimeZone: "Mars/Olympus",
		ContactFromHour: 30, ContactUntilHour: 40, PostalLines: []string{"The\rOld Forge"},
	}})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	for _, field := range []string{"full_name", "email", "phone", "postal_lines[0]", "language", "distance_unit", "time_zone", "contact_from_hour", "contact_until_hour"} {
		if !strings.Contains(err.Error(), "person."+field+": got") {
			t.Errorf("%s is not named in %v", field, err)
		}
	}
	for _, personal := range []string{"Nettlefold", "nettlefold", "960111", "Forge"} {
		if strings.Contains(err.Error(), personal) {
			t.Errorf("%s is quoted in %v", personal, err)
		}
	}
}

func TestPeopleAreListedInPages(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	ids := []string{"p05", "p01", "p04", "p02", "p03"}
	for _, id := range ids {
		h.create(t, id)
	}
	ctx, desk := h.desk()
	var got []string
	for token := ""; ; {
		list, err := desk.ListPeople(ctx, &ownerv1.ListPeopleRequest{PageSize: 2, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range list.GetPeople() {
			got = append(got, strings.TrimPrefix(p.GetName(), "people/"))
			if p.GetFullName() == "" || p.GetEtag() == "" {
				t.Errorf("got %v", p)
			}
		}
		if token = list.GetNextPageToken(); token == "" {
			break
		}
	}
	if strings.Join(got, " ") != "p01 p02 p03 p04 p05" {
		t.Errorf("got %v", got)
	}
}

func TestAnOwnerSeesAndChangesThemselvesAlone(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	mine := h.create(t, "p1")
	theirs := h.create(t, "p2")
	ctx, own := h.owner("people/p1")
	if got, err := own.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"}); err != nil || !proto.Equal(got, mine) {
		t.Errorf("got %v, %v", got, err)
	}
	mine.TimeZone = "America/New_York"
	if got, err := own.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: mine}); err != nil || got.GetTimeZone() != "America/New_York" {
		t.Errorf("got %v, %v", got, err)
	}
	_, other := own.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p2"})
	_, missing := own.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p9"})
	wantReason(t, other, codes.NotFound, "PERSON_NOT_FOUND")
	if strings.ReplaceAll(other.Error(), "p2", "p9") != missing.Error() {
		t.Errorf("another: %v; missing: %v", other, missing)
	}
	_, err := own.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: theirs})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
}

func TestBytesAreSealedForAPersonAndAPurpose(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	ctx, s := context.Background(), h.service()
	plain := []byte("Dear Ada, the oil is due.")
	sealed, err := s.SealForPerson(ctx, &ownerv1.SealForPersonRequest{Person: "people/p1", Purpose: "notice", Plaintext: plain})
	if err != nil {
		t.Fatal(err)
	}
	if opened, err := s.OpenForPerson(ctx, &ownerv1.OpenForPersonRequest{Person: "people/p1", Purpose: "notice", Sealed: sealed.GetSealed()}); err != nil || string(opened.GetPlaintext()) != string(plain) {
		t.Errorf("got %v, %v", opened, err)
	}
	_, err = s.OpenForPerson(ctx, &ownerv1.OpenForPersonRequest{Person: "people/p2", Purpose: "notice", Sealed: sealed.GetSealed()})
	wantReason(t, err, codes.InvalidArgument, "NOT_SEALED_HERE")
	_, err = s.OpenForPerson(ctx, &ownerv1.OpenForPersonRequest{Person: "people/p1", Purpose: "letter", Sealed: sealed.GetSealed()})
	wantReason(t, err, codes.InvalidArgument, "NOT_SEALED_HERE")
	_, err = s.SealForPerson(ctx, &ownerv1.SealForPersonRequest{Person: "people/p9", Plaintext: plain})
	wantReason(t, err, codes.NotFound, "PERSON_NOT_FOUND")
	_, err = s.SealForPerson(ctx, &ownerv1.SealForPersonRequest{Person: "people/p1", Plaintext: make([]byte, 200<<10+1)})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	deskCtx, desk := h.desk()
	_, err = desk.OpenForPerson(deskCtx, &ownerv1.OpenForPersonRequest{Person: "people/p1", Purpose: "notice", Sealed: sealed.GetSealed()})
	wantReason(t, err, codes.PermissionDenied, "ROLE_MAY_NOT")
}

func TestNothingPersonalStandsInTheStore(t *testing.T) {
	dir := t.TempDir()
	server := etcdtest.StartIn(t, embedetcd.Config{Dir: dir})
	h := open(t, server.Client(), keyFile(t))
	ctx, works := h.works()
	marked := func(id string) *ownerv1.Person {
		p := person(id)
		p.FullName, p.Email, p.PostalLines = "MARKED name", "marked-mail@x.example", []string{"MARKED street"}
		return p
	}
	made, err := works.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: marked("p1"), RequestId: uuid(1)})
	if err != nil {
		t.Fatal(err)
	}
	made.PostalLines = []string{"MARKED other street"}
	if _, err := works.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: made, RequestId: uuid(2)}); err != nil {
		t.Fatal(err)
	}
	stage := &ownerv1.StageImportRequest{ImportId: "i1", Rows: []*ownerv1.OwnerRow{{Row: &ownerv1.OwnerRow_Person{Person: marked("p2-visible")}}}}
	if _, err := works.StageImport(ctx, stage); err != nil {
		t.Fatal(err)
	}
	if _, err := works.CommitImport(ctx, &ownerv1.CommitImportRequest{ImportId: "i1", Chunks: 1}); err != nil {
		t.Fatal(err)
	}
	sealed, err := h.service().SealForPerson(context.Background(), &ownerv1.SealForPersonRequest{Person: "people/p1", Plaintext: []byte("MARKED letter")})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := server.Client().Put(t.Context(), "/kept-by-another-service", string(sealed.GetSealed())); err != nil {
		t.Fatal(err)
	}
	files := everything(t, dir)
	if !strings.Contains(files, "p2-visible") {
		t.Fatal("the search does not find what is there")
	}
	for _, personal := range []string{"MARKED", "marked-mail", "+441632960983", "Europe/London"} {
		if strings.Contains(files, personal) {
			t.Errorf("%q stands in the store", personal)
		}
	}
}

// everything gives the bytes of all files under a directory: database, log and
// snapshots.
func everything(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		raw, err := os.ReadFile(path)
		b.Write(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestAStoreOpensWithItsOwnMasterKeyAlone(t *testing.T) {
	client, path := etcdtest.Client(t), keyFile(t)
	h := open(t, client, path)
	made := h.create(t, "p1")
	h.close()

	start := func(path string) error {
		s, err := ownerrpc.New(t.Context(), ownerrpc.Config{Store: kv.NewStore(client), MasterKeyPath: path, Group: &projection.Group{}, Clock: h.clock})
		if err == nil {
			s.Close()
		}
		return err
	}
	reason := func(err error) string {
		var f *fault.Error
		if errors.As(err, &f) {
			return f.Reason
		}
		return ""
	}
	elsewhere := keyFile(t)
	if got := reason(start(elsewhere)); got != "MASTER_KEY_MISSING" {
		t.Errorf("without the file: got %s", got)
	}
	if _, err := os.Stat(elsewhere); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a key that opens nobody was made: %v", err)
	}
	open(t, etcdtest.Client(t), elsewhere) // another works' key
	if got := reason(start(elsewhere)); got != "MASTER_KEY_DIFFERS" {
		t.Errorf("with another key: got %s", got)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if got := reason(start(path)); got != "MASTER_KEY_EXPOSED" {
		t.Errorf("with a file that all can read: got %s", got)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	h = open(t, client, path)
	ctx, desk := h.desk()
	if got, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"}); err != nil || !proto.Equal(got, made) {
		t.Errorf("after a second start: got %v, %v", got, err)
	}
}

func TestRecordsThatWereMovedInTheStoreDoNotOpen(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client, keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	// Somebody with the store alone puts one person's record and key in
	// another's place.
	for _, kind := range []string{"people/", "person-keys/"} {
		from, err := client.Get(t.Context(), kv.Prefix("owner")+kind+"p1")
		if err != nil || len(from.Kvs) != 1 {
			t.Fatal(from, err)
		}
		if _, err := client.Put(t.Context(), kv.Prefix("owner")+kind+"p2", string(from.Kvs[0].Value)); err != nil {
			t.Fatal(err)
		}
	}
	h.create(t, "p3") // its answer comes after this process has seen all that
	ctx, desk := h.desk()
	_, err := desk.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p2"})
	wantReason(t, err, codes.Internal, "PERSON_KEY_DAMAGED")
}
