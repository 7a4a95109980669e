package ownerstore

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// former puts somebody on record whose last tie ended on a day; none for the
// zero day.
func (o *office) former(t *testing.T, id string, ended vehicle.Date, hold string) {
	t.Helper()
	made := time.Date(2019, 1, 1, 0, 0, 0, 0, time.UTC)
	p := owner.Person{ID: id, FullName: "Somebody " + id, TimeZone: "UTC", Created: made, Hold: hold}
	if _, _, err := o.CreatePerson(t.Context(), p, "", nil); err != nil {
		t.Fatal(err)
	}
	if err := o.Follow(t.Context()); err != nil {
		t.Fatal(err)
	}
	rows := []Row{{Tie: &owner.Tie{Serial: "AM0147P", ID: "t" + id, Person: id, Role: owner.Caretaker, Start: vehicle.Date{Year: 2019, Month: 1, Day: 2}, End: ended}}}
	if err := o.Put(t.Context(), rows, noon); err != nil {
		t.Fatal(err)
	}
	if err := o.Follow(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// elected is the fence of an election that is won.
func (o *office) elected(t *testing.T) kv.Fence {
	t.Helper()
	r, err := o.etcd.Client().Put(t.Context(), "/elected", "me")
	if err != nil {
		t.Fatal(err)
	}
	return kv.Fence{Key: "/elected", CreateRevision: r.Header.Revision}
}

func expiredIDs(t *testing.T, o *office) (ids []string) {
	t.Helper()
	list, err := o.Expired(owner.UsualYears, vehicle.DateOf(noon))
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range list {
		if !x.Held {
			ids = append(ids, x.Person+x.Document)
		}
	}
	return ids
}

func erasesOf(t *testing.T, o *office, ids ...string) (list []Erase) {
	t.Helper()
	for _, id := range ids {
		p, err := o.Person(id)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, Erase{Etag: p.ModRevision, Erasure: owner.Erasure{Person: id, At: noon, Ground: "time", RecordedBy: "retention"}})
	}
	return list
}

func TestManyAreErasedWithOneReplacementOfTheMasterKey(t *testing.T) {
	o := newOffice(t)
	var gone []string
	for i := range MostErased {
		id := fmt.Sprintf("gone%02d", i)
		o.former(t, id, vehicle.Date{Year: 2021, Month: 5, Day: 1}, "")
		gone = append(gone, id)
	}
	o.former(t, "held", vehicle.Date{Year: 2021, Month: 5, Day: 1}, "file 1")
	o.former(t, "late", vehicle.Date{Year: 2025, Month: 5, Day: 1}, "")
	o.former(t, "tied", vehicle.Date{}, "")
	if got := expiredIDs(t, o); !slices.Equal(got, gone) {
		t.Fatalf("past their time: %v", got)
	}
	fence := o.elected(t)
	before, _, err := o.current()
	if err != nil {
		t.Fatal(err)
	}
	stale := erasesOf(t, o, gone...)
	stale[3].Etag--
	if err := o.EraseExpired(t.Context(), fence, stale); !fault.Is(err, fault.Aborted) {
		t.Fatalf("with a record that changed meanwhile: %v", err)
	}
	if got := expiredIDs(t, o); !slices.Equal(got, gone) {
		t.Fatalf("a refused erasure erased some: %v are left", got)
	}
	if err := o.EraseExpired(t.Context(), fence, erasesOf(t, o, gone...)); err != nil {
		t.Fatal(err)
	}
	after, _, err := o.current()
	if err != nil || after.ID() == before.ID() {
		t.Errorf("the master key is %s as before: %v", after.ID(), err)
	}
	for _, e := range o.Erasures() {
		if e.Destroyed != before.ID() || e.New != after.ID() {
			t.Errorf("the erasure of %s names %s and %s", e.Person, e.Destroyed, e.New)
		}
	}
	if n := len(o.Erasures()); n != MostErased {
		t.Errorf("%d erasures are on record", n)
	}
	if got := expiredIDs(t, o); len(got) != 0 {
		t.Errorf("left: %v", got)
	}
	for _, id := range []string{"held", "late", "tied"} {
		if _, err := o.Person(id); err != nil {
			t.Errorf("%s: %v", id, err)
		}
	}
	if err := o.EraseExpired(t.Context(), fence, make([]Erase, MostErased+1)); err == nil {
		t.Error("more than fit were taken")
	}
}

func TestWhoLostTheElectionRemovesNothing(t *testing.T) {
	o := newOffice(t)
	o.former(t, "gone", vehicle.Date{Year: 2021, Month: 5, Day: 1}, "")
	d := owner.Document{Person: "gone", MediaType: "image/png", Created: noon.AddDate(-3, 0, 0)}
	made, _, err := o.PutDocument(t.Context(), d, []byte("picture"), "", nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.Follow(t.Context()); err != nil {
		t.Fatal(err)
	}
	id := made.GetName()[len("people/gone/documents/"):]
	lost := kv.Fence{Key: "/nobody", CreateRevision: 1}
	if err := o.EraseExpired(t.Context(), lost, erasesOf(t, o, "gone")); !errors.Is(err, kv.ErrNotLeader) {
		t.Errorf("erasing: %v", err)
	}
	if err := o.DropDocument(t.Context(), lost, "gone", id); !errors.Is(err, kv.ErrNotLeader) {
		t.Errorf("removing a photograph: %v", err)
	}
	if content, err := o.Content("gone", id); err != nil || string(content) != "picture" {
		t.Errorf("the photograph: %q, %v", content, err)
	}
	// With the election it goes, the file with it, and a file that nobody names.
	if err := o.DropDocument(t.Context(), o.elected(t), "gone", id); err != nil {
		t.Fatal(err)
	}
	stray := o.documentPath("gone", "stray")
	if err := os.WriteFile(stray, []byte("noise"), 0o600); err != nil {
		t.Fatal(err)
	}
	kept, _, err := o.PutDocument(t.Context(), d, []byte("another"), "", nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.DropStrayFiles(t.Context()); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(o.documentPath("gone", ""))
	if err != nil || len(files) != 1 || "people/gone/documents/"+files[0].Name() != kept.GetName() {
		t.Errorf("left: %v, %v", files, err)
	}
}
