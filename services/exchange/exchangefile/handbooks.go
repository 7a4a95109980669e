package exchangefile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
)

// handbookDir is where an export keeps the files of handbooks that were issued.
const handbookDir = "handbook_files"

// MaxHandbookBytes bounds such a file.
const MaxHandbookBytes = 900 << 10

// handbookEndings are those of the files, by what they are.
var handbookEndings = map[string]string{"application/pdf": ".pdf", "text/html": ".html", "application/json": ".json"}

// handbookFileName is what a file of an issue is called; false for what is no
// digest or none of the forms.
func handbookFileName(f *handbookv1.HandbookFile) (string, bool) {
	ending, known := handbookEndings[f.GetMediaType()]
	raw, err := hex.DecodeString(f.GetSha256())
	return f.GetSha256() + ending, known && err == nil && len(raw) == sha256.Size
}

// HandbookFile writes a file of an issue, once: issues that are alike share it.
func (w *Writer) HandbookFile(f *handbookv1.HandbookFile, content []byte) error {
	name, ok := handbookFileName(f)
	if !ok {
		return fmt.Errorf("%s %q cannot be the name of a file", f.GetMediaType(), f.GetSha256())
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != f.GetSha256() {
		return fmt.Errorf("the file %s of a handbook is not as it was issued", f.GetSha256())
	}
	dir := filepath.Join(w.dir, handbookDir)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, name), content, 0o600)
}

// HandbookFile finds a file of an issue beside what is imported: below a
// directory, or beside a file. It gives nil where there is none, and an error for
// one that is not what its name says.
func HandbookFile(paths []string, f *handbookv1.HandbookFile) ([]byte, error) {
	name, ok := handbookFileName(f)
	if !ok {
		return nil, nil // the service says what is wrong with it
	}
	for _, path := range paths {
		dir := path
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			dir = filepath.Dir(path)
		}
		for _, at := range []string{filepath.Join(dir, handbookDir, name), filepath.Join(dir, "..", handbookDir, name)} {
			content, err := readBounded(at, MaxHandbookBytes)
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err != nil {
				return nil, fmt.Errorf("read a handbook: %w", err)
			}
			if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != f.GetSha256() {
				return nil, fmt.Errorf("%s is not as it was exported: its SHA-256 is another than its name", at)
			}
			return content, nil
		}
	}
	return nil, nil
}

// readBounded reads a file of at most some bytes.
func readBounded(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	content, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(content)) > most {
		err = fmt.Errorf("%s has more than %d bytes", path, most)
	}
	return content, err
}
