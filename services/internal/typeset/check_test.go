package typeset

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/internal/figure"
)

func TestADocumentWithFaultsIsRefusedWithAllOfThem(t *testing.T) {
	text := Paragraph{Runs: Words("x")}
	for _, c := range []struct {
		name   string
		change func(*Document)
		want   []string
	}{
		{"without a title", func(d *Document) { d.Title = " " }, []string{`title: got " ", want some words`}},
		{"in no language", func(d *Document) { d.Language = "English, please" }, []string{"language: got"}},
		{"with phrases that name no page", func(d *Document) { d.Phrases = &Phrases{Page: "page"} }, []string{"phrases.page: got"}},
		{"with phrases that print something else", func(d *Document) { d.Phrases = &Phrases{Page: "%s %d"} }, []string{"phrases.page: got"}},
		{"with anchors twice and references to none", func(d *Document) {
			d.Blocks = []Block{
				Heading{Level: 1, Text: "a", Anchor: "a"}, Paragraph{Runs: Words("x"), Anchor: "a"},
				Paragraph{Runs: Runs{See("b", "b")}}, Heading{Level: 1, Text: "c", Anchor: "c d"}, text,
			}
		}, []string{"blocks[1].anchor: got", "blocks[3].anchor: got", "blocks[2].runs[0].to: got"}},
		{"with headings over nothing", func(d *Document) {
			d.Blocks = []Block{
				Heading{Level: 1, Text: "a"}, Heading{Level: 2, Text: "b"}, Heading{Level: 2, Text: "c"}, text,
				Heading{Level: 3, Text: "d"}, PageBreak{}, Heading{Level: 4, Text: "e"}, text,
			}
		}, []string{"blocks[1].text", "blocks[4].text", "blocks[6].level"}},
		{"with a heading at its end, two below the one before", func(d *Document) {
			d.Blocks = []Block{Heading{Level: 1, Text: "a"}, text, Heading{Level: 3, Text: "b"}}
		}, []string{"blocks[2].level: got \"3\", want at most 2", "blocks[2].text"}},
		{"with rows of another length", func(d *Document) {
			d.Blocks = []Block{Table{Columns: make([]Column, 2), Groups: []Group{{Rows: []Row{{Cells: make([]Cell, 3)}}}}}}
		}, []string{"blocks[0].groups[0].rows[0].cells: got", "want 2, one to each column"}},
		{"with a table of no rows and too many columns", func(d *Document) {
			d.Blocks = []Block{Table{Columns: make([]Column, 13)}}
		}, []string{"blocks[0].columns: got", "blocks[0].rows: got"}},
		{"with blocks that say nothing", func(d *Document) {
			d.Blocks = []Block{Paragraph{}, List{}, Caution{}, Fields{}, Together{}, Columns{Count: 4}, Definitions{}, List{Items: []Item{{}}}}
		}, []string{
			"blocks[0].runs", "blocks[1].items", "blocks[2].word", "blocks[2].texts", "blocks[3].fields", "blocks[4].blocks",
			"blocks[5].count", "blocks[5].blocks", "blocks[6].rows", "blocks[7].items[0].runs",
		}},
		{"with a page break within a list", func(d *Document) {
			d.Blocks = []Block{List{Items: []Item{{Runs: Words("x"), Blocks: []Block{PageBreak{}}}}}}
		}, []string{"blocks[0].items[0].blocks[0]: got"}},
		{"with a drawing of no size", func(d *Document) {
			d.Blocks = []Block{Figure{Caption: "x", Show: true, Figure: figure.Figure{Table: figure.Table{Heads: []string{"a"}, Rows: [][]string{{"1", "2"}}}}}}
		}, []string{"blocks[0].figure.drawing", "blocks[0].figure.table.rows[0]"}},
		{"with an empty place", func(d *Document) { d.Blocks = []Block{nil} }, []string{"blocks[0]: got"}},
	} {
		d := sample()
		c.change(&d)
		err := d.Check()
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("a document %s: %v", c.name, err)
			continue
		}
		for _, want := range c.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("a document %s: %v does not say %q", c.name, err, want)
			}
		}
		if _, printed := PDF(d, Print{}); printed == nil {
			t.Errorf("a document %s is printed", c.name)
		}
		if _, shown := HTML(d, "/style.css"); shown == nil {
			t.Errorf("a document %s is shown", c.name)
		}
	}
	if err := sample().Check(); err != nil {
		t.Error(err)
	}
	if _, err := PDF(sample(), Print{Paper: "A6"}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "paper:") {
		t.Errorf("another paper: %v", err)
	}
}

func TestMarkingABlockMarksAllOfItAndNotTheOneGiven(t *testing.T) {
	caution := &Caution{Word: "c", Texts: []Runs{Words("t")}}
	list := List{Items: []Item{{Runs: Words("a"), Caution: caution, Blocks: []Block{Paragraph{Runs: Words("b")}}}}}
	got := MarkChanged(list).(List)
	if it := got.Items[0]; !it.Changed || !it.Caution.Changed || !it.Blocks[0].(Paragraph).Changed {
		t.Errorf("got %+v", got)
	}
	if it := list.Items[0]; it.Changed || caution.Changed || it.Blocks[0].(Paragraph).Changed {
		t.Errorf("the list given is now %+v", list)
	}
	for _, b := range body() {
		before, marked := strings.Join(TextsOf(b), "\n"), MarkChanged(b)
		if got := strings.Join(TextsOf(marked), "\n"); got != before {
			t.Errorf("%T says %q, said %q", b, got, before)
		}
	}
}
