package jobsheetprint

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/internal/typeset"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetwire"
)

var update = flag.Bool("update", false, "write the golden files anew")

// sheetOf reads a sheet that the demo's services made; a test of the whole works
// writes it.
func sheetOf(t *testing.T, name string) *jobsheet.Sheet {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var m jobsheetv1.JobSheet
	if err := protojson.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	s, err := jobsheetwire.Sheet(&m)
	if err != nil {
		t.Fatal(err)
	}
	return &s
}

// The sheet as it is read on paper: what stands on it, in its order.
func TestTheSheetOnPaperReadsAsItDid(t *testing.T) {
	for _, name := range []string{"AM0147P", "AM0101G"} {
		got := words(document(sheetOf(t, name), "Aldermoor Works", 3))
		golden := filepath.Join("testdata", name+".golden")
		if *update {
			if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s is not as it was; run with -update and read what changed:\n%s", name, got)
		}
	}
}

// A job of oil and a measured one are one page on either paper: nobody carries a
// second leaf for a box of remarks.
func TestAnOilChangeAndAMeasuredJobAreOnePage(t *testing.T) {
	for _, paper := range []string{"A4", "Letter"} {
		pdf, err := PDF(sheetOf(t, "AM0147P"), "Aldermoor Works", paper)
		if n := len(pages.FindAll(pdf, -1)); err != nil || n != 1 {
			t.Errorf("on %s: %d pages, %v", paper, n, err)
		}
	}
}

var pages = regexp.MustCompile(`/Type /Page\b`)

func TestTheSheetIsPrintedOnBothPapersAndOnNoOther(t *testing.T) {
	s := sheetOf(t, "AM0147P")
	for _, paper := range []string{"", "A4", "Letter"} {
		if pdf, err := PDF(s, "Aldermoor Works", paper); err != nil || !bytes.HasPrefix(pdf, []byte("%PDF")) {
			t.Errorf("on %q: %v", paper, err)
		}
	}
	if _, err := PDF(s, "Aldermoor Works", "A5"); err == nil || !strings.Contains(err.Error(), "A5") {
		t.Errorf("on A5: %v", err)
	}
}

// words writes the blocks of a document, cells between bars; "____" is a line to
// write on.
func words(d typeset.Document) string {
	var b strings.Builder
	b.WriteString(d.Title + "\n" + d.Edition + "\n" + d.Head + "\n")
	for _, block := range d.Blocks {
		write(&b, block)
	}
	return b.String()
}

func write(b *strings.Builder, block typeset.Block) {
	switch x := block.(type) {
	case typeset.Paragraph:
		b.WriteString("\n" + said(x.Runs) + "\n")
	case typeset.Caution:
		b.WriteString("\n[" + x.Word + "]\n")
		for _, text := range x.Texts {
			b.WriteString("  " + said(text) + "\n")
		}
	case typeset.Together:
		for _, one := range x.Blocks {
			write(b, one)
		}
	case typeset.Table:
		b.WriteString("\n" + x.Caption + "\n")
		for _, g := range x.Groups {
			for _, r := range g.Rows {
				var cells []string
				for _, c := range r.Cells {
					cells = append(cells, cell(c))
				}
				b.WriteString(strings.TrimRight("  "+strings.Join(cells, " | "), " |") + "\n")
			}
		}
	case typeset.Fields:
		for _, f := range x.Fields {
			b.WriteString("\n" + f.Label + " (" + f.Note + ")\n")
		}
	}
}

func cell(c typeset.Cell) string {
	switch {
	case c.Blank:
		return strings.TrimSpace("____ " + said(c.Runs))
	case c.Tick:
		return "[ ] " + said(c.Runs)
	}
	return said(c.Runs)
}

func said(runs typeset.Runs) string {
	var b strings.Builder
	for _, r := range runs {
		b.WriteString(r.Text)
	}
	return b.String()
}
