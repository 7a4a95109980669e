package embedetcd

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/gofrs/flock"

	"halfshaft/services/fault"
)

// dirLock keeps a second process out of a data directory. etcd has a lock of
// its own on its database file, but waits for it without end.
type dirLock struct{ file *flock.Flock }

// lockDir takes the lock or says at once who holds it. The kernel drops the
// lock with the process, however it dies; the file stays and means nothing.
func lockDir(dir string) (*dirLock, error) {
	path := filepath.Join(dir, "LOCK")
	file := flock.New(path, flock.SetPermissions(0o600))
	ok, err := file.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock the data directory: %w", err)
	}
	if !ok {
		return nil, inUse(dir, holder(path))
	}
	if err := os.WriteFile(path, []byte(strconv.Itoa(os.Getpid())+"\n"), 0o600); err != nil {
		return nil, fmt.Errorf("write the lock file: %w", err)
	}
	return &dirLock{file}, nil
}

// holder reads the pid in the lock file; "unknown" in the instant between
// the lock and the writing of the pid.
func holder(path string) string {
	b, err := os.ReadFile(path)
	pid := strings.TrimSpace(string(b))
	if _, bad := strconv.Atoi(pid); err != nil || bad != nil {
		return "unknown"
	}
	return pid
}

func inUse(dir, pid string) *fault.Error {
	f := fault.New(fault.FailedPrecondition, "DATA_DIR_IN_USE",
		"the data directory %s is in use by the process with pid %s", dir, pid)
	f.Meta = map[string]string{"dir": dir, "pid": pid}
	return f
}

// release lets the next process in. The file is left: removing it would let
// two processes lock two files of the same name.
func (l *dirLock) release() error {
	if err := l.file.Unlock(); err != nil {
		return fmt.Errorf("unlock the data directory: %w", err)
	}
	return nil
}
