package handbook

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// pieceKind is what a piece of a text is.
type pieceKind int

const (
	plainPiece pieceKind = iota
	emphasised
	strong
	asked // for a value, or a reference: ask
)

// piece is a part of a text between marks.
type piece struct {
	kind pieceKind
	text string
	ask  Ask
}

// Ask is what a text asks for: "{setting tyres front-pressure}".
type Ask struct {
	Name string
	Args []string
}

// String is the ask as a book writes it.
func (a Ask) String() string {
	return "{" + strings.Join(append([]string{a.Name}, a.Args...), " ") + "}"
}

// askForms says which arguments each ask has: at least, at most (-1: any number).
var askForms = map[string]struct {
	least, most int
	form        string
}{
	"serial":    {0, 0, "{serial}"},
	"release":   {0, 0, "{release}"},
	"works":     {0, 0, "{works}"},
	"telephone": {0, 0, "{telephone}"},
	"mail":      {0, 0, "{mail}"},
	"tyre":      {0, 0, "{tyre}"},
	"setting":   {2, -1, "{setting POSITION CHARACTERISTIC [SUBJECT]}"},
	"window":    {2, -1, "{window POSITION CHARACTERISTIC [SUBJECT]}"},
	"capacity":  {1, 1, "{capacity POSITION}"},
	"fluid":     {1, 1, "{fluid POSITION}"},
	"every":     {1, 1, "{every ITEM}"},
	"speed":     {3, 3, "{speed GEAR high|low ENGINE-SPEED}"},
	"see":       {1, 1, "{see SECTION}"},
}

// wrong says what is wrong with an ask; empty when nothing is.
func (a Ask) wrong() string {
	form, known := askForms[a.Name]
	if !known {
		var names []string
		for name := range askForms {
			names = append(names, name)
		}
		slices.Sort(names)
		return "one of " + strings.Join(names, ", ") + " in the braces"
	}
	if len(a.Args) < form.least || form.most >= 0 && len(a.Args) > form.most {
		return form.form
	}
	if a.Name == "speed" {
		if _, _, _, ok := a.speed(); !ok {
			return form.form + ", as in {speed 4 high 2500}"
		}
	}
	return ""
}

// speed reads the arguments of a speed.
func (a Ask) speed() (gear int, low bool, rpm int, ok bool) {
	if a.Name != "speed" || len(a.Args) != 3 {
		return 0, false, 0, false
	}
	gear, err := strconv.Atoi(a.Args[0])
	rpm, err2 := strconv.Atoi(a.Args[2])
	ok = err == nil && err2 == nil && gear >= 1 && gear <= 8 && rpm >= 300 && rpm <= 8000 && (a.Args[1] == "high" || a.Args[1] == "low")
	return gear, a.Args[1] == "low", rpm, ok
}

// markup reads the marks of a text. What is wrong with them is said, all of it.
func markup(text string) (pieces []piece, wrong []string) {
	m := &marker{rest: text}
	for m.rest != "" {
		m.next()
	}
	if m.open != plainPiece {
		m.complain("an asterisk that ends what one began")
	}
	m.flush(m.open)
	return m.pieces, m.wrong
}

// marker reads a text from the front.
type marker struct {
	rest   string
	held   strings.Builder // what was read since the last mark
	open   pieceKind       // what asterisks opened
	pieces []piece
	wrong  []string
}

func (m *marker) complain(want string) { m.wrong = append(m.wrong, want) }

func (m *marker) flush(kind pieceKind) {
	if m.held.Len() > 0 {
		m.pieces = append(m.pieces, piece{kind: kind, text: m.held.String()})
		m.held.Reset()
	}
}

func (m *marker) next() {
	at := strings.IndexAny(m.rest, `\{}*`)
	if at < 0 {
		m.held.WriteString(m.rest)
		m.rest = ""
		return
	}
	m.held.WriteString(m.rest[:at])
	mark := m.rest[at]
	m.rest = m.rest[at+1:]
	switch mark {
	case '\\':
		m.escaped()
	case '{':
		m.braced()
	case '}':
		m.complain("a brace that opens before one that closes; one meant as such has a backslash before it")
	case '*':
		m.starred()
	}
}

func (m *marker) escaped() {
	if m.rest == "" || !strings.ContainsRune(`\{}*`, rune(m.rest[0])) {
		m.complain(`a backslash only before \ { } or *`)
		return
	}
	m.held.WriteByte(m.rest[0])
	m.rest = m.rest[1:]
}

func (m *marker) braced() {
	inner, rest, closed := strings.Cut(m.rest, "}")
	if !closed {
		m.complain("a brace that closes what one opened")
		m.rest = ""
		return
	}
	m.rest = rest
	words := strings.Fields(inner)
	if len(words) == 0 {
		m.complain("what to put in the braces")
		return
	}
	a := Ask{words[0], words[1:]}
	if want := a.wrong(); want != "" {
		m.complain(fmt.Sprintf("%s, not %s", want, a))
	}
	if m.open != plainPiece {
		m.complain("values and references outside asterisks")
	}
	m.flush(m.open)
	m.pieces = append(m.pieces, piece{kind: asked, ask: a})
}

func (m *marker) starred() {
	kind := emphasised
	if strings.HasPrefix(m.rest, "*") && m.open != emphasised {
		kind, m.rest = strong, m.rest[1:]
	}
	switch m.open {
	case plainPiece:
		m.flush(plainPiece)
		m.open = kind
	case kind:
		if m.held.Len() == 0 {
			m.complain("some words between asterisks")
		}
		m.flush(kind)
		m.open = plainPiece
	default:
		m.complain("one asterisk or two at both ends")
	}
}
