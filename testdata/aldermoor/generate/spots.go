package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// section is an assembly at a position of the releases, taken apart.
type section struct {
	in    string // the position of the assembly
	base  int    // its parts are numbered base*100 and on
	spots []spot
}

// spot is a place on an assembly, and which part belongs there.
type spot struct {
	name, title, words string // the name follows that of the assembly
	fits               []fit
	caution, drawing   string
	notes              string
}

// fit is one part for some of the vehicles, or the reason why there is none.
type fit struct {
	number   string // of a part that is told elsewhere; empty for one of the section
	n        int    // of a part of the section, from 11 to 99; 0 for one told elsewhere, or nothing
	part     cells  // what the catalogue says of it
	quantity int
	when     when
	text     string
}

// is makes a part; sizes are "thread M8; length 52 mm".
func is(n int, title, weight, sizes string) fit {
	return fit{n: n, part: cells{"title": title, "weight": weight, "sizes": sizes}}
}

// same is a part that stands elsewhere too.
func same(number string) fit { return fit{number: number} }

// none says why nothing is supplied.
func none(text string) fit { return fit{text: text} }

func (f fit) on(w when) fit           { f.when = w; return f }
func (f fit) because(text string) fit { f.text = text; return f }
func (f fit) of(quantity int) fit     { f.quantity = quantity; return f }

// with says something more of the part; of one that is told elsewhere it has
// nothing to say.
func (f fit) with(column, value string) fit {
	if f.n != 0 {
		f.part = maps.Clone(f.part)
		f.part[column] = value
	}
	return f
}

// one is a place with the same part on every vehicle that has the assembly.
func one(n int, name, title, words, weight, sizes string) spot {
	return spot{name: name, title: title, words: words, fits: []fit{is(n, title, weight, sizes)}}
}

// vary is a place whose part depends on the vehicle.
func vary(name, title, words string, fits ...fit) spot {
	return spot{name: name, title: title, words: words, fits: fits}
}

// shared is a place with a part that is told elsewhere.
func shared(name, title, words, number string) spot { return vary(name, title, words, same(number)) }

// thin is a shim: how many are needed comes out of the measuring.
func thin(name, title, words, number string) spot {
	s := shared(name, title, words, number)
	s.notes = "As many as the selection of shims says."
	return s
}

// each changes every fit of a copy of the place.
func (s spot) each(change func(fit) fit) spot {
	s.fits = slices.Clone(s.fits)
	for i, f := range s.fits {
		s.fits[i] = change(f)
	}
	return s
}

// of says how many there are.
func (s spot) of(quantity int) spot {
	return s.each(func(f fit) fit { return f.of(quantity) })
}

// with says something more of every part at the place.
func (s spot) with(column, value string) spot {
	return s.each(func(f fit) fit { return f.with(column, value) })
}

// once is not fitted again.
func (s spot) once() spot { return s.with("notes", "Used once.") }

func (s spot) mind(text string) spot   { s.caution = text; return s.with("caution", text) }
func (s spot) drawn(plate string) spot { s.drawing = plate; return s }

// spots are several places, as a left and a right one.
type spots []spot

// pair is a left one and, with the next number, a right one.
func pair(n int, name, title, words, weight, sizes string) spots {
	return spots{
		one(n, name+"-left", title+", left", words, weight, sizes),
		one(n+1, name+"-right", title+", right", words, weight, sizes),
	}
}

// bothSides is the same part on the left and on the right.
func bothSides(n int, name, title, words, weight, sizes string) spots {
	left := one(n, name+"-left", title, words, weight, sizes)
	right := left
	left.title, right.title = title+", left", title+", right"
	right.name = name + "-right"
	return spots{left, right}
}

func (p spots) of(quantity int) spots {
	for i := range p {
		p[i] = p[i].of(quantity)
	}
	return p
}

// mind warns of the work at every one of the places.
func (p spots) mind(text string) spots {
	for i := range p {
		p[i] = p[i].mind(text)
	}
	return p
}

func (p spots) with(column, value string) spots {
	for i := range p {
		p[i] = p[i].with(column, value)
	}
	return p
}

// all joins single places and pairs.
func all(lists ...any) []spot {
	var out []spot
	for _, l := range lists {
		switch l := l.(type) {
		case spot:
			out = append(out, l)
		case spots:
			out = append(out, l...)
		case []spot:
			out = append(out, l...)
		default:
			panic(fmt.Sprintf("generate: %T is no place", l))
		}
	}
	return out
}

// number gives the number of a part of a section.
func (s section) number(f fit) string {
	if f.n == 0 {
		return f.number
	}
	return fmt.Sprintf("AP-%d%02d", s.base, f.n)
}

var positionColumns = []string{"position", "title", "within", "words", "tools", "caution", "drawing", "notes"}

var applicationColumns = slices.Concat([]string{"id", "position", "part", "quantity"}, whenColumns, []string{"text"})

// place writes a position on an assembly and what belongs there.
func (w *works) place(s section, p spot) {
	position := s.in + "-" + p.name
	w.add("positions", cells{"position": position, "title": p.title, "within": s.in, "words": p.words,
		"caution": p.caution, "drawing": p.drawing, "notes": p.notes}, positionColumns...)
	for i, f := range p.fits {
		number := s.number(f)
		w.apply(position, i+1, number, f)
		if f.n != 0 {
			w.stock.part(s.partOf(position, p, f))
		}
		if number != "" {
			w.stock.at(number, position)
		}
	}
}

// apply writes which part belongs at a position for whom.
func (w *works) apply(position string, n int, part string, f fit) {
	row := cells{"id": fmt.Sprintf("%s-%d", position, n), "position": position, "part": part, "text": f.text}
	if f.quantity > 1 && part != "" {
		row["quantity"] = fmt.Sprint(f.quantity)
	}
	f.when.write(row)
	w.add("applications", row, applicationColumns...)
}

// partOf is the row of a part in the catalogue.
func (s section) partOf(position string, p spot, f fit) cells {
	c := cells{"part": s.number(f), "words": p.words, "hand": hand(position), "unit": "each", "status": "orderable"}
	if c["hand"] == "" {
		c["hand"] = hand(s.in)
	}
	maps.Copy(c, f.part)
	if strings.Contains(c["title"], " set") && f.part["unit"] == "" {
		c["unit"] = "set"
	}
	return c
}
