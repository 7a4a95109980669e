package handbookprint

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"

	"halfshaft/services/handbook"
	"halfshaft/services/internal/typeset"
)

// withoutBlanks leaves out the rows of tables that are there to be written on: a
// page on a screen has no use for them, and whoever prints has the PDF.
func withoutBlanks(d typeset.Document) typeset.Document {
	for i, b := range d.Blocks {
		t, ok := b.(typeset.Table)
		if !ok {
			continue
		}
		t.Groups = slices.DeleteFunc(slices.Clone(t.Groups), func(g typeset.Group) bool {
			return !slices.ContainsFunc(g.Rows, func(r typeset.Row) bool {
				return slices.ContainsFunc(r.Cells, func(c typeset.Cell) bool { return !c.Blank })
			})
		})
		if len(t.Groups) > 0 {
			d.Blocks[i] = withoutEmptyColumns(t)
		}
	}
	return d
}

// withoutEmptyColumns leaves out the columns in which nothing stands, such as that
// for a stamp: a telephone is narrow.
func withoutEmptyColumns(t typeset.Table) typeset.Table {
	for i := len(t.Columns) - 1; i > 0; i-- {
		filled := slices.ContainsFunc(t.Groups, func(g typeset.Group) bool {
			return slices.ContainsFunc(g.Rows, func(r typeset.Row) bool { return r.Cells[i].Blank || r.Cells[i].Runs.Text() != "" })
		})
		if filled {
			continue
		}
		t.Columns = slices.Delete(slices.Clone(t.Columns), i, i+1)
		for j := range t.Groups {
			t.Groups[j].Rows = slices.Clone(t.Groups[j].Rows)
			for k := range t.Groups[j].Rows {
				r := &t.Groups[j].Rows[k]
				r.Cells = slices.Delete(slices.Clone(r.Cells), i, i+1)
			}
		}
	}
	return t
}

// sheetName stands for the style sheet until it is put into the page.
const sheetName = "handbook.css"

// HTML gives a handbook as one page that needs nothing beside it: it is archived,
// and opened decades later from a disk. The style sheet of the typesetter stands
// in it; there is no script.
func HTML(h *handbook.Handbook, e Edition) ([]byte, error) {
	page, err := typeset.HTML(withoutBlanks(document(h, e, onScreen)), sheetName)
	if err != nil {
		return nil, err
	}
	link := []byte(fmt.Sprintf(`<link rel="stylesheet" href="%s">`, html.EscapeString(sheetName)))
	if bytes.Count(page, link) != 1 {
		return nil, fmt.Errorf("the page of the typesetter names its style sheet %d times", bytes.Count(page, link))
	}
	page = optionalTags.ReplaceAll(page, nil)
	page = bytes.ReplaceAll(page, []byte(">\n<"), []byte("><"))
	before, after, _ := bytes.Cut(page, link)
	bare := func(part []byte) []byte { return quotes.ReplaceAll(part, []byte("=$1$2")) }
	return slices.Concat(bare(before), []byte("<style>\n"+tight(typeset.StyleSheet())+growing+"</style>"), bare(after)), nil
}

// growing lets drawings that are made for a telephone grow on a wider screen.
const growing = "figure svg { width: 100%; max-width: 27rem; }\n"

// optionalTags are end tags that a page of HTML need not have (HTML Living
// Standard, section 13.1.2.4): without them a handbook is less than 100 KB, which
// counts where it is sent over a slow line.
var optionalTags = regexp.MustCompile(`</(td|th|tr|thead|tbody|li|dt|dd|p)>`)

// quotes are quotation marks around values of attributes that need none (HTML
// Living Standard, section 13.1.2.3). In texts there are no such: they are written
// as references. Before a stroke they stay, which would become part of the value.
var quotes = regexp.MustCompile(`="([A-Za-z0-9._-]+)"([ >])`)

// tight is a style sheet without its comments and indentation, and without the
// name of the document before each rule: here it stands alone on its page.
func tight(sheet []byte) string {
	sheet = comments.ReplaceAll(sheet, nil)
	sheet = indents.ReplaceAll(sheet, []byte("\n"))
	sheet = spaces.ReplaceAll(sheet, []byte("$1$2"))
	return strings.ReplaceAll(string(sheet), ".typeset ", "")
}

var (
	comments = regexp.MustCompile(`(?s)/\*.*?\*/\s*`)
	indents  = regexp.MustCompile(`\s*\n\s*`)
	spaces   = regexp.MustCompile(` ?([{};,]) ?|(:) `)
)
