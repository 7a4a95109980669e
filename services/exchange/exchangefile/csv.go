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
		return &malformed{got: name, want: nearest(name)}
	}
	return csvRows(f, c.Sheet(shown, "", t))
}

// csvRows feeds the rows of a CSV file to a sheet, numbered as a spreadsheet
// counts: a row is one row however many lines its cells have.
func csvRows(f io.Reader, sheet *exchange.Sheet) error {
	bounded := &recordReader{r: f}
	r := bufio.NewReaderSize(bounded, 64<<10)
	comma, err := beginning(r)
	if err != nil {
		return err
	}
	rows := csv.NewReader(r)
	rows.Comma = comma
	rows.FieldsPerRecord = -1
	row, line := 0, 0 // of the last record: its row, and the line it ended in
	for {
		record, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return csvFault(err, row)
		}
		bounded.since = 0
		first, _ := rows.FieldPos(0)
		row += first - line // blank lines between are rows too
		line = first
		for _, text := range record {
			line += strings.Count(text, "\n")
		}
		cells, bad := textCells(record, row)
		if bad != nil {
			return bad
		}
		if !sheet.Row(row, cells) {
			return nil
		}
	}
}

func csvFault(err error, row int) error {
	var wrong *csv.ParseError
	switch {
	case errors.Is(err, errLongRecord):
		return &malformed{row: row + 1, got: "a row of more than " + size(MaxRecordBytes), want: "a closing quotation mark before that"}
	case errors.As(err, &wrong):
		return &malformed{row: row + 1, got: fmt.Sprintf("a stray quotation mark in line %d", wrong.Line),
			want: "quotation marks around a whole cell, and doubled within it"}
	}
	return err
}

// beginning takes a byte-order mark off, refuses what is no text, and finds
// the separator.
func beginning(r *bufio.Reader) (comma rune, err error) {
	head, _ := r.Peek(4 << 10)
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		return 0, &malformed{got: "text in UTF-16", want: "text in UTF-8: save the file as CSV UTF-8"}
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.IndexByte(head, 0) >= 0:
		return 0, &malformed{got: "a binary file", want: "text: comma-separated values in UTF-8"}
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		head = head[3:]
		r.Discard(3) //nolint:errcheck // they were peeked at
	}
	return separator(head), nil
}

// textCells turns a record into cells.
func textCells(record []string, row int) ([]exchange.Cell, error) {
	if len(record) > MaxColumns {
		return nil, &malformed{row: row, got: fmt.Sprintf("%d columns", len(record)), want: fmt.Sprintf("at most %d", MaxColumns)}
	}
	cells := make([]exchange.Cell, len(record))
	for i, text := range record {
		if strings.IndexByte(text, 0) >= 0 {
			return nil, &malformed{row: row, got: "bytes that no text has", want: "text: comma-separated values in UTF-8"}
		}
		if len(text) > MaxCellBytes {
			return nil, &malformed{row: row, got: fmt.Sprintf("a cell of %d bytes", len(text)), want: "at most " + fmt.Sprint(MaxCellBytes)}
		}
		cells[i].Text = text
	}
	return cells, nil
}

// separator tells by the header row which character is between cells: office
// programs write a semicolon where the comma is the decimal mark, and a tab
// into what they call text.
func separator(head []byte) rune {
	line, _, _ := bytes.Cut(bytes.TrimLeft(head, "\r\n"), []byte("\n"))
	best := ','
	for _, r := range ";\t" {
		if bytes.Count(line, []byte(string(r))) > bytes.Count(line, []byte(string(best))) {
			best = r
		}
	}
	return best
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
