package exchangefile

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/exchange"
)

// Writer writes an export into a directory: a file for each table, or one
// workbook with a sheet for each; a YAML file for each document; and the
// history as JSON lines.
type Writer struct {
	dir     string
	book    *workbook // nil for CSV
	files   map[*exchange.Table]*tableFile
	history map[string]*tableFile // by name; without csv
}

type tableFile struct {
	file *os.File
	out  *bufio.Writer
	csv  *csv.Writer
}

// NewWriter begins an export. The directory is made; one that holds anything
// is refused. format is "csv" or "xlsx".
func NewWriter(dir, format string) (*Writer, error) {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return nil, fmt.Errorf("%s is not empty: an export wants a directory of its own", dir)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the directory of the export: %w", err)
	}
	w := &Writer{dir: dir, files: map[*exchange.Table]*tableFile{}, history: map[string]*tableFile{}}
	switch format {
	case "csv":
	case "xlsx":
		w.book = newWorkbook(filepath.Join(dir, "works.xlsx"))
	default:
		return nil, fmt.Errorf("format: got %q, want csv or xlsx", format)
	}
	return w, nil
}

// Record writes one record. Records are to come in the order that the export
// is to have.
func (w *Writer) Record(m proto.Message) error {
	t := exchange.TableOf(m)
	if t == nil {
		return w.document(m)
	}
	for _, row := range t.Rows(m) {
		if err := w.row(row); err != nil {
			return err
		}
	}
	return nil
}

// document writes a record that is no table under its resource name.
func (w *Writer) document(m proto.Message) error {
	r := m.ProtoReflect()
	name := r.Get(r.Descriptor().Fields().ByName("name")).String()
	kind := exchange.DocumentOf(m)
	if kind == nil {
		return fmt.Errorf("%s has neither table nor document", r.Descriptor().FullName())
	}
	file := kind.File(name)
	if file != filepath.Base(file) {
		return fmt.Errorf("%q cannot be the name of a file", name)
	}
	dir := filepath.Join(w.dir, kind.Folder())
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return writeYAML(filepath.Join(dir, file), exchange.TreeOf(r))
}

func (w *Writer) row(r exchange.Row) error {
	if w.book != nil {
		return w.book.write(r)
	}
	t := w.files[r.Table]
	if t == nil {
		f, err := os.OpenFile(filepath.Join(w.dir, r.Table.FileName()+".csv"), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return err
		}
		out := bufio.NewWriterSize(f, 64<<10)
		t = &tableFile{f, out, csv.NewWriter(out)}
		w.files[r.Table] = t
		if err := t.csv.Write(r.Table.Header()); err != nil {
			return err
		}
	}
	return t.csv.Write(r.Cells)
}

// Close ends the export. What was written is whole only when it gives no
// error.
func (w *Writer) Close() error {
	var errs []error
	for _, t := range w.files {
		t.csv.Flush()
		errs = append(errs, t.csv.Error(), t.out.Flush(), t.file.Sync(), t.file.Close())
	}
	if w.book != nil {
		errs = append(errs, w.book.close())
	}
	return errors.Join(append(errs, w.closeHistory())...)
}
