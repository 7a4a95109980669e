package handbook

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// Subject is the vehicle that a handbook is made for.
type Subject struct {
	Serial vehicle.Serial
	On     vehicle.Date
	Makeup vehicle.Makeup
	Works  ContactPlace
	Cover  [][2]string // rows of the title page
}

// Made is a handbook, why its sections are in it, and what keeps it from being
// issued.
type Made struct {
	Handbook Handbook
	Choices  []Choice // of the sections that depend on the vehicle
	Problems []string // each names the section and what it asked for
}

// Make makes the handbook of a vehicle. Where there are problems, the places they
// concern are empty, and it is not to be issued.
func (c *Compiled) Make(s Subject, values Values) Made {
	m := &maker{book: c, subject: s, values: values, in: map[string]bool{}}
	m.made.Handbook = Handbook{
		Book: c.Name(), Title: curled(c.Title), Language: c.Language, Serial: s.Serial, Release: s.Makeup.Release, On: s.On,
		Sample: c.Sample, SignedBy: c.SignedBy, Works: s.Works, Cover: s.Cover,
	}
	m.choose()
	for i := range c.Chapters {
		if made := m.chapter(i); len(made.Sections) > 0 {
			m.made.Handbook.Chapters = append(m.made.Handbook.Chapters, made)
		}
	}
	return m.made
}

// maker makes one handbook.
type maker struct {
	book    *Compiled
	subject Subject
	values  Values
	in      map[string]bool // sections that hold
	section string          // the one that is being made
	made    Made
}

func (m *maker) problem(format string, args ...any) {
	text := m.section + ": " + fmt.Sprintf(format, args...)
	if !slices.Contains(m.made.Problems, text) {
		m.made.Problems = append(m.made.Problems, text)
	}
}

// choose finds which sections hold.
func (m *maker) choose() {
	for _, chapter := range m.book.Chapters {
		for i := range chapter.Sections {
			s := &chapter.Sections[i]
			m.section = s.ID
			m.in[s.ID] = m.holds(s.AppliesWhen)
			if s.AppliesWhen != "" {
				m.made.Choices = append(m.made.Choices, choice(s, m.book.titles[s.ID], m.in[s.ID], m.subject.Serial))
			}
		}
	}
}

// holds evaluates an expression; one that cannot be evaluated is a problem, and
// what it is for stays out.
func (m *maker) holds(expression string) bool {
	held, err := m.book.holds(expression, m.subject.Makeup)
	if err != nil {
		m.problem("for which vehicles it is cannot be said of this one (%s): %v", expression, err)
	}
	return held && err == nil
}

func (m *maker) chapter(i int) MadeChapter {
	out := MadeChapter{Number: i + 1, Title: curled(m.book.Chapters[i].Title)}
	for j := range m.book.Chapters[i].Sections {
		s := &m.book.Chapters[i].Sections[j]
		if !m.in[s.ID] {
			continue
		}
		m.section = s.ID
		made := MadeSection{ID: s.ID, Title: curled(s.Title), Index: curledAll(s.Index)}
		for k := range s.Passages {
			if p := &s.Passages[k]; m.holds(p.AppliesWhen) {
				made.Blocks = append(made.Blocks, m.passage(p)...)
			}
		}
		if len(made.Blocks) > 0 { // nothing in it holds: it has no heading either
			out.Sections = append(out.Sections, made)
		}
	}
	return out
}

// passage makes the blocks of a passage: one, or none where nothing in it holds.
func (m *maker) passage(p *Passage) []Block {
	var b Block
	switch {
	case p.Text != "":
		b.Text = m.words(p.Text)
	case p.Steps != nil:
		for _, s := range p.Steps {
			if m.holds(s.AppliesWhen) {
				b.Steps = append(b.Steps, Item{Text: m.words(s.Text), Warning: m.warning(s.Warning)})
			}
		}
	case p.Points != nil:
		for _, s := range p.Points {
			if m.holds(s.AppliesWhen) {
				b.Points = append(b.Points, Item{Text: m.words(s.Text)})
			}
		}
	case p.Warning != nil:
		b.Warning = m.warning(p.Warning)
	case p.Values != nil:
		b.Table = m.table(p.Values)
	case p.Picture != nil:
		picture, missing := m.values.Picture(PictureAsked{Kind: p.Picture.Kind, Caption: curled(p.Picture.Caption)})
		if picture == nil {
			m.problem("the picture %s cannot be drawn: %s", p.Picture.Kind, missing)
		}
		b.Picture = picture
	default:
		b.Lines = curledAll(p.Lines)
	}
	if b.Text == nil && b.Steps == nil && b.Points == nil && b.Warning == nil && b.Table == nil && b.Picture == nil && b.Lines == nil {
		return nil
	}
	return []Block{b}
}

func (m *maker) table(asked *ValuesAsked) *Table {
	t, missing := m.values.Table(ValuesAsked{Kind: asked.Kind, Caption: curled(asked.Caption), Of: asked.Of})
	if missing != "" {
		m.problem("the table %s cannot be made: %s", asked.Kind, missing)
	}
	return t
}

func (m *maker) warning(w *Warning) *MadeWarning {
	if w == nil {
		return nil
	}
	word := w.Word
	if word == "" {
		word = "Caution"
	}
	return &MadeWarning{Word: word, Text: m.words(w.Text)}
}

// words fills a text in.
func (m *maker) words(text string) Words {
	pieces, _ := markup(curled(text)) // checked when the book was
	var out Words
	for _, p := range pieces {
		switch p.kind {
		case plainPiece:
			out = append(out, Run{Text: p.text})
		case emphasised:
			out = append(out, Run{Kind: Emphasis, Text: p.text})
		case strong:
			out = append(out, Run{Kind: Strong, Text: p.text})
		case asked:
			out = append(out, m.answer(p.ask)...)
		}
	}
	return out
}

// answer fills in what a text asks for.
func (m *maker) answer(a Ask) Words {
	if a.Name == "see" {
		if !m.in[a.Args[0]] {
			m.problem("it refers to the section %s, which this vehicle's handbook does not have", a.Args[0])
			return nil
		}
		return Words{{Kind: See, Text: curled(m.book.titles[a.Args[0]]), To: a.Args[0]}}
	}
	w, ok := m.values.Value(a)
	if !ok || strings.TrimSpace(w.String()) == "" {
		m.problem("there is no value for %s", a)
		return nil
	}
	return w
}
