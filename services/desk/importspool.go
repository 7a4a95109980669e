package desk

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// uploads are files that were looked at and wait to be imported, in a directory:
// they are there after a restart too. They may hold names and addresses, so only
// this program's user reads them, and they do not wait for long.
type uploads struct {
	mu    sync.Mutex
	dir   string                      // empty: nothing waits, as in tests of other pages
	clock func() time.Time            // when what is looked at later is looked at
	later func(time.Duration, func()) // does something when so much time went by
	log   *slog.Logger
}

// open makes room in a directory, where files of before a restart may wait.
func (u *uploads) open(dir string) error {
	u.dir = dir
	if dir == "" {
		return nil
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	if _, err := u.sweep(u.clock(), ""); err != nil {
		return err
	}
	u.sweepLater()
	return nil
}

// sweepLater removes what waits now when its time is over, whether or not anybody
// comes until then.
func (u *uploads) sweepLater() {
	u.later(uploadKept+time.Second, func() {
		u.mu.Lock()
		defer u.mu.Unlock()
		if _, err := u.sweep(u.clock(), ""); err != nil {
			u.log.Error("files that wait no longer to be imported are still there; the next look tries again", "error", err)
		}
	})
}

const (
	mostOfOne    = 64 << 20      // of files that wait, of one account: about two of the largest uploads
	mostUploaded = 4 * mostOfOne // of everybody: others still find room where one account has filled its own
	uploadKept   = 30 * time.Minute
)

// waiting is what stands at the head of a file of the directory, in one line; the
// bytes of the files follow it.
type waiting struct {
	Account string
	At      time.Time
	Files   []waitingFile
}

type waitingFile struct {
	Name  string
	Bytes int
}

// uploadName is the name by which files of an account wait: the same files of the
// same account have the same.
func uploadName(account string, files []Upload) string {
	hash := sha256.New()
	for _, part := range append([]Upload{{Name: account}}, files...) {
		fmt.Fprintf(hash, "%d:%s%d:", len(part.Name), part.Name, len(part.Bytes))
		hash.Write(part.Bytes)
	}
	return hex.EncodeToString(hash.Sum(nil))
}

// keep keeps files for an account and names them.
func (u *uploads) keep(account string, files []Upload, now time.Time) (string, error) {
	name, head := uploadName(account, files), waiting{Account: account, At: now.UTC()}
	for _, f := range files {
		head.Files = append(head.Files, waitingFile{f.Name, len(f.Bytes)})
	}
	line, err := json.Marshal(head)
	if err != nil {
		return "", err
	}
	content := bytes.NewBuffer(append(line, '\n'))
	for _, f := range files {
		content.Write(f.Bytes)
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	if err := os.MkdirAll(u.dir, 0o700); err != nil {
		return "", fmt.Errorf("make room for files that wait: %w", err)
	}
	others, err := u.sweep(now, name)
	if err != nil {
		return "", err
	}
	if err := room(others, account, int64(content.Len()), now); err != nil {
		return "", err
	}
	if err := wholefile.Replace(filepath.Join(u.dir, name), content.Bytes()); err != nil {
		return "", fmt.Errorf("keep files that wait: %w", err)
	}
	u.sweepLater()
	return name, nil
}

// room refuses more of an account than it may have waiting, or than there is room
// for, and says when the first of what is in the way goes by itself.
func room(others []spooled, account string, more int64, now time.Time) error {
	var all, own held
	for _, s := range others {
		all.add(s)
		if s.account == account {
			own.add(s)
		}
	}
	switch {
	case own.bytes+more > mostOfOne:
		e := fault.New(fault.Exhausted, "OWN_UPLOADS_FULL", "Too much of what you sent before still waits to be imported. Import what is right, or send less at once; the command halfshaft import takes in any amount.")
		e.RetryAfter = own.until(now)
		return e
	case all.bytes+more > mostUploaded:
		e := fault.New(fault.Exhausted, "UPLOADS_FULL", "Too much of what others sent still waits to be imported. The command halfshaft import takes in any amount.")
		e.RetryAfter = all.until(now)
		return e
	}
	return nil
}

// spooled is what waits by one name.
type spooled struct {
	account string
	at      time.Time
	bytes   int64
}

// held is much that waits.
type held struct {
	bytes int64
	first time.Time // since when the oldest of it waits
}

func (h *held) add(s spooled) {
	h.bytes += s.bytes
	if h.first.IsZero() || s.at.Before(h.first) {
		h.first = s.at
	}
}

// until is how long the oldest still waits; 0 where nothing is in the way.
func (h *held) until(now time.Time) time.Duration {
	if h.first.IsZero() {
		return 0
	}
	return max(0, h.first.Add(uploadKept).Sub(now)) + time.Second
}

// take gives the files back to whose they are; nil where they wait no longer.
func (u *uploads) take(name, account string, now time.Time) []Upload {
	u.mu.Lock()
	defer u.mu.Unlock()
	if raw, err := hex.DecodeString(name); err != nil || len(raw) != sha256.Size {
		return nil
	}
	content, err := os.ReadFile(filepath.Join(u.dir, name))
	if err != nil {
		return nil
	}
	head, rest, ok := headOf(content)
	if !ok || !head.waits(now) || head.Account != account {
		return nil
	}
	var files []Upload
	for _, f := range head.Files {
		if f.Bytes < 0 || f.Bytes > len(rest) {
			return nil
		}
		files, rest = append(files, Upload{f.Name, rest[:f.Bytes:f.Bytes]}), rest[f.Bytes:]
	}
	if uploadName(account, files) != name { // it is not what was kept
		return nil
	}
	return files
}

// drop forgets what was imported.
func (u *uploads) drop(name string) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if err := os.Remove(filepath.Join(u.dir, filepath.Base(name))); err == nil {
		_ = wholefile.SyncDir(u.dir) // it goes with the next sweep otherwise
	}
}

// sweep, for whoever holds mu, removes what waits no longer, what cannot be read
// and what was not written to its end, and gives what waits but for one.
func (u *uploads) sweep(now time.Time, but string) (others []spooled, err error) {
	entries, err := os.ReadDir(u.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("look through the files that wait: %w", err)
	}
	for _, e := range entries {
		path := filepath.Join(u.dir, e.Name())
		head, ok := headIn(path)
		if wholefile.Half(e.Name()) || !ok || !head.waits(now) {
			if err := os.RemoveAll(path); err != nil {
				return nil, fmt.Errorf("remove files that wait no longer: %w", err)
			}
			continue
		}
		if info, err := e.Info(); err == nil && e.Name() != but {
			others = append(others, spooled{head.Account, head.At, info.Size()})
		}
	}
	return others, nil
}

// headIn reads the head of a file alone.
func headIn(path string) (head waiting, ok bool) {
	const mostHead = 1 << 20
	f, err := os.Open(path)
	if err != nil {
		return head, false
	}
	defer f.Close()
	content := make([]byte, mostHead)
	n, err := f.Read(content)
	if err != nil {
		return head, false
	}
	head, _, ok = headOf(content[:n])
	return head, ok
}

func headOf(content []byte) (head waiting, rest []byte, ok bool) {
	line, rest, ok := bytes.Cut(content, []byte("\n"))
	return head, rest, ok && json.Unmarshal(line, &head) == nil
}

// waits reports whether its time is not over. A clock that was set back ends it too.
func (w waiting) waits(now time.Time) bool { return now.Sub(w.At).Abs() <= uploadKept }

// inOrder orders files by name.
func inOrder(files []Upload) {
	slices.SortFunc(files, func(a, b Upload) int { return strings.Compare(a.Name, b.Name) })
}
