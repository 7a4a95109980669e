package typeset

import "halfshaft/services/fault"

// Paper is what is printed on.
type Paper string

// The papers. The zero value is A4.
const (
	A4       Paper = "A4"     // ISO 216
	A5       Paper = "A5"     // ISO 216: for the door pocket
	USLetter Paper = "Letter" // 8 1/2 x 11 in
)

// Print says how a document is printed.
type Print struct {
	Paper  Paper
	Duplex bool // on both sides: the wider margin changes sides with each page
	Count  bool // "2 / 5" at the foot, for loose sheets
	Tight  bool // small type and narrow margins: what is worked from, not read through
}

// sheet is where things stand on a sheet, in millimetres. Inner is the side that
// is bound: the left of a right-hand page.
type sheet struct {
	width, height float64
	inner, outer  float64 // margins
	top, bottom   float64 // margins of the text
	head, foot    float64 // baselines of the running head and of the page number
	measure       float64 // the widest that running text gets: about 75 letters
	body          float64 // size of running text, in points
	columns       int     // of the index
	slim          bool    // the edition stands beside the title, and tables stand closer
}

func sheetOf(p Paper) (sheet, error) {
	switch p {
	case "", A4:
		return sheet{210, 297, 25, 20, 26, 24, 15, 297 - 13, 138, 10.5, 3, false}, nil
	case USLetter:
		return sheet{215.9, 279.4, 25, 22, 25, 23, 15, 279.4 - 13, 138, 10.5, 3, false}, nil
	case A5:
		return sheet{148, 210, 18, 13, 19, 18, 11, 210 - 9.5, 117, 9.4, 2, false}, nil
	}
	return sheet{}, fault.InvalidField("paper", string(p), "A4, A5 or Letter")
}

// tight is the sheet with small type and narrow margins, all of its width used. A
// printer leaves 6 mm and more of a page white, and a ring binder wants the rest
// of the inner margin.
func (s sheet) tight() sheet {
	s.inner, s.outer, s.top, s.bottom = 20, 13, 17, 14
	s.head, s.foot = 10, s.height-7.5
	s.measure, s.body, s.slim = s.width, s.body*0.93, true
	return s
}

func (s sheet) textWidth() float64  { return s.width - s.inner - s.outer }
func (s sheet) textHeight() float64 { return s.height - s.top - s.bottom }

// left is where the text of a page begins; page 1 is a right-hand page.
func (s sheet) left(page int, duplex bool) float64 {
	if duplex && page%2 == 0 {
		return s.outer
	}
	return s.inner
}

// Heights of lines to the size of their type: serif text is set more open than
// sans.
const (
	openLeading = 1.36
	leading     = 1.24
)

// ascent is how far a line's baseline is below its top, of its height.
const ascent = 0.76

func (s style) height() float64 {
	if s.sans {
		return s.size * leading * Point
	}
	return s.size * openLeading * Point
}

// baseline is how far below the top of its line type of a style stands.
func (s style) baseline() float64 { return s.height() * ascent }

// The type scale, from the size of running text.

func (s sheet) text() style  { return style{size: s.body} }
func (s sheet) small() style { return style{size: s.body * 0.84} }
func (s sheet) table(dense bool) style {
	if dense {
		return style{sans: true, size: s.body * 0.82}
	}
	return style{sans: true, size: s.body * 0.92}
}
func (s sheet) note() style { return style{sans: true, size: s.body * 0.8} }
func (s sheet) heading(level int) style {
	return style{sans: true, bold: true, size: s.body * [...]float64{0, 1.85, 1.32, 1.08}[level]}
}

// airy is how much of the usual space stands around tables.
func (s sheet) airy() float64 {
	if s.slim {
		return 0.65
	}
	return 1
}

// em is the height of a line of running text: spaces are parts of it.
func (s sheet) em() float64 { return s.text().height() }
