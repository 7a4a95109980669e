package figure

import (
	"html"
	"html/template"
	"math"
	"strconv"
	"strings"
)

// SVG writes a figure for a page: one element that a screen reader takes for a
// picture with a title and a description. The id must be the only one of its
// kind on the page, and one that HTML and a URL's fragment hold without
// escaping; the figure makes others from it.
//
// There is no script and no style in it, so that a strict
// Content-Security-Policy lets it pass. It takes its tones from the page: ink is
// the colour of text (currentColor), and the rest are the page's variables
// --quiet, --line and --sheet, where it has them.
func (f Figure) SVG(id string) template.HTML { return f.svg(id, "") }

func (f Figure) svg(id, class string) template.HTML {
	w := &svgWriter{id: id}
	d := f.Drawing
	w.put(`<svg viewBox="0 0 `, number(d.Width), " ", number(d.Height), `" width="`, number(d.Width), `" height="`, number(d.Height))
	if class != "" {
		w.put(`" class="`, class)
	}
	w.put(`" role="img" aria-labelledby="`, id, `-t" aria-describedby="`, id, `-d" fill="none" stroke-linejoin="round">`)
	w.put(`<title id="`, id, `-t">`, html.EscapeString(f.Title), `</title><desc id="`, id, `-d">`)
	w.put(html.EscapeString(strings.Join(f.Description, " ")), `</desc>`)
	w.patterns(d.Marks)
	for _, m := range d.Marks {
		w.mark(m)
	}
	w.enter("")
	w.put("</svg>")
	return template.HTML(w.out.String()) // all of it is made here, and texts are escaped
}

// svgWriter writes marks. Neighbours that look alike share a group.
type svgWriter struct {
	out   strings.Builder
	id    string
	group string // the attributes of the group that is open
}

func (w *svgWriter) put(parts ...string) {
	for _, p := range parts {
		w.out.WriteString(p)
	}
}

// enter opens a group with these attributes, unless it is open.
func (w *svgWriter) enter(attributes string) {
	if w.group == attributes {
		return
	}
	if w.group != "" {
		w.put("</g>")
	}
	if w.group = attributes; attributes != "" {
		w.put("<g", attributes, ">")
	}
}

// patterns writes the hatchings that are used. They are laid out for the sheet
// as a whole, as Path.Hatch does it.
func (w *svgWriter) patterns(marks []Mark) {
	used := map[Fill]bool{}
	for _, m := range marks {
		switch m := m.(type) {
		case Path:
			used[m.Fill] = true
		case Bar:
			used[m.Fill] = true
		}
	}
	for _, h := range [2]struct {
		fill Fill
		name string
		turn string
	}{{Rising, "-r", "45"}, {Falling, "-f", "-45"}} {
		if used[h.fill] {
			gap := number(HatchGap)
			w.put(`<defs><pattern id="`, w.id, h.name, `" patternUnits="userSpaceOnUse" width="`, gap, `" height="`, gap,
				`" patternTransform="rotate(`, h.turn, `)"><path d="M0 0V`, gap, `" stroke="`, paint(Quiet), `" stroke-width="`, number(2*HatchWidth), `"/></pattern></defs>`)
		}
	}
}

func (w *svgWriter) mark(m Mark) {
	switch m := m.(type) {
	case Path:
		w.enter(w.look(m.Stroke, m.Fill))
		w.put(`<path d="`, pathData(m.Points, m.Closed), `"/>`)
	case Bar:
		w.enter(w.look(m.Stroke, m.Fill))
		w.put(`<path d="M`, number(m.X), " ", number(m.Y), "h", number(m.Width), "v", number(m.Height), "h", number(-m.Width), `z"/>`)
	case Symbol:
		w.symbol(m)
	case Text:
		w.text(m)
	}
}

// paint is the colour of a tone, as an attribute takes it.
func paint(t Tone) string {
	switch t {
	case Quiet:
		return "var(--quiet,#555c6b)"
	case Faint:
		return "var(--line,#c9cbd2)"
	case Paper:
		return "var(--sheet,#fff)"
	}
	return "currentColor"
}

// look gives the attributes of a line and an area.
func (w *svgWriter) look(s Stroke, f Fill) string {
	var b strings.Builder
	switch f {
	case Full:
		b.WriteString(` fill="currentColor"`)
	case Cleared:
		b.WriteString(` fill="` + paint(Paper) + `"`)
	case Wash:
		b.WriteString(` fill="currentColor" fill-opacity=".1"`)
	case Rising:
		b.WriteString(` fill="url(#` + w.id + `-r)"`)
	case Falling:
		b.WriteString(` fill="url(#` + w.id + `-f)"`)
	}
	if s.Width > 0 {
		b.WriteString(` stroke="` + paint(s.Tone) + `" stroke-width="` + number(s.Width) + `"`)
		for i, d := range s.Dash {
			b.WriteString([]string{` stroke-dasharray="`, " "}[min(i, 1)] + number(d))
		}
		if len(s.Dash) > 0 {
			b.WriteString(`"`)
		}
	}
	if b.Len() == 0 {
		return ` fill="none"`
	}
	return b.String()
}

func (w *svgWriter) symbol(m Symbol) {
	x, y, r := m.At.X, m.At.Y, m.Size/2
	open := ` fill="` + paint(Paper) + `" stroke="` + paint(m.Tone) + `" stroke-width="1.5"`
	filled := ` fill="` + paint(m.Tone) + `"`
	corners := func(points ...Point) {
		for i := range points {
			points[i] = Point{x + points[i].X*r, y + points[i].Y*r}
		}
		w.put(`<path d="`, pathData(points, true), `"/>`)
	}
	switch m.Shape {
	case Dot: // a line without length and with round ends is the shortest circle
		w.enter(` stroke="` + paint(m.Tone) + `" stroke-width="` + number(m.Size) + `" stroke-linecap="round"`)
		w.put(`<path d="M`, number(x), " ", number(y), `h0"/>`)
	case Ring:
		w.enter(open)
		w.put(`<circle cx="`, number(x), `" cy="`, number(y), `" r="`, number(r-0.75), `"/>`)
	case Cross:
		w.enter(` stroke="` + paint(m.Tone) + `" stroke-width="1.75"`)
		w.put(`<path d="M`, number(x-r), " ", number(y-r), "L", number(x+r), " ", number(y+r), "M", number(x-r), " ", number(y+r), "L", number(x+r), " ", number(y-r), `"/>`)
	case Triangle:
		w.enter(filled)
		corners(Point{0, -1}, Point{1, 1}, Point{-1, 1})
	case Wedge:
		w.enter(filled)
		corners(Point{0, 1}, Point{1, -1}, Point{-1, -1})
	case Square:
		w.enter(filled)
		corners(Point{-1, -1}, Point{1, -1}, Point{1, 1}, Point{-1, 1})
	case Diamond:
		w.enter(open)
		corners(Point{0, -1}, Point{1, 0}, Point{0, 1}, Point{-1, 0})
	}
}

func (w *svgWriter) text(t Text) {
	look := ` fill="` + paint(t.Tone) + `" font-size="` + number(t.Size) + `"`
	if t.Bold {
		look += ` font-weight="600"`
	}
	switch t.Anchor {
	case Middle:
		look += ` text-anchor="middle"`
	case End:
		look += ` text-anchor="end"`
	}
	w.enter(look)
	w.put(`<text x="`, number(t.At.X), `" y="`, number(t.At.Y), `">`, html.EscapeString(t.Text), `</text>`)
}

func pathData(points []Point, closed bool) string {
	var b strings.Builder
	for i, p := range points {
		b.WriteString([]string{"M", "L"}[min(i, 1)] + number(p.X) + " " + number(p.Y))
	}
	if closed {
		b.WriteString("z")
	}
	return b.String()
}

// number writes a length to a tenth, which nobody can see.
func number(v float64) string {
	v = math.Round(v*10) / 10
	if v == 0 {
		v = 0 // not minus nothing
	}
	text := strconv.FormatFloat(v, 'f', -1, 64)
	return strings.Replace(text, "0.", ".", btoi(strings.HasPrefix(text, "0.") || strings.HasPrefix(text, "-0.")))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
