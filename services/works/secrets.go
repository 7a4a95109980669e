package works

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"

	"halfshaft/services/internal/wholefile"
)

// What stands in the data directory beside the embedded etcd. The secrets are
// never part of a snapshot: back them up by themselves, and apart from it.
const (
	masterKeyPath  = "secrets/master.key"  // unlocks the personal data
	documentsPath  = "documents"           // photographs, each sealed under the key of whoever sent it
	handbooksPath  = "handbooks"           // issued handbooks, each under the digest of its bytes; nothing personal
	linkKeyPath    = "secrets/links.key"   // signs the links in mails
	signInKeyPath  = "secrets/sign-in.key" // seals the secrets of authenticators
	serviceKeyPath = "secrets/service.key" // lets the other processes of a split in
	socketPath     = "run/halfshaft.sock"  // gRPC, for the user who runs the process
)

// SocketPath is where the process over a data directory answers.
func SocketPath(data string) string { return filepath.Join(data, socketPath) }

// ServiceKeyFile is where the process that runs access leaves the key for the
// others.
func ServiceKeyFile(data string) string { return filepath.Join(data, serviceKeyPath) }

// ReadSecret reads a secret that stands alone in a file: the service key, a
// password.
func ReadSecret(path string) (string, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("read a secret: %w", err)
	}
	return strings.TrimSpace(string(raw)), nil
}

// makeDirs makes the data directory and what halfshaft itself keeps in it,
// closed to everybody else.
func makeDirs(data string) error {
	for _, dir := range []string{data, filepath.Join(data, "secrets"), filepath.Join(data, "run")} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return fmt.Errorf("make the data directory: %w", err)
		}
	}
	return nil
}

// ensureServiceKey leaves a key for the other processes of a split in the data
// directory, once. The file is written before it counts as made: a process
// that dies in between makes another key next time, and the first is unused.
func ensureServiceKey(ctx context.Context, data string, keys accessv1.AccessServiceClient) error {
	path := ServiceKeyFile(data)
	if _, err := os.Stat(path); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	made, err := keys.CreateKey(ctx, &accessv1.CreateKeyRequest{
		Key:       &accessv1.Key{Title: "services of this works", Role: accessv1.Role_ROLE_SERVICE, Bearer: "halfshaft"},
		RequestId: uuid.NewString(),
	})
	if err != nil {
		return fmt.Errorf("make the service key: %w", err)
	}
	if err := wholefile.Replace(path, []byte(made.GetSecret()+"\n")); err != nil {
		return fmt.Errorf("write the service key: %w", err)
	}
	return nil
}
