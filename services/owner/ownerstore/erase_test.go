package ownerstore

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

var noon = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

func clock() time.Time { return noon }

// office is a store of people over a real etcd, with its files.
type office struct {
	*Store
	etcd    *embedetcd.Server
	data    string // etcd's directory, with its log
	secrets string
	files   string // documents
}

func newOffice(t *testing.T) *office {
	t.Helper()
	o := &office{data: t.TempDir(), secrets: t.TempDir(), files: t.TempDir()}
	o.etcd = etcdtest.StartIn(t, embedetcd.Config{Dir: o.data})
	o.Store = o.open(t, o.etcd.Client())
	return o
}

// open starts a store over a client with the office's secrets and files.
func (o *office) open(t *testing.T, client *clientv3.Client) *Store {
	t.Helper()
	s, err := o.tryOpen(t, client)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (o *office) tryOpen(t *testing.T, client *clientv3.Client) (*Store, error) {
	s, err := Open(t.Context(), o.config(client))
	if err == nil {
		s.pause = func(ctx context.Context, _ time.Duration) error { <-ctx.Done(); return ctx.Err() } // nothing goes on by itself
		t.Cleanup(s.Close)
	}
	return s, err
}

func (o *office) config(client *clientv3.Client) Config {
	return Config{
		Store: kv.NewStore(client), MasterKeyPath: filepath.Join(o.secrets, "master.key"), Documents: o.files, Clock: clock,
	}
}

// value is something personal that was kept, sealed, with where it belongs.
type value struct {
	person  string
	sealed  []byte
	binding []byte
}

// marked is a text that is found wherever it stands in clear.
func marked(person string, n int) string { return fmt.Sprintf("MARKED-%s-%03d", person, n) }

// fill gives a person as many marked values as the records hold, and returns
// their number and what other services would keep of them.
func (o *office) fill(t *testing.T, id string) (n int, kept []value) {
	t.Helper()
	next := func() string { n++; return marked(id, n) }
	p := owner.Person{ID: id, FullName: next(), Email: next() + "@mail.example", Phone: "+441632960" + id[len(id)-3:], TimeZone: "Europe/London", Created: noon}
	n++ // the number
	for range 10 {
		p.PostalLines = append(p.PostalLines, next())
	}
	made, _, err := o.CreatePerson(t.Context(), p, uuidOf(id, 1), personProto(p))
	if err != nil {
		t.Fatal(err)
	}
	o.follow(t)
	for i := range 40 {
		c := owner.Consent{ID: fmt.Sprintf("c%02d", i), Person: id, Purpose: owner.Service, Given: true, Wording: next(), Said: noon, Source: owner.ByPage, Created: noon}
		if _, _, err := o.RecordConsent(t.Context(), c, uuidOf(id, 100+i), made); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 10 {
		d := owner.Document{Person: id, MediaType: "image/jpeg", Title: next(), Created: noon}
		if _, _, err := o.PutDocument(t.Context(), d, []byte(next()), uuidOf(id, 200+i), made); err != nil {
			t.Fatal(err)
		}
	}
	for range 20 {
		plain := next()
		sealed, err := o.Seal(id, "notice", []byte(plain))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := o.etcd.Client().Put(t.Context(), "/halfshaft/v1/reminder/"+plain[len("MARKED-"):], string(sealed)); err != nil {
			t.Fatal(err)
		}
		kept = append(kept, value{id, sealed, bound(forService, id, "notice")})
	}
	o.follow(t)
	record, err := o.bare(id)
	if err != nil {
		t.Fatal(err)
	}
	record.Person = record.Marked(owner.Undeliverable{Way: owner.Mail, Since: noon, Reason: next()})
	if _, _, err := o.ReplacePerson(t.Context(), record, uuidOf(id, 300), made); err != nil {
		t.Fatal(err)
	}
	o.follow(t)
	return n, kept
}

func (o *office) follow(t *testing.T) {
	t.Helper()
	if err := o.Follow(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// everSealed gives every sealed value that the owner's store ever wrote, by
// watching etcd from its first revision, and every file.
func (o *office) everSealed(t *testing.T) []value {
	t.Helper()
	var out []value
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	now, err := o.etcd.Client().Get(ctx, "x")
	if err != nil {
		t.Fatal(err)
	}
	watch := o.etcd.Client().Watch(ctx, "/", clientv3.WithPrefix(), clientv3.WithRev(1))
	for at := int64(0); at < now.Header.Revision; {
		r := <-watch
		if err := r.Err(); err != nil {
			t.Fatal(err)
		}
		for _, e := range r.Events {
			at = e.Kv.ModRevision
			if v, ok := sealedValue(string(e.Kv.Key), e.Kv.Value); ok {
				out = append(out, v)
			}
		}
	}
	err = filepath.WalkDir(o.files, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		person := filepath.Base(filepath.Dir(path))
		out = append(out, value{person, raw, bound(forFile, person, d.Name())})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sealedValue(key string, raw []byte) (value, bool) {
	const head = 1 + 8 + 32 // of a remembered request: see kv.Txn.Once
	if strings.HasPrefix(key, kv.Prefix("requests")+Service+"/") && len(raw) > head {
		var kept ownerv1.OpenForPersonRequest
		if err := proto.Unmarshal(raw[head:], &kept); err == nil && len(kept.GetSealed()) > 0 {
			person := strings.TrimPrefix(kept.GetPerson(), "people/")
			return value{person, kept.GetSealed(), bound(forAnswer, person)}, true
		}
	}
	rest, ours := strings.CutPrefix(key, prefix)
	if !ours || len(raw) == 0 {
		return value{}, false
	}
	parts := strings.Split(rest, "/")
	switch parts[0] {
	case "people":
		return value{parts[1], raw, bound(forRecord, parts[1])}, true
	case "consents":
		return value{parts[1], raw, bound(forConsent, parts[1], parts[2])}, true
	case "documents":
		return value{parts[1], raw, bound(forTitle, parts[1], parts[2])}, true
	}
	return value{}, false
}

// blobs reads every file below some directories.
func blobs(t *testing.T, dirs ...string) [][]byte {
	t.Helper()
	var out [][]byte
	for _, dir := range dirs {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			raw, err := os.ReadFile(path)
			out = append(out, bytes.TrimRight(raw, "\x00")) // etcd sets room aside
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// keysIn gives every key of a person that a master key unwraps from anywhere in
// the bytes: each place where sealed bytes may begin is tried, whatever stands
// before it.
func keysIn(m *MasterKey, blobs [][]byte, people []string) map[string][]personKey {
	const length = 1 + 12 + keyBytes + 16 // version, nonce, key, tag
	bindings := map[string][]byte{}
	for _, p := range people {
		bindings[p] = bound(forWrap, p)
	}
	out := map[string][]personKey{}
	for _, blob := range blobs {
		for at := 0; at+length <= len(blob); at++ {
			if blob[at] != sealVersion {
				continue
			}
			for person, binding := range bindings {
				secret, err := m.wrap.Open(nil, blob[at+1:at+13], blob[at+13:at+length], binding)
				if err != nil {
					continue
				}
				if key, err := newPersonKey(secret); err == nil {
					out[person] = append(out[person], key)
				}
			}
		}
	}
	return out
}

// readable counts, by person, the values that any of the keys opens.
func readable(values []value, keys map[string][]personKey) map[string]int {
	var all []personKey
	for _, k := range keys {
		all = append(all, k...)
	}
	out := map[string]int{}
	for _, v := range values {
		if slices.ContainsFunc(all, func(k personKey) bool { _, err := open(k, v.sealed, v.binding); return err == nil }) {
			out[v.person]++
		}
	}
	return out
}

func count(values []value) map[string]int {
	out := map[string]int{}
	for _, v := range values {
		out[v.person]++
	}
	return out
}

func (o *office) erase(t *testing.T, s *Store, id string) error {
	t.Helper()
	p, err := s.bare(id)
	if err != nil {
		t.Fatal(err)
	}
	e := Erase{Erasure: owner.Erasure{Person: id, At: noon, Ground: "asked for", RecordedBy: "works"}, Etag: p.ModRevision, EndTies: true}
	_, err = s.Erase(t.Context(), e, uuidOf(id, 900), nil)
	return err
}

func uuidOf(id string, n int) string {
	return fmt.Sprintf("0190c5a2-7f3e-7b1d-9a44-%s%09d", id[len(id)-3:], n)
}

// snapshot writes etcd's database to a file, as a backup does.
func (o *office) snapshot(t *testing.T) (dir, path string) {
	t.Helper()
	from, err := o.etcd.Client().Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	dir = t.TempDir()
	path = filepath.Join(dir, "snapshot.db")
	to, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = io.Copy(to, from)
	if err := errors.Join(err, to.Close()); err != nil {
		t.Fatal(err)
	}
	return dir, path
}

var (
	sixPeople = []string{"p001", "p002", "p003", "p004", "p005", "p006"}
	erased    = []string{"p003", "p005"}
)

// The promise of an erasure, on the disk: with everything that is there, the
// snapshot from before and the present master key, nothing of the erased people
// can be opened and everything of the others can.
func TestNothingOfAnErasedPersonCanBeReadAnywhereOnTheDisk(t *testing.T) {
	o := newOffice(t)
	total := 0
	var values []value
	for _, id := range sixPeople {
		n, kept := o.fill(t, id)
		total += n
		values = append(values, kept...)
	}
	if total < 500 {
		t.Fatalf("only %d marked values", total)
	}
	tie := owner.Tie{Serial: "AM0147P", ID: "t1", Person: "p003", Role: owner.Owner, Start: vehicle.MustDate(2020, time.May, 1)}
	if _, err := o.CreateTie(t.Context(), tie, 0, "", nil); err != nil {
		t.Fatal(err)
	}
	backup, snapshot := o.snapshot(t)
	oldMaster, err := LoadMasterKey(o.path)
	if err != nil {
		t.Fatal(err)
	}
	values = append(values, o.everSealed(t)...)
	all := count(values)

	// Two, one after the other, since the keys that the first erasure kept hold
	// the second person's.
	for _, id := range erased {
		if err := o.erase(t, o.Store, id); err != nil {
			t.Fatal(err)
		}
	}

	there := blobs(t, o.data, backup, o.secrets, o.files)
	for _, id := range sixPeople {
		for n := range 200 {
			for _, blob := range there {
				if bytes.Contains(blob, []byte(marked(id, n))) {
					t.Fatalf("%s stands on the disk in clear", marked(id, n))
				}
			}
		}
	}
	master, err := LoadMasterKey(o.path)
	if err != nil || master.ID() == oldMaster.ID() {
		t.Errorf("the master key was not replaced: %v", err)
	}
	written := []byte(base64.StdEncoding.EncodeToString(oldMaster.secret[:]))
	if slices.ContainsFunc(there, func(b []byte) bool { return bytes.Contains(b, written) || bytes.Contains(b, oldMaster.secret[:]) }) {
		t.Error("the old master key stands on the disk")
	}
	keys := keysIn(master, there, sixPeople)
	kept, _, err := o.loadKept(master)
	if err != nil {
		t.Fatal(err)
	}
	for person, secrets := range kept.People {
		for _, secret := range secrets {
			key, err := newPersonKey(secret)
			if err != nil {
				t.Fatal(err)
			}
			keys[person] = append(keys[person], key)
		}
	}
	got := readable(values, keys)
	for _, id := range sixPeople {
		want := all[id]
		if slices.Contains(erased, id) {
			want = 0
		}
		if got[id] != want {
			t.Errorf("%s: %d values can be read of %d, want %d", id, got[id], all[id], want)
		}
	}
	// The same search with the old master key finds it all, so that it does
	// find what is there: this is what a copy of the old key would give away.
	if control := readable(values, keysIn(oldMaster, there, sixPeople)); control["p003"] != all["p003"] || all["p003"] < 130 {
		t.Errorf("the search finds %d values of %d with the old master key", control["p003"], all["p003"])
	}
	for _, id := range erased {
		o.wantErased(t, o.Store, id)
	}
	if got, _ := o.Tie("AM0147P", "t1"); got.End != vehicle.DateOf(noon) {
		t.Errorf("the tie of the erased person ended %v", got.End)
	}

	t.Run("and a snapshot from before gives everybody else", func(t *testing.T) {
		dir := t.TempDir()
		if err := embedetcd.Restore(snapshot, dir, nil); err != nil {
			t.Fatal(err)
		}
		s := o.open(t, etcdtest.StartIn(t, embedetcd.Config{Dir: dir}).Client())
		for _, id := range erased {
			o.wantErased(t, s, id)
		}
		if got, _ := s.Tie("AM0147P", "t1"); got.End != vehicle.DateOf(noon) {
			t.Errorf("the tie of the erased person ended %v", got.End)
		}
		for _, id := range sixPeople {
			if !slices.Contains(erased, id) {
				wantWhole(t, s, id)
			}
		}
		if list := s.Erasures(); len(list) != 2 || list[0].Ground != "asked for" {
			t.Errorf("got %v", list)
		}
		keys := keysIn(master, blobs(t, dir), sixPeople)
		if got := readable(values, keys); got["p003"] != 0 || got["p005"] != 0 || got["p001"] != all["p001"] {
			t.Errorf("in the restored store %d values of the erased person can be read", got["p003"])
		}
	})
}

// wantErased asks every way to a person.
func (o *office) wantErased(t *testing.T, s *Store, id string) {
	t.Helper()
	_, err := s.Person(id)
	_, err2 := s.Seal(id, "notice", nil)
	consents, err3 := s.Consents(id)
	if !fault.Is(err, fault.NotFound) || !fault.Is(err2, fault.NotFound) || len(consents) > 0 || err3 != nil || len(s.DocumentIDs(id)) > 0 || !s.Erased(id) {
		t.Errorf("got %v, %v, %d consents, %v, %d documents", err, err2, len(consents), err3, len(s.DocumentIDs(id)))
	}
	if _, err := os.Stat(filepath.Join(o.files, id)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the documents are there: %v", err)
	}
	p := owner.Person{ID: id, FullName: "Somebody Else", TimeZone: "UTC"}
	if _, _, err := s.CreatePerson(t.Context(), p, "", nil); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("the identifier is given again: %v", err)
	}
}

// wantWhole asks for all that fill gave a person.
func wantWhole(t *testing.T, s *Store, id string) {
	t.Helper()
	p, err := s.Person(id)
	if err != nil || p.FullName != marked(id, 1) || len(p.PostalLines) != 10 || len(p.Undeliverable) != 1 {
		t.Errorf("%s: got %v, %v", id, p.FullName, err)
	}
	consents, err := s.Consents(id)
	if err != nil || len(consents) != 40 {
		t.Errorf("%s: %d consents, %v", id, len(consents), err)
	}
	for _, d := range s.DocumentIDs(id) {
		if raw, err := s.Content(id, d); err != nil || !bytes.HasPrefix(raw, []byte("MARKED-")) {
			t.Errorf("%s: got %q, %v", id, raw, err)
		}
	}
	if n := len(s.DocumentIDs(id)); n != 10 {
		t.Errorf("%s: %d documents", id, n)
	}
}
