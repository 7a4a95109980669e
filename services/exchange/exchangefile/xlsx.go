package exchangefile

import (
	"archive/zip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"halfshaft/services/exchange"
)

// Workbooks are read with a reader of our own, not with the library that
// writes them: it gives a cell as text alone, so that a date cannot be told
// from words that look like one, and it takes a sheet that breaks off for one
// that ends. Here cells keep their type, and a broken sheet is a fault.

// The bounds of a workbook, beside those of one file.
const (
	maxPackedBytes    = 128 << 20 // the file itself
	maxDirectoryBytes = 1 << 20   // its table of contents
	maxPartBytes      = 8 << 20   // the list of its sheets, and its styles
	maxSharedBytes    = 64 << 20  // the texts that its sheets share
	maxSharedTexts    = 2_000_000
	maxElementBytes   = 4 << 20 // one row, or one shared text, as XML
)

// readXLSX reads a workbook: each sheet that is named as a table. Sheets for
// people are passed over where their names say so (see isNote), and so are
// empty ones; another name is taken for a slip, and a workbook without any
// table is a fault.
func readXLSX(path, shown string, c *exchange.Collection) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	return workbookRows(f, info.Size(), shown, c)
}

func workbookRows(f io.ReaderAt, size int64, shown string, c *exchange.Collection) error {
	archive, err := openArchive(f, size)
	if err != nil {
		return err
	}
	book, err := openBook(archive)
	if err != nil {
		return err
	}
	found := false
	for _, s := range book.sheets {
		t := tableFor(s.name)
		if t == nil {
			if !isNote(s.name) && book.filled(s) {
				found = true
				c.Unread(exchange.Fault{File: shown, Sheet: s.name, Got: s.name, Want: nearest(s.name) + "; or a name that begins with _ or # for a sheet that is no table"})
			}
			continue
		}
		found = true
		if err := book.rows(s, c.Sheet(shown, s.name, t).Row); err != nil {
			var bad *malformed
			if errors.As(err, &bad) {
				bad.sheet = s.name
			}
			return err
		}
	}
	if !found {
		return &malformed{got: "the sheets " + strings.Join(book.names(), ", "), want: "a sheet with " + tableNames()}
	}
	return nil
}

// isNote says whether a sheet is for people, not for the import.
func isNote(name string) bool {
	name = strings.TrimSpace(name)
	return strings.HasPrefix(name, "_") || strings.HasPrefix(name, "#")
}

// filled says whether a sheet has anything in a cell. What is no sheet of cells
// has nothing.
func (b *book) filled(s bookSheet) bool {
	filled := false
	err := b.rows(s, func(_ int, cells []exchange.Cell) bool {
		filled = slices.ContainsFunc(cells, func(c exchange.Cell) bool { return strings.TrimSpace(c.Text) != "" })
		return !filled
	})
	return filled && err == nil
}

// openArchive looks at the file before anything of it is taken into memory.
func openArchive(f io.ReaderAt, bytes int64) (*zip.Reader, error) {
	if bytes > maxPackedBytes {
		return nil, &malformed{got: size(bytes), want: "a workbook of at most " + size(maxPackedBytes)}
	}
	start := make([]byte, 8)
	if _, err := f.ReadAt(start, 0); err != nil || !strings.HasPrefix(string(start), "PK") {
		if string(start) == "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" {
			return nil, &malformed{got: "an old or encrypted workbook", want: "an XLSX workbook without a password"}
		}
		return nil, notAWorkbook()
	}
	if directory, ok := directorySize(f, bytes); !ok {
		return nil, notAWorkbook()
	} else if directory > maxDirectoryBytes {
		return nil, &malformed{got: "an archive of very many parts", want: "an XLSX workbook"}
	}
	archive, err := zip.NewReader(f, bytes)
	if err != nil {
		return nil, notAWorkbook()
	}
	return archive, nil
}

func notAWorkbook() error {
	return &malformed{got: "a damaged file", want: "an XLSX workbook that a spreadsheet opens"}
}

// directorySize reads the size of an archive's table of contents from the
// record at its end, where the reader of archives will believe it too.
func directorySize(f io.ReaderAt, bytes int64) (int64, bool) {
	const record, longest = 22, 22 + 1<<16 // with a comment behind it
	tail := make([]byte, min(bytes, longest))
	if _, err := f.ReadAt(tail, bytes-int64(len(tail))); err != nil && !errors.Is(err, io.EOF) {
		return 0, false
	}
	for i := len(tail) - record; i >= 0; i-- {
		if string(tail[i:i+4]) == "PK\x05\x06" {
			return int64(binary.LittleEndian.Uint32(tail[i+12:])), true
		}
	}
	return 0, false
}

// broken is a fault for a part of a workbook that cannot be read to its end.
func broken(row int, part string, err error) error {
	var bad *malformed
	if errors.As(err, &bad) {
		if bad.row == 0 {
			bad.row = row
		}
		return bad
	}
	return &malformed{row: row, got: fmt.Sprintf("%s that breaks off or is damaged (%v)", part, err), want: "an XLSX workbook that a spreadsheet opens"}
}
