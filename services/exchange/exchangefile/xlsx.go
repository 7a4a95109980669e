package exchangefile

import (
	"errors"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"halfshaft/services/exchange"
)

// readXLSX reads a workbook: each sheet that is named as a table. Other sheets
// (notes, lists) are passed over, but a workbook without any table is a fault.
//
// Rows are streamed. Dates come out as days, the year first, whatever the
// machine's habits: the built-in date formats depend on them otherwise.
func readXLSX(path, shown string, c *exchange.Collection) (err error) {
	defer func() { // a damaged workbook must not end the import with a panic
		if p := recover(); p != nil {
			err = &malformed{got: "a damaged workbook", want: "an XLSX workbook that a spreadsheet opens"}
		}
	}()
	f, err := excelize.OpenFile(path, excelize.Options{
		UnzipSizeLimit: MaxUnpacked, UnzipXMLSizeLimit: 16 << 20,
		ShortDatePattern: "yyyy-mm-dd", LongDatePattern: "yyyy-mm-dd", LongTimePattern: "hh:mm:ss",
	})
	if err != nil {
		return &malformed{got: err.Error(), want: "an XLSX workbook, unpacked at most " + size(MaxUnpacked)}
	}
	defer f.Close()
	tables := 0
	for _, name := range f.GetSheetList() {
		t := tableFor(name)
		if t == nil {
			continue
		}
		tables++
		if err := sheetRows(f, name, c.Sheet(shown, name, t)); err != nil {
			var bad *malformed
			if errors.As(err, &bad) {
				bad.sheet = name
			}
			return err
		}
	}
	if tables == 0 {
		return &malformed{got: "the sheets " + strings.Join(f.GetSheetList(), ", "), want: "a sheet with " + tableNames()}
	}
	return nil
}

// sheetRows feeds the rows of a sheet to the collection.
func sheetRows(f *excelize.File, name string, sheet *exchange.Sheet) error {
	rows, err := f.Rows(name)
	if err != nil {
		return &malformed{got: err.Error(), want: "a readable sheet"}
	}
	defer rows.Close()
	for number := 1; rows.Next(); number++ {
		columns, err := rows.Columns()
		if err != nil {
			return &malformed{row: number, got: err.Error(), want: "a readable row"}
		}
		cells, bad := textCells(columns, number)
		if bad != nil {
			return bad
		}
		for i := range cells {
			if isSheetError(cells[i].Text) {
				cells[i].Type = exchange.ErrorCell
			}
		}
		if !sheet.Row(number, cells) {
			return nil
		}
	}
	if err := rows.Error(); err != nil {
		return &malformed{got: err.Error(), want: "a readable sheet"}
	}
	return nil
}

// isSheetError knows what a spreadsheet shows in place of a value.
func isSheetError(text string) bool {
	switch text {
	case "#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "########":
		return true
	}
	return false
}

// maxSheetRows is what a sheet can hold.
const maxSheetRows = 1_048_576

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
		values[i] = c
	}
	return out.SetRow(fmt.Sprintf("A%d", w.rows[t]), values)
}

func (w *workbook) close() error {
	for _, out := range w.sheet {
		if err := out.Flush(); err != nil {
			return err
		}
	}
	if len(w.sheet) == 0 {
		return w.file.Close()
	}
	if err := w.file.DeleteSheet("Sheet1"); err != nil {
		return err
	}
	if err := w.file.SaveAs(w.path); err != nil {
		return err
	}
	return w.file.Close()
}
