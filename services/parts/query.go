package parts

import (
	"fmt"
	"slices"

	"halfshaft/services/vehicle"
)

// query is one question about one vehicle.
type query struct {
	*Answerer
	vehicle *Vehicle
	asked   asked
	all     []site // see sites
}

// answer understands the question: a position, else a part number, else words.
func (q *query) answer(question string) Answer {
	if positions := q.positionsMeant(); len(positions) > 0 {
		a := q.byPosition(positions)
		a.Question = "position " + list(positions, "or")
		return a
	}
	if p, rest := q.Catalogue.numberIn(question); p != nil {
		q.asked = understand(rest)
		a := q.byNumber(p)
		a.Question = "part " + p.Number
		return a
	}
	a := q.byWords(question)
	a.Question = "words " + q.asked.all()
	return a
}

// positionsMeant are those that the releases or this vehicle know.
func (q *query) positionsMeant() []string {
	if meant := q.Places.positions(q.asked); len(meant) > 0 {
		return meant
	}
	key := wordKey(append(slices.Clone(q.asked.words), q.asked.directions...))
	for _, s := range q.sites() {
		if q.Places.byPosition[s.position] != nil {
			continue // looked for already
		}
		a := understand(s.position)
		if wordKey(append(a.words, a.directions...)) == key {
			return []string{s.position}
		}
	}
	return nil
}

func (q *query) byPosition(positions []string) Answer {
	var wants []want
	var reasons []vehicle.Reason
	for _, position := range positions {
		s := q.site(position)
		if s == nil {
			continue
		}
		bases := s.bases()
		for _, b := range bases {
			wants = append(wants, b.main())
		}
		if len(bases) == 0 {
			reasons = append(append(reasons, s.reasons()...), *s.ownerReason())
		}
	}
	if len(wants) > 0 {
		return q.offers(wants)
	}
	var places []place
	for _, position := range positions {
		places = append(places, q.Places.byPosition[position]...)
	}
	sentence := fmt.Sprintf("%s has nothing at the %s, and its specification calls for nothing there.",
		q.vehicle.Configuration.Serial, spoken(list(positions, "or")))
	if len(reasons) > 0 {
		sentence = reasons[len(reasons)-1].Sentence
	}
	return Answer{Refusal: &Refusal{Rule: PositionEmpty, Sentence: sentence, BelongsTo: describe(places), Reasons: reasons}}
}

// offers turns what is wanted into choices, and asks back when there are
// several. What cannot be had is told when nothing else is, or beside it.
func (q *query) offers(wants []want) Answer {
	var a Answer
	for i := range wants {
		c, refusal := wants[i].offer()
		switch {
		case refusal == nil:
			a.Choices = append(a.Choices, c)
		case a.Refusal == nil:
			a.Refusal = refusal
		}
	}
	a.AskBack = askBack(a.Choices)
	return a
}

// wants lists everything that can be wanted of this vehicle: what stands at
// each position, then what comes with it.
func (q *query) wants() (mains, companions []want) {
	mains = make([]want, 0, len(q.sites())+1)
	for i := range q.all {
		s := &q.all[i]
		for _, b := range s.bases() {
			main := b.main()
			mains = append(mains, main)
			companions = append(companions, main.companions()...)
		}
	}
	return mains, companions
}

// companions are the parts that come with what is ordered: what is renewed
// with it, what a kit holds, what else a split needs. A kit may hold kits.
func (w *want) companions() []want {
	var out []want
	seen := []string{}
	var add func(holder string, count int, lines []Line, rule, how string)
	add = func(holder string, count int, lines []Line, rule, how string) {
		for _, l := range lines {
			if slices.Contains(seen, l.Part) {
				continue
			}
			seen = append(seen, l.Part)
			with := &companionship{part: l.Part, holder: holder, rule: rule, how: how}
			one := want{base: w.site.base(l.Part, nil), count: count * l.Count(), with: with}
			out = append(out, one)
			for _, today := range one.route.lines {
				if p := w.catalogue.Part(today.Part); p != nil {
					add(p.Number, one.count*today.Count(), p.Contents, "IN_KIT", "is held in the kit")
				}
			}
		}
	}
	for i, l := range w.route.lines {
		p := w.catalogue.Part(l.Part)
		if p == nil {
			continue
		}
		count := w.count * l.Count()
		if i > 0 {
			add(w.part, w.count, w.route.lines[i:i+1], "PART_OF_SPLIT", "takes, with others, the place of")
		}
		add(p.Number, count, p.Contents, "IN_KIT", "is held in the kit")
		add(p.Number, count, p.RenewWith, "RENEWED_WITH", "is renewed with")
	}
	return out
}
