package typeset

import "strings"

// Texts are all words of a document in the order in which they are read: one
// text for each line, cell, label. What the typesetter adds (pages, contents,
// the index) is not among them.
func (d Document) Texts() (all []string) {
	if c := d.Cover; c != nil {
		all = append(all, c.Name, d.Title, d.Edition)
		all = append(all, TextsOf(Definitions{Rows: c.Rows})...)
		for _, r := range c.Small {
			all = append(all, r.Text())
		}
	} else {
		all = append(all, d.Title, d.Edition)
	}
	for _, b := range d.Blocks {
		all = append(all, TextsOf(b)...)
	}
	return all
}

// Text is what running text says, with its numbers and units.
func (r Runs) Text() string {
	var b strings.Builder
	for _, one := range r {
		b.WriteString(one.Text)
		if one.Kind == Value && one.Unit != "" {
			if one.Unit != "°" {
				b.WriteString("\u00a0")
			}
			b.WriteString(one.Unit)
		}
	}
	return b.String()
}

// TextsOf are the words of one block, as Document.Texts gives them: two blocks
// with the same texts say the same.
func TextsOf(b Block) (all []string) {
	each := func(blocks []Block) {
		for _, one := range blocks {
			all = append(all, TextsOf(one)...)
		}
	}
	switch b := b.(type) {
	case Heading:
		all = []string{b.Text}
	case Paragraph:
		all = []string{b.Runs.Text()}
	case List:
		for i, item := range b.Items {
			if item.Caution != nil {
				all = append(all, TextsOf(*item.Caution)...)
			}
			if b.Numbered {
				all = append(all, b.numbers()[i])
			}
			all = append(all, item.Runs.Text())
			each(item.Blocks)
		}
	case Definitions:
		for _, r := range b.Rows {
			all = append(all, r.Term, r.Text.Text())
		}
	case Table:
		all = b.texts()
	case Caution:
		all = []string{b.Word}
		for _, r := range b.Texts {
			all = append(all, r.Text())
		}
	case Figure:
		all = b.texts()
	case Fields:
		for _, f := range b.Fields {
			all = append(all, f.Label, f.Unit, f.Note)
		}
	case Together:
		each(b.Blocks)
	case Columns:
		each(b.Blocks)
	case Contents:
		all = []string{b.Title}
	case Index:
		all = []string{b.Title}
	}
	return all
}

func (t Table) texts() []string {
	all := []string{t.Caption}
	for _, c := range t.Columns {
		all = append(all, c.Head)
	}
	for _, g := range t.Groups {
		all = append(all, g.Title)
		for _, r := range g.Rows {
			for _, c := range r.Cells {
				all = append(all, c.Runs.Text())
			}
		}
	}
	return all
}
