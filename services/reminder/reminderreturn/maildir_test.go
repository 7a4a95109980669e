package reminderreturn

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// maildir makes an empty one and the desk it hands to.
func maildir(t *testing.T) (*desk, Maildir) {
	t.Helper()
	d := &desk{}
	m := Maildir{Dir: t.TempDir(), Take: d.take, Logger: d.logger()}
	for _, sub := range []string{"new", "cur", "tmp"} {
		if err := os.Mkdir(filepath.Join(m.Dir, sub), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	return d, m
}

func (m Maildir) put(t *testing.T, name string, message []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(m.Dir, name), message, 0o600); err != nil {
		t.Fatal(err)
	}
}

// stands lists all files.
func (m Maildir) stands(t *testing.T) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(m.Dir, "*", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range files {
		files[i], _ = filepath.Rel(m.Dir, files[i])
	}
	return strings.Join(files, " ")
}

func (m Maildir) scan(t *testing.T, want int) {
	t.Helper()
	if taken, err := m.Scan(t.Context()); err != nil || taken != want {
		t.Errorf("took %d, %v; want %d", taken, err, want)
	}
}

func TestADirectoryIsTakenOnce(t *testing.T) {
	d, m := maildir(t)
	person := sample(t, "person")
	m.put(t, "new/1002.a.host", append([]byte("Delivered-To: "+path.Address("b")+"\nX-Original-To: "+path.Address("b")+"\n"), person...))
	m.put(t, "new/1001.a.host", person)
	m.put(t, "cur/1000.a.host:2,FT", person) // a mail program moved it, nobody read it
	m.put(t, "cur/0999.a.host:2,S", person)  // taken before
	m.put(t, "tmp/1003.a.host", person)      // not there yet
	m.put(t, "new/.hidden", person)
	m.scan(t, 3)
	m.scan(t, 0)
	want := "cur/0999.a.host:2,S cur/1000.a.host:2,FST cur/1001.a.host:2,S cur/1002.a.host:2,S new/.hidden tmp/1003.a.host"
	if got := m.stands(t); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if len(d.taken) != 3 || !bytes.Equal(d.taken[0].message, person) || !slices.Equal(d.taken[0].recipients, []string{path.Address(theirs)}) ||
		!slices.Equal(d.taken[1].recipients, []string{path.Address("b"), path.Address(theirs)}) {
		t.Errorf("taken %q", d.taken)
	}
}

func TestOneBadFileStopsNothing(t *testing.T) {
	d, m := maildir(t)
	full := errors.New("the store is full")
	d.does = func(message []byte) error {
		_, err := Parse(message)
		if bytes.Contains(message, []byte("no room")) {
			return full
		}
		return err
	}
	m.put(t, "new/1.host", []byte("no message, secret words"))
	m.put(t, "new/2.host", []byte("Subject: no room\n\n"))
	m.put(t, "new/3.host", append(sample(t, "person"), make([]byte, MostBytes)...))
	m.put(t, "new/4.host", sample(t, "person"))
	if err := os.Mkdir(filepath.Join(m.Dir, "new/5.host"), 0o700); err != nil {
		t.Fatal(err)
	}
	elsewhere := filepath.Join(t.TempDir(), "message")
	if err := os.WriteFile(elsewhere, sample(t, "person"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(elsewhere, filepath.Join(m.Dir, "new/6.host")); err != nil {
		t.Fatal(err)
	}
	if taken, err := m.Scan(t.Context()); taken != 1 || !errors.Is(err, full) {
		t.Errorf("took %d, %v", taken, err)
	}
	if got, want := m.stands(t), "aside/1.host aside/3.host aside/5.host aside/6.host cur/4.host:2,S new/2.host"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if log := d.log.String(); strings.Count(log, "put aside") != 4 || strings.Contains(log, "secret words") || strings.Contains(log, "@") {
		t.Errorf("the log says %s", log)
	}
	d.does = nil
	m.scan(t, 1)
}

func TestAScanEndsWithItsContext(t *testing.T) {
	d, m := maildir(t)
	m.put(t, "new/1.host", sample(t, "person"))
	m.put(t, "new/2.host", sample(t, "person"))
	ctx, cancel := context.WithCancel(t.Context())
	d.does = func([]byte) error { cancel(); return nil }
	if taken, err := m.Scan(ctx); taken != 1 || !errors.Is(err, context.Canceled) {
		t.Errorf("took %d, %v", taken, err)
	}
	m.Dir = filepath.Join(m.Dir, "nowhere")
	if _, err := m.Scan(t.Context()); !errors.Is(err, os.ErrNotExist) || fault.Is(err, fault.Invalid) {
		t.Errorf("no such directory: %v", err)
	}
}
