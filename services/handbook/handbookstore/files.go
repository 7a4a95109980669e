package handbookstore

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// path is where a file is kept: below two letters of its digest, so that no
// directory grows large.
func (s *Store) path(digest string) string { return filepath.Join(s.dir, digest[:2], digest) }

// validDigest keeps what is not a digest out of paths.
func validDigest(digest string) bool {
	raw, err := hex.DecodeString(digest)
	return err == nil && len(raw) == sha256.Size && hex.EncodeToString(raw) == digest
}

// Keep writes a file down to the disk under the digest of its bytes, which it
// gives. It comes before the record that names it: a file without a record is
// harmless, and a record without its file is not.
func (s *Store) Keep(content []byte) (digest string, err error) {
	if s.dir == "" {
		return "", fault.New(fault.FailedPrecondition, "NO_HANDBOOKS", "This process has no directory for handbooks.")
	}
	sum := sha256.Sum256(content)
	digest = hex.EncodeToString(sum[:])
	path := s.path(digest)
	if err := s.makeDir(filepath.Dir(path)); err != nil {
		return "", fmt.Errorf("make a directory for handbooks: %w", err)
	}
	// One that is there is written again: it may be damaged, or not be on the
	// disk yet.
	if err := wholefile.Replace(path, content); err != nil {
		return "", fmt.Errorf("keep a handbook: %w", err)
	}
	return digest, nil
}

// makeDir makes a directory below that of the files, down to the disk.
func (s *Store) makeDir(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return errors.Join(wholefile.SyncDir(s.dir), wholefile.SyncDir(filepath.Dir(s.dir)))
}

// File reads a file and proves that it is what was kept.
func (s *Store) File(digest string) ([]byte, error) {
	if s.dir == "" || !validDigest(digest) {
		return nil, fault.New(fault.FailedPrecondition, "NO_HANDBOOKS", "This process has no directory for handbooks.")
	}
	content, err := os.ReadFile(s.path(digest))
	if errors.Is(err, fs.ErrNotExist) { // after a restore without the copy of the directory
		return nil, fault.New(fault.FailedPrecondition, "HANDBOOK_MISSING", "The file of this issue is not in the archive: copy the directory of handbooks from the backup.")
	}
	if err != nil {
		return nil, fault.New(fault.Internal, "HANDBOOK_MISSING", "the file of an issued handbook cannot be read")
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != digest {
		return nil, fault.New(fault.Internal, "HANDBOOK_DAMAGED", "the file of an issued handbook is not as it was issued")
	}
	return content, nil
}
