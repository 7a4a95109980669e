// Package exchangefile reads and writes the works' files: CSV and XLSX for
// tables, YAML for documents. It knows nothing of what they mean; see
// services/exchange.
//
// What comes in is bounded, because a works opens what it is sent: the size of
// a file and of what a workbook unpacks to, the length of a row and of a cell,
// the depth and number of a document's values.
package exchangefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"halfshaft/services/exchange"
)

// The bounds of one file.
const (
	MaxFileBytes   = 512 << 20 // of a CSV or XLSX file as it lies on the disk
	MaxUnpacked    = 2 << 30   // of a workbook unpacked
	MaxYAMLBytes   = 8 << 20
	MaxRecordBytes = 4 << 20 // of one CSV row
	MaxCellBytes   = 64 << 10
	MaxColumns     = 500
)

// kinds are the endings of the files that are read.
var kinds = map[string]func(path, shown string, c *exchange.Collection) error{
	".csv": readCSV, ".xlsx": readXLSX, ".yaml": readYAML, ".yml": readYAML,
}

// Files lists the files that the paths mean: each file itself, and of a
// directory those below it with an ending that is read, in order. Hidden files
// and the lock files of office programs are passed over.
func Files(paths []string) ([]string, error) {
	var out []string
	for _, path := range paths {
		err := filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case name == path && !d.IsDir():
				out = append(out, name)
			case d.IsDir() && name != path && strings.HasPrefix(d.Name(), "."):
				return fs.SkipDir
			case d.IsDir() || strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "~$"):
			case kinds[strings.ToLower(filepath.Ext(name))] != nil:
				out = append(out, name)
			}
			return nil
		})
		if err != nil {
			return nil, fmt.Errorf("look for files: %w", err)
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// Read takes one file into the collection. What is wrong with it becomes a
// fault there; an error means that the machine failed.
func Read(path string, c *exchange.Collection) error {
	read := kinds[strings.ToLower(filepath.Ext(path))]
	if read == nil {
		whole(c, path, filepath.Ext(path), "a file ending in .csv, .xlsx, .yaml or .yml")
		return nil
	}
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		whole(c, path, info.Mode().Type().String(), "a regular file")
		return nil
	}
	if info.Size() > MaxFileBytes {
		whole(c, path, size(info.Size()), "at most "+size(MaxFileBytes))
		return nil
	}
	var bad *malformed
	if err := read(path, path, c); errors.As(err, &bad) {
		c.Unread(exchange.Fault{File: path, Sheet: bad.sheet, Row: bad.row, Got: bad.got, Want: bad.want})
		return nil
	} else if err != nil {
		return fmt.Errorf("read %s: %w", path, err)
	}
	return nil
}

// malformed is a fault that ends the reading of a file.
type malformed struct {
	sheet     string
	row       int
	got, want string
}

func (m *malformed) Error() string { return "got " + m.got + ", want " + m.want }

func whole(c *exchange.Collection, file, got, want string) {
	c.Unread(exchange.Fault{File: file, Got: got, Want: want})
}

func size(bytes int64) string {
	if bytes >= 1<<20 {
		return fmt.Sprintf("%d MiB", bytes>>20)
	}
	return fmt.Sprintf("%d bytes", bytes)
}

// tableFor finds the table of a file or sheet by its name.
func tableFor(name string) *exchange.Table { return exchange.TableNamed(name) }

// nearest says which tables a name that is none may mean; all, when it is near
// none.
func nearest(name string) string {
	near := exchange.NearTables(name)
	if len(near) == 0 {
		return tableNames()
	}
	return "the name of a table, as " + strings.Join(near, " or ")
}

func tableNames() string {
	var names []string
	for _, t := range exchange.Tables() {
		names = append(names, t.FileName())
	}
	return "the name of a table: " + strings.Join(names, ", ")
}
