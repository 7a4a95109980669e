// Command generate writes the files of the demo works: releases, parts,
// vehicles and their years. Everything in them is invented. The seed is fixed,
// so the same program writes the same bytes; a test of testdata/aldermoor
// checks that what is committed is what it writes.
//
//	go run ./testdata/aldermoor/generate [DIRECTORY]
//
// The stories (stories.go) are written by hand: one vehicle for each hard case.
// The rest of the fleet (fleet.go) is drawn at random around them.
package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

func main() {
	dir := "testdata/aldermoor"
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := write(dir); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

// write writes every file below dir.
func write(dir string) error {
	w := &works{tables: map[string]*table{}}
	w.catalogue()
	w.fleet()
	for _, r := range releases {
		if err := writeFile(filepath.Join(dir, "releases", r.id+".yaml"), r.yaml()); err != nil {
			return err
		}
	}
	for name, t := range w.tables {
		text, err := t.csv()
		if err != nil {
			return err
		}
		if err := writeFile(filepath.Join(dir, strings.ReplaceAll(name, " ", "_")+".csv"), text); err != nil {
			return err
		}
	}
	return nil
}

func writeFile(path, text string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, []byte(text), 0o644)
}

// works collects the rows of all tables, and the parts on the way to theirs.
type works struct {
	tables map[string]*table
	stock  *stock
}

// table is one CSV file under way.
type table struct {
	header []string
	rows   [][]string
}

// cells are a row by column.
type cells map[string]string

// add appends a row; columns appear in the order in which they are first used.
func (w *works) add(name string, c cells, order ...string) {
	t := w.tables[name]
	if t == nil {
		t = &table{}
		w.tables[name] = t
	}
	for _, column := range order {
		if !contains(t.header, column) {
			t.header = append(t.header, column)
		}
	}
	for column := range c {
		if !contains(t.header, column) {
			panic("generate: table " + name + " has no column " + column)
		}
	}
	row := make([]string, len(t.header))
	for i, column := range t.header {
		row[i] = c[column]
	}
	t.rows = append(t.rows, row)
}

func (t *table) csv() (string, error) {
	var b strings.Builder
	w := csv.NewWriter(&b)
	if err := w.Write(t.header); err != nil {
		return "", err
	}
	for _, row := range t.rows {
		for len(row) < len(t.header) {
			row = append(row, "")
		}
		if err := w.Write(row); err != nil {
			return "", err
		}
	}
	w.Flush()
	return b.String(), w.Error()
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
