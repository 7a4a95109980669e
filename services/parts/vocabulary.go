package parts

import (
	"cmp"
	"slices"
	"strings"
)

// wordID numbers a word of the vocabulary.
type wordID uint32

// quality says how well a word was met; smaller is better.
type quality uint8

const (
	exact quality = iota
	prefix
	misspelt
	unmet
)

const (
	shortestPrefix   = 3 // letters before a beginning of a word counts
	shortestMisspelt = 4 // letters before one wrong letter is allowed
)

// vocabulary is every word of the catalogue and the parts that have it.
type vocabulary struct {
	ids   map[string]wordID
	texts []string
	with  [][]*entry // by word, in no order
	order []wordID   // by text, see seal
}

func newVocabulary() vocabulary { return vocabulary{ids: map[string]wordID{}} }

func (v *vocabulary) id(word string) wordID {
	if id, ok := v.ids[word]; ok {
		return id
	}
	id := wordID(len(v.texts))
	word = strings.Clone(word) // not the whole title it was cut from
	v.ids[word] = id
	v.texts = append(v.texts, word)
	v.with = append(v.with, nil)
	return id
}

func (v *vocabulary) add(e *entry) {
	for _, ids := range [][]wordID{e.own, e.places} {
		for _, id := range ids {
			v.with[id] = append(v.with[id], e)
		}
	}
}

func (v *vocabulary) remove(e *entry) {
	for _, ids := range [][]wordID{e.own, e.places} {
		for _, id := range ids {
			list := v.with[id]
			if i := slices.Index(list, e); i >= 0 {
				list[i] = list[len(list)-1]
				list[len(list)-1] = nil
				v.with[id] = list[:len(list)-1]
			}
		}
	}
}

func (v *vocabulary) seal() {
	for i := len(v.order); i < len(v.texts); i++ {
		v.order = append(v.order, wordID(i))
	}
	slices.SortFunc(v.order, func(a, b wordID) int { return strings.Compare(v.texts[a], v.texts[b]) })
}

// meaning is what one word of a question may stand for in the vocabulary.
type meaning struct {
	word string
	ids  []wordID // in order
	how  []quality
}

// of gives how the word is met by a part's own words.
func (m *meaning) of(own []wordID) quality {
	best := unmet
	for _, id := range own {
		if i, ok := slices.BinarySearch(m.ids, id); ok {
			best = min(best, m.how[i])
		}
	}
	return best
}

// at gives how the word is met by the name of a position.
func (v *vocabulary) at(m *meaning, position string) quality {
	best := unmet
	for w := range strings.SplitSeq(position, "-") {
		w = singular(w)
		if w == m.word {
			return exact
		}
		if id, ok := v.ids[w]; ok {
			if i, ok := slices.BinarySearch(m.ids, id); ok {
				best = min(best, m.how[i])
			}
		} else if len(m.word) >= shortestPrefix && strings.HasPrefix(w, m.word) {
			best = min(best, prefix)
		}
	}
	return best
}

// meaningOf looks a word up: itself and what begins with it, else what is one
// wrong letter away.
func (v *vocabulary) meaningOf(word string) meaning {
	type met struct {
		id  wordID
		how quality
	}
	var all []met
	if id, ok := v.ids[word]; ok {
		all = append(all, met{id, exact})
	}
	if len(word) >= shortestPrefix {
		i, _ := slices.BinarySearchFunc(v.order, word, func(id wordID, w string) int { return strings.Compare(v.texts[id], w) })
		for ; i < len(v.order) && strings.HasPrefix(v.texts[v.order[i]], word); i++ {
			if v.texts[v.order[i]] != word {
				all = append(all, met{v.order[i], prefix})
			}
		}
	}
	if len(all) == 0 && len(word) >= shortestMisspelt && !strings.ContainsAny(word, "0123456789") {
		eachEdit(word, "abcdefghijklmnopqrstuvwxyz", func(edited string) bool {
			if id, ok := v.ids[edited]; ok {
				all = append(all, met{id, misspelt})
			}
			return true
		})
	}
	slices.SortFunc(all, func(a, b met) int { return cmp.Compare(a.id, b.id) })
	m := meaning{word: word}
	for i, one := range all {
		if i > 0 && one.id == all[i-1].id {
			continue
		}
		m.ids, m.how = append(m.ids, one.id), append(m.how, one.how)
	}
	return m
}

// meanings looks up every word of a question.
func (v *vocabulary) meanings(a asked) []meaning {
	out := make([]meaning, len(a.words))
	for i, w := range a.words {
		out[i] = v.meaningOf(w)
	}
	return out
}

// rarest gives the parts that have the rarest of the meanings, and which it
// is; every part that has them all is among these.
func (v *vocabulary) rarest(meanings []meaning) (best int, parts [][]*entry) {
	least := -1
	for i := range meanings {
		n := 0
		for _, id := range meanings[i].ids {
			n += len(v.with[id])
		}
		if least < 0 || n < least {
			least, best = n, i
		}
	}
	for _, id := range meanings[best].ids {
		parts = append(parts, v.with[id])
	}
	return best, parts
}
