package locale

import (
	"slices"
	"strings"
	"text/template"
	"text/template/parse"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// forms are the names of the plural forms (CLDR, "Plural Rules").
var forms = []string{"zero", "one", "two", "few", "many", "other"}

var formNames = map[plural.Form]string{
	plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many", plural.Other: "other",
}

// phrase is one phrase, ready to be said. by is nil when the number does not
// matter.
type phrase struct {
	one          *wording
	by           map[string]*wording
	placeholders []string // in order of their names
}

// wording is a text with its placeholders.
type wording struct {
	whole *template.Template
	parts []part // the same, where it is no more than text and placeholders; nil otherwise
}

// part is text, or what a placeholder is filled with.
type part struct{ text, name string }

// wordingOf takes a text apart.
func wordingOf(t *template.Template) *wording {
	w := &wording{whole: t}
	if t.Tree == nil { // an empty one has none
		return w
	}
	for _, n := range t.Root.Nodes {
		one, ok := partOf(n)
		if !ok {
			return &wording{whole: t}
		}
		w.parts = append(w.parts, one)
	}
	return w
}

// partOf gives text, and the placeholder of {{.name}}; false for all else.
func partOf(n parse.Node) (part, bool) {
	switch n := n.(type) {
	case *parse.TextNode:
		return part{text: string(n.Text)}, true
	case *parse.ActionNode:
		if len(n.Pipe.Decl) == 0 && len(n.Pipe.Cmds) == 1 && len(n.Pipe.Cmds[0].Args) == 1 {
			if f, ok := n.Pipe.Cmds[0].Args[0].(*parse.FieldNode); ok && len(f.Ident) == 1 {
				return part{name: f.Ident[0]}, true
			}
		}
	}
	return part{}, false
}

// fill writes the text; false where it does not say all of what stands in it.
// Most are texts with a few strings in them: a template takes many times as long
// for these.
func (w *wording) fill(data any) (string, bool) {
	if len(w.parts) == 1 && w.parts[0].name == "" {
		return w.parts[0].text, true
	}
	var b strings.Builder
	if w.parts != nil && w.join(&b, data) {
		return b.String(), true
	}
	b.Reset()
	if err := w.whole.Execute(&b, data); err != nil {
		return "", false
	}
	return b.String(), true
}

// join writes the parts; false where data is more than strings by their names.
func (w *wording) join(b *strings.Builder, data any) bool {
	strung, _ := data.(map[string]string)
	named, _ := data.(map[string]any)
	for _, p := range w.parts {
		text, ok := p.text, true
		if p.name != "" {
			if text, ok = strung[p.name]; !ok {
				text, ok = named[p.name].(string)
			}
		}
		if !ok {
			return false
		}
		b.WriteString(text)
	}
	return true
}

// parseSource reads a phrase. Its placeholders are in order and each once.
func parseSource(key string, s source) (phrase, error) {
	by := s.by
	if by == nil {
		by = map[string]string{"": s.one}
	}
	p := phrase{by: map[string]*wording{}}
	for form, text := range by {
		t, err := template.New(key).Option("missingkey=error").Parse(text)
		if err != nil {
			return p, err
		}
		if t.Tree != nil { // an empty phrase has none
			p.placeholders = append(p.placeholders, fields(t.Root)...)
		}
		p.by[form] = wordingOf(t)
	}
	slices.Sort(p.placeholders)
	p.placeholders = slices.Compact(p.placeholders)
	if s.by == nil {
		p.one, p.by = p.by[""], nil
	}
	return p, nil
}

// fields gives the placeholders below a node: of {{.serial}} and of
// {{.serial.spoken}} it is "serial".
func fields(n parse.Node) []string {
	var names []string
	switch n := n.(type) {
	case *parse.ListNode:
		if n == nil {
			return nil
		}
		for _, child := range n.Nodes {
			names = append(names, fields(child)...)
		}
	case *parse.ActionNode:
		names = fields(n.Pipe)
	case *parse.PipeNode:
		for _, command := range n.Cmds {
			for _, argument := range command.Args {
				names = append(names, fields(argument)...)
			}
		}
	case *parse.IfNode:
		names = slices.Concat(fields(n.Pipe), fields(n.List), fields(n.ElseList))
	case *parse.FieldNode:
		names = n.Ident[:1]
	}
	return names
}

// Phrases are the phrases of one language.
type Phrases struct{ own, english *table }

// Tag is the BCP 47 tag of the language.
func (p Phrases) Tag() string { return p.own.name }

// Has says whether there is a phrase of the key.
func (p Phrases) Has(key string) bool {
	_, ok := p.own.phrases[key]
	return ok
}

// Say says a phrase. data fills its placeholders: a map by their names, or a
// struct. What this language lacks is said in English; of a key that nobody
// has, or whose placeholders data does not fill, the key is said in brackets.
func (p Phrases) Say(key string, data any) string { return p.Count(key, 0, data) }

// Count says a phrase in the plural form that n takes.
func (p Phrases) Count(key string, n int64, data any) string {
	for _, t := range []*table{p.own, p.english} {
		if text, ok := t.phrases[key].say(t.tag, n, data); ok {
			return text
		}
	}
	return "[" + key + "]"
}

func (p phrase) say(tag language.Tag, n int64, data any) (string, bool) {
	t := p.one
	if p.by != nil {
		if n < 0 {
			n = -n
		}
		// A whole number has no fraction digits to tell of.
		form := plural.Cardinal.MatchPlural(tag, int(n%10_000_000), 0, 0, 0, 0)
		if t = p.by[formNames[form]]; t == nil {
			t = p.by["other"]
		}
	}
	if t == nil {
		return "", false
	}
	return t.fill(data)
}
