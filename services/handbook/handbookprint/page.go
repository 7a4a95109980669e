package handbookprint

import (
	"bytes"
	"fmt"
	"html"

	"halfshaft/services/handbook"
	"halfshaft/services/internal/typeset"
)

// sheetName stands for the style sheet until it is put into the page.
const sheetName = "handbook.css"

// HTML gives a handbook as one page that needs nothing beside it: it is archived,
// and opened decades later from a disk. The style sheet of the typesetter stands
// in it; there is no script.
func HTML(h *handbook.Handbook, e Edition) ([]byte, error) {
	page, err := typeset.HTML(Document(h, e), sheetName)
	if err != nil {
		return nil, err
	}
	link := []byte(fmt.Sprintf(`<link rel="stylesheet" href="%s">`, html.EscapeString(sheetName)))
	if bytes.Count(page, link) != 1 {
		return nil, fmt.Errorf("the page of the typesetter names its style sheet %d times", bytes.Count(page, link))
	}
	return bytes.Replace(page, link, []byte("<style>\n"+string(typeset.StyleSheet())+"</style>"), 1), nil
}
