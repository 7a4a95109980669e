package reminderletter

import (
	"strings"

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
	text   string
	mark   string  // stands before the text: a bullet, "CAUTION:"
	indent float64 // of the text, from the left, in millimetres
	before float64 // space above it, in millimetres, unless it is the first of a page
	keep   bool    // the next line stands on the same page
	beside bool    // a rule stands at its left
}

// leading is the height of a line to the size of its type.
const leading = 1.3

// mm is a point in millimetres.
const mm = 25.4 / 72

func (l line) height() float64 { return l.size * leading * mm }

// Sizes, in points, and spaces, in millimetres.
const (
	bodySize, smallSize  = 10.5, 8.5
	paragraph, beforeRow = 2.5, 0.8
	hang                 = 5.0
)

// measure gives the width of a text in a style, in millimetres.
type measure func(text string, s style) float64

// lines sets a sheet in lines of a width. Pages are broken later: keep says
// where they may not be. A heading keeps the first lines of what it heads, a
// paragraph is not parted behind its first or before its last line, and a
// caution not at all.
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
		add(block, before, true)
		if len(all) > 0 {
			all[len(all)-1].keep = true
		}
	}
	heading(s.Subject, 12, 0)
	for _, b := range s.Blocks {
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
			if text != "" {
				add(wrapped(text, style{false, bodySize}, 0, width, m), paragraph, true)
				all[len(all)-1].keep = true
			}
			for i, row := range b.Rows {
				block := wrapped(row, style{false, bodySize}, hang, width, m)
				if len(block) > 0 {
					block[0].mark = "•"
				}
				before := beforeRow
				if i == 0 && text == "" {
					before = paragraph
				}
				add(block, before, false)
			}
		case reminderwords.Small:
			add(wrapped(text, style{false, smallSize}, 0, width, m), paragraph, false)
		case reminderwords.Link, reminderwords.Aside: // paper has none
		default:
			add(wrapped(text, style{false, bodySize}, 0, width, m), paragraph, false)
		}
	}
	if len(all) > 0 {
		all[len(all)-1].keep = false
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
		block[0].mark = mark
	}
	return block
}

// wrapped breaks a text into lines of a width; line breaks in it stay.
func wrapped(text string, s style, indent, width float64, m measure) (block []line) {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	for one := range strings.SplitSeq(text, "\n") {
		for _, part := range wrap(one, width-indent, func(t string) float64 { return m(t, s) }) {
			block = append(block, line{style: s, text: part, indent: indent})
		}
	}
	return block
}

// wrap breaks one line at spaces, and within a word that is wider than a line
// where it must. Spaces that must not be broken at are not among them.
func wrap(text string, width float64, m func(string) float64) (parts []string) {
	line := ""
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ' ' || r == '\t' }) {
		if line != "" && m(line+" "+word) <= width {
			line += " " + word
			continue
		}
		if line != "" {
			parts = append(parts, line)
		}
		line = ""
		for _, r := range word {
			if line != "" && m(line+string(r)) > width {
				parts, line = append(parts, line), ""
			}
			line += string(r)
		}
	}
	if line != "" {
		parts = append(parts, line)
	}
	return parts
}

// pages parts lines into pages: the first is that high, the others are as high
// as the second number. What is kept together and fits on no page is parted.
func pages(all []line, first, others float64) (out [][]line) {
	room := first
	for len(all) > 0 {
		n := fitting(all, room)
		out, all, room = append(out, all[:n]), all[n:], others
	}
	return out
}

// fitting is how many lines go onto a page of a height; at least one, so that
// there is an end.
func fitting(all []line, room float64) int {
	used, last := 0.0, 0
	for i, l := range all {
		if i > 0 {
			used += l.before
		}
		if used += l.height(); used > room {
			if last == 0 { // kept together, and higher than a page
				return max(i, 1)
			}
			return last
		}
		if !l.keep {
			last = i + 1
		}
	}
	return len(all)
}
