package parts_test

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"halfshaft/services/parts"
)

// naive is the second implementation of the search: it reads every part for
// every question, judges it by the ranking in words, and sorts them all. It
// was written from that ranking and shares no code with what it checks.
type naive struct {
	parts         []parts.Part
	supersessions []parts.Supersession
	read          map[string][]naiveToken // every text once, for speed
	found         map[string][]naiveLine  // likewise what was found by words
}

type naiveToken struct {
	text         string
	noise, glued bool
}

var (
	naiveStops = " a an the of for to on in at my our his her it is i we and with need which what part please new some one do "
	naiveSides = map[string]string{"left": "left", "lh": "left", "right": "right", "rh": "right", "front": "front", "rear": "rear", "back": "rear"}
	naiveOther = map[string]string{"left": "right", "right": "left", "front": "rear", "rear": "front"}
	naiveCount = " half three four seven "
)

var naivePlurals = []struct {
	form *regexp.Regexp
	one  string
}{
	{regexp.MustCompile("^(..?.?|.*[0-9].*|.*(ss|us|is))$"), "$1"},
	{regexp.MustCompile("^leaves$"), "leaf"},
	{regexp.MustCompile("^buses$"), "bus"}, // what a letter left out makes of bushes
	{regexp.MustCompile("^(..+)ies$"), "${1}y"},
	{regexp.MustCompile("^(.*(ss|x|ch|sh))es$"), "$1"},
	{regexp.MustCompile("^(.*)s$"), "$1"},
}

func naiveSingular(w string) string {
	for _, p := range naivePlurals {
		if p.form.MatchString(w) {
			return p.form.ReplaceAllString(w, p.one)
		}
	}
	return w
}

func (n *naive) tokens(text string) []naiveToken {
	if known, ok := n.read[text]; ok {
		return known
	}
	var out []naiveToken
	for _, phrase := range strings.Split(strings.ToLower(text), ",") {
		for i, w := range strings.FieldsFunc(phrase, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') }) {
			out = append(out, naiveToken{text: naiveSingular(w), glued: i > 0})
		}
	}
	for i := range out {
		t := &out[i]
		after := ""
		if i > 0 {
			after = out[i-1].text
		}
		switch {
		case strings.Contains(naiveStops, " "+t.text+" "):
			t.noise = true
		case t.text == "hand":
			t.noise = naiveSides[after] != "" || after == "which"
		case t.text == "side":
			t.noise = naiveSides[after] != "" || after == "which" || after == "hand" && out[i-1].noise
		case t.text == "number":
			t.noise = i == len(out)-1 || out[i+1].text != "plate"
		}
		if !t.glued {
			continue
		}
		figures := strings.Contains("0123456789", after[len(after)-1:]) && strings.Contains("0123456789", t.text[:1])
		t.glued = !figures && naiveSides[t.text] == "" && !(t.noise && len(t.text) > 1) && !(out[i-1].noise && len(after) > 1)
	}
	if n.read == nil {
		n.read = map[string][]naiveToken{}
	}
	n.read[text] = out
	return out
}

// question is what is asked: words with every form that each may take.
type naiveQuestion struct {
	words []string
	forms map[string][]string
	sides []string
}

func (n *naive) question(text string) naiveQuestion {
	q := naiveQuestion{forms: map[string][]string{}}
	all := n.tokens(text)
	for i, t := range all {
		if side := naiveSides[t.text]; side != "" {
			q.sides = append(q.sides, side)
			continue
		}
		if t.noise {
			continue
		}
		if !slices.Contains(q.words, t.text) {
			q.words = append(q.words, t.text)
		}
		q.forms[t.text] = append(q.forms[t.text], t.text)
		if t.glued {
			q.forms[t.text] = append(q.forms[t.text], all[i-1].text+t.text)
		}
		if i+1 < len(all) && all[i+1].glued {
			q.forms[t.text] = append(q.forms[t.text], t.text+all[i+1].text)
		}
	}
	return q
}

// names are the ways in which a phrase may be compared with another.
func (n *naive) names(text string) []string {
	q := n.question(text)
	words := slices.Clone(q.words)
	if len(words) == 0 {
		return nil
	}
	together := strings.Join(words, "")
	slices.Sort(words)
	out := []string{strings.Join(words, " ")}
	if len(words) == 2 && slices.Contains(q.forms[q.words[1]], together) {
		out = append(out, together)
	}
	return out
}

func (n *naive) named(p *parts.Part, text string) bool {
	for _, name := range append([]string{p.Title}, p.Words...) {
		for _, form := range n.names(name) {
			if slices.Contains(n.names(text), form) {
				return true
			}
		}
	}
	return false
}

// met is 0 for exactly, 1 for a beginning, 2 for a wrong letter, 3 for not.
func (n *naive) met(p *parts.Part, word string, forms []string, wrong bool) int {
	best := 3
	try := func(text string, names bool) {
		all := n.tokens(text)
		for i, t := range all {
			switch {
			case t.glued && slices.Contains(forms, all[i-1].text+t.text), (!names || !t.noise) && slices.Contains(forms, t.text):
				best = 0
			case names && t.noise:
			case len(word) >= 3 && len(t.text) > len(word) && strings.HasPrefix(t.text, word) && !naiveFigures(word, t.text):
				best = min(best, 1)
			case wrong && naiveWrong(word, t.text):
				best = min(best, 2)
			}
		}
	}
	try(p.Title, true)
	for _, w := range p.Words {
		try(w, true)
	}
	for _, position := range p.Positions {
		try(position, false)
	}
	return best
}

func naiveFigures(word, longer string) bool {
	return strings.Contains("0123456789", word[len(word)-1:]) && strings.Contains("0123456789", longer[len(word):len(word)+1])
}

// naiveWrong says whether two words are one wrong letter apart.
func naiveWrong(a, b string) bool {
	if len(a) < 4 || len(a) > 32 || strings.ContainsAny(a+b, "0123456789") || strings.Contains(naiveCount, " "+a+" ") || strings.Contains(naiveCount, " "+b+" ") {
		return false
	}
	for i := range len(a) {
		if a[:i]+a[i+1:] == b || i+1 < len(a) && a[:i]+string(a[i+1])+string(a[i])+a[i+2:] == b && a != b {
			return true
		}
		if len(a) == len(b) && a != b && a[:i]+a[i+1:] == b[:i]+b[i+1:] {
			return true
		}
	}
	for i := range len(b) {
		if b[:i]+b[i+1:] == a {
			return true
		}
	}
	return false
}

func (n *naive) misdirected(p *parts.Part, sides []string) bool {
	against := func(position string) bool {
		words := strings.Split(position, "-")
		for _, side := range sides {
			o := naiveOther[side]
			if p.Hand.String() == o || slices.Contains(words, o) && !slices.Contains(words, side) {
				return true
			}
		}
		return false
	}
	if len(p.Positions) == 0 {
		return against("")
	}
	for _, position := range p.Positions {
		if !against(position) {
			return false
		}
	}
	return true
}

// line is a part in the order of the ranking.
type naiveLine struct {
	part *parts.Part
	met  parts.Met
	rank []int // compared first, field by field; then the order of all parts
}

func (n *naive) sorted(lines []naiveLine) []naiveLine {
	slices.SortFunc(lines, func(a, b naiveLine) int {
		return cmp.Or(slices.Compare(a.rank, b.rank), cmp.Compare(a.part.Status, b.part.Status),
			cmp.Compare(len(n.tokens(a.part.Title)), len(n.tokens(b.part.Title))), strings.Compare(a.part.Number, b.part.Number))
	})
	return lines
}

// numbers gives what the numbers in the question mean.
func (n *naive) numbers(text string) []naiveLine {
	find := func(normal string) (own, other []naiveLine) {
		for i := range n.parts {
			p := &n.parts[i]
			switch {
			case normal == "" || len(normal) > 40:
			case parts.NormalNumber(p.Number) == normal:
				own = append(own, naiveLine{part: p, met: parts.ByNumber})
			case slices.ContainsFunc(p.OtherNumbers, func(o string) bool { return parts.NormalNumber(o) == normal }):
				other = append(other, naiveLine{part: p, met: parts.ByOtherNumber})
			}
		}
		return n.sorted(own), n.sorted(other)
	}
	fields := strings.Fields(text)
	runs := []string{parts.NormalNumber(text)}
	for size := 4; size >= 1; size-- {
		for i := 0; size < len(fields) && i+size <= len(fields); i++ {
			if run := parts.NormalNumber(strings.Join(fields[i:i+size], "")); strings.ContainsAny(run, "0123456789") {
				runs = append(runs, run)
			}
		}
	}
	for _, run := range runs {
		own, other := find(run)
		if all := append(own, other...); len(all) > 0 {
			return n.successors(all)
		}
	}
	return nil
}

func (n *naive) successors(all []naiveLine) []naiveLine {
	level := all
	for len(level) > 0 {
		var next []naiveLine
		for _, s := range n.supersessions {
			for _, l := range s.New {
				is := func(number string) func(naiveLine) bool {
					return func(line naiveLine) bool { return line.part.Number == number }
				}
				i := slices.IndexFunc(n.parts, func(p parts.Part) bool { return p.Number == l.Part })
				if i >= 0 && slices.ContainsFunc(level, is(s.Old)) && !slices.ContainsFunc(all, is(l.Part)) && !slices.ContainsFunc(next, is(l.Part)) {
					next = append(next, naiveLine{part: &n.parts[i], met: parts.BySupersession})
				}
			}
		}
		level = n.sorted(next)
		all = append(all, level...)
	}
	return all
}

// words gives what has all the words.
func (n *naive) words(text string, anyWrong bool) []naiveLine {
	key := fmt.Sprint(text, anyWrong)
	if _, ok := n.found[key]; !ok {
		if n.found == nil {
			n.found = map[string][]naiveLine{}
		}
		n.found[key] = n.wordsAnew(text, anyWrong)
	}
	return n.found[key]
}

func (n *naive) wordsAnew(text string, anyWrong bool) []naiveLine {
	q := n.question(text)
	if len(q.words) == 0 {
		return nil
	}
	known, printed := map[string]bool{}, map[string]bool{}
	for i := range n.parts {
		for _, t := range n.tokens(n.parts[i].Title) {
			printed[t.text] = printed[t.text] || !t.noise
		}
		for _, w := range q.words {
			known[w] = known[w] || n.met(&n.parts[i], w, q.forms[w], false) < 3
		}
	}
	var out []naiveLine
	for i := range n.parts {
		p := &n.parts[i]
		worst := 0
		for _, w := range q.words {
			worst = max(worst, n.met(p, w, q.forms[w], !known[w] || anyWrong && !printed[w]))
		}
		if worst == 3 || n.misdirected(p, q.sides) {
			continue
		}
		called := 1
		if worst == 0 && n.named(p, text) {
			called = 0
		}
		out = append(out, naiveLine{p, [...]parts.Met{parts.Exactly, parts.ByBeginnings, parts.ByWrongLetter}[worst], []int{called, worst}})
	}
	return n.sorted(out)
}

// near gives the parts whose number is one character away.
func (n *naive) near(text string) []naiveLine {
	normal := parts.NormalNumber(text)
	if len(strings.Fields(text)) > 2 || len(normal) < 4 || !strings.ContainsAny(normal, "0123456789") || len(normal) > 41 {
		return nil
	}
	var out []naiveLine
	for i := range n.parts {
		p := &n.parts[i]
		for _, number := range append([]string{p.Number}, p.OtherNumbers...) {
			if naiveNear(normal, parts.NormalNumber(number)) {
				out = append(out, naiveLine{part: p, met: parts.ByNearNumber})
				break
			}
		}
	}
	slices.SortFunc(out, func(a, b naiveLine) int { return strings.Compare(a.part.Number, b.part.Number) })
	return out
}

func naiveNear(a, b string) bool {
	for i := range len(a) {
		if a[:i]+a[i+1:] == b || i+1 < len(a) && a != b && a[:i]+string(a[i+1])+string(a[i])+a[i+2:] == b {
			return true
		}
		if len(a) == len(b) && a != b && a[:i]+a[i+1:] == b[:i]+b[i+1:] {
			return true
		}
	}
	for i := range len(b) {
		if b[:i]+b[i+1:] == a {
			return true
		}
	}
	return false
}

// search gives "number, how, whether named" for each part, the best first; within holds the
// numbers of the subset, nil for all.
func (n *naive) search(within map[string]bool, text string, limit int) []string {
	var out []string
	seen := map[string]bool{}
	take := func(lines []naiveLine) {
		for _, l := range lines {
			if len(out) < limit && !seen[l.part.Number] && (within == nil || within[l.part.Number]) {
				seen[l.part.Number] = true
				out = append(out, fmt.Sprintf("%s, %s, named %t", l.part.Number, l.met, len(l.rank) > 0 && l.rank[0] == 0))
			}
		}
	}
	take(n.numbers(text))
	take(n.words(text, false))
	if len(out) == 0 {
		take(n.words(text, true))
	}
	if len(out) == 0 {
		take(n.near(text))
	}
	return out
}
