package ownerpages

import (
	"html/template"
	"io"
	"net/http"
	"strings"
)

// view is what every page has. Title is its one heading.
type view struct {
	reader
	Language, Title  string
	Works, Telephone string
	Dial             template.URL // calls the telephone
	Style            template.CSS
	Rooms            []room // the navigation; none where a link leads nowhere
	Content          any
}

// Say says a phrase that needs nothing filled in.
func (v view) Say(key string) string { return v.words.Say(key, nil) }

// dialling is the address that calls a number as it is printed (RFC 3966).
func dialling(number string) template.URL {
	return template.URL("tel:" + strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r == '+' {
			return r
		}
		return -1
	}, number))
}

// say says a phrase with its placeholders in pairs of name and value.
func (r reader) say(key string, pairs ...string) string {
	data := make(map[string]string, len(pairs)/2)
	for i := 0; i+1 < len(pairs); i += 2 {
		data[pairs[i]] = pairs[i+1]
	}
	return r.words.Say(key, data)
}

// count says a phrase in the plural form that n takes.
func (r reader) count(key string, n int) string {
	return r.words.Count(key, int64(n), map[string]string{"n": r.habit.Number(int64(n))})
}

// message is what a page without a form of its own says.
type message struct {
	Text  []string // paragraphs
	List  []string
	Big   []labelled // what is to be read out or copied
	After []string   // paragraphs behind both
	Undo  *undo
	Press []press
	rooms []room
}

// labelled is something with a word for it.
type labelled struct{ Label, Value string }

// undo is the form that takes back what was just done.
type undo struct {
	Label  string
	Fields []labelled   // hidden fields
	Path   template.URL // of the page that takes it back; "" for the one it stands on
}

// press is a link to another page.
type press struct {
	Label string
	Path  template.URL
}

// message prints a page that says what the phrases of a key say: KEY.title and
// KEY.text.
func (v *visit) message(status int, key string) {
	more := &message{}
	if v.alive {
		more.rooms = v.rooms()
	}
	v.print(v.w, v.reader, status, key, more)
}

// tell is message for somebody of whom nothing is known.
func (p *pages) tell(w http.ResponseWriter, r *http.Request, status int, key string) {
	p.print(w, p.stranger(r), status, key, nil)
}

func (p *pages) print(w http.ResponseWriter, r reader, status int, key string, more *message) {
	if more == nil {
		more = &message{}
	}
	more.Text = append([]string{r.say(key + ".text")}, more.Text...)
	p.render(w, r, sheet{status: status, name: "message.html", title: r.say(key + ".title"), content: more, rooms: more.rooms})
}

// result prints what came of a form.
func (v *visit) result(title string, m message) {
	v.ask(http.StatusOK, "message.html", title, m)
}

// ask prints a page with a form.
func (v *visit) ask(status int, name, title string, content any) {
	v.render(v.w, v.reader, sheet{status: status, name: name, title: title, content: content, rooms: v.rooms()})
}

// sheet is a page to print: which template, with what.
type sheet struct {
	status      int
	name, title string
	content     any
	rooms       []room
}

// render renders first and writes afterwards, so that nobody sees half a page.
func (p *pages) render(w http.ResponseWriter, r reader, s sheet) {
	var b strings.Builder
	v := view{r, r.words.Tag(), s.title, p.Works, p.Telephone, dialling(p.Telephone), p.style, s.rooms, s.content}
	if err := p.page.ExecuteTemplate(&b, s.name, v); err != nil {
		p.Logger.Error("a page could not be rendered", "page", s.name, "error", err)
		http.Error(w, "We cannot answer at the moment.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Language", r.words.Tag())
	w.WriteHeader(s.status)
	io.WriteString(w, b.String()) //nolint:errcheck // the reader is gone
}
