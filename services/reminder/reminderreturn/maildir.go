package reminderreturn

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/emersion/go-message/textproto"

	"halfshaft/services/fault"
)

// Maildir takes messages that a mail server puts into a directory (new, cur and
// tmp; cr.yp.to/proto/maildir.html). What was taken stands in cur with the flag
// S, what never can be in "aside".
type Maildir struct {
	Dir    string
	Take   Take
	Logger *slog.Logger
}

// Scan takes what has come, the oldest first, and gives how many. A message
// that Take could not keep is left for the next scan and holds up no other;
// the error is of the first such. Two scans at once may take one message twice.
func (m Maildir) Scan(ctx context.Context) (taken int, err error) {
	for _, sub := range []string{"new", "cur"} {
		entries, readErr := os.ReadDir(filepath.Join(m.Dir, sub)) // by name, which begins with the time
		if readErr != nil {
			return taken, fmt.Errorf("look for returned mail: %w", readErr)
		}
		for _, entry := range entries {
			if strings.HasPrefix(entry.Name(), ".") || sub == "cur" && isTaken(entry.Name()) {
				continue
			}
			if ctx.Err() != nil {
				return taken, ctx.Err()
			}
			took, takeErr := m.takeFile(ctx, sub, entry.Name())
			if took {
				taken++
			}
			if err == nil {
				err = takeErr
			}
		}
	}
	return taken, err
}

// isTaken reads the flags after ":2,".
func isTaken(name string) bool {
	_, flags, ok := strings.Cut(name, ":2,")
	return ok && strings.Contains(flags, "S")
}

// takenName is the name with the flag S, the flags in ASCII order.
func takenName(name string) string {
	unique, flags, _ := strings.Cut(name, ":2,")
	sorted := []byte(flags + "S")
	slices.Sort(sorted)
	return unique + ":2," + string(slices.Compact(sorted))
}

func (m Maildir) takeFile(ctx context.Context, sub, name string) (bool, error) {
	path := filepath.Join(m.Dir, sub, name)
	message, err := readMessage(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil // somebody else moved it
	case err != nil:
		return false, m.aside(path, name, err)
	}
	err = m.Take(ctx, recipientsOf(message), message)
	switch {
	case fault.Is(err, fault.Invalid):
		return false, m.aside(path, name, err)
	case err != nil:
		return false, fmt.Errorf("take a returned message: %w", err)
	}
	return true, os.Rename(path, filepath.Join(m.Dir, "cur", takenName(name)))
}

// aside puts a message away that never can be taken. Its contents are not told.
func (m Maildir) aside(path, name string, cause error) error {
	m.Logger.Warn("a returned message cannot be read and was put aside", "file", name, "error", cause)
	dir := filepath.Join(m.Dir, "aside")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return os.Rename(path, filepath.Join(dir, name))
}

func readMessage(path string) ([]byte, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > MostBytes {
		return nil, fault.InvalidField("message", info.Mode().String()+fmt.Sprintf(" of %d bytes", info.Size()), "a file of at most 900 KiB")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, MostBytes+1))
}

// recipientsOf gives to whom a message was delivered, as far as its head says.
// Servers write the envelope's recipient into fields of their own (common
// practice); To is what is left where they do not. Nothing rests on these: a
// signed address proves itself.
func recipientsOf(message []byte) []string {
	head, _ := textproto.ReadHeader(bufio.NewReader(bytes.NewReader(message)))
	var all []string
	for _, field := range []string{"Delivered-To", "X-Original-To", "Envelope-To", "To"} {
		for _, value := range head.Values(field) {
			for _, address := range addressesIn(value) {
				if len(all) < mostRecipients && !slices.Contains(all, address) {
					all = append(all, address)
				}
			}
		}
	}
	return all
}
