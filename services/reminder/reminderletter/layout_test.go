package reminderletter

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/reminder/reminderwords"
)

// a sheet of blocks, set on narrow paper.
func set(blocks ...reminderwords.Block) []line {
	return lines(reminderwords.Sheet{Subject: "Subject", Blocks: blocks}, 100, widthOf)
}

func textBlock(words int) reminderwords.Block {
	return reminderwords.Block{Kind: reminderwords.Text, Text: strings.TrimSpace(strings.Repeat("word ", words))}
}

func TestAHeadingKeepsTwoLinesOfWhatItHeads(t *testing.T) {
	heading := reminderwords.Block{Kind: reminderwords.Section, Text: "Heading"}
	due := reminderwords.Block{Kind: reminderwords.Strong, Text: "Due by 1 May."}
	// Whatever room there is on the first page, it does not end with the heading
	// or with one line after it.
	all := set(textBlock(200), heading, due, textBlock(200))
	broken := 0
	for room := 20.0; room < 220; room++ {
		page := pages(all, room, 300)[0]
		if len(page) < len(all) && slices.ContainsFunc(page, func(l line) bool { return l.text == "Heading" }) {
			broken++
		}
		for back, l := range page[max(0, len(page)-2):] {
			if l.text == "Heading" {
				t.Errorf("with %.0f mm of room the page ends %d lines after the heading", room, 1-back)
			}
		}
	}
	if broken < 50 {
		t.Errorf("only %d of the pages end behind the heading", broken)
	}
	// A heading at the end, or before another, needs no two lines.
	if all := set(textBlock(3), heading); all[len(all)-1].keep {
		t.Error("the last line is kept with nothing")
	}
	all = set(heading, due, heading, due)
	if !all[1].keep || all[2].keep || !all[3].keep {
		t.Errorf("one line under a heading: %+v", all)
	}
}

func TestWhatLeadsToAListStaysWithIt(t *testing.T) {
	all := set(textBlock(1), textBlock(1), textBlock(1), reminderwords.Block{Kind: reminderwords.List, Rows: []string{"one", "two"}})
	if lead := all[3]; all[2].keep || lead.text != "word" || !lead.keep {
		t.Errorf("got %+v", lead)
	}
}

func TestALastPageHasMoreThanAFewLines(t *testing.T) {
	var blocks []reminderwords.Block
	for range 40 {
		blocks = append(blocks, textBlock(1))
	}
	all := set(blocks...)
	tried := 0
	for room := 30.0; room < 250; room++ {
		out := pages(all, room, 250)
		if flat := slices.Concat(out...); !slices.Equal(flat, all) {
			t.Fatal("lines are lost or out of order")
		}
		if len(out) > 1 {
			tried++
			if n := len(out[len(out)-1]); n < 6 {
				t.Errorf("with %.0f mm of room the last page has %d lines", room, n)
			}
		}
	}
	if tried < 50 {
		t.Errorf("only %d of them have two pages", tried)
	}
	// What is kept together stays so, and what fits nowhere else stays alone.
	whole := []line{{style: style{size: bodySize}, keep: true}, {style: style{size: bodySize}, keep: true}, {style: style{size: bodySize}}, {style: style{size: bodySize}}}
	if out := pages(whole, 15, 100); len(out) != 2 || len(out[0]) != 3 || len(out[1]) != 1 {
		t.Errorf("got %d pages: %+v", len(out), out)
	}
}

func TestNumberedRowsHaveNoBullets(t *testing.T) {
	rows := []string{"9. " + strings.Repeat("word ", 40), "10. Tyres"}
	all := set(reminderwords.Block{Kind: reminderwords.List, Rows: rows, Numbered: true})
	var marks []string
	for _, l := range all[1:] {
		if l.mark != "" {
			marks = append(marks, l.mark)
			if l.at != 0 || l.indent < widthOf("10. ", l.style) {
				t.Errorf("the text of %q runs into its number: %+v", l.mark, l)
			}
		}
		if strings.Contains(l.text, "9.") || l.indent != all[1].indent {
			t.Errorf("got %+v", l)
		}
	}
	if !slices.Equal(marks, []string{"9.", "10."}) {
		t.Errorf("got the marks %q", marks)
	}
	if all := set(reminderwords.Block{Kind: reminderwords.List, Rows: []string{"1. one"}}); all[1].mark != "•" || all[1].text != "1. one" || all[1].at != bullet {
		t.Errorf("a plain list: %+v", all[1])
	}
}

func TestTheWorksIsNamedOnceInItsAddress(t *testing.T) {
	named := works
	named.Postal = append([]string{works.Name}, works.Postal...)
	pdf, err := Print(Config{Works: named}, []Addressed{letterTo(addresses["plain"])})
	if err != nil {
		t.Fatal(err)
	}
	plain, err := Print(Config{Works: works}, []Addressed{letterTo(addresses["plain"])})
	if err != nil {
		t.Fatal(err)
	}
	got, want := read(t, pdf)[0].all(), read(t, plain)[0].all()
	if got != want || !strings.Contains(got, "Aldermoor Works · 1 Mill Lane · Aldermoor") {
		t.Errorf("got %s", got)
	}
}

// A square stands beside its text and is as high as itself, whatever stands there.
func TestASquareHasItsRoomBesideItsText(t *testing.T) {
	for _, text := range []string{"", "Short.", strings.Repeat("Many words about a square. ", 40)} {
		block := lines(reminderwords.Sheet{Blocks: []reminderwords.Block{{Kind: reminderwords.Code, Text: text, Link: "https://owners.aldermoor.example/l/abc"}}}, 165, func(s string, st style) float64 { return float64(len(s)) * 2 })
		high := 0.0
		for i, l := range block {
			high += l.height()
			if l.text != "" && l.indent <= codeSide {
				t.Errorf("%q runs into the square", l.text)
			}
			if (l.code != "") != (i == 0) || i < len(block)-1 && !l.keep {
				t.Errorf("the line %d of %d is %+v", i+1, len(block), l)
			}
		}
		if high < codeSide-0.001 {
			t.Errorf("%d lines are %.1f mm high, and the square %.1f", len(block), high, codeSide)
		}
	}
}
