package typeset

import (
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// PDF sets a document on paper. The same document gives the same bytes. A
// document with a fault in it is refused as Invalid: see Document.Check.
func PDF(d Document, p Print) ([]byte, error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	l, err := lay(d, p)
	if err != nil {
		return nil, err
	}
	return l.draw()
}

// artist draws pages into a file.
type artist struct {
	*laid
	pdf   *fpdf.Fpdf
	links map[string]int
	left  float64 // of the text of this page
}

func (l *laid) draw() ([]byte, error) {
	title, _ := Printable(l.doc.Title, l.faces.has)
	a := &artist{laid: l, pdf: NewFile(l.width, l.height, title), links: map[string]int{}}
	a.pdf.SetLang(l.doc.language())
	for _, f := range a.used() {
		name, style := f.name()
		a.pdf.AddUTF8FontFromBytes(name, style, f.ttf())
	}
	a.anchors()
	depth := 0
	for _, p := range l.pages {
		a.pdf.AddPage()
		a.left = l.sheet.left(p.number, l.print.Duplex)
		a.page(p)
		for _, st := range p.stands {
			if h := st.heading; h != nil {
				depth = min(depth+1, h.level)
				a.font(sansBold, 10)
				a.pdf.Bookmark(h.text, depth-1, l.top+st.y)
			}
		}
		if err := a.pdf.Error(); err != nil {
			return nil, fmt.Errorf("draw page %d: %w", p.number, err)
		}
	}
	return Bytes(a.pdf, "the document")
}

// used are the faces that the document needs, in their order.
func (a *artist) used() []face {
	need := map[face]bool{sans: true, sansBold: true}
	for _, p := range a.pages {
		for _, st := range p.stands {
			for _, m := range st.marks {
				if m.kind == letters {
					need[m.face] = true
				}
			}
		}
	}
	var all []face
	for f := range face(faces) {
		if need[f] {
			all = append(all, f)
		}
	}
	return all
}

// anchors says where links lead.
func (a *artist) anchors() {
	for _, p := range a.pages {
		for _, st := range p.stands {
			for _, name := range st.anchors {
				a.links[name] = a.pdf.AddLink()
				a.pdf.SetLink(a.links[name], max(0, a.top+st.y-a.em()), p.number)
			}
		}
		name := pageAnchor(p.number)
		a.links[name] = a.pdf.AddLink()
		a.pdf.SetLink(a.links[name], 0, p.number)
	}
}

func (a *artist) font(f face, size float64) {
	name, style := f.name()
	a.pdf.SetFont(name, style, size)
}

// page draws one page: what stands on it in the order of reading, then its bars
// and what frames it.
func (a *artist) page(p page) {
	if !p.bare {
		a.head(p)
	}
	for _, m := range p.marks() {
		m.x, m.y = m.x+a.left, m.y+a.top
		a.mark(m)
	}
	a.bars(p)
	if !p.bare {
		a.foot(p)
	}
}

func (a *artist) mark(m mark) {
	a.pdf.SetDrawColor(m.grey, m.grey, m.grey)
	switch m.kind {
	case letters:
		a.letters(m)
	case rule:
		a.pdf.SetLineWidth(m.thick)
		a.pdf.Line(m.x, m.y, m.x+m.w, m.y+m.h)
	case frame:
		a.pdf.SetLineWidth(m.thick)
		a.pdf.Rect(m.x, m.y, m.w, m.h, "D")
	case filled:
		a.pdf.SetFillColor(m.grey, m.grey, m.grey)
		a.pdf.Rect(m.x, m.y, m.w, m.h, "F")
	case dots:
		a.dots(m)
	case drawing:
		a.drawing(m)
	}
}

func (a *artist) letters(m mark) {
	a.pdf.SetTextColor(m.grey, m.grey, m.grey)
	a.font(m.face, m.size)
	a.pdf.Text(m.x, m.y, m.text)
	if link, ok := a.links[m.link]; ok && m.link != "" {
		h := m.size * Point
		a.pdf.Link(m.x, m.y-h*0.8, m.w, h*1.05, link)
	}
}

// dots draws a dotted line whose dots stand below each other on all lines.
func (a *artist) dots(m mark) {
	const step = 1.6
	a.pdf.SetLineCapStyle("round")
	a.pdf.SetLineWidth(m.thick)
	a.pdf.SetDashPattern([]float64{0, step}, 0)
	from := a.left + step*float64(int((m.x-a.left)/step)+1)
	if from < m.x+m.w {
		a.pdf.Line(from, m.y, m.x+m.w, m.y)
	}
	a.pdf.SetDashPattern(nil, 0)
	a.pdf.SetLineCapStyle("butt")
}

// bars draws the bars beside what changed, in the outer margin.
func (a *artist) bars(p page) {
	x := a.left + a.textWidth() + 3.5
	if a.print.Duplex && p.number%2 == 0 {
		x = a.left - 3.5
	}
	a.pdf.SetLineWidth(0.7)
	a.pdf.SetDrawColor(0, 0, 0)
	for i := 0; i < len(p.stands); i++ {
		if !p.stands[i].bar {
			continue
		}
		from, to := p.stands[i].y, p.stands[i].y+p.stands[i].Height
		for i+1 < len(p.stands) && p.stands[i+1].bar && p.stands[i+1].y >= from {
			i++
			to = max(to, p.stands[i].y+p.stands[i].Height)
		}
		a.pdf.Line(x, a.top+from, x, a.top+to)
	}
}

// head writes what the document is and which chapter this is.
func (a *artist) head(p page) {
	if p.number == 1 && a.doc.Cover == nil {
		return // the title stands there
	}
	s := style{sans: true, size: a.body * 0.82}
	y := a.sheet.head
	name := a.doc.Head
	if name == "" {
		name = a.doc.Title
	}
	half := a.textWidth() * 0.48
	a.atSide(p, true, a.shortened(name, s, half), y, s)
	a.atSide(p, false, a.shortened(p.chapter, s, half), y, s)
	a.mark(mark{kind: rule, x: a.left, y: y + 1.8, w: a.textWidth(), thick: 0.15})
}

// foot writes the number of the page at the outer side, and the edition.
func (a *artist) foot(p page) {
	s := style{sans: true, size: a.body * 0.82}
	number := fmt.Sprint(p.number)
	if a.print.Count {
		number = fmt.Sprintf("%d / %d", p.number, len(a.pages))
	}
	a.atSide(p, true, a.shortened(a.doc.Edition, s, a.textWidth()*0.8), a.sheet.foot, s)
	s.bold, s.size = true, a.body
	a.atSide(p, false, number, a.sheet.foot, s)
}

// atSide writes a text at the inner or the outer side of the page.
func (a *artist) atSide(p page, inner bool, text string, y float64, s style) {
	left := inner
	if a.print.Duplex && p.number%2 == 0 {
		left = !inner
	}
	x := a.left
	f := s.face(Plain)
	if !left {
		x += a.textWidth() - a.faces.width(text, f, s.size)
	}
	for _, piece := range a.faces.pieces(text, f, s.size) {
		a.letters(mark{x: x, y: y, w: piece.width, text: piece.text, face: piece.face, size: s.size})
		x += piece.width
	}
}

// shortened gives a text as it fits into a width, with "…" for what does not.
func (a *artist) shortened(text string, s style, width float64) string {
	text, _ = Printable(strings.Join(strings.Fields(text), " "), a.faces.has)
	f := s.face(Plain)
	if a.faces.width(text, f, s.size) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && a.faces.width(string(runes)+"…", f, s.size) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimSpace(string(runes)) + "…"
}
