package parts

import (
	"slices"
	"strings"
)

// asked is a question taken apart into words.
type asked struct {
	words      []string   // without what tells nothing and directions, each once
	joined     [][]string // for each word, what it makes when written together with a neighbour
	directions []string   // "left", "front", each once, in order of appearance
}

func understand(question string) asked { return understood(read(question)) }

func understood(tokens []token) asked {
	var a asked
	last := -1 // where the word of the token before is
	for i := range tokens {
		t := &tokens[i]
		before := last
		last = -1
		if t.side != "" {
			if !slices.Contains(a.directions, t.side) {
				a.directions = append(a.directions, t.side)
			}
		} else if !t.noise {
			if last = slices.Index(a.words, t.text); last < 0 {
				last = len(a.words)
				a.words, a.joined = append(a.words, t.text), append(a.joined, nil)
			}
		}
		if t.glued {
			a.join(before, last, tokens[i-1].text+t.text)
		}
	}
	return a
}

// join notes what two neighbours make together, at those that are words.
func (a *asked) join(before, last int, together string) {
	for _, i := range []int{before, last} {
		if i >= 0 && !slices.Contains(a.joined[i], together) {
			a.joined[i] = append(a.joined[i], together)
		}
	}
}

// all is everything that was understood, for print.
func (a asked) all() string { return strings.Join(append(slices.Clone(a.words), a.directions...), " ") }

// key is all that was understood, comparable whatever its order.
func (a *asked) key() string { return wordKey(append(slices.Clone(a.words), a.directions...)) }

// names are the forms under which what was asked is compared with a name: the
// words in any order, and two words also written together. Two that have a
// form in common are the same name. None without words.
func (a *asked) names() []string {
	switch len(a.words) {
	case 0:
		return nil
	case 1:
		return a.words
	case 2:
		forms := []string{wordKey(a.words)}
		if together := a.words[0] + a.words[1]; slices.Contains(a.joined[1], together) {
			forms = append(forms, together)
		}
		return forms
	}
	return []string{wordKey(a.words)}
}

// titles gives the names of a part: its title, then its other words.
func (p *Part) titles(yield func(name string) bool) {
	if !yield(p.Title) {
		return
	}
	for _, w := range p.Words {
		if !yield(w) {
			return
		}
	}
}

// is says whether a name is exactly what was asked, directions aside.
func (a *asked) is(name string) bool {
	forms, other := a.names(), understand(name)
	return slices.ContainsFunc(other.names(), func(form string) bool { return slices.Contains(forms, form) })
}

// against says whether what was asked contradicts a position or a hand: the
// left one was asked for and this is the right one.
func (a asked) against(position string, hand Hand) bool {
	for _, d := range a.directions {
		o := opposite[d]
		if hand.String() == o || (hasWord(position, o) && !hasWord(position, d)) {
			return true
		}
	}
	return false
}

// directed says whether every direction asked for is that of the position or
// the hand.
func (a asked) directed(position string, hand Hand) bool {
	for _, d := range a.directions {
		if hand.String() != d && !hasWord(position, d) {
			return false
		}
	}
	return true
}

// hasWord says whether a position, words joined by hyphens, has the word.
func hasWord(position, word string) bool {
	for w := range strings.SplitSeq(position, "-") {
		if w == word {
			return true
		}
	}
	return false
}

// spoken is a position as it is said: "swivel housing left".
func spoken(position string) string { return strings.ReplaceAll(position, "-", " ") }

func sortedUnique(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}

// Spoken is a position as it is said: "swivel housing left".
func Spoken(position string) string { return spoken(position) }
