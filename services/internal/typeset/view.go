package typeset

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
)

// view is a document as the template of the page reads it.
type view struct {
	Title, Edition, Language, Sheet string
	Cover                           *coverView
	Blocks                          []blockView
}

type coverView struct {
	Name  string
	Rows  []definitionView
	Small [][]runView
}

// blockView is any block; Kind says which fields it uses.
type blockView struct {
	Kind        string
	ID          string
	Level       int // of a heading
	Count       int // of columns
	Start       int
	Text, Word  string
	Caption     string
	Runs        []runView
	Texts       [][]runView
	Small       bool
	Grave       bool
	Numbered    bool
	Dense       bool
	Grouped     bool
	Changed     bool
	Kept        bool // its blocks stay on one page
	Said        Phrases
	Items       []itemView
	Definitions []definitionView
	Heads       []headView
	Groups      []groupView
	Fields      []fieldView
	Entries     []entryView
	Blocks      []blockView
	SVG         template.HTML
	Numbers     *blockView
}

type runView struct {
	Text, To                string
	Strong, Emphasis, Value bool
}

type itemView struct {
	Caution *blockView
	Runs    []runView
	Blocks  []blockView
	Changed bool
	Said    Phrases
}

type definitionView struct {
	Term    string
	Runs    []runView
	Changed bool
	Said    Phrases
}

type headView struct{ Text, Side string }

type groupView struct {
	Title string
	Span  int
	Rows  []rowView
}

type rowView struct {
	Cells   []cellView
	Changed bool
}

type cellView struct {
	Runs              []runView
	Side              string
	Head, Blank, Tick bool
	Changed           bool // said in the first cell of a row
	Said              Phrases
}

type fieldView struct {
	Class, Label, Unit, Note  string
	Tick, Line, Room, Changed bool
	Said                      Phrases
}

// entryView is a line of the contents or of the index.
type entryView struct {
	Level    int
	Text, To string
	Places   []placeView
}

type placeView struct{ Before, Text, To string }

// viewer turns blocks into views. It goes over the document twice: the first
// time finds where headings and terms stand.
type viewer struct {
	said     Phrases
	lang     string
	ids      int
	figures  int
	headings []entryView
	texts    map[string]string // of headings and captions, by anchor
	terms    map[string][]placeView
	under    string // the heading under which the reader is
	known    *viewer
}

func viewOf(d Document) view {
	first := newViewer(d, nil)
	first.blocks(d.Blocks)
	v := newViewer(d, first)
	out := view{Title: d.Title, Edition: d.Edition, Language: d.language()}
	if c := d.Cover; c != nil {
		cover := &coverView{Name: c.Name, Rows: v.definitions(Definitions{Rows: c.Rows})}
		for _, r := range c.Small {
			cover.Small = append(cover.Small, v.runs(r))
		}
		out.Cover = cover
	}
	out.Blocks = v.blocks(d.Blocks)
	return out
}

func newViewer(d Document, known *viewer) *viewer {
	return &viewer{
		said: d.phrases(), lang: d.language(), known: known,
		texts: map[string]string{}, terms: map[string][]placeView{}, under: d.Title,
	}
}

// blocks are those of a document. One bar stands beside several that changed
// below each other, and that they did is said once: where much is new, marks at
// each would be a third of the page.
func (v *viewer) blocks(blocks []Block) (all []blockView) {
	for i := 0; i < len(blocks); {
		n := i
		for n < len(blocks) && wholly(blocks[n]) {
			n++
		}
		if n-i < 2 {
			all = append(all, v.block(blocks[i]))
			i++
			continue
		}
		run := blockView{Kind: "together", Said: v.said, Changed: true}
		for ; i < n; i++ {
			run.Blocks = append(run.Blocks, v.block(marked(blocks[i], false)))
		}
		all = append(all, run)
	}
	return all
}

// id gives the anchor of a block, or makes one where something leads to it.
func (v *viewer) id(anchor string, needed bool) string {
	if anchor == "" && needed {
		v.ids++
		return fmt.Sprintf("place~%d", v.ids) // no anchor has a tilde
	}
	return anchor
}

// file files a place under terms.
func (v *viewer) file(terms []string, id string) {
	for _, t := range terms {
		v.terms[t] = append(v.terms[t], placeView{Text: v.under, To: id})
	}
}

func (v *viewer) block(b Block) blockView {
	out := blockView{Said: v.said}
	switch b := b.(type) {
	case Heading:
		out.Kind, out.Level, out.Text, out.Changed = "heading", b.Level, b.Text, b.Changed
		out.ID = v.id(b.Anchor, true)
		v.under, v.texts[b.Anchor] = b.Text, b.Text
		v.headings = append(v.headings, entryView{Level: b.Level, Text: b.Text, To: out.ID})
		v.file(b.Index, out.ID)
	case Paragraph:
		out.Kind, out.Runs, out.Small, out.Changed = "paragraph", v.runs(b.Runs), b.Small, b.Changed
		out.ID = v.id(b.Anchor, len(b.Index) > 0)
		v.texts[b.Anchor] = v.under
		v.file(b.Index, out.ID)
	case List:
		out.Kind, out.Numbered, out.Start, out.Items = "list", b.Numbered, b.Start, v.items(b)
		out.Changed = b.allChanged()
	case Definitions:
		out.Kind, out.Definitions = "definitions", v.definitions(b)
	case Table:
		return v.table(b)
	case Caution:
		return v.caution(b)
	case Figure:
		return v.figure(b)
	case Fields:
		out.Kind, out.Fields = "fields", v.fields(b)
	case Together:
		out.Kind, out.Kept, out.Blocks = "together", true, v.blocks(b.Blocks)
	case Columns:
		out.Kind, out.Count, out.Blocks = "columns", b.Count, v.blocks(b.Blocks)
	case PageBreak:
		out.Kind = "break"
	case Contents:
		out.Kind, out.Text, out.ID, out.Entries = "contents", b.Title, v.id("", true), v.contents(b.Depth)
	case Index:
		out.Kind, out.Text, out.ID, out.Entries = "index", b.Title, v.id("", true), v.index()
	}
	return out
}

func (v *viewer) runs(runs Runs) (all []runView) {
	for _, r := range runs {
		one := runView{Text: r.Text}
		switch r.Kind {
		case Strong:
			one.Strong = true
		case Emphasis:
			one.Emphasis = true
		case Value:
			one.Value, one.Text = true, Runs{r}.Text()
		case Reference:
			one.To = r.To
			if strings.TrimSpace(r.Text) == "" && v.known != nil {
				one.Text = v.known.texts[r.To]
			}
		}
		all = append(all, one)
	}
	return all
}

// items are those of a list. Where all of them changed, the list is marked, and
// that it did is said at the first.
func (v *viewer) items(l List) (all []itemView) {
	whole := l.allChanged()
	for i, it := range l.Items {
		if whole && i > 0 {
			it = it.unmarked()
		}
		one := itemView{Runs: v.runs(it.Runs), Changed: it.Changed, Said: v.said}
		if it.Caution != nil {
			c := v.caution(*it.Caution)
			one.Caution = &c
		}
		one.Blocks = v.blocks(it.Blocks)
		all = append(all, one)
	}
	return all
}

// allChanged reports whether no item of several is as it was.
func (l List) allChanged() bool {
	return len(l.Items) > 1 && !slices.ContainsFunc(l.Items, func(it Item) bool { return !it.Changed })
}

// unmarked is an item without marks of its own.
func (it Item) unmarked() Item {
	if it.Changed = false; it.Caution != nil {
		c := *it.Caution
		c.Changed, it.Caution = false, &c
	}
	return it
}

func (v *viewer) definitions(d Definitions) (all []definitionView) {
	for _, r := range d.Rows {
		all = append(all, definitionView{Term: r.Term, Runs: v.runs(r.Text), Changed: r.Changed, Said: v.said})
	}
	return all
}

func (v *viewer) caution(c Caution) blockView {
	out := blockView{Kind: "caution", Said: v.said, Word: c.Word, Grave: c.Grave, Changed: c.Changed}
	for _, r := range c.Texts {
		out.Texts = append(out.Texts, v.runs(r))
	}
	return out
}
