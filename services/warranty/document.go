package warranty

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Document is the warranty of one vehicle on paper.
type Document struct {
	On       vehicle.Date
	Sections []Section
	Sample   bool // it rests on a term that nobody has signed
}

// Section is a part of the document.
type Section struct {
	Item       string // of 16 CFR 701.3(a) that it answers: "(a)(1)"; empty for none
	Title      string
	Paragraphs []string
}

// Contact is where a customer turns to.
type Contact struct {
	Name, Address, Telephone, Email string
}

// Write writes the warranty of a vehicle for its owner, in the order and with
// the items of 16 CFR 701.3(a). That is a law of the United States about written
// warranties on consumer products, and an example: which law holds where the
// vehicle was sold is for counsel to say, and that law goes first. Items (1) to
// (5) were read in the edition of 2003; (6) to (9), with the sentences that they
// prescribe, are from memory.
//
// The terms are those that the vehicle has, whatever the position: the question's
// position and unit are not looked at, and what was fitted later has its terms
// named with "from its fitting".
func Write(q *Question, works Contact) Document {
	w := writer{q: q, works: works, terms: q.given()}
	d := Document{On: q.On, Sections: []Section{
		w.head(), w.who(), w.what(), w.does(), w.when(), w.steps(), w.dispute(), w.implied(), w.consequences(), w.rights(),
	}}
	for _, t := range w.terms {
		d.Sample = d.Sample || t.Sample
	}
	d.Sample = d.Sample || len(w.terms) == 0
	if d.Sample {
		d.Sections[0].Paragraphs = append([]string{
			"Sample, to be signed by the works' engineer. Until it is signed this is an example and no promise.",
		}, d.Sections[0].Paragraphs...)
	}
	return d
}

// writer holds what all sections need.
type writer struct {
	q     *Question
	works Contact
	terms []*Term
}

// given are the terms that a vehicle has, each in the version that was in force
// when it began: the whole vehicle's first. Of terms that begin with a fitting or
// a repair it is the latest version by the day, for each unit has its own day.
func (q *Question) given() []*Term {
	versions := map[string][]*Term{}
	for i := range q.Terms {
		versions[q.Terms[i].ID] = append(versions[q.Terms[i].ID], &q.Terms[i])
	}
	var all []*Term
	for _, of := range versions {
		slices.SortFunc(of, func(a, b *Term) int { return b.Version - a.Version })
		for _, t := range of {
			day := q.On
			if t.Start != FromFitting && t.Start != FromRepair {
				if b := q.begins(t.Start); b.standing == happened {
					day = b.first
				}
			}
			if day.Before(t.Effective) {
				continue
			}
			if !t.Withdrawn && (len(t.Releases) == 0 || slices.Contains(t.Releases, q.Facts.Release)) {
				all = append(all, t)
			}
			break
		}
	}
	slices.SortFunc(all, func(a, b *Term) int {
		return cmp.Or(first(a.WholeVehicle(), b.WholeVehicle()), cmp.Compare(a.Giver, b.Giver), OrderTerms(*a, *b))
	})
	return all
}

func (w *writer) head() Section {
	lines := []string{
		fmt.Sprintf("This is the warranty of vehicle %s. It is for this vehicle only.", w.q.Facts.Serial),
		"Local law goes first: where it gives you more than this document, you have that. The items below follow 16 CFR 701.3(a), a law of the United States, as an example; have counsel look at the document before it is given to anybody.",
	}
	if len(w.terms) == 0 {
		lines = append(lines, "No term is on record for this vehicle.")
	}
	return Section{Title: "Warranty", Paragraphs: lines}
}

// each makes one paragraph for each term, with its title in front.
func (w *writer) each(say func(*Term) string) []string {
	var all []string
	for _, t := range w.terms {
		if s := say(t); s != "" {
			all = append(all, wording.UpperFirst(promise(t))+": "+s)
		}
	}
	return all
}

func (w *writer) who() Section {
	return Section{"(a)(1)", "Who has this warranty", w.each(func(t *Term) string {
		if t.Transferable {
			return "whoever owns the vehicle while it lasts. It goes with the vehicle when you sell it."
		}
		return "only who owned the vehicle when it began. It ends when the vehicle comes to another owner."
	})}
}

func (w *writer) what() Section {
	s := Section{"(a)(2)", "What is covered, and what is not", w.each(covered)}
	for _, t := range w.terms {
		for _, x := range t.Exclusions {
			text := "Not covered by " + promise(t) + ": " + wording.Ended(x.Text)
			if len(x.Positions) > 0 {
				text += " This is about the " + wording.List(spokenAll(x.Positions), "and") + "."
			}
			s.Paragraphs = append(s.Paragraphs, text)
		}
	}
	return s
}

// covered says what a term is for.
func covered(t *Term) string {
	var to []string
	if len(t.Positions) > 0 {
		to = append(to, "the "+wording.List(spokenAll(t.Positions), "and"))
	}
	switch len(t.Parts) {
	case 0:
	case 1:
		to = append(to, "part "+t.Parts[0])
	default:
		to = append(to, "the parts "+wording.List(t.Parts, "and"))
	}
	if len(to) == 0 {
		return "the whole vehicle as the works built it, with what was fitted in its place since, but for the owner's own modifications."
	}
	return strings.Join(to, ", and ") + "."
}

func (w *writer) does() Section {
	return Section{"(a)(3)", "What is done about a fault", w.each(func(t *Term) string {
		s := "what failed by a fault of material or work is repaired or replaced. " + pays(t)
		if t.Repair.Months == 0 {
			return s + " What was repaired has the rest of the term."
		}
		s += " What was repaired has the rest of the term, or " + wording.Count(t.Repair.Months, "month")
		if t.Repair.Distance > 0 {
			s += " and " + w.q.print(t.Repair.Distance)
		}
		return s + " from the repair, whichever ends later."
	})}
}

func (w *writer) when() Section {
	s := Section{"(a)(4)", "When it begins and ends", w.each(w.duration)}
	s.Paragraphs = append(s.Paragraphs,
		"The first and the last day count. Where the month of the last day has no day of the same number, it is the last day of that month. A day lasts as long as it is that day where you live or at the works, unless a term says otherwise.",
		"Distances are true distances, which the works finds from the readings: a dial that reads wrong with other tyres or axles, or a new instrument, changes nothing.")
	return s
}

// duration says from when until when a term is.
func (w *writer) duration(t *Term) string {
	b := beginning{event: startNames[t.Start], standing: notKnown}
	if t.Start != FromFitting && t.Start != FromRepair {
		b = w.q.begins(t.Start)
	}
	s := "it begins with " + startNames[t.Start]
	if b.standing == happened {
		s += ", " + b.first.Long()
	}
	var ends []string
	if t.Months > 0 {
		ends = append(ends, "after "+wording.Count(t.Months, "month"))
		if b.standing == happened {
			ends[0] += ", with " + lastDay(b.first, t.Months).Long() + w.added(t, b)
		}
	}
	if t.Distance > 0 {
		ends = append(ends, "after "+w.q.print(t.Distance)+" of true distance")
	}
	switch len(ends) {
	case 0:
		s += ", and has no end."
	case 1:
		s += ", and ends " + ends[0] + "."
	default:
		s += ", and ends " + ends[0] + ", or " + ends[1] + ", whichever comes first."
	}
	if t.ExtendedByDaysOut && t.Months > 0 {
		s += " Whole days on which the vehicle cannot be used for a covered fault are added at the end."
	}
	return s + [...]string{"", " Days are those at the works.", " Days are those where you live."}[t.Midnight%midnightsEnd] + w.over(t, b)
}

// added says up to when a term lasts with the days out of service that are on
// record.
func (w *writer) added(t *Term, b beginning) string {
	tc := TermCover{Term: *t}
	w.q.limits(&tc, period{start: b, months: t.Months})
	if tc.Added == 0 {
		return ""
	}
	return fmt.Sprintf(" (%s with the %s added so far)", tc.Last.Long(), wording.Count(tc.Added, "day"))
}

// over says of a term that has ended that it has.
func (w *writer) over(t *Term, b beginning) string {
	if b.standing != happened {
		return ""
	}
	ask := *w.q
	ask.Position, ask.Unit, ask.Bare = "", nil, false
	switch ask.cover(t, period{start: b, months: t.Months, distance: t.Distance}).EndedBy {
	case NoLimb:
		return ""
	case OwnerLimb:
		return " It is over, for the vehicle has come to another owner."
	}
	return " It is over."
}

var startNames = [...]string{"", "delivery to the first owner", "the fitting of the unit, but not before delivery", "the end of the build", "the first registration of the rebuilt vehicle", "the repair"}

func (w *writer) steps() Section {
	c := w.works
	ways := []string{c.Name}
	for _, way := range []string{c.Address, c.Telephone, c.Email} {
		if way != "" {
			ways = append(ways, way)
		}
	}
	s := Section{"(a)(5)", "What to do, step by step", []string{
		"1. Where driving on could hurt somebody or make the fault worse, stop in a safe place and do not drive on.",
		fmt.Sprintf("2. Tell %s. Say the serial %s, what you noticed, and what the odometer shows.", strings.Join(ways, ", "), w.q.Facts.Serial),
		"3. The works says who can look at it: the works itself, a dealer of the works, or a mechanic near you whom the works agrees to.",
		"4. Before work begins, whoever does it asks the works for an authorisation with a limit. What was authorised is paid. In an emergency, have what safety asks for done first, and tell the works as soon as you can.",
		"5. Keep the parts that were taken out, and the bill.",
		"6. The works decides in writing, with its reasons. It is no ground for refusal by itself that the vehicle was serviced elsewhere.",
	}}
	for _, t := range w.terms {
		for _, line := range t.Conditions {
			s.Paragraphs = append(s.Paragraphs, "For "+promise(t)+": "+wording.Ended(line))
		}
	}
	return s
}

func (w *writer) dispute() Section {
	a := StandardAppeals()
	return Section{"(a)(6)", "If you do not agree", []string{
		fmt.Sprintf("Write to the works within %d days of the decision. Somebody other than whoever decided looks at it again, and answers within %d days. The answer is never worse for you than the first.", a.Days, a.Answer),
		"You need not do this first: it takes away none of your rights before a court or a body for disputes. The 40 days follow 16 CFR 703.5(d), a law of the United States, as an example; the law where you live goes first.",
	}}
}

func (w *writer) implied() Section {
	return Section{"(a)(7)", "Rights that the law gives you besides", []string{
		"This warranty does not shorten any warranty that the law gives you. Should a term do so: some States do not allow limitations on how long an implied warranty lasts, so that such a limitation may not apply to you.",
	}}
}

func (w *writer) consequences() Section {
	return Section{"(a)(8)", "Other losses", []string{
		"Unless a term says so above, this warranty does not exclude compensation for other losses that the law gives you. Should a term do so: some States do not allow the exclusion or limitation of incidental or consequential damages, so that such a limitation or exclusion may not apply to you.",
	}}
}

func (w *writer) rights() Section {
	return Section{"(a)(9)", "Your rights", []string{
		"This warranty gives you specific legal rights, and you may also have other rights which vary from State to State, and from country to country.",
	}}
}

func spokenAll(positions []string) []string {
	all := make([]string, len(positions))
	for i, p := range positions {
		all[i] = strings.ReplaceAll(p, "-", " ")
	}
	return all
}
