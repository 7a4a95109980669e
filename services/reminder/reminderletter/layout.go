package reminderletter

import (
	"slices"
	"strings"

	"halfshaft/services/internal/typeset"
	"halfshaft/services/reminder/reminderwords"
)

// style is a font with its size in points.
type style struct {
	bold bool
	size float64
}

// line is one line of the letter's text, ready to be placed.
type line struct {
	style
	text    string
	mark    string  // stands before the text: a bullet, a number, "CAUTION:"
	at      float64 // of the mark, from the left, in millimetres
	indent  float64 // of the text, from the left, in millimetres
	before  float64 // space above it, in millimetres, unless it is the first of a page
	keep    bool    // the next line stands on the same page
	beside  bool    // a rule stands at its left
	heading bool
	code    string  // what a square at the left says, beside this line and those below; "" for none
	below   float64 // space that the line needs below it, in millimetres
}

// leading is the height of a line to the size of its type.
const leading = 1.3

// mm is a point in millimetres.
const mm = typeset.Point

func (l line) height() float64 { return l.size*leading*mm + l.below }

// Sizes, in points, and spaces, in millimetres.
const (
	bodySize, smallSize  = 10.5, 8.5
	paragraph, beforeRow = 2.5, 0.8
	hang, bullet         = 5.0, 1.5
)

// measure gives the width of a text in a style, in millimetres.
type measure func(text string, s style) float64

// lines sets a sheet in lines of a width. Pages are broken later: keep says
// where they may not be. A heading keeps the first two lines of what it heads, a
// paragraph is not parted behind its first or before its last line, what leads
// to a list stays with its first row, and a caution is not parted at all.
func lines(s reminderwords.Sheet, width float64, m measure) (all []line) {
	add := func(block []line, before float64, whole bool) {
		for i := range block {
			if i == 0 {
				block[i].before = before
			}
			block[i].keep = i < len(block)-1 && (whole || i == 0 || i == len(block)-2)
		}
		all = append(all, block...)
	}
	heading := func(text string, size, before float64) {
		block := wrapped(text, style{true, size}, 0, width, m)
		for i := range block {
			block[i].heading = true
		}
		add(block, before, true)
	}
	heading(s.Subject, 12, 0)
	for n, b := range s.Blocks {
		switch text := strings.TrimSpace(b.Text); b.Kind {
		case reminderwords.Heading:
			if text != strings.TrimSpace(s.Subject) {
				heading(text, 12, 2*paragraph)
			}
		case reminderwords.Section:
			heading(text, 11, 1.6*paragraph)
		case reminderwords.Strong:
			add(wrapped(text, style{true, bodySize}, 0, width, m), paragraph, false)
		case reminderwords.Vehicle:
			add(wrapped(text, style{true, bodySize}, 0, width, m), paragraph, true)
			for _, row := range b.Rows {
				add(wrapped(row, style{false, bodySize}, 0, width, m), 0, false)
			}
		case reminderwords.Caution:
			add(caution(b.Mark, text, width, m), paragraph, true)
		case reminderwords.List:
			add(wrapped(text, style{false, bodySize}, 0, width, m), paragraph, true)
			if leads := text != "" || n > 0 && s.Blocks[n-1].Kind == reminderwords.Text; leads && len(all) > 0 {
				all[len(all)-1].keep = true
			}
			for i, block := range rows(b, width, m) {
				before := beforeRow
				if i == 0 && text == "" {
					before = paragraph
				}
				add(block, before, false)
			}
		case reminderwords.Small:
			add(wrapped(text, style{false, smallSize}, 0, width, m), paragraph, false)
		case reminderwords.Code:
			add(coded(text, b.Link, width, m), paragraph, true)
		case reminderwords.Link, reminderwords.Aside: // paper has none
		default:
			add(wrapped(text, style{false, bodySize}, 0, width, m), paragraph, false)
		}
	}
	for i, l := range all {
		switch rest := all[i+1:]; {
		case !l.heading || len(rest) == 0:
		case rest[0].heading:
			all[i].keep = true
		default:
			all[i].keep = true
			rest[0].keep = rest[0].keep || len(rest) > 1 && !rest[1].heading
		}
	}
	if len(all) > 0 {
		all[len(all)-1].keep = false
	}
	return all
}

// coded sets a square with the text at its right.
func coded(text, code string, width float64, m measure) []line {
	block := wrapped(text, style{false, bodySize}, codeSide+5, width, m)
	if len(block) == 0 {
		block = []line{{style: style{size: bodySize}}}
	}
	high := 0.0
	for _, l := range block {
		high += l.height()
	}
	block[0].code = code
	block[len(block)-1].below = max(0, codeSide-high)
	return block
}

// rows sets the rows of a list, each behind its bullet or its number.
func rows(b reminderwords.Block, width float64, m measure) (all [][]line) {
	body, indent := style{false, bodySize}, hang
	marks, texts := make([]string, len(b.Rows)), slices.Clone(b.Rows)
	for i, row := range b.Rows {
		marks[i] = "•"
		if number, rest, ok := strings.Cut(strings.TrimSpace(row), " "); b.Numbered && ok {
			marks[i], texts[i] = number, rest
			indent = max(indent, m(number+" ", body))
		}
	}
	for i, text := range texts {
		block := wrapped(text, body, indent, width, m)
		if len(block) > 0 {
			block[0].mark = marks[i]
			if !b.Numbered {
				block[0].at = bullet
			}
		}
		all = append(all, block)
	}
	return all
}

// caution sets what can hurt, with its mark before it and a rule beside it.
func caution(mark, text string, width float64, m measure) []line {
	bold := style{true, bodySize}
	indent := 3.0
	if mark = strings.TrimSpace(mark); mark != "" {
		indent += m(mark+" ", bold)
	}
	block := wrapped(text, bold, indent, width, m)
	for i := range block {
		block[i].beside = true
	}
	if len(block) > 0 {
		block[0].mark, block[0].at = mark, 3
	}
	return block
}

// wrapped breaks a text into lines of a width; line breaks in it stay.
func wrapped(text string, s style, indent, width float64, m measure) (block []line) {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	for one := range strings.SplitSeq(text, "\n") {
		for _, part := range typeset.Wrap(one, width-indent, func(t string) float64 { return m(t, s) }) {
			block = append(block, line{style: s, text: part, indent: indent})
		}
	}
	return block
}

// fewest is how many lines a last page has at least, where that can be.
const fewest = 6

// pages parts lines into pages: the first is that high, the others are as high
// as the second number. What is kept together and fits on no page is parted. A
// last page with a few lines gets some of the page before.
func pages(all []line, first, others float64) (out [][]line) {
	rest, room := all, first
	for len(rest) > 0 {
		n := fitting(rest, room)
		out, rest, room = append(out, rest[:n]), rest[n:], others
	}
	if n := len(out); n > 1 && len(out[n-1]) < fewest {
		both := all[len(all)-len(out[n-2])-len(out[n-1]):]
		for cut := len(both) - fewest; cut > 0; cut-- {
			if !both[cut-1].keep && fitting(both[cut:], others) == len(both)-cut {
				out[n-2], out[n-1] = both[:cut], both[cut:]
				break
			}
		}
	}
	return out
}

// fitting is how many lines go onto a page of a height; at least one, so that
// there is an end.
func fitting(all []line, room float64) int {
	strips := make([]typeset.Strip, len(all))
	for i, l := range all {
		strips[i] = typeset.Strip{Before: l.before, Height: l.height()}
		if l.keep {
			strips[i].Keep = typeset.Hard
		}
	}
	return typeset.Fit(strips, room)
}
