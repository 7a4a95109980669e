package ownerstore

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/owner"
)

// Whoever has the picture finds neither its digest among the keys and files of a
// person, nor the same name with another person.
func TestTheNameOfADocumentProvesNothing(t *testing.T) {
	o := newOffice(t)
	picture := []byte("a picture that others have as well")
	keep := func(person string) string {
		t.Helper()
		d, _, err := o.PutDocument(t.Context(), owner.Document{Person: person, MediaType: "image/jpeg", Created: noon}, picture, "", nil)
		if err != nil {
			t.Fatal(err)
		}
		o.follow(t)
		return filepath.Base(d.GetName())
	}
	for _, id := range []string{"p001", "p002"} {
		if _, _, err := o.CreatePerson(t.Context(), owner.Person{ID: id, FullName: "Somebody", TimeZone: "UTC"}, "", nil); err != nil {
			t.Fatal(err)
		}
	}
	o.follow(t)
	first := keep("p001")
	if again := keep("p001"); again != first || len(o.DocumentIDs("p001")) != 1 {
		t.Errorf("the same picture again is %s beside %s", again, first)
	}
	if other := keep("p002"); other == first {
		t.Error("two people's documents have one name, by which they are known to hold the same picture")
	}
	sum := sha256.Sum256(picture)
	all, err := o.etcd.Client().Get(t.Context(), documentsPrefix, clientv3.WithPrefix())
	if err != nil || len(all.Kvs) != 2 {
		t.Fatal(all, err)
	}
	var names []string
	for _, e := range all.Kvs {
		names = append(names, string(e.Key), string(e.Value))
	}
	err = filepath.WalkDir(o.files, func(path string, _ fs.DirEntry, err error) error {
		names = append(names, path)
		return err
	})
	if err != nil || len(names) != 4+5 {
		t.Fatal(names, err)
	}
	if text := strings.Join(names, "\n"); strings.Contains(text, hex.EncodeToString(sum[:])) || strings.Contains(text, string(sum[:])) {
		t.Errorf("the digest of the picture is among\n%q", names)
	}
	if got, err := o.Content("p001", first); err != nil || string(got) != string(picture) {
		t.Errorf("got %q, %v", got, err)
	}
}
