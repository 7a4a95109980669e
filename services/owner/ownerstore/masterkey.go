package ownerstore

import (
	"bufio"
	"bytes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// MasterKey wraps the key of every person. It lives in a file outside etcd and
// outside etcd's backups: who has only the one or only the other reads nothing
// personal.
type MasterKey struct {
	secret [keyBytes]byte
	id     [idBytes]byte // stands with what it wrapped, so that another key is told from damage
	wrap   cipher.AEAD
}

const (
	keyBytes = 32 // AES-256
	idBytes  = 8
)

// The file is text, so that it can be printed and put into a safe.
const (
	keyLine  = "halfshaft-master-key-1 "
	preamble = `# The master key of halfshaft. Without it nobody reads the people in the store,
# its snapshots and its backups. Keep a copy of this file, apart from those.
`
)

// ErrNoMasterKey says that there is no file at the path.
var ErrNoMasterKey = errors.New("there is no master key file")

// LoadMasterKey reads the file. One that others than its owner can read is
// refused with MASTER_KEY_EXPOSED: they may have read it already.
func LoadMasterKey(path string) (*MasterKey, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, ErrNoMasterKey
	}
	if err != nil {
		return nil, fmt.Errorf("open the master key: %w", err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("look at the master key: %w", err)
	}
	if open := info.Mode().Perm() & 0o077; open != 0 || !info.Mode().IsRegular() {
		return nil, fault.New(fault.FailedPrecondition, "MASTER_KEY_EXPOSED",
			"The master key file has the mode %04o and must be a plain file for its owner alone: chmod 600, and find out who read it.", info.Mode().Perm())
	}
	text, err := io.ReadAll(io.LimitReader(f, 64<<10))
	if err != nil {
		return nil, fmt.Errorf("read the master key: %w", err)
	}
	return parseMasterKey(text)
}

func parseMasterKey(text []byte) (*MasterKey, error) {
	for lines := bufio.NewScanner(bytes.NewReader(text)); lines.Scan(); {
		encoded, ok := strings.CutPrefix(strings.TrimSpace(lines.Text()), keyLine)
		if !ok {
			continue
		}
		secret, err := base64.StdEncoding.DecodeString(encoded)
		if err != nil || len(secret) != keyBytes {
			break
		}
		return newMasterKey([keyBytes]byte(secret))
	}
	return nil, fault.New(fault.FailedPrecondition, "MASTER_KEY_DAMAGED", "The master key file does not hold a whole master key.")
}

// CreateMasterKey draws a key and writes it to a new file with mode 0600, down
// to the disk. A file that is there already is an error.
func CreateMasterKey(path string) (*MasterKey, error) {
	var secret [keyBytes]byte
	rand.Read(secret[:])
	text := preamble + keyLine + base64.StdEncoding.EncodeToString(secret[:]) + "\n"
	if err := writeNew(path, []byte(text)); err != nil {
		return nil, fmt.Errorf("write the master key: %w", err)
	}
	return newMasterKey(secret)
}

// writeNew writes a new file for its owner alone, down to the disk.
func writeNew(path string, content []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	return errors.Join(err, f.Sync(), f.Close(), wholefile.SyncDir(filepath.Dir(path)))
}

// destroy writes zeros over a file, down to the disk, and removes it. What a
// disk that spreads its writes still holds of it is beyond a program. A file
// that is not there is no error.
func destroy(path string) error {
	if err := wipe(path); errors.Is(err, os.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	return errors.Join(os.Remove(path), wholefile.SyncDir(filepath.Dir(path)))
}

// wipe writes zeros over a file, down to the disk.
func wipe(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	info, err := f.Stat()
	if err == nil {
		_, err = f.Write(make([]byte, info.Size()))
	}
	return errors.Join(err, f.Sync(), f.Close())
}

func newMasterKey(secret [keyBytes]byte) (*MasterKey, error) {
	m := &MasterKey{secret: secret}
	id, err := m.derive("id", idBytes)
	if err != nil {
		return nil, err
	}
	copy(m.id[:], id)
	wrapping, err := m.derive("wrap", keyBytes)
	if err != nil {
		return nil, err
	}
	m.wrap, err = newAEAD(wrapping)
	return m, err
}

// derive makes a key for one purpose (HKDF-SHA256, RFC 5869), so that no key
// serves two.
func (m *MasterKey) derive(purpose string, length int) ([]byte, error) {
	return hkdf.Key(sha256.New, m.secret[:], nil, "halfshaft master "+purpose, length)
}

// ID names the key without telling anything of it.
func (m *MasterKey) ID() string { return hex.EncodeToString(m.id[:]) }
