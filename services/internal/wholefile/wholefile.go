// Package wholefile writes files that are there whole or not at all, also after a
// power cut: beside their place, down to the disk, and then into it by one step.
package wholefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// head begins the name of a file that is not all there.
const head = ".writing-"

// Replace puts a file for its owner alone (mode 0600) in place, of whatever is
// there. When it fails, what was there stays.
func Replace(path string, content []byte) error { return place(path, content, os.Rename) }

// Create puts a new file for its owner alone (mode 0600) in place. One that is
// there already stays, and is an error that is fs.ErrExist: of two that make the
// same file, one wins.
func Create(path string, content []byte) error { return place(path, content, os.Link) }

func place(path string, content []byte, put func(from, to string) error) error {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, head+"*") // with mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already where it was renamed
	_, err = f.Write(content)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := put(f.Name(), path); err != nil {
		return err
	}
	return SyncDir(dir)
}

// SyncDir makes what was named anew in a directory, or removed from it, last
// through a power cut.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Half reports whether a name is that of a file that is not all there.
func Half(name string) bool { return strings.HasPrefix(filepath.Base(name), head) }

// Sweep removes what a process that was killed left half written in a directory
// and those in it. It is for the start, before anybody writes. A directory that
// is not there, or has no name, holds nothing; one within it that may not be read,
// as the lost+found of a disk, holds nothing of ours.
func Sweep(dir string) error {
	if dir == "" {
		return nil
	}
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	errs := []error{err, removeHalf(dir, entries)}
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		within := filepath.Join(dir, e.Name())
		entries, err := os.ReadDir(within)
		if err != nil && !errors.Is(err, fs.ErrPermission) {
			errs = append(errs, err)
		}
		errs = append(errs, removeHalf(within, entries))
	}
	return errors.Join(errs...)
}

func removeHalf(dir string, entries []fs.DirEntry) error {
	var errs []error
	for _, e := range entries {
		if !Half(e.Name()) {
			continue
		}
		if err := os.Remove(filepath.Join(dir, e.Name())); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
