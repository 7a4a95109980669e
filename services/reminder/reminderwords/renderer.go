package reminderwords

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	htmltemplate "html/template"
	"io/fs"
	texttemplate "text/template"

	"halfshaft/services/internal/locale"
)

//go:embed words templates
var builtIn embed.FS

// Renderer prints letters. It is safe for concurrent use.
type Renderer struct {
	catalogue *locale.Catalogue
	programme programme
	text      *texttemplate.Template
	html      *htmltemplate.Template
}

// New reads the words. over, which may be nil, holds the works' own files:
//
//	en.yaml, de.yaml     phrases that it says otherwise
//	fr.yaml              all phrases of one more language
//	programme.de.yaml    what its programme and catalogue say in English, in another language
//	notice.html          another shape for mails
//	notice.txt
//
// Errors name the file and what is wrong with it.
func New(over fs.FS) (*Renderer, error) {
	words, err := fs.Sub(builtIn, "words")
	if err != nil {
		return nil, err
	}
	r := &Renderer{}
	if r.catalogue, err = locale.Load(words, over); err != nil {
		return nil, fmt.Errorf("read the phrases: %w", err)
	}
	if r.programme, err = readProgramme(over); err != nil {
		return nil, fmt.Errorf("read the programme's texts: %w", err)
	}
	text, err := shape(over, "notice.txt")
	if err != nil {
		return nil, err
	}
	r.text, err = texttemplate.New("notice.txt").Funcs(texttemplate.FuncMap{"fill": fill, "hang": hang}).Parse(text)
	if err != nil {
		return nil, fmt.Errorf("read the shape of the text: %w", err)
	}
	html, err := shape(over, "notice.html")
	if err != nil {
		return nil, err
	}
	if r.html, err = htmltemplate.New("notice.html").Parse(html); err != nil {
		return nil, fmt.Errorf("read the shape of the HTML: %w", err)
	}
	return r, nil
}

// shape reads a template: the works' own, or the built-in one.
func shape(over fs.FS, name string) (string, error) {
	if over != nil {
		text, err := fs.ReadFile(over, name)
		if err == nil || !errors.Is(err, fs.ErrNotExist) {
			return string(text), err
		}
	}
	text, err := fs.ReadFile(builtIn, "templates/"+name)
	return string(text), err
}

// Language gives the language, as a BCP 47 tag, that a reader of a tag gets.
func (r *Renderer) Language(tag string) string { return r.catalogue.For(tag).Tag() }

// page is what the templates print.
type page struct {
	Language, Subject string
	Blocks            []Block
	Light, Dark       palette
}

// Mail prints a letter as a mail, in text and in HTML that say the same.
//
// A letter with nothing to say is refused as Invalid.
func (r *Renderer) Mail(l Letter) (Mail, error) {
	w, err := r.writer(l, false)
	if err != nil {
		return Mail{}, err
	}
	p := page{Language: w.phrases.Tag(), Subject: w.subject(), Light: light, Dark: dark}
	p.Blocks = w.message()
	var text, html bytes.Buffer
	if err := r.text.Execute(&text, p); err != nil {
		return Mail{}, fmt.Errorf("print the text: %w", err)
	}
	if err := r.html.Execute(&html, p); err != nil {
		return Mail{}, fmt.Errorf("print the HTML: %w", err)
	}
	return Mail{p.Language, p.Subject, text.String(), html.String()}, nil
}

// Sheet prints a letter for paper: what the mail says, and how to answer
// without a link.
func (r *Renderer) Sheet(l Letter) (Sheet, error) {
	w, err := r.writer(l, true)
	if err != nil {
		return Sheet{}, err
	}
	return Sheet{
		Language: w.phrases.Tag(), Subject: w.subject(), Date: w.locale.Date(w.today),
		Serial: string(l.Draft.Vehicle.Serial), Blocks: w.message(),
	}, nil
}
