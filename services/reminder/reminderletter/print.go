package reminderletter

import (
	"fmt"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"halfshaft/services/fault"
	"halfshaft/services/internal/typeset"
	"halfshaft/services/reminder/reminderwords"
)

// printer draws letters into one document.
type printer struct {
	pdf    *fpdf.Fpdf
	form   form
	works  reminderwords.Works
	duplex bool
	has    func(rune) bool
}

func newPrinter(c Config) (*printer, error) {
	p := &printer{works: c.Works, duplex: c.Duplex}
	switch c.Paper {
	case "", A4:
		p.form = din5008B
	case USLetter:
		p.form = no10
	default:
		return nil, fault.InvalidField("paper", string(c.Paper), "A4 or Letter")
	}
	has, err := hasGlyph()
	if err != nil {
		return nil, fmt.Errorf("read the fonts: %w", err)
	}
	p.has = has
	p.pdf = typeset.NewFile(p.form.width, p.form.height, "Letters")
	p.pdf.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.pdf.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	return p, p.pdf.Error()
}

func (p *printer) bytes() ([]byte, error) { return typeset.Bytes(p.pdf, "the letters") }

// clean gives a text as it can be printed.
func (p *printer) clean(text string) string {
	out, _ := typeset.Printable(text, p.has)
	return out
}

func (p *printer) use(s style) {
	name := ""
	if s.bold {
		name = "B"
	}
	p.pdf.SetFont("go", name, s.size)
}

func (p *printer) width(text string, s style) float64 {
	p.use(s)
	return p.pdf.GetStringWidth(text)
}

// put writes a text with its baseline at y.
func (p *printer) put(x, y float64, text string, s style) {
	if text != "" {
		p.use(s)
		p.pdf.Text(x, y, text)
	}
}

// ascent is how far a line's baseline is below its top, of its type's size:
// that of the Go fonts' tallest letters with their accents.
const ascent = 0.95

// print draws one letter.
func (p *printer) print(l Addressed) error {
	address, err := p.fitAddress(l.To)
	if err != nil {
		return err
	}
	sheets := pages(lines(p.cleanSheet(l.Sheet), p.form.text.w, p.width), p.form.text.h, p.form.more.h)
	for len(sheets) == 0 || p.duplex && len(sheets)%2 == 1 {
		sheets = append(sheets, nil)
	}
	written := len(sheets)
	for written > 1 && sheets[written-1] == nil {
		written--
	}
	for i, some := range sheets {
		p.pdf.AddPage()
		if i >= written {
			continue // the back of a last sheet
		}
		at := p.form.more
		if i == 0 {
			at = p.form.text
			p.marks()
			p.head()
			p.back()
			p.address(address)
			p.info(l)
		}
		p.body(some, at)
		p.foot(l, i+1, written)
	}
	return p.pdf.Error()
}

func (p *printer) cleanSheet(s reminderwords.Sheet) reminderwords.Sheet {
	s.Subject, s.Date, s.Serial = p.clean(s.Subject), p.clean(s.Date), p.clean(s.Serial)
	blocks := make([]reminderwords.Block, len(s.Blocks))
	for i, b := range s.Blocks {
		b.Mark, b.Text = p.clean(b.Mark), p.clean(b.Text)
		rows := make([]string, len(b.Rows))
		for j, r := range b.Rows {
			rows[j] = p.clean(r)
		}
		b.Rows, blocks[i] = rows, b
	}
	s.Blocks = blocks
	return s
}

// marks draws where the sheet is folded and punched.
func (p *printer) marks() {
	p.pdf.SetLineWidth(0.15)
	p.pdf.SetDrawColor(120, 120, 120)
	for _, y := range p.form.folds {
		p.pdf.Line(5, y, 9, y)
	}
	if y := p.form.punch; y > 0 {
		p.pdf.Line(5, y, 11, y)
	}
	p.pdf.SetDrawColor(0, 0, 0)
}

// head names the works and says how to reach it.
func (p *printer) head() {
	at := p.form.head
	y := at.y + 14*mm
	p.put(at.x, y, p.clean(p.works.Name), style{true, 14})
	small := style{false, smallSize}
	reach := strings.Join(without(p.works.Phone, p.works.Answers()), " · ")
	for _, text := range []string{strings.Join(without(p.works.Address()...), " · "), reach} {
		for _, part := range typeset.Wrap(p.clean(text), at.w, func(t string) float64 { return p.width(t, small) }) {
			y += smallSize * leading * mm
			p.put(at.x, y, part, small)
		}
	}
}

// without leaves out what is empty.
func without(texts ...string) (some []string) {
	for _, t := range texts {
		if t = strings.TrimSpace(t); t != "" {
			some = append(some, t)
		}
	}
	return some
}

// back writes the works' own address above the recipient's, for the post to
// return what it cannot deliver.
func (p *printer) back() {
	at, s := p.form.back, style{false, 6.5}
	if at.h == 0 || len(p.works.Postal) == 0 {
		return
	}
	text := p.clean(strings.Join(without(append([]string{p.works.Name}, p.works.Address()...)...), " · "))
	parts := typeset.Wrap(text, at.w, func(t string) float64 { return p.width(t, s) })
	height := s.size * leading * mm
	parts = parts[:min(len(parts), int(at.h/height))]
	for i, part := range parts {
		p.put(at.x, at.bottom()-1.5-float64(len(parts)-1-i)*height, part, s)
	}
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(at.x, at.bottom()-0.5, at.right(), at.bottom()-0.5)
}

// fitted is an address in the largest type in which it fits.
type fitted struct {
	style
	lines []string
}

// fitAddress sets an address so that all of it shows in the window. A line
// that is too long goes on in a second one.
func (p *printer) fitAddress(to []string) (fitted, error) {
	var clean []string
	for _, t := range to {
		clean = append(clean, without(strings.Split(p.clean(t), "\n")...)...)
	}
	if len(clean) == 0 {
		return fitted{}, fault.InvalidField("to", "", "the lines of a postal address")
	}
	at := p.form.address
	for size := p.form.most; size >= p.form.least; size -= 0.5 {
		f := fitted{style: style{size: size}}
		for _, t := range clean {
			f.lines = append(f.lines, typeset.Wrap(t, at.w, func(t string) float64 { return p.width(t, f.style) })...)
		}
		whole := len(f.lines) == len(clean) || size == p.form.least
		if whole && float64(len(f.lines))*size*addressLeading*mm <= at.h {
			return f, nil
		}
	}
	most := int(at.h / (p.form.least * addressLeading * mm))
	// The address itself is personal and is not told.
	return fitted{}, fault.InvalidField("to", strconv.Itoa(len(clean))+" lines",
		fmt.Sprintf("an address that fits into the window: %d lines, each about 45 letters", most))
}

const addressLeading = 1.2

func (p *printer) address(f fitted) {
	at := p.form.address
	for i, t := range f.lines {
		p.put(at.x, at.y+(float64(i)*addressLeading+ascent)*f.size*mm, t, f.style)
	}
}

// info writes what the letter is about beside the window.
func (p *printer) info(l Addressed) {
	at, s := p.form.info, style{false, bodySize}
	y := at.y + ascent*s.size*mm
	for _, t := range without(l.Sheet.Date, l.Sheet.Serial) {
		for _, part := range typeset.Wrap(p.clean(t), at.w, func(t string) float64 { return p.width(t, s) }) {
			p.put(at.x, y, part, s)
			y += s.size * leading * mm
		}
	}
}

// body writes the lines of one page.
func (p *printer) body(some []line, at box) {
	y := at.y
	for i, l := range some {
		if i > 0 {
			y += l.before
		}
		base := y + ascent*l.size*mm
		if l.beside {
			p.pdf.SetLineWidth(0.8)
			p.pdf.Line(at.x+0.4, y, at.x+0.4, y+l.height())
		}
		if l.code != "" {
			p.square(at.x, y, l.code)
		}
		p.put(at.x+l.at, base, l.mark, l.style)
		p.put(at.x+l.indent, base, l.text, l.style)
		y += l.height()
	}
}

// foot says which page of how many it is, in figures that need no language.
func (p *printer) foot(l Addressed, page, of int) {
	s := style{false, smallSize}
	p.put(p.form.more.x, p.form.foot, p.clean(strings.Join(without(l.Sheet.Serial, l.Reference), " · ")), s)
	if of > 1 {
		number := fmt.Sprintf("%d / %d", page, of)
		p.put(p.form.more.right()-p.width(number, s), p.form.foot, number, s)
	}
}
