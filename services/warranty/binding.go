package warranty

import (
	"cmp"
	"maps"
	"slices"

	"halfshaft/services/vehicle"
)

// beginning is what is known of a term's first day.
type beginning struct {
	first     vehicle.Date
	at        TrueDistance // of the vehicle on that day
	atMost    TrueDistance // that it was not more, where it is not known itself
	elsewhere bool         // the first day lies on another vehicle
	event     string       // for a sentence: "delivery"
	record    string
	standing  standing
	question  string // where it is not known
}

// standing says whether the event of a beginning has happened.
type standing uint8

const (
	happened standing = iota
	notYet            // it is known not to have
	notKnown          // nobody recorded it
	never             // there was none, and the term is not for this
)

// begins finds the first day of a term that begins with an event.
func (q *Question) begins(start Start) beginning {
	f := &q.Facts
	switch start {
	case FromDelivery:
		return q.onVehicle("delivery", f.Delivered, f.DeliveredAt, "On which day was the vehicle delivered to its first owner?")
	case FromRegistration:
		return q.onVehicle("first registration", f.Registered, f.RegisteredAt, "On which day was the rebuilt vehicle first registered?")
	case FromBuild:
		return q.onVehicle("the end of the build", f.Built, f.BuiltAt, "On which day was the build finished?")
	case FromFitting:
		return q.onFitting()
	case FromRepair:
		if r := q.lastRepair(""); r != nil {
			return beginning{first: r.Date, at: r.At, event: "the repair", record: r.Record}
		}
	}
	return beginning{standing: never}
}

func (q *Question) onVehicle(event string, day vehicle.Date, at TrueDistance, question string) beginning {
	b := beginning{first: day, at: at, event: event}
	switch {
	case !day.IsZero():
	case q.Facts.AtWorks:
		b.standing = notYet
	default:
		b.standing, b.question = notKnown, question
	}
	return b
}

// onFitting is for terms of the unit: from its fitting, and from delivery where
// that was later. What ran on another vehicle brings its first day and its
// distance along.
func (q *Question) onFitting() beginning {
	u, f := q.Unit, &q.Facts
	b := beginning{event: "its fitting"}
	switch {
	case u == nil && q.Bare:
		b.standing = never
	case u == nil:
		b.standing, b.question = notKnown, "Which unit stands there, and when was it fitted?"
	case u.Moved && u.FirstFitted.IsZero():
		b.standing, b.question = notKnown, "When was the unit first fitted, on the vehicle that it came from?"
	case u.Moved:
		b.first, b.record, b.elsewhere, b.atMost = u.FirstFitted, u.Record, true, u.FittedAt
		if u.FittedAt.Known && u.Prior.Known {
			b.at = True(u.FittedAt.Value - u.Prior.Value) // less than nothing where it ran far elsewhere
		}
	case f.AtWorks:
		b.standing = notYet
	case u.Fitted.IsZero() && u.Source != SourceBuild:
		b.standing, b.question = notKnown, "On which day was the unit fitted?"
	case u.Fitted.IsZero() || u.Fitted.Before(f.Delivered):
		b = q.onVehicle("delivery, with the unit fitted", f.Delivered, f.DeliveredAt, "On which day was the vehicle delivered to its first owner?")
	case u.Source == SourceBuild && f.Delivered.IsZero():
		b.standing, b.question = notKnown, "On which day was the vehicle delivered to its first owner?"
	default:
		b.first, b.at, b.record = u.Fitted, u.FittedAt, u.Record
	}
	return b
}

// lastRepair is the latest repair at the position up to the day asked about, of
// the unit that stands there now, and none where nothing does; of those that a version paid for, where its
// name is given. nil when there is none.
func (q *Question) lastRepair(term string) *Repair {
	var last *Repair
	for i := range q.Facts.Repairs {
		r := &q.Facts.Repairs[i]
		if q.Position == "" || q.Bare || r.Position != q.Position || r.Date.IsZero() || r.Date.After(q.under(EitherMidnight).late) {
			continue
		}
		if q.Unit != nil && q.Unit.Fitted.After(r.Date) || term != "" && r.Term != term {
			continue
		}
		if last == nil || cmp.Or(last.Date.Compare(r.Date), cmp.Compare(last.Record, r.Record)) < 0 {
			last = r
		}
	}
	return last
}

// binding is a version of a term that a vehicle or unit has or may have.
type binding struct {
	term  *Term
	start beginning
	// unsure is what to ask where a later version may bind instead, because
	// nobody knows when that would have begun.
	unsure string
}

// bindings finds for each term the version that was in force when it began,
// among those that may be for the position; the latest first where several may
// bind.
func (q *Question) bindings() [][]binding {
	versions := map[string][]*Term{}
	for i := range q.Terms {
		t := &q.Terms[i]
		versions[t.ID] = append(versions[t.ID], t)
	}
	var all [][]binding
	for _, id := range slices.Sorted(maps.Keys(versions)) {
		if b := q.bind(versions[id]); len(b) > 0 {
			all = append(all, b)
		}
	}
	return all
}

// bind chooses among the versions of one term. Where the beginning of one is not
// known, those before it may bind as well.
func (q *Question) bind(versions []*Term) []binding {
	slices.SortFunc(versions, func(a, b *Term) int { return b.Version - a.Version })
	var all, waiting []binding
	unsure := ""
	for _, t := range versions {
		b := q.begins(t.Start)
		if b.standing == never || b.standing == happened && b.first.Before(t.Effective) {
			continue
		}
		if !t.Withdrawn && q.fits(t) != fitsNot {
			if b.standing == notYet {
				waiting = append(waiting, binding{term: t, start: b})
				continue
			}
			all = append(all, binding{t, b, unsure})
		}
		if b.standing == happened {
			break
		}
		unsure = cmp.Or(unsure, b.question)
	}
	if len(all) == 0 && len(waiting) > 0 {
		return waiting[:1]
	}
	return all
}

// fit says whether a term is for the position.
type fit uint8

const (
	fitsNot fit = iota
	fits
	fitsRelease // if the release, which is not known, is one of its
	fitsPart    // if the part, which is not known, is one of its
)

func (q *Question) fits(t *Term) fit {
	if len(t.Releases) > 0 && q.Facts.Release != "" && !slices.Contains(t.Releases, q.Facts.Release) {
		return fitsNot
	}
	place := q.place(t)
	if place == fits && len(t.Releases) > 0 && q.Facts.Release == "" {
		return fitsRelease
	}
	return place
}

// place says whether a term is for what stands at the position.
func (q *Question) place(t *Term) fit {
	switch {
	case t.WholeVehicle():
		return fits
	case q.Position == "":
		return fitsNot
	case slices.Contains(t.Positions, q.Position):
		return fits
	case len(t.Parts) == 0 || q.Bare:
		return fitsNot
	case q.Unit == nil || q.Unit.Part == "":
		return fitsPart
	case slices.Contains(t.Parts, q.Unit.Part):
		return fits
	}
	return fitsNot
}
