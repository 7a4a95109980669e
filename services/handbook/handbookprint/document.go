// Package handbookprint sets a handbook on paper and as a page: it makes of it a
// document of the typesetter.
package handbookprint

import (
	"bytes"
	"fmt"
	"strings"

	"halfshaft/services/handbook"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/typeset"
)

// Edition is what is said of a handbook that is printed: which issue it is, and
// what is different from the one before.
type Edition struct {
	Issue   int // 0: not issued, as it would be on the day
	Text    string
	Changes []handbook.Change // none in the first
	Before  int               // the issue that they are different from
}

// unsigned is what stands at the head of each page of a sample.
const unsigned = "sample, not signed"

// Document makes the document for paper.
func Document(h *handbook.Handbook, e Edition) typeset.Document { return document(h, e, onPaper) }

func document(h *handbook.Handbook, e Edition, layout figure.Layout) typeset.Document {
	d := typeset.Document{
		Title: fmt.Sprintf("%s, %s", h.Title, h.Serial), Edition: edition(h, e), Language: h.Language,
		Head: string(h.Serial), Cover: cover(h), Phrases: phrases(),
	}
	if h.Sample {
		d.Head += " – " + unsigned
	}
	d.Blocks = append(d.Blocks, typeset.Contents{Title: "Contents", Depth: 2}, typeset.PageBreak{})
	d.Blocks = append(d.Blocks, changes(h, e)...)
	for i := range h.Chapters {
		d.Blocks = append(d.Blocks, chapter(&h.Chapters[i], layout)...)
	}
	d.Blocks = append(d.Blocks, typeset.Index{Title: "Index"})
	return d
}

// phrases are those of the typesetter, with a short word for what changed: in an
// issue where much did, it is said many times.
func phrases() *typeset.Phrases {
	p := typeset.English()
	p.Changed = "Changed"
	return &p
}

func edition(h *handbook.Handbook, e Edition) string {
	if e.Issue == 0 {
		return "As it would be on " + h.On.Long() + "; not issued"
	}
	return fmt.Sprintf("Issue %d of %s", e.Issue, h.On.Long())
}

// cover is the title page.
func cover(h *handbook.Handbook) *typeset.Cover {
	c := &typeset.Cover{Name: h.Works.Name}
	for _, row := range h.Cover {
		c.Rows = append(c.Rows, typeset.Definition{Term: row[0], Text: typeset.Words(row[1])})
	}
	if h.Sample {
		c.Small = append(c.Small, typeset.Bold("A sample: every value in it is to be signed by the works’ engineer before anybody relies on it."))
	} else if h.SignedBy != "" {
		c.Small = append(c.Small, typeset.Words("Signed by "+h.SignedBy+"."))
	}
	c.Small = append(c.Small, typeset.Words("Local law and licensed practice go first."))
	var at []string
	for _, text := range []string{h.Works.Name, h.Works.Address, h.Works.Telephone, h.Works.Mail} {
		if text != "" {
			at = append(at, text)
		}
	}
	if len(at) > 0 {
		c.Small = append(c.Small, typeset.Words(strings.Join(at, " · ")))
	}
	return c
}

// changes is the list of what is different from the issue before.
func changes(h *handbook.Handbook, e Edition) []typeset.Block {
	if e.Before == 0 {
		return nil
	}
	title := fmt.Sprintf("What has changed since issue %d", e.Before)
	blocks := []typeset.Block{typeset.Heading{Level: 1, Text: title, Anchor: "changes-since-issue", Index: []string{"changes since the issue before"}}}
	if e.Text != "" {
		blocks = append(blocks, typeset.Paragraph{Runs: typeset.Words("Issued: " + e.Text)})
	}
	if len(e.Changes) == 0 {
		return append(blocks, typeset.Paragraph{Runs: typeset.Words("Nothing is different from the issue before.")})
	}
	blocks = append(blocks, typeset.Paragraph{Runs: typeset.Words("A bar in the margin stands beside what is different.")})
	list := typeset.List{}
	headed := sectionsWithHeading(h)
	for _, c := range e.Changes {
		if len(e.Changes) > toldInFull && c.Kind == handbook.SectionChanged && headed[c.Section] {
			list.Items = append(list.Items, typeset.Item{Runs: typeset.Runs{typeset.See(c.Title, c.Section)}})
			continue
		}
		runs := typeset.Runs{{Kind: typeset.Strong, Text: c.Title + ". "}, {Text: c.Sentence}}
		if c.Kind != handbook.SectionChanged {
			runs = typeset.Words(c.Sentence)
		}
		list.Items = append(list.Items, typeset.Item{Runs: runs})
	}
	return append(blocks, list)
}

// toldInFull is up to how many sections it is said what differs in them. Beyond,
// most of the book is another, and a list of where is what helps.
const toldInFull = 20

// sectionsWithHeading are those that a reference finds by their title.
func sectionsWithHeading(h *handbook.Handbook) map[string]bool {
	out := map[string]bool{}
	for i := range h.Chapters {
		for j := range h.Chapters[i].Sections {
			s := &h.Chapters[i].Sections[j]
			out[s.ID] = s.Title != ""
		}
	}
	return out
}

// chapter keeps the number that it has in the book.
func chapter(c *handbook.MadeChapter, layout figure.Layout) []typeset.Block {
	blocks := []typeset.Block{typeset.Heading{Level: 1, Text: fmt.Sprintf("%d  %s", c.Number, c.Title), Anchor: fmt.Sprintf("chapter-%d", c.Number)}}
	for i := range c.Sections {
		blocks = append(blocks, section(&c.Sections[i], layout)...)
	}
	return blocks
}

// PageCount counts the pages of a PDF that the typesetter made.
func PageCount(pdf []byte) int {
	return bytes.Count(pdf, []byte("/Type /Page\n")) + bytes.Count(pdf, []byte("/Type /Page/")) + bytes.Count(pdf, []byte("/Type /Page ")) + bytes.Count(pdf, []byte("/Type /Page>"))
}
