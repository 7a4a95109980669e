package build

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The longest texts, in characters.
const (
	maxWord  = 64
	maxLine  = 200
	maxProse = 2000
)

// wordForm is how positions, traits, characteristics and options are written.
const wordForm = "lower-case words joined by hyphens, as in front-axle-differential"

// checker collects everything that is wrong with a record.
type checker struct{ wrong []fault.Field }

func (c *checker) refuse(name, got, want string) {
	c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
}

// word wants text in wordForm.
func (c *checker) word(name, text string) {
	if !isWord(text) {
		c.refuse(name, text, wordForm)
	}
}

func isWord(text string) bool {
	if text == "" || len(text) > maxWord || text[0] == '-' || text[len(text)-1] == '-' || strings.Contains(text, "--") {
		return false
	}
	for _, r := range text {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

// line lets pass one line of text, or none.
func (c *checker) line(name, text string) { c.text(name, text, maxLine, false) }

// need wants one line of text.
func (c *checker) need(name, text, what string) {
	if strings.TrimSpace(text) == "" {
		c.refuse(name, "", what)
		return
	}
	c.line(name, text)
}

// prose lets pass several lines of text, or none.
func (c *checker) prose(name, text string) { c.text(name, text, maxProse, true) }

func (c *checker) text(name, text string, most int, lines bool) {
	if fault.Longer(text, most) {
		c.refuse(name, text, fault.AtMost(most))
		return
	}
	if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool {
		return unicode.IsControl(r) && !(lines && (r == '\n' || r == '\t'))
	}) {
		c.refuse(name, text, "text without control characters")
	}
}

// number lets pass a part number, serial or lot: one line without space at
// either end, or none.
func (c *checker) number(name, text string) {
	if text != strings.TrimSpace(text) {
		c.refuse(name, text, "no space at either end")
		return
	}
	c.text(name, text, maxWord, false)
}

// many wants at most so many entries.
func (c *checker) many(name string, n, most int) {
	if n > most {
		c.refuse(name, fmt.Sprintf("%d entries", n), fmt.Sprintf("at most %d", most))
	}
}

// words wants a list of different words.
func (c *checker) words(name string, list []string) {
	c.many(name, len(list), maxWord)
	for i, text := range list {
		c.word(index(name, i), text)
	}
	c.unique(name, list)
}

// unique wants no text twice in a list.
func (c *checker) unique(name string, list []string) {
	seen := make(map[string]bool, len(list))
	for i, text := range list {
		if seen[text] {
			c.refuse(index(name, i), text, "each once")
		}
		seen[text] = true
	}
}

// distance wants a distance that a vehicle can have covered, or none.
func (c *checker) distance(name string, e vehicle.Entered) {
	const most = 5_000_000 * vehicle.Kilometre
	if e.IsZero() {
		return
	}
	if d, err := e.Distance(); err != nil || d < 0 || d > most {
		c.refuse(name, e.String(), "a distance from 0 to 5,000,000 km")
	}
}

// shows wants a reading that the dial can show, or none.
func (c *checker) shows(name string, e vehicle.Entered, d vehicle.Dial) {
	if e.IsZero() || d.Modulus() == 0 {
		return
	}
	if e.Unit != d.Unit {
		c.refuse(name+".entered_unit", string(e.Unit), string(d.Unit)+", as the dial counts")
	} else if !d.Shows(e.Value) {
		c.refuse(name+".entered_value", e.Value.String(), fmt.Sprintf("what a dial of %d digits%s can show", d.Digits, tenths(d)))
	}
}

func tenths(d vehicle.Dial) string {
	if d.Tenths {
		return " and tenths"
	}
	return ""
}

// notAfter wants a date no later than another; one of them not set lets pass.
func (c *checker) notAfter(name string, d, limit vehicle.Date, what string) {
	if !d.IsZero() && !limit.IsZero() && d.After(limit) {
		c.refuse(name, d.String(), limit.String()+", "+what+", or earlier")
	}
}

func index(list string, i int) string             { return fmt.Sprintf("%s[%d]", list, i) }
func fieldOf(list string, i int, f string) string { return fmt.Sprintf("%s[%d].%s", list, i, f) }
