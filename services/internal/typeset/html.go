package typeset

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"sync"
)

//go:embed page.html style.css
var webFiles embed.FS

// page is parsed once; a fault in it is a defect of this package.
var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.ParseFS(webFiles, "page.html"))
})

// StyleSheet is the style sheet of documents, for screens in light and dark and
// for paper. It asks nothing of other hosts.
func StyleSheet() []byte {
	css, err := webFiles.ReadFile("style.css")
	if err != nil {
		panic(fmt.Sprintf("typeset: %v", err)) // it is embedded
	}
	return css
}

// HTML gives a document as one page, with StyleSheet under the address sheet. It
// has no script and no style of its own, so that a strict
// Content-Security-Policy lets it pass. A document with a fault in it is refused
// as Invalid.
func HTML(d Document, sheet string) ([]byte, error) {
	return rendered(d, "page", sheet)
}

// Fragment gives a document as a part of another page: an article whose title
// has a heading of level 1. The page has StyleSheet beside its own.
func Fragment(d Document) (template.HTML, error) {
	b, err := rendered(d, "document", "")
	return template.HTML(b), err // written by the template
}

func rendered(d Document, name, sheet string) ([]byte, error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	v := viewOf(d)
	v.Sheet = sheet
	var b bytes.Buffer
	if err := pageTemplate().ExecuteTemplate(&b, name, v); err != nil {
		return nil, fmt.Errorf("write the page: %w", err)
	}
	return b.Bytes(), nil
}
