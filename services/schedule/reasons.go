package schedule

import (
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Unit is the unit that the vehicle's dial counts on the day, miles when that
// is not recorded.
func (s *Schedule) Unit() vehicle.Unit { return s.Dial().Unit }

// Dial is the dial in the vehicle on the day; where none is on record it counts
// miles and has no digits.
func (s *Schedule) Dial() vehicle.Dial {
	dial := vehicle.Dial{Unit: vehicle.Miles}
	for i := range s.vehicle.Segments {
		if seg := &s.vehicle.Segments[i]; seg.Dial.Unit.Valid() && (i == 0 || !seg.From.After(s.On)) {
			dial = seg.Dial
		}
	}
	return dial
}

// Explain says why an item stands where it does: reasons, the first of which
// says which limb decides, and all of it in one sentence.
func (s *Schedule) Explain(st *Status) (reasons []vehicle.Reason, sentence string) {
	x := explainer{s, st, s.plan.Item(int(st.Item)), s.Unit()}
	if st.State == NothingToDo {
		r := x.nothing()
		return append([]vehicle.Reason{r}, x.assumed()...), r.Sentence
	}
	first := x.limb()
	reasons = append(reasons, first, x.basis())
	reasons = append(reasons, x.assumed()...)
	if st.Severe {
		reasons = append(reasons, x.severe())
	}
	if st.Revised {
		reasons = append(reasons, x.revised())
	}
	if st.notBy != noDay {
		reasons = append(reasons, x.notBefore())
	}
	sentence = first.Sentence
	if st.Moved {
		moved := x.moved()
		reasons = append(reasons, moved)
		sentence = strings.TrimSuffix(sentence, ".") + "; " + wording.LowerFirst(moved.Sentence)
	}
	if r, ok := x.forecast(); ok {
		reasons = append(reasons, r)
	}
	if st.Binding == DistanceLimb {
		reasons = append(reasons, s.Evidence(x.unit))
	}
	return reasons, sentence
}

// assumed says that the item is for the vehicle only if a unit is what it is
// taken to be; nothing where that is known.
func (x explainer) assumed() []vehicle.Reason {
	if x.st.fit == nil || x.st.fit.assumed == nil {
		return nil
	}
	return []vehicle.Reason{*x.st.fit.assumed}
}

// explainer puts one status into words.
type explainer struct {
	s    *Schedule
	st   *Status
	item *Item
	unit vehicle.Unit
}

// The rules by which an answer for somebody who may not know when a vehicle
// stands still finds what to say in other words.
const (
	RuleMovedByLayUp     = "LAY_UP"                   // a lay-up moved the day to act
	RuleStartedByEvent   = "STARTED_BY_EVENT"         // with the facts "event" and "date"
	RuleLeastCost        = "VISIT_LEAST_COST"         // a visit on the day that costs least
	RuleBesideClosedTime = "VISIT_BESIDE_CLOSED_TIME" // likewise, before the vehicle rests or after
	RulePutOff           = "VISIT_PUT_OFF"            // a task put off
	RulePutOffToReturn   = "VISIT_PUT_OFF_TO_RETURN"  // likewise, to when the vehicle is back
)

// WhenBack ends the sentence of RulePutOffToReturn.
const WhenBack = "when the vehicle is back"

func fact(name, value string) vehicle.Fact { return vehicle.Fact{Name: name, Value: value} }

// nothing says why nothing is to be done.
func (x explainer) nothing() vehicle.Reason {
	title := x.item.Title
	switch x.st.basis {
	case basisNotDelivered:
		return vehicle.Reason{Rule: "NOT_DELIVERED", Sentence: title + ": nothing is counted before the vehicle is delivered."}
	case basisOnce:
		r := vehicle.Reason{Rule: "DONE_ONCE", Sentence: title + ": to be done once; the component was past it when it came here."}
		if x.st.lastDone != noDay {
			r.Facts = []vehicle.Fact{fact("last_done", x.st.lastDone.date().String())}
			r.Record = x.entry()
			where := ""
			if x.st.earlier != nil {
				where = x.st.earlier.where()
			}
			r.Sentence = title + ": to be done once, and done on " + x.st.lastDone.date().Long() + where + "."
		}
		return r
	case basisOnFinding:
		return vehicle.Reason{Rule: "ON_FINDING", Sentence: title + ": no interval; it is done when something is found."}
	case basisOutsideLayUp:
		return vehicle.Reason{Rule: "NOT_LAID_UP", Sentence: title + ": only while the vehicle is laid up."}
	}
	return vehicle.Reason{Rule: "NO_EVENT", Sentence: title + ": nothing has happened that asks for it."}
}

func (x explainer) entry() string {
	if x.st.earlier != nil {
		return x.st.earlier.Record
	}
	if x.st.entry < 0 {
		return ""
	}
	return x.s.vehicle.Entries[x.st.entry].Record
}

// limb says which limit decides, and how far the other one is.
func (x explainer) limb() vehicle.Reason {
	st := x.st
	if st.Binding == DistanceLimb {
		return x.distanceLimb()
	}
	r := vehicle.Reason{Rule: "TIME_LIMB_FIRST"}
	if st.distDue == noDay {
		r.Rule = "TIME_LIMB_ONLY"
	}
	due := st.due.date()
	r.Facts = []vehicle.Fact{fact("due_date", due.String()), fact("counted_from", st.anchor.date().String())}
	var b strings.Builder
	b.WriteString(x.item.Title + x.verb() + " on " + due.Long() + ": " + x.span(&r))
	if st.limit > 0 {
		driven := x.s.Since(st)
		r.Facts = append(r.Facts, fact("driven", driven.Text(x.unit)), fact("interval_distance", st.limit.Text(x.unit)))
		b.WriteString("; about " + driven.Text(x.unit) + " driven, of " + number(st.limit, x.unit))
	} else if st.basis != basisEvent {
		b.WriteString("; distance does not matter")
	}
	r.Sentence = b.String() + "."
	return r
}

// span says how long after what the time limb falls.
func (x explainer) span(r *vehicle.Reason) string {
	st := x.st
	since := x.since()
	if st.Revised {
		p := x.s.plan.Programme
		return "version " + strconv.Itoa(p.Version) + " of the service programme asks for it from that day on; counted since " + since
	}
	if st.months > 0 {
		r.Facts = append(r.Facts, fact("interval_months", strconv.Itoa(int(st.months))))
		if st.Severe && st.due > dayOf(st.anchor.date().AddMonths(int(st.months))) {
			return "hard use was declared from that day on, and more than " + months(int(st.months)) + " had passed since " + since
		}
		if st.kept != noDay {
			r.Facts = append(r.Facts, fact("was_due", st.kept.date().String()))
			return months(int(st.months)) + " since it was due on " + st.kept.date().Long() + ", near which it was done, on " + st.anchor.date().Long()
		}
		return months(int(st.months)) + " since " + since
	}
	days := int(st.timeDue - st.anchor)
	r.Facts = append(r.Facts, fact("interval_days", strconv.Itoa(days)))
	if days == 0 {
		return "at once, for " + since
	}
	return wording.Count(days, "day") + " after " + since
}

// since names the anchor in words.
func (x explainer) since() string {
	on := " on " + x.st.anchor.date().Long()
	switch x.st.basis {
	case basisDone:
		if x.st.earlier != nil {
			return "it was last done" + on + x.st.earlier.where()
		}
		return "it was last done" + on
	case basisFitting:
		return "the fitting or overhaul" + on
	case basisDelivery:
		return "the delivery" + on
	case basisLayUp:
		return "it was put away" + on
	}
	return x.st.Event.Words() + on
}

// distanceLimb says when the distance is expected to be reached.
func (x explainer) distanceLimb() vehicle.Reason {
	st := x.st
	r := vehicle.Reason{Rule: "DISTANCE_LIMB_FIRST"}
	if st.timeDue == noDay {
		r.Rule = "DISTANCE_LIMB_ONLY"
	}
	driven := x.s.Since(st)
	r.Facts = []vehicle.Fact{
		fact("due_date", st.due.date().String()), fact("counted_from", st.anchor.date().String()),
		fact("driven", driven.Text(x.unit)), fact("interval_distance", st.limit.Text(x.unit)),
		fact("per_year", x.s.Pace.PerYear.Text(x.unit)),
	}
	var b strings.Builder
	if st.due == endDay {
		b.WriteString(x.item.Title + " is due " + st.limit.Text(x.unit) + " after " + x.since() + ", which is not in sight: about " +
			driven.Text(x.unit) + " driven")
	} else {
		b.WriteString(x.item.Title + x.verb() + " about " + st.due.date().Long() + ": " + st.limit.Text(x.unit) + " since " + x.since() +
			"; about " + driven.Text(x.unit) + " driven, at about " + number(x.s.Pace.PerYear, x.unit) + " a year")
	}
	if st.timeDue != noDay {
		r.Facts = append(r.Facts, fact("time_due_date", st.timeDue.date().String()))
		b.WriteString("; by time not before " + st.timeDue.date().Long())
	}
	r.Sentence = b.String() + "."
	return r
}

// verb is "is due" or "was due".
func (x explainer) verb() string {
	if x.st.due < dayOf(x.s.On) && x.st.State == Overdue {
		return " was due"
	}
	return " is due"
}

// basis says what the round is counted from, and in which record that stands.
func (x explainer) basis() vehicle.Reason {
	st := x.st
	on := st.anchor.date()
	r := vehicle.Reason{Facts: []vehicle.Fact{fact("date", on.String())}}
	bedding := ""
	if st.Bedding {
		bedding = " This is the bedding-in round."
	}
	switch st.basis {
	case basisDone:
		r.Rule, r.Record = "LAST_DONE", x.entry()
		r.Sentence = "It was last done on " + on.Long() + "."
		if w := st.earlier; w != nil {
			r.Facts = append(r.Facts, fact("stood_at", strings.TrimSpace(w.Vehicle+" "+w.Position)))
			r.Sentence = "It was last done on " + on.Long() + ", when the unit stood" + w.where() + "." + x.arrived()
		}
	case basisFitting:
		r.Rule = "COUNTED_FROM_FITTING"
		r.Facts = append(r.Facts, fact("position", x.item.Position))
		r.Sentence = "It is counted from the fitting or overhaul of the " + strings.ReplaceAll(x.item.Position, "-", " ") +
			" on " + on.Long() + "." + bedding + x.arrived()
	case basisDelivery:
		r.Rule = "COUNTED_FROM_DELIVERY"
		r.Sentence = "It is counted from the delivery on " + on.Long() + "." + bedding
	case basisLayUp:
		r.Rule = "COUNTED_FROM_LAY_UP"
		r.Sentence = "The vehicle was put away on " + on.Long() + "."
	default:
		r.Rule = RuleStartedByEvent
		if st.event >= 0 {
			r.Record = x.s.vehicle.Events[st.event].Record
		}
		r.Facts = append(r.Facts, fact("event", st.Event.Words()))
		r.Sentence = "What started it, on " + on.Long() + ": " + st.Event.Words() + "."
	}
	if st.Bedding {
		r.Facts = append(r.Facts, fact("bedding_in", "yes"))
	}
	return r
}

// severe names the hard use that shortens the round.
func (x explainer) severe() vehicle.Reason {
	var kinds []string
	for k := SaltCoast; k < LaidUp; k++ {
		on := x.s.plan.items[x.st.Item].severeOn
		if on != 0 && on&setOf(k) == 0 {
			continue
		}
		if _, in := coveredBy(spansOf(nil, x.s.vehicle.Uses, setOf(k)), x.st.due); in {
			kinds = append(kinds, k.Words())
		}
	}
	words := strings.Join(kinds, " and ")
	return vehicle.Reason{
		Rule: "SEVERE_USE", Facts: []vehicle.Fact{fact("use", words)},
		Sentence: "Hard use (" + words + ") shortens the interval from the day it was declared for.",
	}
}

// forecast says how sure the day of the distance limb is, while it lies ahead.
func (x explainer) forecast() (vehicle.Reason, bool) {
	st := x.st
	if st.limit == 0 || st.dueAt <= x.s.Distance {
		return vehicle.Reason{}, false
	}
	early, late, first := x.s.DistanceRange(st)
	r := vehicle.Reason{Rule: "DISTANCE_FORECAST", Facts: []vehicle.Fact{
		fact("due_distance", st.dueAt.Text(x.unit)), fact("first_percent", strconv.Itoa(first)),
	}}
	text := "By distance it falls"
	switch {
	case early.IsZero():
		text += " on no day in sight"
	case late.IsZero():
		r.Facts = append(r.Facts, fact("early", early.String()))
		text += " hardly before " + early.Long() + ", and maybe on no day in sight"
	case early.Before(x.s.On):
		r.Facts = append(r.Facts, fact("early", early.String()), fact("late", late.String()))
		text += " any day now, and by " + late.Long() + " with a chance of nine in ten"
	default:
		r.Facts = append(r.Facts, fact("early", early.String()), fact("late", late.String()))
		text += " between " + early.Long() + " and " + late.Long() + ", with a chance of four in five"
	}
	if st.timeDue != noDay {
		switch {
		case first < 1:
			text += "; that it comes before the time limit is as good as out of the question"
		case first > 99:
			text += "; that it comes before the time limit is as good as certain"
		default:
			text += "; that it comes before the time limit has a chance of " + strconv.Itoa(first) + " %"
		}
	}
	r.Sentence = text + "."
	return r, true
}

// revised says that the programme asks for more since a day.
func (x explainer) revised() vehicle.Reason {
	p := x.s.plan.Programme
	return vehicle.Reason{
		Rule: "PROGRAMME_REVISED", Record: p.Name(), Facts: []vehicle.Fact{fact("effective_date", p.Effective.String())},
		Sentence: "Version " + strconv.Itoa(p.Version) + " of the service programme asks for it earlier, from " + p.Effective.Long() + " on.",
	}
}

func (x explainer) notBefore() vehicle.Reason {
	d := x.st.notBy.date()
	return vehicle.Reason{
		Rule: "NOT_BEFORE", Facts: []vehicle.Fact{fact("not_before", d.String())},
		Sentence: "It does no good before about " + d.Long() + ": the parts must settle first.",
	}
}

// moved says where a lay-up sends the work.
func (x explainer) moved() vehicle.Reason {
	st := x.st
	l, _ := coveredBy(x.s.lay, st.due)
	r := vehicle.Reason{Rule: RuleMovedByLayUp, Facts: []vehicle.Fact{fact("lay_up_from", l.from.date().String())}}
	if l.to < endDay {
		r.Facts = append(r.Facts, fact("lay_up_to", l.to.date().String()))
	}
	switch {
	case st.actBy == noDay:
		r.Sentence = "The vehicle is laid up then, so it is to be done when it is brought back."
	case st.actBy < l.from:
		r.Sentence = "The vehicle is laid up then, so it is to be done before it is put away, by " + st.actBy.date().Long() + "."
	default:
		r.Sentence = "The vehicle is laid up then, so it is to be done when it is brought back, on " + st.actBy.date().Long() + "."
	}
	if st.actBy != noDay {
		r.Facts = append(r.Facts, fact("act_by", st.actBy.date().String()))
	}
	return r
}

func months(n int) string { return wording.Count(n, "month") }

// number is a distance without its unit: "3,000".
func number(d vehicle.Distance, unit vehicle.Unit) string {
	text, _, _ := strings.Cut(d.Text(unit), " ")
	return text
}
