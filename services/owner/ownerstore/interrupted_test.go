package ownerstore

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/owner"
)

var errPowerCut = errors.New("the power is cut")

// cutAfter interrupts a replacement of the master key at the nth time that it
// reaches a step.
func cutAfter(step string, n int) func(string) error {
	return func(at string) error {
		if at == step {
			if n--; n == 0 {
				return errPowerCut
			}
		}
		return nil
	}
}

// crowd adds people until their keys do not fit one transaction.
func (o *office) crowd(t *testing.T) {
	t.Helper()
	var rows []Row
	for i := range wrapsPerTxn + 20 {
		rows = append(rows, Row{Person: &owner.Person{ID: fmt.Sprintf("q%03d", i), FullName: "One of many", TimeZone: "UTC"}})
	}
	if err := o.Put(t.Context(), rows, noon); err != nil {
		t.Fatal(err)
	}
}

func TestAnErasureThatIsInterruptedAnywhereGoesOnAtTheNextStart(t *testing.T) {
	for _, c := range []struct {
		step string
		nth  int
	}{
		{"new key written", 1}, {"decided", 1}, {"keys kept", 1}, {"some wrapped", 1}, {"some wrapped", 2}, {"swept", 1},
		{"new key named", 1}, {"old key overwritten", 1}, {"new key in place", 1},
	} {
		t.Run(fmt.Sprint(c.step, " ", c.nth), func(t *testing.T) {
			o := newOffice(t)
			for _, id := range sixPeople[:3] {
				o.fill(t, id)
			}
			o.crowd(t)
			before, err := LoadMasterKey(o.path)
			if err != nil {
				t.Fatal(err)
			}
			o.cut = cutAfter(c.step, c.nth)
			if err := o.erase(t, o.Store, "p002"); !errors.Is(err, errPowerCut) {
				t.Fatalf("got %v", err)
			}
			o.Close()
			s := o.open(t, o.etcd.Client())
			undone := c.step == "new key written"
			if undone {
				wantWhole(t, s, "p002")
				if err := o.erase(t, s, "p002"); err != nil {
					t.Fatal(err)
				}
			}
			o.wantErased(t, s, "p002")
			o.wantSettled(t, s, before)
			// And at yet another start nothing is left to do.
			s.Close()
			o.wantSettled(t, o.open(t, o.etcd.Client()), before)
		})
	}
}

// wantSettled wants everybody who was not erased whole, under a new master key,
// and nothing left of the way there.
func (o *office) wantSettled(t *testing.T, s *Store, before *MasterKey) {
	t.Helper()
	for _, id := range []string{"p001", "p003"} {
		wantWhole(t, s, id)
	}
	for i := range wrapsPerTxn + 20 {
		if p, err := s.Person(fmt.Sprintf("q%03d", i)); err != nil || p.FullName != "One of many" {
			t.Fatalf("q%03d: got %v, %v", i, p.FullName, err)
		}
	}
	after, err := LoadMasterKey(o.path)
	if err != nil || after.ID() == before.ID() {
		t.Fatalf("the master key: %v", err)
	}
	files, err := os.ReadDir(o.secrets)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name())
	}
	if got, want := strings.Join(names, " "), "master.key master.key.lock people-keys-"+after.ID()+".sealed"; got != want {
		t.Errorf("among the secrets are %s, want %s", got, want)
	}
	p := owner.Person{ID: fmt.Sprintf("new-%d", s.Revision()), FullName: "New", TimeZone: "UTC"}
	if _, _, err := s.CreatePerson(t.Context(), p, "", nil); err != nil {
		t.Errorf("nobody new is taken in: %v", err)
	}
}

func TestARestoredStoreIsBroughtUpToTheMasterKeyHoweverOftenThatIsInterrupted(t *testing.T) {
	o := newOffice(t)
	for _, id := range sixPeople[:4] {
		o.fill(t, id)
	}
	o.crowd(t)
	_, snapshot := o.snapshot(t)
	// The second erasure and somebody new come after; the snapshot is two master
	// keys old.
	for _, id := range []string{"p002", "p004"} {
		if err := o.erase(t, o.Store, id); err != nil {
			t.Fatal(err)
		}
	}
	o.fill(t, "p006")
	o.Close()
	for _, c := range []struct {
		step string
		nth  int
	}{{"erased again", 1}, {"some wrapped", 1}, {"some wrapped", 2}, {"never", 1}} {
		t.Run(fmt.Sprint(c.step, " ", c.nth), func(t *testing.T) {
			dir := t.TempDir()
			if err := embedetcd.Restore(snapshot, dir, nil); err != nil {
				t.Fatal(err)
			}
			client := etcdtest.StartIn(t, embedetcd.Config{Dir: dir}).Client()
			s := o.interrupted(t, o.config(client), cutAfter(c.step, c.nth))
			if s == nil {
				s = o.open(t, client)
			}
			for _, id := range []string{"p002", "p004"} {
				o.wantErased(t, s, id)
			}
			for _, id := range []string{"p001", "p003"} {
				wantWhole(t, s, id)
			}
			for i := range wrapsPerTxn + 20 {
				if p, err := s.Person(fmt.Sprintf("q%03d", i)); err != nil || p.FullName != "One of many" {
					t.Fatalf("q%03d: got %v, %v", i, p.FullName, err)
				}
			}
			if s.HasPerson("p006") {
				t.Error("somebody from after the snapshot is in it")
			}
		})
	}
}

// interrupted opens a store that is cut short on its way; nil when it was.
func (o *office) interrupted(t *testing.T, c Config, cut func(string) error) *Store {
	t.Helper()
	s, err := openCut(t.Context(), c, cut)
	switch {
	case errors.Is(err, errPowerCut):
		return nil
	case err != nil:
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// Whoever was created after an erasure, and then stands in no kept keys, is in
// a later snapshot under the present master key; the kept keys of the next
// erasure take them along.
func TestASnapshotFromBetweenTwoErasuresGivesWhoCameBetweenThem(t *testing.T) {
	o := newOffice(t)
	o.fill(t, "p001")
	o.fill(t, "p002")
	if err := o.erase(t, o.Store, "p001"); err != nil {
		t.Fatal(err)
	}
	o.fill(t, "p003")
	o.fill(t, "p004")
	_, snapshot := o.snapshot(t)
	if err := o.erase(t, o.Store, "p004"); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := embedetcd.Restore(snapshot, dir, nil); err != nil {
		t.Fatal(err)
	}
	s := o.open(t, etcdtest.StartIn(t, embedetcd.Config{Dir: dir}).Client())
	wantWhole(t, s, "p002")
	wantWhole(t, s, "p003")
	o.wantErased(t, s, "p001")
	o.wantErased(t, s, "p004")
	if err := o.erase(t, s, "p003"); err != nil {
		t.Fatal(err)
	}
	o.wantErased(t, s, "p003")
	wantWhole(t, s, "p002")
}

func TestAProcessWithTheOldMasterKeyRefusesUntilItHasTheNewOne(t *testing.T) {
	o := newOffice(t)
	o.fill(t, "p001")
	o.fill(t, "p002")
	elsewhere := t.TempDir() // another machine of the split
	copySecret := func() {
		t.Helper()
		raw, err := os.ReadFile(o.path)
		if err == nil {
			err = os.WriteFile(filepath.Join(elsewhere, "master.key"), raw, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	copySecret()
	c := o.config(o.etcd.Client())
	c.MasterKeyPath = filepath.Join(elsewhere, "master.key")
	other, err := Open(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(other.Close)
	wantWhole(t, other, "p001")
	if err := o.erase(t, o.Store, "p002"); err != nil {
		t.Fatal(err)
	}
	if err := other.Follow(t.Context()); err != nil {
		t.Fatal(err)
	}
	wantReason := func(err error, want string) {
		t.Helper()
		var f *fault.Error
		if !errors.As(err, &f) || f.Reason != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
	_, err = other.Person("p001")
	wantReason(err, "MASTER_KEY_REPLACED")
	_, _, err = other.CreatePerson(t.Context(), owner.Person{ID: "p009", FullName: "New", TimeZone: "UTC"}, "", nil)
	wantReason(err, "MASTER_KEY_REPLACED")
	if _, err := Open(t.Context(), c); err == nil {
		t.Error("it starts with the old master key")
	} else {
		wantReason(err, "MASTER_KEY_REPLACED")
	}
	_, err = other.Person("p002")
	if !fault.Is(err, fault.NotFound) {
		t.Errorf("the erased person: got %v", err)
	}
	copySecret()
	wantWhole(t, other, "p001")
}

func TestAMasterKeyThatTheStoreNeverHadIsRefused(t *testing.T) {
	o := newOffice(t)
	o.fill(t, "p001")
	o.fill(t, "p002")
	if err := o.erase(t, o.Store, "p002"); err != nil {
		t.Fatal(err)
	}
	foreign := newOffice(t) // of another works, with an erasure of its own
	foreign.fill(t, "p001")
	foreign.fill(t, "p002")
	if err := foreign.erase(t, foreign.Store, "p002"); err != nil {
		t.Fatal(err)
	}
	foreign.Close()
	foreign.files = o.files
	_, err := foreign.tryOpen(t, o.etcd.Client())
	var f *fault.Error
	if !errors.As(err, &f) || f.Reason != "MASTER_KEY_DIFFERS" {
		t.Errorf("got %v", err)
	}
	wantWhole(t, o.Store, "p001")
}

func TestPeopleAreTakenInWhileSomebodyIsErased(t *testing.T) {
	o := newOffice(t)
	o.fill(t, "p001")
	o.crowd(t)
	var made sync.WaitGroup
	for i := range 20 {
		made.Go(func() {
			p := owner.Person{ID: fmt.Sprintf("n%03d", i), FullName: "New", TimeZone: "UTC"}
			for {
				_, _, err := o.CreatePerson(t.Context(), p, "", nil)
				if fault.Is(err, fault.Aborted) || fault.Is(err, fault.Unavailable) {
					continue // as a caller would
				}
				if err != nil {
					t.Error(err)
				}
				return
			}
		})
	}
	if err := o.erase(t, o.Store, "p001"); err != nil {
		t.Fatal(err)
	}
	made.Wait()
	o.follow(t)
	for i := range 20 {
		if _, err := o.Person(fmt.Sprintf("n%03d", i)); err != nil {
			t.Error(err)
		}
	}
}
