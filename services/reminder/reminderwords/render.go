package reminderwords

import (
	"bytes"
	"embed"
	"fmt"
	htmltemplate "html/template"
	"io/fs"
	"strings"
	texttemplate "text/template"
	"unicode/utf8"
)

//go:embed templates
var templates embed.FS

// Renderer prints letters. It is safe for concurrent use.
type Renderer struct {
	text *texttemplate.Template
	html *htmltemplate.Template
}

// New reads the templates. What stands in over, which may be nil, takes the
// place of what is built in.
func New(over fs.FS) (*Renderer, error) {
	text, err := texttemplate.New("notice.txt").Funcs(texttemplate.FuncMap{
		"wrap":   func(s string) string { return fill("", "", s) },
		"indent": fill,
	}).ParseFS(templates, "templates/notice.txt")
	if err != nil {
		return nil, fmt.Errorf("read the text template: %w", err)
	}
	html, err := htmltemplate.New("notice.html").ParseFS(templates, "templates/notice.html")
	if err != nil {
		return nil, fmt.Errorf("read the HTML template: %w", err)
	}
	return &Renderer{text, html}, nil
}

// Mail prints a letter as a mail.
func (r *Renderer) Mail(l Letter) (Mail, error) {
	v := makeView(l)
	var text, html bytes.Buffer
	if err := r.text.Execute(&text, v); err != nil {
		return Mail{}, fmt.Errorf("print the text: %w", err)
	}
	if err := r.html.Execute(&html, v); err != nil {
		return Mail{}, fmt.Errorf("print the HTML: %w", err)
	}
	return Mail{r.Language(l.Draft.To.Language), v.Subject, text.String(), html.String()}, nil
}

// width is the length of a line of text, as RFC 5322 section 2.1.1 suggests
// (78) less room for being quoted in an answer.
const width = 72

// fill sets words in lines: margin before every line, mark before the first,
// and as much space below the mark. A word longer than a line stands alone.
func fill(margin, mark, text string) string {
	var b strings.Builder
	b.WriteString(margin + mark)
	below := margin + strings.Repeat(" ", utf8.RuneCountInString(mark))
	at, first := utf8.RuneCountInString(below), true
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case first:
		case at+1+n > width:
			b.WriteString("\n" + below)
			at = utf8.RuneCountInString(below)
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at, first = at+n, false
	}
	return b.String()
}

// Language gives the language that a reader of a tag gets.
func (r *Renderer) Language(tag string) string { return "en" }

// Text prints a letter as a text message.
func (r *Renderer) Text(l Letter) (string, error) {
	v := makeView(l)
	return v.Subject + ". " + l.Links.Schedule, nil
}

// Sheet prints a letter for paper.
func (r *Renderer) Sheet(l Letter) (Sheet, error) {
	v := makeView(l)
	return Sheet{Language: "en", Subject: v.Subject, Serial: v.Serial, Blocks: []Block{
		{Kind: Text, Text: v.Greeting}, {Kind: Text, Text: v.Opening},
	}}, nil
}
