package links

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"

	"halfshaft/services/internal/wholefile"
)

// OpenRing reads the keys from a file, and makes the file with one fresh key
// when there is none. A file that others than its owner may read is refused:
// whoever has a key can speak for every owner.
//
// Each line holds a key: its number and its secret in hexadecimal, "1 9f3c…".
// The first signs. To rotate, put a new line with a new number on top, and
// take the old one away when its links have expired.
func OpenRing(path string, random io.Reader) (Ring, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err := makeKeyFile(path, random); err != nil {
			return nil, fmt.Errorf("make the key file of links: %w", err)
		}
		text, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, fmt.Errorf("read the key file of links: %w", err)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read the key file of links: %w", err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("the key file of links: got permissions %04o, want 0600", info.Mode().Perm())
	}
	return parseRing(text)
}

// makeKeyFile makes the file; of two starts only one does.
func makeKeyFile(path string, random io.Reader) error {
	secret := make([]byte, KeySize)
	if _, err := io.ReadFull(random, secret); err != nil {
		return err
	}
	if err := wholefile.Create(path, fmt.Appendf(nil, "1 %x\n", secret)); !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

func parseRing(text []byte) (Ring, error) {
	var ring Ring
	lines := bufio.NewScanner(bytes.NewReader(text))
	for n := 1; lines.Scan(); n++ {
		fields := bytes.Fields(lines.Bytes())
		if len(fields) == 0 {
			continue
		}
		// The line itself is never printed: it is a secret.
		if len(fields) != 2 {
			return nil, fmt.Errorf("the key file of links, line %d: want a number and %d hexadecimal digits", n, 2*KeySize)
		}
		id, err := strconv.ParseUint(string(fields[0]), 10, 32)
		secret, err2 := hex.DecodeString(string(fields[1]))
		if err != nil || err2 != nil || len(secret) != KeySize {
			return nil, fmt.Errorf("the key file of links, line %d: want a number and %d hexadecimal digits", n, 2*KeySize)
		}
		ring = append(ring, Key{ID: uint32(id), Secret: secret})
	}
	if err := lines.Err(); err != nil {
		return nil, err
	}
	if len(ring) == 0 {
		return nil, ErrNoKey
	}
	return ring, nil
}
