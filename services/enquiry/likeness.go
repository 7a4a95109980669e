package enquiry

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/wording"
)

// What likeness is worth, in thousandths: words most, then the place, and the
// release least, since one release has many faults.
const (
	worthWords    = 600 // all words of the question in common; a share of them that share
	worthPosition = 300
	worthMirrored = 200 // the same place on the other side
	worthRelease  = 100

	// leastLike is what an earlier question must come to to be offered.
	leastLike = 200
)

// Question is a question that others are compared with.
type Question struct {
	Text      string // as said so far, with the symptom or without
	Positions []string
	Release   string // of the vehicle; "" when it does not matter
	Any       bool   // one word in common is enough, as for a search
}

// Likeness is what something has in common with a question.
type Likeness struct {
	Score    int      // thousandths
	Words    []Common // in the order of the question
	Place    string   // the question's position that is shared, "" for none
	Mirrored bool     // Place is shared on the other side only
	Release  string   // the release that is shared, "" for none
}

// Common is a word that two texts share, as each says it; There is empty where
// what was said there is not to be repeated.
type Common struct{ Said, There string }

// Enough reports whether it is worth offering: it shares a word, or the place
// where the question says nothing else.
func (l Likeness) Enough(q Question) bool {
	if len(l.Words) == 0 && len(wordsOf(q.Text)) > 0 {
		return false
	}
	return l.Score >= leastLike || q.Any && l.Score > 0
}

// Sentence says what is in common: "Same position, the words drip (weep there)
// and seal, same release R3."
func (l Likeness) Sentence() string {
	var parts []string
	switch {
	case l.Place == "":
	case l.Mirrored:
		parts = append(parts, "the same place on the other side")
	default:
		parts = append(parts, "same position")
	}
	if len(l.Words) > 0 {
		said := make([]string, len(l.Words))
		for i, w := range l.Words {
			said[i] = w.Said
			if w.There != "" && stemOf(w.There) != stemOf(w.Said) {
				said[i] = fmt.Sprintf("%s (%s there)", w.Said, w.There)
			}
		}
		noun := "the word "
		if len(said) > 1 {
			noun = "the words "
		}
		parts = append(parts, noun+wording.List(said, "and"))
	}
	if l.Release != "" {
		parts = append(parts, "same release "+l.Release)
	}
	if len(parts) == 0 {
		return "Nothing in common."
	}
	text := strings.Join(parts, ", ") + "."
	return wording.UpperFirst(text)
}

// asked is a question made ready to be compared with many.
type asked struct {
	words     []askedWord
	positions []string
	release   string
}

// askedWord is a word of a question with what it is found by: its concept, or
// where nobody ever said that, those that a slip makes of it.
type askedWord struct {
	said     string
	concepts []string
}

func (x *Index) ready(q Question) asked {
	words := wordsOf(q.Text)
	out := asked{make([]askedWord, len(words)), q.Positions, q.Release}
	for i, w := range words {
		out.words[i] = askedWord{w.said, []string{w.concept}}
		if x.byWord[w.concept] == nil {
			out.words[i].concepts = x.slipsOf(w.concept)
		}
	}
	return out
}

// shortestSlip is the length from which a word may be taken for another: of
// shorter ones too many differ by a letter.
const shortestSlip = 5

// slipsOf gives the words of the index that differ from one by a slip, in order.
func (x *Index) slipsOf(concept string) []string {
	said := []rune(concept)
	if len(said) < shortestSlip {
		return nil
	}
	var out []string
	for c := range x.byWord {
		if oneSlip(said, []rune(c)) {
			out = append(out, c)
		}
	}
	slices.Sort(out)
	return out
}

// oneSlip reports whether two words differ by a letter left out, put in, taken
// for another, or changed about with the next.
func oneSlip(a, b []rune) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	same := 0
	for same < len(a) && a[same] == b[same] {
		same++
	}
	switch rest := len(a) - same; len(b) - len(a) {
	case 0:
		return rest > 0 && (slices.Equal(a[same+1:], b[same+1:]) ||
			rest > 1 && a[same] == b[same+1] && a[same+1] == b[same] && slices.Equal(a[same+2:], b[same+2:]))
	case 1:
		return slices.Equal(a[same:], b[same+1:])
	}
	return false
}

// likeness compares a question with something.
func (q asked) likeness(e *entry) Likeness {
	var l Likeness
	for _, w := range q.words {
		for _, c := range w.concepts {
			if there, ok := e.said[c]; ok {
				l.Words = append(l.Words, Common{w.said, there})
				break
			}
		}
	}
	if len(l.Words) > 0 {
		l.Score += worthWords * len(l.Words) / len(q.words)
	}
	l.place(q.positions, e.Positions)
	if l.Score > 0 && q.release != "" && slices.Contains(e.Releases, q.release) {
		l.Release = q.release
		l.Score += worthRelease
	}
	return l
}

// place finds the first position of the question that is shared: on the same
// side before on the other.
func (l *Likeness) place(asked, there []string) {
	mirrored := ""
	for _, a := range asked {
		for _, t := range there {
			switch {
			case within(a, t):
				l.Place, l.Mirrored = a, false
				l.Score += worthPosition
				return
			case mirrored == "" && sided(a) && sided(t) && within(unsided(a), unsided(t)):
				mirrored = a
			}
		}
	}
	if mirrored != "" {
		l.Place, l.Mirrored = mirrored, true
		l.Score += worthMirrored
	}
}

// within reports whether two positions are one, or one of them is a place on
// the other: "left-swivel-housing-oil-seal" on "left-swivel-housing".
func within(a, b string) bool {
	return a == b || strings.HasPrefix(a, b+"-") || strings.HasPrefix(b, a+"-")
}

func sided(p string) bool { return strings.HasPrefix(p, "left-") || strings.HasPrefix(p, "right-") }

func unsided(p string) string { return strings.TrimPrefix(strings.TrimPrefix(p, "left-"), "right-") }
