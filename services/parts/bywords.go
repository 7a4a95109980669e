package parts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// match is how well a wanted part meets the words of a question; the smaller
// the better, field by field.
type match struct {
	missing int     // words not met at all
	how     quality // the worst met word
	astray  int     // 1 when it is not at the side or end asked for, nor named exactly
	level   int     // see rank
	place   int     // words that the name of its position meets
	want    want
}

func (m match) compare(other match) int {
	return cmp.Or(cmp.Compare(m.missing, other.missing), cmp.Compare(m.how, other.how), cmp.Compare(m.astray, other.astray), cmp.Compare(m.level, other.level))
}

// The levels of a match.
const (
	byName      = iota // a name of the part, or of its position, is exactly what was asked
	byEnding           // one ends with it: see ends
	byAssembly         // the words of a position that the releases name meet every word
	byOwnWords         // the part's own words meet every word
	withPlace          // the name of the position had to help
	leastLevels        // not met
)

// byWords answers a question in words: the parts of this vehicle that have
// them all; else the part elsewhere in the catalogue that has, refused; else
// those of this vehicle that have most of them, with a question.
func (q *query) byWords(question string) Answer {
	if len(q.asked.words) == 0 {
		return Answer{Refusal: &Refusal{Rule: NoSuchPart, Sentence: "There is no word in the question that names a part."}}
	}
	best := q.best()
	met := unmet // how well this vehicle has all the words
	if len(best) > 0 && best[0].missing == 0 {
		met = best[0].how
	}
	if s, how, level := q.bare(); how < met || s != nil && how == met && level < best[0].level+best[0].astray*leastLevels {
		return Answer{Refusal: s.refusal()}
	}
	if met == exact {
		return q.understood(best)
	}
	elsewhere := q.Catalogue.search(q.asked, 5)
	switch {
	case len(elsewhere) > 0 && (met == unmet || elsewhere[0].Named):
		return q.elsewhere(elsewhere)
	case met < unmet:
		return q.understood(best)
	}
	if others, level := q.dataMeant(q.index().absent(q.Ready)); level < notMeant {
		return q.technicalElsewhere(others)
	}
	switch {
	case len(best) > 0 && !looksLikeNumber(question):
		return q.partly(best)
	}
	return Answer{Refusal: q.nothing(question)}
}

// bare gives the position of the vehicle that all words mean best, of those
// for which the catalogue has nothing as the vehicle stands, and how well and
// at which level they are met; unmet when there is none.
func (q *query) bare() (best *site, how quality, level int) {
	meanings := q.Catalogue.words.meanings(q.asked)
	how, level = unmet, leastLevels
	for _, s := range q.index().bare {
		if q.asked.against(s.position, EitherHand) {
			continue
		}
		worst := exact
		for i := range meanings {
			worst = max(worst, q.meets(&meanings[i], s))
		}
		if worst == unmet {
			continue
		}
		if at := q.bareLevel(s); worst < how || worst == how && at < level {
			best, how, level = s, worst, at
		}
	}
	return best, how, level
}

func (q *query) bareLevel(s *site) int {
	others := func(has func(e *entry) bool) bool {
		return slices.ContainsFunc(s.others, func(v verdict[*Application]) bool {
			e := q.Catalogue.byNumber[v.row.Part]
			return e != nil && has(e)
		})
	}
	switch {
	case s.names(q.asked), others(func(e *entry) bool { return q.Catalogue.calls(&q.asked, &e.Part) }):
		return byName
	case s.endsSome(&q.asked), others(func(e *entry) bool { return e.endsSome(&q.asked) }):
		return byEnding
	}
	return byOwnWords
}

// meets gives how a word is met by a position's own words, or by those of the
// parts that other vehicles have there.
func (q *query) meets(m *meaning, s *site) quality {
	how := m.at(q.Catalogue.words, s.called)
	for _, v := range s.others {
		if e := q.Catalogue.byNumber[v.row.Part]; e != nil {
			how = min(how, m.within(q.Catalogue.words, e, e.own()))
		}
	}
	return how
}

// best gives the wanted parts that meet the words best; all alike.
func (q *query) best() []match {
	meanings := q.Catalogue.words.meanings(q.asked)
	x := q.index()
	var best []match
	for missing, group := range q.meaning(meanings) {
		if len(best) > 0 && best[0].missing < missing {
			break // these miss more words than the best so far
		}
		for _, n := range group {
			m := q.rank(*x.wants[n], x.entries[n], meanings, n < x.mains)
			switch {
			case m.level == leastLevels:
			case len(best) == 0 || m.compare(best[0]) < 0:
				best = append(best[:0], m)
			case m.compare(best[0]) == 0:
				best = append(best, m)
			}
		}
	}
	return q.directed(mainThing(best))
}

// rank judges one wanted part.
func (q *query) rank(w want, entries []*entry, meanings []meaning, standing bool) match {
	m := match{want: w, level: leastLevels}
	if len(entries) == 0 || q.asked.against(w.position, entries[0].Hand) {
		return m
	}
	own, place := 0, 0
	for i := range meanings {
		of, at := unmet, meanings[i].at(q.Catalogue.words, w.called)
		for _, e := range entries {
			of = min(of, meanings[i].within(q.Catalogue.words, e, e.own()))
		}
		if of < unmet {
			own++
		}
		if at < unmet {
			place++
		}
		if how := min(of, at); how < unmet {
			m.how = max(m.how, how)
		} else {
			m.missing++
		}
	}
	m.place = place
	switch {
	case m.missing == len(meanings), own == 0 && !standing:
		return m // nothing met, or only the place of another part
	case m.missing == 0 && (standing && w.names(q.asked) || slices.ContainsFunc(entries, func(e *entry) bool { return q.Catalogue.calls(&q.asked, &e.Part) })):
		m.level = byName
	case m.missing == 0 && (standing && w.endsSome(&q.asked) || slices.ContainsFunc(entries, func(e *entry) bool { return e.endsSome(&q.asked) })):
		m.level = byEnding
	case m.missing == 0 && standing && w.root == nil && place == len(meanings):
		m.level = byAssembly
	case own == len(meanings):
		m.level = byOwnWords
	default:
		m.level = withPlace
	}
	if m.level != byName && !q.asked.directed(w.position, entries[0].Hand) {
		m.astray = 1
	}
	return m
}

// entries are the parts whose words name what is wanted: the one to order
// first, then those that led to it.
func (r *Ready) entries(w *want) []*entry {
	numbers := append([]string{w.route.lines[0].Part}, w.route.nodes...)
	if w.with == nil {
		numbers = append(numbers, w.fittedPart())
	}
	var out []*entry
	for i, n := range numbers {
		if e := r.Catalogue.byNumber[n]; e != nil && !slices.Contains(numbers[:i], n) {
			out = append(out, e)
		}
	}
	return out
}

// directed keeps those that are on the side asked for, where any says its
// side.
func (q *query) directed(best []match) []match {
	var on []match
	for _, m := range best {
		if p := m.want.today(); p != nil && q.asked.directed(m.want.position, p.Hand) {
			on = append(on, m)
		}
	}
	if len(on) > 0 {
		return on
	}
	return best
}

// understood offers what was meant. A word that was only guessed from its
// beginning or from a misspelling is checked with the caller.
func (q *query) understood(best []match) Answer {
	a := q.offers(unique(wantsOf(best)))
	for i := range a.Choices {
		a.Choices[i].Reasons = append(a.Choices[i].Reasons, q.wordsReason(best[0]))
	}
	if len(a.Choices) == 1 && best[0].how > exact {
		a.AskBack = "Is this meant: " + label(&a.Choices[0]) + "?"
	}
	return a
}

func wantsOf(matches []match) []want {
	out := make([]want, len(matches))
	for i, m := range matches {
		out[i] = m.want
	}
	return out
}

// unique leaves out what would be the same line on the order: a seal that is
// renewed with two things at one position, and a part into which those of two
// positions were merged. Where one old part stands at two positions, each of
// them has what it was merged into.
func unique(wants []want) []want {
	var out []want
	for _, w := range wants {
		same := func(other want) bool {
			return other.route.lines[0].Part == w.route.lines[0].Part && (other.position == w.position || other.part != w.part && mergedAlike(&w.route, &other.route))
		}
		if !slices.ContainsFunc(out, same) {
			out = append(out, w)
		}
	}
	return out
}

// mergedAlike says whether two routes go through one merge, which is ordered
// once for all that it took the place of.
func mergedAlike(a, b *route) bool {
	return slices.ContainsFunc(a.steps, func(s *Supersession) bool { return len(s.AlsoOld) > 0 && slices.Contains(b.steps, s) })
}

func (q *query) wordsReason(m match) vehicle.Reason {
	how := [...]string{exact: "exactly", prefix: "by their beginnings", misspelt: "by one wrong letter", unmet: ""}[m.how]
	return reason("WORDS_MET", "", fmt.Sprintf("The words %q were met %s.", q.asked.all(), how), "words", q.asked.all(), "how", how)
}

// elsewhere answers for parts that have the words but are none of those that
// are wanted of this vehicle: an old number may still lead here.
func (q *query) elsewhere(found []Found) Answer {
	loud := slices.DeleteFunc(slices.Clone(found), func(f Found) bool { return !f.Named })
	if len(loud) > 0 {
		found = loud
	}
	var offered Answer
	for _, f := range found {
		a := q.byNumber(f.Part)
		if len(a.Choices) > 0 && a.Refusal == nil {
			offered.Choices = append(offered.Choices, a.Choices...)
		}
	}
	if len(offered.Choices) > 0 {
		offered.AskBack = askBack(offered.Choices)
		return offered
	}
	if len(found) == 1 {
		return q.byNumber(found[0].Part)
	}
	refusal := Refusal{Rule: NotOnThisVehicle}
	var names []string
	for _, f := range found[:min(3, len(found))] {
		r := q.notHere(f.Part)
		names = append(names, f.Part.Number+" ("+f.Part.Title+")")
		refusal.BelongsTo = append(refusal.BelongsTo, r.BelongsTo...)
		refusal.Reasons = append(refusal.Reasons, r.Reasons...)
	}
	refusal.Sentence = fmt.Sprintf("Nothing on %s is called that; elsewhere there are %s.",
		q.vehicle.Configuration.Serial, wording.List(names, "and"))
	return Answer{Refusal: &refusal}
}

// mostPartly is how many parts that have only some of the words are worth
// reading out.
const mostPartly = 6

// partly offers what meets at least half of the words, and always asks.
func (q *query) partly(best []match) Answer {
	if 2*best[0].missing > len(q.asked.words) {
		return Answer{Refusal: q.nothing(strings.Join(q.asked.words, " "))}
	}
	wants := unique(wantsOf(best))
	if len(wants) > mostPartly {
		r := q.nothing(strings.Join(q.asked.words, " "))
		r.Sentence += fmt.Sprintf(" %d parts of this vehicle have some of these words: what else is it called, or where does it sit?", len(wants))
		return Answer{Refusal: r}
	}
	a := q.offers(wants)
	sentence := fmt.Sprintf("Not every word of %q is known here.", q.asked.all())
	for i := range a.Choices {
		a.Choices[i].Reasons = append(a.Choices[i].Reasons, reason("WORDS_PARTLY_MET", "", sentence, "words", q.asked.all()))
	}
	switch {
	case len(a.Choices) == 1:
		a.AskBack = sentence + " Is this meant: " + label(&a.Choices[0]) + "?"
	case len(a.Choices) > 1:
		a.AskBack = sentence + " " + a.AskBack
	}
	return a
}

// nothing refuses what is not in the catalogue. Numbers one character away are
// read out, never answered with.
func (q *query) nothing(question string) *Refusal {
	r := Refusal{Rule: NoSuchPart, Sentence: fmt.Sprintf("Nothing in the catalogue is called %q.", question)}
	if !looksLikeNumber(question) {
		return &r
	}
	r.Sentence = fmt.Sprintf("There is no part %q in the catalogue.", question)
	if near := q.Catalogue.nearNumbers(question); len(near) > 0 {
		sentence := fmt.Sprintf("One character away: %s.", wording.List(near, "and"))
		r.Reasons = []vehicle.Reason{reason("NEAR_NUMBERS", "", sentence, "numbers", strings.Join(near, ", "))}
		r.Sentence += " " + sentence
	}
	return &r
}
