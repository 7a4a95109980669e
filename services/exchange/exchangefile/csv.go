package exchangefile

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"halfshaft/services/exchange"
)

// readCSV reads a table of comma- or semicolon-separated values, in UTF-8 with
// or without a byte-order mark.
func readCSV(path, shown string, c *exchange.Collection) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	t := tableFor(name)
	if t == nil {
		return &malformed{got: name, want: tableNames()}
	}
	return csvRows(f, c.Sheet(shown, "", t))
}

// csvRows feeds the rows of a CSV file to a sheet.
func csvRows(f io.Reader, sheet *exchange.Sheet) error {
	bounded := &recordReader{r: f}
	r := bufio.NewReaderSize(bounded, 64<<10)
	if mark, _ := r.Peek(3); bytes.Equal(mark, []byte("\xef\xbb\xbf")) {
		r.Discard(3) //nolint:errcheck // they were peeked at
	}
	head, _ := r.Peek(4 << 10)
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.IndexByte(head, 0) >= 0 {
		return &malformed{got: "a binary file", want: "text: comma-separated values in UTF-8"}
	}
	rows := csv.NewReader(r)
	rows.Comma = separator(head)
	rows.FieldsPerRecord = -1
	for {
		record, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		var wrong *csv.ParseError
		switch {
		case errors.As(err, &wrong):
			return &malformed{row: wrong.Line, got: wrong.Err.Error(), want: "quotation marks in pairs, doubled within a cell"}
		case errors.Is(err, errLongRecord):
			return &malformed{got: "a row of more than " + size(MaxRecordBytes), want: "a closing quotation mark before that"}
		case err != nil:
			return err
		}
		bounded.since = 0
		row, _ := rows.FieldPos(0)
		cells, bad := textCells(record, row)
		if bad != nil {
			return bad
		}
		if !sheet.Row(row, cells) {
			return nil
		}
	}
}

// textCells turns a record into cells.
func textCells(record []string, row int) ([]exchange.Cell, error) {
	if len(record) > MaxColumns {
		return nil, &malformed{row: row, got: fmt.Sprintf("%d columns", len(record)), want: fmt.Sprintf("at most %d", MaxColumns)}
	}
	cells := make([]exchange.Cell, len(record))
	for i, text := range record {
		if len(text) > MaxCellBytes {
			return nil, &malformed{row: row, got: fmt.Sprintf("a cell of %d bytes", len(text)), want: "at most " + fmt.Sprint(MaxCellBytes)}
		}
		cells[i].Text = text
	}
	return cells, nil
}

// separator tells by the header row which character is between cells: office
// programs write a semicolon where the comma is the decimal mark.
func separator(head []byte) rune {
	line, _, _ := bytes.Cut(head, []byte("\n"))
	if bytes.Count(line, []byte(";")) > bytes.Count(line, []byte(",")) {
		return ';'
	}
	return ','
}

var errLongRecord = errors.New("the row is too long")

// recordReader stops when more has been read since the last whole row than a
// row may have: a quotation mark that nobody closes swallows no gigabytes.
type recordReader struct {
	r     io.Reader
	since int
}

func (b *recordReader) Read(p []byte) (int, error) {
	if b.since > MaxRecordBytes {
		return 0, errLongRecord
	}
	n, err := b.r.Read(p)
	b.since += n
	return n, err
}
