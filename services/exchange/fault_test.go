package exchange_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"halfshaft/services/exchange"
)

func TestFaultsStandByFileSheetRowAndColumnEachOnce(t *testing.T) {
	var f exchange.Faults
	for _, one := range []exchange.Fault{
		{File: "works.xlsx", Sheet: "ties", Row: 2, Column: "role", Got: "boss", Want: "one of: owner"},
		{File: "builds.csv", Row: 10, Column: "plate", Want: "plate"},
		{File: "builds.csv", Row: 2, Column: "serial", Want: "serial"},
		{File: "builds.csv", Row: 2, Column: "build date", Got: "03/04/2020", Want: "2020-04-03 or 2020-03-04: the year first"},
		{File: "builds.csv", Row: 2, Column: "serial", Want: "serial"}, // said twice
		{File: "works.xlsx", Sheet: "builds", Row: 3, Want: "each record once"},
		{File: "notes.csv", Got: "notes", Want: "the name of a table"},
	} {
		f.Add(one)
	}
	var b bytes.Buffer
	if err := exchange.WriteFaults(&b, f.Sorted()); err != nil {
		t.Fatal(err)
	}
	want := `builds.csv
  row 2, build date: got "03/04/2020", want 2020-04-03 or 2020-03-04: the year first
  row 2, serial: got nothing, want serial
  row 10, plate: got nothing, want plate

notes.csv
  got "notes", want the name of a table

works.xlsx, sheet builds
  row 3: got nothing, want each record once

works.xlsx, sheet ties
  row 2, role: got "boss", want one of: owner
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

func TestNoFileSteersTheTerminalOfWhoeverReadsItsFaults(t *testing.T) {
	// Escape sequences clear the screen, a right-to-left override (U+202E) turns
	// what follows around, and a new line begins a report of its own.
	const hostile = "\x1b[2J\u202e\nbuilds.csv\r\u009b\x00\u200b"
	var f exchange.Faults
	f.Add(exchange.Fault{File: hostile, Sheet: hostile, Row: 2, Column: hostile, Got: hostile, Want: hostile})
	var b bytes.Buffer
	if err := exchange.WriteFaults(&b, f.Sorted()); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "\n"); n != 2 {
		t.Errorf("one fault has %d lines, want 2", n)
	}
	if i := strings.IndexAny(b.String(), "\x1b\u202e\r\u009b\x00\u200b"); i >= 0 {
		t.Errorf("%q went through", b.String()[i:])
	}
}

func TestAFaultShowsABeginningOfALongCell(t *testing.T) {
	for name, long := range map[string]string{
		"letters":              strings.Repeat("a", 1_000_000),
		"letters of two bytes": strings.Repeat("é", 100_000),
		"no text":              strings.Repeat("\xff\xfe", 100_000),
	} {
		var f exchange.Faults
		f.Add(exchange.Fault{File: "builds.csv", Got: long, Want: "less"})
		got := f.Sorted()[0].Got
		if len(got) > 300 || !utf8.ValidString(got) {
			t.Errorf("%s: %d bytes are kept, valid %v", name, len(got), utf8.ValidString(got))
		}
	}
	short := strings.Repeat("é", 80)
	var f exchange.Faults
	f.Add(exchange.Fault{File: "builds.csv", Got: short})
	if got := f.Sorted()[0].Got; got != short {
		t.Errorf("a cell of 80 letters became %q", got)
	}
}

func TestAllFaultsAreCountedAndNotAllKept(t *testing.T) {
	var f exchange.Faults
	const many = 250_000
	for i := range many {
		f.Add(exchange.Fault{File: "builds.csv", Row: i + 2, Got: fmt.Sprint(i), Want: "nothing"})
	}
	if f.Len() != many {
		t.Errorf("counted %d of %d", f.Len(), many)
	}
	if kept := len(f.Sorted()); kept != 100_000 {
		t.Errorf("kept %d, want the first 100,000", kept)
	}
}
