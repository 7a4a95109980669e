package enquiry

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"
)

// Document is something that can be found: an enquiry or a note.
type Document struct {
	Key       string // its resource name
	Texts     []string
	Said      []string // likewise, in somebody's words: found, and never repeated
	Positions []string
	Releases  []string
	At        time.Time // the later goes first where two are as like
}

// Document gives the enquiry as it is found: by symptom, positions, release and
// links, and by its words only where they are nobody's on record. What is
// sealed is opened for who may read it, and for no index.
func (e Enquiry) Document(name string) Document {
	d := Document{Key: name, Texts: []string{e.Symptom}, Positions: e.Positions, At: e.Asked}
	if e.Release != "" {
		d.Releases = []string{e.Release}
	}
	if !e.OnRecord() {
		d.Said = append(d.Said, e.Question)
	}
	for _, a := range e.Answers {
		if !e.OnRecord() {
			d.Said = append(d.Said, a.Text)
		}
		d.Texts = append(d.Texts, linkWords(a.Links)...)
	}
	return d
}

// linkWords gives what the names of records say: the last identifier of each.
func linkWords(links []string) []string {
	out := make([]string, len(links))
	for i, l := range links {
		out[i] = strings.ReplaceAll(l[strings.LastIndexByte(l, '/')+1:], "-", " ")
	}
	return out
}

// Document gives the note as it is found: by title, keywords and positions. Its
// text would be found by every word that it explains.
func (n Note) Document(name string) Document {
	return Document{Key: name, Texts: append([]string{n.Title}, n.Keywords...), Positions: n.Positions, Releases: n.Releases, At: n.Created}
}

// entry is a document made ready to be found.
type entry struct {
	Document
	said map[string]string // concept to the word that says it there, "" where that is not repeated
}

// Index finds what is like a question without looking at everything. It is not
// safe for concurrent use.
type Index struct {
	entries map[string]*entry
	byWord  map[string]map[string]bool // concept to keys
	byPlace map[string]map[string]bool // every beginning of a position, without its side, to keys
	byWhole map[string]map[string]bool // whole positions likewise
}

// NewIndex makes an empty index.
func NewIndex() *Index {
	return &Index{entries: map[string]*entry{}, byWord: map[string]map[string]bool{}, byPlace: map[string]map[string]bool{}, byWhole: map[string]map[string]bool{}}
}

// Put takes a document in, in place of an earlier one of its key.
func (x *Index) Put(d Document) {
	x.Remove(d.Key)
	e := &entry{Document: d, said: map[string]string{}}
	for _, w := range wordsOf(d.Texts...) {
		e.said[w.concept] = w.said
		enter(x.byWord, w.concept, d.Key)
	}
	for _, w := range wordsOf(d.Said...) {
		if _, repeated := e.said[w.concept]; !repeated {
			e.said[w.concept] = ""
			enter(x.byWord, w.concept, d.Key)
		}
	}
	for _, p := range d.Positions {
		enter(x.byWhole, unsided(p), d.Key)
		for _, b := range beginnings(unsided(p)) {
			enter(x.byPlace, b, d.Key)
		}
	}
	x.entries[d.Key] = e
}

// Remove takes a document out.
func (x *Index) Remove(key string) {
	e, ok := x.entries[key]
	if !ok {
		return
	}
	delete(x.entries, key)
	for concept := range e.said {
		leave(x.byWord, concept, key)
	}
	for _, p := range e.Positions {
		leave(x.byWhole, unsided(p), key)
		for _, b := range beginnings(unsided(p)) {
			leave(x.byPlace, b, key)
		}
	}
}

func enter(m map[string]map[string]bool, at, key string) {
	if m[at] == nil {
		m[at] = map[string]bool{}
	}
	m[at][key] = true
}

func leave(m map[string]map[string]bool, at, key string) {
	if delete(m[at], key); len(m[at]) == 0 {
		delete(m, at)
	}
}

// beginnings gives a position and every place that it is on: "swivel",
// "swivel-housing", "swivel-housing-oil-seal" and so on.
func beginnings(p string) []string {
	var out []string
	for i, r := range p {
		if r == '-' {
			out = append(out, p[:i])
		}
	}
	return append(out, p)
}

// Found is a document with what it has in common with a question.
type Found struct {
	Key string
	At  time.Time
	Likeness
}

// Like gives what is like a question, the best first. keep says of a key
// whether it may be given; nil keeps all.
func (x *Index) Like(q Question, keep func(key string) bool) []Found {
	ready := x.ready(q)
	var out []Found
	for key := range x.candidates(ready) {
		e := x.entries[key]
		if keep != nil && !keep(key) {
			continue
		}
		if l := ready.likeness(e); l.Enough(q) {
			out = append(out, Found{key, e.At, l})
		}
	}
	slices.SortFunc(out, Found.Compare)
	return out
}

// Compare orders what was found: the most like, then the latest, then by name.
func (f Found) Compare(o Found) int {
	return cmp.Or(cmp.Compare(o.Score, f.Score), o.At.Compare(f.At), cmp.Compare(f.Key, o.Key))
}

// candidates gives the keys of all that share a word or a place.
func (x *Index) candidates(q asked) map[string]bool {
	out := map[string]bool{}
	for _, w := range q.words {
		for _, c := range w.concepts {
			maps.Copy(out, x.byWord[c])
		}
	}
	for _, p := range q.positions {
		p = unsided(p)
		maps.Copy(out, x.byPlace[p])
		for _, b := range beginnings(p) {
			maps.Copy(out, x.byWhole[b])
		}
	}
	return out
}
