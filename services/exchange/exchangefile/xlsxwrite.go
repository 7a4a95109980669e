package exchangefile

import (
	"errors"
	"fmt"
	"os"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"halfshaft/services/exchange"
)

// What a sheet can hold.
const (
	maxSheetRows = 1_048_576
	maxCellUnits = 32_767 // UTF-16 units; a library cuts off what is longer
)

// workbook collects the tables of an export in one file.
type workbook struct {
	path  string
	file  *excelize.File
	sheet map[*exchange.Table]*excelize.StreamWriter
	rows  map[*exchange.Table]int
}

func newWorkbook(path string) *workbook {
	return &workbook{path, excelize.NewFile(), map[*exchange.Table]*excelize.StreamWriter{}, map[*exchange.Table]int{}}
}

// write adds a row to its table's sheet, beginning it with a header. Every cell
// is text, so that no spreadsheet makes a number or a date of it.
func (w *workbook) write(r exchange.Row) error {
	out := w.sheet[r.Table]
	if out == nil {
		if _, err := w.file.NewSheet(r.Table.FileName()); err != nil {
			return err
		}
		made, err := w.file.NewStreamWriter(r.Table.FileName())
		if err != nil {
			return err
		}
		out, w.sheet[r.Table] = made, made
		if err := w.put(r.Table, out, r.Table.Header()); err != nil {
			return err
		}
	}
	return w.put(r.Table, out, r.Cells)
}

func (w *workbook) put(t *exchange.Table, out *excelize.StreamWriter, cells []string) error {
	if w.rows[t]++; w.rows[t] > maxSheetRows {
		return fmt.Errorf("the table %s has more rows than a sheet can hold: export CSV", t.Name)
	}
	values := make([]any, len(cells))
	for i, c := range cells {
		if len(c) > maxCellUnits && len(utf16.Encode([]rune(c))) > maxCellUnits {
			return fmt.Errorf("the table %s has a text of %d characters, more than a cell of a sheet can hold: export CSV", t.Name, len([]rune(c)))
		}
		if c != "" {
			values[i] = c
		}
	}
	return out.SetRow(fmt.Sprintf("A%d", w.rows[t]), values)
}

// close writes the file, for its owner's eyes only, and takes away what the
// library had laid aside.
func (w *workbook) close() (err error) {
	defer func() { err = errors.Join(err, w.file.Close()) }()
	for _, out := range w.sheet {
		if err := out.Flush(); err != nil {
			return err
		}
	}
	if len(w.sheet) == 0 {
		return nil
	}
	if err := w.file.DeleteSheet("Sheet1"); err != nil {
		return err
	}
	f, err := os.OpenFile(w.path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(w.file.Write(f), f.Sync(), f.Close())
}
