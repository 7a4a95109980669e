package exchangefile

import (
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/exchange"
)

// sheetReader reads the rows of one sheet as they come.
type sheetReader struct {
	book *book
	part *partReader
	take func(row int, cells []exchange.Cell) bool

	row    int // the last one begun
	rows   int // how many there were
	column int // of the last cell, from 1
	cells  []exchange.Cell
}

// rows gives each row of a sheet to take, until it says no. A sheet that ends
// before its data does is a fault.
func (b *book) rows(s bookSheet, take func(row int, cells []exchange.Cell) bool) error {
	part, err := b.open(s.part, MaxUnpacked)
	if err != nil {
		return err
	}
	defer part.file.Close()
	r := &sheetReader{book: b, part: part, take: take}
	for {
		token, err := part.Token()
		if err != nil {
			return broken(r.row, "a sheet", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "row":
				err = r.begin(e)
			case "c":
				err = r.cell(e)
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "row":
				part.checkpoint()
				if !take(r.row, r.cells) {
					return nil
				}
			case "sheetData":
				return nil
			}
		}
		if err != nil {
			return broken(r.row, "a sheet", err)
		}
	}
}

// begin starts a row. Rows are numbered upwards; one without a number follows
// the one before.
func (r *sheetReader) begin(e xml.StartElement) error {
	next := r.row + 1
	if n := attr(e, "r"); n != "" {
		number, err := strconv.Atoi(n)
		if err != nil || number < next {
			return &malformed{row: r.row, got: "a row numbered " + n, want: "rows in order"}
		}
		next = number
	}
	if r.rows++; next > maxSheetRows || r.rows > maxSheetRows {
		return &malformed{row: r.row, got: "more rows", want: fmt.Sprintf("at most %d in a sheet", maxSheetRows)}
	}
	r.row, r.column, r.cells = next, 0, r.cells[:0]
	return nil
}

// cell reads one cell to its end.
func (r *sheetReader) cell(e xml.StartElement) error {
	r.column++
	if name := attr(e, "r"); name != "" {
		column := columnNumber(name)
		if column < r.column {
			return &malformed{row: r.row, got: "a cell at " + name, want: "cells in order"}
		}
		r.column = column
	}
	value, inline, formula, err := r.contents()
	if err != nil {
		return err
	}
	cell, bad := r.read(attr(e, "t"), attr(e, "s"), value, inline, formula)
	switch {
	case bad != nil:
		return bad
	case cell.Text == "":
		return nil
	case r.column > MaxColumns:
		return &malformed{row: r.row, got: "a cell in column " + strconv.Itoa(r.column), want: fmt.Sprintf("at most %d columns", MaxColumns)}
	case len(cell.Text) > MaxCellBytes:
		return &malformed{row: r.row, got: fmt.Sprintf("a cell of %d bytes", len(cell.Text)), want: "at most " + fmt.Sprint(MaxCellBytes)}
	}
	for len(r.cells) < r.column-1 {
		r.cells = append(r.cells, exchange.Cell{})
	}
	r.cells = append(r.cells, cell)
	return nil
}

// columnNumber reads the letters of "AB12"; 0 when there are none, and a
// number beyond every limit when there are too many.
func columnNumber(name string) int {
	n := 0
	for i := 0; i < len(name) && name[i] >= 'A' && name[i] <= 'Z'; i++ {
		if n = n*26 + int(name[i]-'A'+1); n > 1<<20 {
			break
		}
	}
	return n
}

// contents reads the elements within a cell, up to its end.
func (r *sheetReader) contents() (value, inline, formula string, err error) {
	var values, inlines, formulas []byte
	var into *[]byte
	spoken := 0
	for depth := 0; ; {
		token, err := r.part.Token()
		if err != nil {
			return "", "", "", err
		}
		switch e := token.(type) {
		case xml.StartElement:
			depth++
			switch e.Name.Local {
			case "v":
				into = &values
			case "f":
				into = &formulas
				formulas = append(formulas, '=')
			case "t":
				into = &inlines
			case "rPh":
				spoken++
			}
		case xml.CharData:
			if into != nil && spoken == 0 {
				*into = append(*into, e...)
			}
		case xml.EndElement:
			into = nil
			if e.Name.Local == "rPh" {
				spoken--
			}
			if depth == 0 {
				return string(values), string(inlines), string(formulas), nil
			}
			depth--
		}
	}
}

// read gives the cell that a sheet means.
func (r *sheetReader) read(kind, style, value, inline, formula string) (exchange.Cell, error) {
	if formula != "" && value == "" && kind != "str" && kind != "inlineStr" {
		return exchange.Cell{Text: formula, Type: exchange.ErrorCell}, nil // nobody has computed it
	}
	switch kind {
	case "s":
		i, err := strconv.Atoi(value)
		if err != nil || i < 0 || i >= len(r.book.shared) {
			return exchange.Cell{}, &malformed{row: r.row, got: "a text that is not there", want: "an XLSX workbook that a spreadsheet opens"}
		}
		return exchange.Cell{Text: r.book.shared[i]}, nil
	case "inlineStr":
		return exchange.Cell{Text: decodeEscapes(inline)}, nil
	case "str":
		return exchange.Cell{Text: decodeEscapes(value)}, nil
	case "b":
		return exchange.Cell{Text: map[string]string{"1": "TRUE", "0": "FALSE"}[value], Type: exchange.FlagCell}, nil
	case "e":
		return exchange.Cell{Text: value, Type: exchange.ErrorCell}, nil
	case "d":
		return exchange.Cell{Text: strings.TrimSuffix(value, "Z"), Type: exchange.DateCell}, nil
	}
	if value == "" {
		return exchange.Cell{}, nil
	}
	return r.book.formatAt(style).cell(value, r.book.from1904), nil
}
