package typeset

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/text/language"

	"halfshaft/services/fault"
)

// most is how many columns a table has at most: more are not legible on paper.
const mostColumns = 12

// checker collects the faults of a document.
type checker struct {
	fields  []fault.Field
	anchors map[string]bool
	refs    []reference
	level   int // of the heading before
}

// reference is where an anchor is referred to.
type reference struct{ at, to string }

// Check refuses a document with faults in it as Invalid, all of them at once:
// anchors that are missing or there twice, rows with another number of cells
// than columns, headings over nothing, blocks without words.
func (d Document) Check() error {
	c := &checker{anchors: map[string]bool{}}
	c.words("title", d.Title)
	if d.Language != "" {
		if _, err := language.Parse(d.Language); err != nil {
			c.add("language", d.Language, "a language tag, such as en or de-CH")
		}
	}
	if p := d.phrases(); strings.Count(p.Page, "%s") != 1 || strings.Count(p.Page, "%") != 1 {
		c.add("phrases.page", p.Page, `a phrase with one %s for the number, such as "page %s"`)
	} else if p.Figure != "" && (strings.Count(p.Figure, "%s") != 1 || strings.Count(p.Figure, "%") != 1) {
		c.add("phrases.figure", p.Figure, `a phrase with one %s for the number, such as "Figure %s"`)
	}
	if d.Cover != nil {
		for i, r := range d.Cover.Rows {
			at := fmt.Sprintf("cover.rows[%d]", i)
			c.words(at+".term", r.Term)
			c.runs(at+".text", r.Text)
		}
		for i, r := range d.Cover.Small {
			c.runs(fmt.Sprintf("cover.small[%d]", i), r)
		}
	}
	c.blocks("blocks", d.Blocks, true)
	for _, r := range c.refs {
		if !c.anchors[r.to] {
			c.add(r.at, r.to, "an anchor of this document")
		}
	}
	if len(c.fields) > 0 {
		return fault.InvalidFields(c.fields)
	}
	return nil
}

func (c *checker) add(name, got, want string) {
	c.fields = append(c.fields, fault.Field{Name: name, Got: got, Want: want})
}

func (c *checker) words(name, text string) {
	if strings.TrimSpace(text) == "" {
		c.add(name, text, "some words")
	}
}

func (c *checker) anchor(name, anchor string) {
	switch {
	case anchor == "":
	case strings.ContainsFunc(anchor, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' || r == '.')
	}):
		c.add(name, anchor, "letters, digits, hyphens, dots and underscores")
	case c.anchors[anchor]:
		c.add(name, anchor, "an anchor that is there once")
	}
	if anchor != "" {
		c.anchors[anchor] = true
	}
}

// runs refuses running text without words.
func (c *checker) runs(name string, r Runs) {
	if strings.TrimSpace(r.Text()) == "" && !c.refers(r) {
		c.add(name, r.Text(), "some words")
	}
	c.cell(name, r)
}

func (c *checker) refers(r Runs) bool {
	for _, one := range r {
		if one.Kind == Reference && one.To != "" {
			return true
		}
	}
	return false
}

// cell looks at running text that may be empty.
func (c *checker) cell(name string, r Runs) {
	for i, one := range r {
		at := name + "[" + strconv.Itoa(i) + "]"
		switch {
		case one.Kind < Plain || one.Kind > Reference:
			c.add(at+".kind", strconv.Itoa(int(one.Kind)), "a kind of run")
		case one.Kind == Reference:
			c.refs = append(c.refs, reference{at + ".to", one.To})
		case one.To != "":
			c.add(at+".to", one.To, "nothing, unless it is a reference")
		}
	}
}

func (c *checker) blocks(name string, blocks []Block, outermost bool) {
	for i, b := range blocks {
		at := name + "[" + strconv.Itoa(i) + "]"
		if h, ok := b.(Heading); ok {
			c.heading(at, h, blocks[i+1:], outermost)
			continue
		}
		if !outermost && !inner(b) {
			c.add(at, fmt.Sprintf("%T", b), "a block that can stand within another")
			continue
		}
		c.block(at, b)
	}
}

// inner says whether a block can stand within another one.
func inner(b Block) bool {
	switch b.(type) {
	case PageBreak, Contents, Index, Columns:
		return false
	}
	return true
}

func (c *checker) heading(at string, h Heading, rest []Block, outermost bool) {
	c.words(at+".text", h.Text)
	c.anchor(at+".anchor", h.Anchor)
	if h.Level < 1 || h.Level > 3 {
		c.add(at+".level", strconv.Itoa(h.Level), "1 to 3")
	} else if h.Level > c.level+1 { // a reader who goes by headings would look for the one between
		c.add(at+".level", strconv.Itoa(h.Level), fmt.Sprintf("at most %d, one below the heading before", c.level+1))
	}
	c.level = h.Level
	if len(rest) == 0 {
		if outermost {
			c.add(at+".text", h.Text, "something under the heading")
		}
		return
	}
	switch next := rest[0].(type) {
	case Heading:
		if next.Level <= h.Level {
			c.add(at+".text", h.Text, "something under the heading")
		}
	case PageBreak:
		c.add(at+".text", h.Text, "something under the heading")
	}
}

func (c *checker) block(at string, b Block) {
	switch b := b.(type) {
	case Paragraph:
		c.runs(at+".runs", b.Runs)
		c.anchor(at+".anchor", b.Anchor)
	case List:
		c.list(at, b)
	case Definitions:
		c.some(at+".rows", len(b.Rows))
		for i, r := range b.Rows {
			row := fmt.Sprintf("%s.rows[%d]", at, i)
			c.words(row+".term", r.Term)
			c.cell(row+".text", r.Text)
		}
	case Table:
		c.table(at, b)
	case Caution:
		c.caution(at, b)
	case Figure:
		c.figure(at, b)
	case Fields:
		c.some(at+".fields", len(b.Fields))
		for i, f := range b.Fields {
			c.words(fmt.Sprintf("%s.fields[%d].label", at, i), f.Label)
			if f.Lines < 0 || f.Lines > 20 {
				c.add(fmt.Sprintf("%s.fields[%d].lines", at, i), strconv.Itoa(f.Lines), "1 to 20, or 0 for 3")
			}
		}
	case Together:
		c.some(at+".blocks", len(b.Blocks))
		c.blocks(at+".blocks", b.Blocks, false)
	case Columns:
		if b.Count < 2 || b.Count > 3 {
			c.add(at+".count", strconv.Itoa(b.Count), "2 or 3")
		}
		c.some(at+".blocks", len(b.Blocks))
		c.blocks(at+".blocks", b.Blocks, false)
	case nil:
		c.add(at, "nothing", "a block")
	}
}

func (c *checker) some(name string, n int) {
	if n == 0 {
		c.add(name, "none", "at least one")
	}
}

func (c *checker) list(at string, l List) {
	c.some(at+".items", len(l.Items))
	for i, item := range l.Items {
		row := fmt.Sprintf("%s.items[%d]", at, i)
		c.runs(row+".runs", item.Runs)
		if item.Caution != nil {
			c.caution(row+".caution", *item.Caution)
		}
		c.blocks(row+".blocks", item.Blocks, false)
	}
}

func (c *checker) caution(at string, b Caution) {
	c.words(at+".word", b.Word)
	c.some(at+".texts", len(b.Texts))
	for i, r := range b.Texts {
		c.runs(fmt.Sprintf("%s.texts[%d]", at, i), r)
	}
}

func (c *checker) table(at string, t Table) {
	c.anchor(at+".anchor", t.Anchor)
	if n := len(t.Columns); n < 1 || n > mostColumns {
		c.add(at+".columns", strconv.Itoa(n), fmt.Sprintf("1 to %d", mostColumns))
	}
	for i, col := range t.Columns {
		if col.Weight < 0 {
			c.add(fmt.Sprintf("%s.columns[%d].weight", at, i), fmt.Sprint(col.Weight), "more than 0, or 0 for 1")
		}
	}
	rows := 0
	for i, g := range t.Groups {
		for j, r := range g.Rows {
			row := fmt.Sprintf("%s.groups[%d].rows[%d].cells", at, i, j)
			if rows++; len(r.Cells) != len(t.Columns) {
				c.add(row, strconv.Itoa(len(r.Cells)), fmt.Sprintf("%d, one to each column", len(t.Columns)))
			}
			for k, cell := range r.Cells {
				c.cell(fmt.Sprintf("%s[%d].runs", row, k), cell.Runs)
			}
		}
	}
	c.some(at+".rows", rows)
}

func (c *checker) figure(at string, f Figure) {
	c.anchor(at+".anchor", f.Anchor)
	c.words(at+".caption", f.Caption+f.Figure.Title)
	d := f.Figure.Drawing
	if !(d.Width > 0 && d.Height > 0) {
		c.add(at+".figure.drawing", fmt.Sprintf("%g x %g", d.Width, d.Height), "a width and a height")
	}
	heads := len(f.Figure.Table.Heads)
	if heads > mostColumns {
		c.add(at+".figure.table.heads", strconv.Itoa(heads), fmt.Sprintf("at most %d", mostColumns))
	}
	for i, row := range f.Figure.Table.Rows {
		if len(row) != heads {
			c.add(fmt.Sprintf("%s.figure.table.rows[%d]", at, i), strconv.Itoa(len(row)), fmt.Sprintf("%d, one to each head", heads))
		}
	}
	if f.Show && (heads == 0 || len(f.Figure.Table.Rows) == 0) {
		c.add(at+".show", "true", "a table with rows, or false")
	}
}
