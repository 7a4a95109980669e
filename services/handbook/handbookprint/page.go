package handbookprint

import (
	"bytes"
	"fmt"
	"html"
	"slices"

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
			d.Blocks[i] = t
		}
	}
	return d
}

// sheetName stands for the style sheet until it is put into the page.
const sheetName = "handbook.css"

// HTML gives a handbook as one page that needs nothing beside it: it is archived,
// and opened decades later from a disk. The style sheet of the typesetter stands
// in it; there is no script.
func HTML(h *handbook.Handbook, e Edition) ([]byte, error) {
	page, err := typeset.HTML(withoutBlanks(Document(h, e)), sheetName)
	if err != nil {
		return nil, err
	}
	link := []byte(fmt.Sprintf(`<link rel="stylesheet" href="%s">`, html.EscapeString(sheetName)))
	if bytes.Count(page, link) != 1 {
		return nil, fmt.Errorf("the page of the typesetter names its style sheet %d times", bytes.Count(page, link))
	}
	return bytes.Replace(page, link, []byte("<style>\n"+string(typeset.StyleSheet())+"</style>"), 1), nil
}
