package ownerrpc_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/staging"
	"halfshaft/services/owner/ownerrpc"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/vehicle"
)

func personRow(p *ownerv1.Person) *ownerv1.OwnerRow {
	return &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Person{Person: p}}
}

func tieRow(serial, id, person string, role ownerv1.Role, year int32) *ownerv1.OwnerRow {
	return &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Tie{Tie: &ownerv1.Tie{
		Name: "vehicles/" + serial + "/ties/" + id, Person: "people/" + person, Role: role, Notices: true, StartDate: day(year, 1, 1),
	}}}
}

// load stages the chunks and commits them.
func (h *house) load(t testing.TB, id string, chunks ...[]*ownerv1.OwnerRow) (*ownerv1.CommitImportResponse, error) {
	t.Helper()
	ctx, works := h.works()
	for n, rows := range chunks {
		if _, err := works.StageImport(ctx, &ownerv1.StageImportRequest{ImportId: id, Sequence: int32(n), Rows: rows}); err != nil {
			return nil, err
		}
	}
	return works.CommitImport(ctx, &ownerv1.CommitImportRequest{ImportId: id, Chunks: int32(len(chunks))})
}

func TestAnImportTakesEffectAsAWholeAndUpdatesWhatDiffers(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	am0147 := serial(t, "AM0147")
	kept := person("p1")
	kept.CreateTime = timestamppb.New(today.AddDate(-3, 0, 0)) // from an export
	chunks := [][]*ownerv1.OwnerRow{
		{personRow(kept), personRow(person("p2"))},
		{tieRow(am0147, "t1", "p1", ownerv1.Role_ROLE_OWNER, 2020), tieRow(am0147, "t2", "p2", ownerv1.Role_ROLE_OWNER, 2021)}, // owned jointly
	}
	ctx, works := h.works()
	for n, rows := range chunks {
		r, err := works.StageImport(ctx, &ownerv1.StageImportRequest{ImportId: "i1", Sequence: int32(n), Rows: rows})
		if err != nil || int(r.GetStagedChunks()) != n+1 {
			t.Fatal(r, err)
		}
	}
	if list, err := works.ListPeople(ctx, &ownerv1.ListPeopleRequest{}); err != nil || len(list.GetPeople()) > 0 {
		t.Errorf("before the commit: got %v, %v", list, err)
	}
	if r, err := h.load(t, "i1", chunks...); err != nil || r.GetWritten() != 4 || r.GetUnchanged() != 0 {
		t.Errorf("got %v, %v", r, err)
	}
	get := func(id string) *ownerv1.Person {
		t.Helper()
		p, err := works.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/" + id})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	if p := get("p1"); !proto.Equal(p.GetCreateTime(), kept.GetCreateTime()) {
		t.Errorf("a time from an export became %v", p.GetCreateTime())
	}
	if p := get("p2"); !p.GetCreateTime().AsTime().Equal(today) {
		t.Errorf("a time that was not given became %v", p.GetCreateTime())
	}

	// The same again, as another import: nothing changes, not even an etag.
	before := get("p1").GetEtag()
	if r, err := h.load(t, "i2", chunks...); err != nil || r.GetWritten() != 0 || r.GetUnchanged() != 4 {
		t.Errorf("the same rows: got %v, %v", r, err)
	}
	if got := get("p1").GetEtag(); got != before {
		t.Errorf("the etag went from %s to %s", before, got)
	}
	// One row differs: it is replaced, and when the record was made stays.
	moved := proto.Clone(kept).(*ownerv1.Person)
	moved.PostalLines, moved.CreateTime = []string{"3 Quay Street"}, nil
	ended := tieRow(am0147, "t1", "p1", ownerv1.Role_ROLE_OWNER, 2020)
	ended.GetTie().EndDate = day(2026, 1, 1)
	if r, err := h.load(t, "i3", []*ownerv1.OwnerRow{personRow(moved), personRow(person("p2")), ended}); err != nil || r.GetWritten() != 2 || r.GetUnchanged() != 1 {
		t.Errorf("rows that differ: got %v, %v", r, err)
	}
	if p := get("p1"); p.GetPostalLines()[0] != "3 Quay Street" || !proto.Equal(p.GetCreateTime(), kept.GetCreateTime()) {
		t.Errorf("got %v", p)
	}
	list, err := works.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + am0147})
	if err != nil || len(list.GetTies()) != 2 || !proto.Equal(list.GetTies()[0].GetEndDate(), day(2026, 1, 1)) {
		t.Errorf("got %v, %v", list, err)
	}
	// A commit again, after the answer got lost, is no error.
	if _, err := works.CommitImport(ctx, &ownerv1.CommitImportRequest{ImportId: "i3", Chunks: 1}); err != nil {
		t.Error(err)
	}
}

func TestAnImportWithAFaultWritesNothing(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	am0147 := serial(t, "AM0147")
	bad := person("p2")
	bad.Email, bad.TimeZone = "nobody", ""
	_, err := h.load(t, "staged", []*ownerv1.OwnerRow{personRow(person("p1")), personRow(bad), {}, tieRow("AM0147X", "t1", "p1", ownerv1.Role_ROLE_UNSPECIFIED, 2020)})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	for _, field := range []string{"rows[1].person.email", "rows[1].person.time_zone", "rows[2]", "rows[3].tie.name", "rows[3].tie.role"} {
		if !strings.Contains(err.Error(), field+": got") {
			t.Errorf("%s is not named in %v", field, err)
		}
	}
	_, err = h.load(t, "committed", []*ownerv1.OwnerRow{
		personRow(person("p1")), personRow(person("p1")),
		tieRow(am0147, "t1", "p9", ownerv1.Role_ROLE_OWNER, 2020),
		tieRow(am0147, "t2", "p1", ownerv1.Role_ROLE_OWNER, 2020), tieRow(am0147, "t3", "p1", ownerv1.Role_ROLE_OWNER, 2021),
	})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	ties := "rows[vehicles/" + am0147 + "/ties/"
	for _, field := range []string{"rows[people/p1]", ties + "t1].person", ties + "t2].start_date", ties + "t3].start_date"} {
		if !strings.Contains(err.Error(), field+": got") {
			t.Errorf("%s is not named in %v", field, err)
		}
	}
	_, err = h.load(t, "large", make([]*ownerv1.OwnerRow, 101))
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	ctx, works := h.works()
	_, err = works.CommitImport(ctx, &ownerv1.CommitImportRequest{ImportId: "nothing staged", Chunks: 1})
	if err == nil {
		t.Error("an import of nothing took effect")
	}
	if list, err := works.ListPeople(ctx, &ownerv1.ListPeopleRequest{}); err != nil || len(list.GetPeople()) > 0 {
		t.Errorf("got %v, %v", list, err)
	}
}

func TestAnExportComesBackAfterAnErasure(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	erased, s := h.create(t, "p1"), serial(t, "AM0147")
	h.create(t, "p2")
	h.tie(t, s, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	h.tie(t, s, "p2", ownerv1.Role_ROLE_PAYER, day(2020, 6, 1))
	ctx, works := h.works()
	list := func() []*ownerv1.OwnerRow {
		t.Helper()
		r, err := works.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/-"})
		if err != nil {
			t.Fatal(err)
		}
		var rows []*ownerv1.OwnerRow
		for _, tie := range r.GetTies() {
			tie.Etag = ""
			rows = append(rows, &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Tie{Tie: tie}})
		}
		return rows
	}
	before := list()
	if _, err := works.ErasePerson(ctx, &ownerv1.ErasePersonRequest{Name: "people/p1", Etag: erased.GetEtag(), Ground: "asked for", EndTies: true}); err != nil {
		t.Fatal(err)
	}
	if r, err := h.load(t, "after", list()); err != nil || r.GetWritten() != 0 || r.GetUnchanged() != 2 {
		t.Errorf("unchanged: got %v, %v", r, err)
	}
	// What was exported before says that the tie lasts: nobody is tied to
	// anything after they were erased.
	_, err := h.load(t, "before", before)
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	if !strings.Contains(fmt.Sprint(err), "].person: got") {
		t.Errorf("got %v", err)
	}
	ended := func(person string, end int32) error {
		row := tieRow(s, "t9", person, ownerv1.Role_ROLE_CARETAKER, 2019)
		row.GetTie().EndDate = day(end, 1, 1)
		_, err := h.load(t, fmt.Sprint(person, end), []*ownerv1.OwnerRow{row})
		return err
	}
	wantReason(t, ended("p1", 2027), codes.InvalidArgument, "INVALID_FIELD")
	wantReason(t, ended("p3", 2020), codes.InvalidArgument, "INVALID_FIELD") // nobody ever
	if err := ended("p1", 2020); err != nil {
		t.Errorf("another tie of theirs that has ended: %v", err)
	}

	// Another house knows of the erasure by the same import.
	r, err := works.ListErasures(ctx, &ownerv1.ListErasuresRequest{})
	if err != nil || len(r.GetErasures()) != 1 {
		t.Fatal(r, err)
	}
	erasure := r.GetErasures()[0]
	after := append(list(), personRow(person("p2")), &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Erasure{Erasure: erasure}})
	h = open(t, etcdtest.Client(t), keyFile(t))
	ctx, works = h.works()
	for n, want := range []int32{int32(len(after)), 0} {
		if r, err := h.load(t, fmt.Sprint("elsewhere", n), after); err != nil || r.GetWritten() != want || int(r.GetUnchanged()+want) != len(after) {
			t.Errorf("elsewhere: got %v, %v, want %d written", r, err, want)
		}
	}
	if r, err := works.ListErasures(ctx, &ownerv1.ListErasuresRequest{}); err != nil || len(r.GetErasures()) != 1 || !proto.Equal(r.GetErasures()[0], erasure) {
		t.Errorf("got %v, %v, want %v", r, err, erasure)
	}
	_, err = works.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: person("p1")})
	wantReason(t, err, codes.AlreadyExists, "PERSON_ERASED")
}

func TestAnImportErasesNobody(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	erasure := func(of string) *ownerv1.Erasure {
		return &ownerv1.Erasure{Name: of, CreateTime: timestamppb.New(today), Ground: "asked for"}
	}
	load := func(id string, rows ...*ownerv1.OwnerRow) string {
		_, err := h.load(t, id, rows)
		return fmt.Sprint(err)
	}
	row := func(e *ownerv1.Erasure) *ownerv1.OwnerRow {
		return &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Erasure{Erasure: e}}
	}
	bare := erasure("erasures/p3")
	bare.CreateTime, bare.Ground = nil, ""
	odd := erasure("erasures/p3")
	odd.CreateTime = &timestamppb.Timestamp{Seconds: 1 << 60}
	for name, c := range map[string]struct{ got, want string }{
		"somebody who is there":     {load("a", row(erasure("erasures/p1"))), "rows[erasures/p1].name: got"},
		"somebody in the import":    {load("b", row(erasure("erasures/p2")), personRow(person("p2"))), "rows[erasures/p2].name: got"},
		"twice":                     {load("c", row(erasure("erasures/p3")), row(erasure("erasures/p3"))), "rows[erasures/p3]: got"},
		"a name of another kind":    {load("d", row(erasure("people/p3"))), "rows[0].erasure.name: got"},
		"without time and a ground": {load("e", row(bare)), "rows[0].erasure.create_time: got"},
		"a time of no calendar":     {load("f", row(odd)), "rows[0].erasure.create_time: got"},
		"somebody else":             {load("g", row(erasure("erasures/p3"))), "<nil>"},
		"again, another":            {load("h", row(&ownerv1.Erasure{Name: "erasures/p3", CreateTime: timestamppb.New(today), Ground: "other"})), "rows[erasures/p3].name: got"},
	} {
		if !strings.Contains(c.got, c.want) {
			t.Errorf("%s: got %s, want %s", name, c.got, c.want)
		}
	}
	ctx, works := h.works()
	if _, err := works.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/p1"}); err != nil {
		t.Error(err)
	}
}

func TestACommittedImportIsCarriedToItsEndAtTheNextStart(t *testing.T) {
	client, key := etcdtest.Client(t), keyFile(t)
	h := open(t, client, key)
	ctx, works := h.works()
	const chunks = 3
	for n := range chunks {
		rows := []*ownerv1.OwnerRow{personRow(person(fmt.Sprintf("p%d", n)))}
		if _, err := works.StageImport(ctx, &ownerv1.StageImportRequest{ImportId: "i1", Sequence: int32(n), Rows: rows}); err != nil {
			t.Fatal(err)
		}
	}
	h.close()
	// The process ends right after the marker is set, before anything is
	// applied: an applier that fails stands for it.
	log := staging.New(kv.NewStore(client), "owner", dying{})
	master, err := ownerstore.LoadMasterKey(key)
	if err != nil {
		t.Fatal(err)
	}
	id := "i1@" + master.ID() // as ownerstore stages it
	digest, _, err := log.Review(t.Context(), id, func([]byte) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if err := log.Commit(t.Context(), id, chunks, digest); err == nil {
		t.Fatal("the process did not die")
	}
	h = open(t, client, key)
	ctx, works = h.works()
	if list, err := works.ListPeople(ctx, &ownerv1.ListPeopleRequest{}); err != nil || len(list.GetPeople()) != chunks {
		t.Errorf("got %v, %v", list, err)
	}
}

// TestTenThousandPeopleFitInMemory prints what they cost; the whole process
// has 400 MB for a fleet of that size.
func TestTenThousandPeopleFitInMemory(t *testing.T) {
	racetest.Skip(t, "the detector takes memory of its own")
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	client, key := etcdtest.Client(t), keyFile(t)
	h := open(t, client, key)
	const people, perChunk = 10_000, 50
	var chunks [][]*ownerv1.OwnerRow
	for n := 0; n < people; n += perChunk {
		var rows []*ownerv1.OwnerRow
		for i := n; i < n+perChunk; i++ {
			id := fmt.Sprintf("p%05d", i)
			rows = append(rows, personRow(person(id)), tieRow(issuable(i), "t1", id, ownerv1.Role_ROLE_OWNER, 2020))
		}
		chunks = append(chunks, rows)
	}
	r, err := h.load(t, "fleet", chunks...)
	if err != nil || r.GetWritten() != 2*people {
		t.Fatal(r, err)
	}
	h.close()
	chunks = nil
	before := heap()
	s, err := ownerrpc.New(t.Context(), ownerrpc.Config{Store: kv.NewStore(client), MasterKeyPath: key, Group: &projection.Group{}, Clock: h.clock})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	grown := float64(heap()-before) / (1 << 20)
	runtime.KeepAlive(s)
	t.Logf("%d people with a tie each: %.1f MiB", people, grown)
	if grown > 40 { // a tenth of what the process has
		t.Errorf("%.1f MiB", grown)
	}
}

func heap() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// issuable gives a serial for each number: where the check character of one
// body is never issued, another body serves.
func issuable(n int) string {
	for _, letter := range "ABCDE" {
		if s, err := vehicle.NewSerial(fmt.Sprintf("%c%05d", letter, n)); err == nil {
			return string(s)
		}
	}
	panic("no serial can be issued")
}

// dying is an applier of a process that ends.
type dying struct{}

func (dying) Apply(context.Context, []byte) error { return errors.New("the process ended") }
