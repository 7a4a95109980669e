package parts

import (
	"cmp"
	"slices"
	"strings"
)

// meaning is what one word of a question may stand for in the catalogue.
type meaning struct {
	word     string
	joined   []string // what it makes with its neighbours
	exact    []wordID // the word, and what it makes
	together [][]key  // parts that have one of these written as two words, in order
	from, to int      // the words that it begins, in the order of the vocabulary
	wrong    []wordID // the words one wrong letter away
}

// meaningOf looks a word up: itself and what begins with it; else, when there
// is none, what is one wrong letter away.
func (x *index) meaningOf(word string, joined []string) meaning {
	m := meaning{word: word, joined: joined}
	for i := -1; i < len(joined); i++ {
		form := word
		if i >= 0 {
			form = joined[i]
		}
		if id, ok := x.known(form); ok {
			m.exact = append(m.exact, id)
		}
		if with := x.pairs.of(form); len(with) > 0 {
			m.together = append(m.together, with)
		}
	}
	m.from, m.to = x.beginnings(word)
	if m.unknown(x) {
		m.wrong = x.oneWrong(word)
	}
	return m
}

// unknown says whether no part has the word or what begins with it.
func (m *meaning) unknown(x *index) bool {
	return len(m.exact) == 0 && len(m.together) == 0 &&
		!slices.ContainsFunc(x.order.all[m.from:m.to], func(id wordID) bool { return x.with[id].n > 0 })
}

// nothing says whether the word stands for nothing at all.
func (m *meaning) nothing(x *index) bool { return len(m.wrong) == 0 && m.unknown(x) }

// meanings looks up every word of a question.
func (x *index) meanings(a asked) []meaning {
	out := make([]meaning, len(a.words))
	for i, w := range a.words {
		out[i] = x.meaningOf(w, a.joined[i])
	}
	return out
}

// allMeant looks up every word of a question; nil when one of them stands for
// nothing, or there is none.
func (x *index) allMeant(a asked) []meaning {
	var out []meaning
	for i, w := range a.words {
		m := x.meaningOf(w, a.joined[i])
		if m.nothing(x) {
			return nil
		}
		out = append(out, m)
	}
	return out
}

// of gives how the word is met by one of the words.
func (m *meaning) of(x *index, own []wordID) quality {
	best := unmet
	for _, id := range own {
		best = min(best, m.by(x, id))
	}
	return best
}

func (m *meaning) by(x *index, id wordID) quality {
	switch place := int(x.place[id]); {
	case slices.Contains(m.exact, id):
		return exact
	case place >= m.from && place < m.to:
		return prefix
	case slices.Contains(m.wrong, id):
		return misspelt
	}
	return unmet
}

// within gives how the word is met by some words of a part, those of its names
// or all.
func (m *meaning) within(x *index, e *entry, words []wordID) quality {
	for _, with := range m.together {
		if _, ok := slices.BinarySearchFunc(with, e.id, func(k key, id docID) int { return cmp.Compare(k.doc, id) }); ok {
			return exact
		}
	}
	return m.of(x, words)
}

// at gives how the word is met by the name of a position.
func (m *meaning) at(x *index, position string) quality {
	best, before := unmet, ""
	for w := range strings.SplitSeq(position, "-") {
		w = singular(w)
		switch {
		case w == m.word, slices.Contains(m.joined, w), before != "" && m.means(before+w):
			return exact
		}
		if id, ok := x.ids[w]; ok {
			best = min(best, m.by(x, id))
		} else if begins(w, m.word) {
			best = min(best, prefix)
		}
		before = w
	}
	return best
}

func (m *meaning) means(form string) bool { return form == m.word || slices.Contains(m.joined, form) }

// begins says whether a word that no part has begins with what was asked.
func begins(word, asked string) bool {
	rest, ok := strings.CutPrefix(word, asked)
	return ok && len(asked) >= shortestPrefix && (rest == "" || !isDigit(rest[0]) || !isDigit(asked[len(asked)-1]))
}
