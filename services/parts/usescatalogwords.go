package parts

import (
	"fmt"
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// isByCatalogue says whether nothing but the catalogue and the release speak
// for a piece.
func (p *usePiece) isByCatalogue() bool { return p.stay < 0 && p.site != nil }

// calledReasons say what the catalogue calls for, how the part of the piece is
// connected with that, and when it may have gone in.
func (w *vehicleUses) calledReasons(p *usePiece) []vehicle.Reason {
	s := &w.life.stays[p.site.stay]
	root, day := spoken(w.nameText(s.position)), dateOfDay(s.from)
	var all []vehicle.Reason
	if p.site.isSmall {
		sentence := fmt.Sprintf("Nobody records what stands at the %s, on the %s that was fitted", spoken(w.nameText(p.position)), root)
		if !day.IsZero() {
			sentence += " on " + day.Long()
		}
		all = append(all, reason("NOT_RECORDED", "", sentence+".", "position", w.nameText(p.position), "assembly", w.nameText(s.position)))
	} else {
		all = append(all, w.unrecordedReason(s))
	}
	if p.call.row != nil {
		all = append(all, applicationReason(p.call.row))
		if !p.call.isSure {
			all = append(all, reason("ONE_OF_SEVERAL", "", "The records do not say whether that holds for this vehicle, or another part belongs there."))
		}
	}
	if day := dateOfDay(p.call.until); p.call.until != never {
		all = append(all, reason("ANOTHER_SINCE", "", fmt.Sprintf(
			"Since %s another part belongs there; whether it was changed for that is not on record.", day.Long()), "date", isoDate(day)))
	}
	for _, step := range p.pattern.path {
		all = append(all, stepReason(step))
	}
	return append(all, w.whenReason(p))
}

// unrecordedReason says that a unit is only what the release calls for.
func (w *vehicleUses) unrecordedReason(s *useStay) vehicle.Reason {
	position, part := w.nameText(s.position), w.index.names.text(s.part)
	follows := w.life.epochs[w.life.epochOn(s.from)].setup.follows(position)
	by := "release " + follows
	if build.Origin(s.origin) == build.FromOption {
		by = "an option of release " + follows
	}
	return reason("NOT_RECORDED", build.ReleaseName(follows), fmt.Sprintf(
		"%s is what %s calls for at the %s; which unit was fitted on %s nobody recorded.", part, by, spoken(position), dateOfDay(s.from).Long()),
		"part", part, "position", position, "release", follows)
}

// whenReason says since when the part of a piece may be there, and how likely
// that is.
func (w *vehicleUses) whenReason(p *usePiece) vehicle.Reason {
	number, made := p.pattern.number, p.site.made
	day := dateOfDay(made).Long()
	facts := []string{"part", number, "from_date", isoDate(dateOfDay(p.from))}
	since := p.pattern.entry
	if p.call.day > p.site.from {
		since = max(since, p.call.day)
	}
	switch {
	case since > max(made, p.site.from):
		return reason("MAY_HAVE_GONE_IN_SINCE", "", fmt.Sprintf("%s may have gone in since %s: no record says that it did, and none excludes it.",
			number, dateOfDay(p.from).Long()), facts...)
	case made == always:
		return reason("NOT_EXCLUDED", "", fmt.Sprintf(
			"When that unit was put together is not on record: %s may have come with it, or have gone in since.", number), facts...)
	case slices.Contains(w.patternOf(p.call.part, p.site.release, made), number):
		return reason("PATTERN_OF_THE_DAY", "", fmt.Sprintf("%s was the pattern to fit on %s, and so the likeliest to have gone in then.", number, day), facts...)
	}
	sentence := fmt.Sprintf("%s was not the pattern to fit on %s, but was not excluded then either.", number, day)
	if s := w.leftBy(number, p.site.release, made); s != nil {
		sentence = fmt.Sprintf("On %s %s was the pattern to fit, but %s might still go in.", day,
			wording.List(w.patternOf(p.call.part, p.site.release, made), "and"), number)
	}
	return reason("WAS_ALLOWED_THEN", "", sentence, facts...)
}

// whichReasons say of the unit of a stay, which nobody recorded, what else it
// may be.
func (w *vehicleUses) whichReasons(p *usePiece) []vehicle.Reason {
	s := &w.life.stays[p.stay]
	number, day := w.index.names.text(s.part), dateOfDay(p.site.made).Long()
	if p.pattern == nil {
		step := w.leftBy(p.role.number, p.site.release, p.site.made)
		if since := w.leftBy(p.role.number, p.site.release, w.on); step == nil && since != nil && p.certainty == Has {
			return []vehicle.Reason{stepReason(since), reason("NOT_RECORDED_AS_CHANGED", "", fmt.Sprintf(
				"No record says that the unit of %s was changed since.", day), "part", number)}
		}
		if step == nil {
			return nil
		}
		return []vehicle.Reason{stepReason(step), reason("ALL_PATTERNS_ASKED_FOR", "", fmt.Sprintf(
			"Which pattern was fitted on %s nobody recorded; every one that was allowed then is asked for.", day), "part", number)}
	}
	var all []vehicle.Reason
	if p.call.row != nil {
		all = append(all, applicationReason(p.call.row))
	}
	if p.call.part != p.role.number || !p.call.isSure || len(p.site.calls) > 1 {
		return append(all, reason("ONE_OF_SEVERAL", "", fmt.Sprintf(
			"The records do not say whether that holds for this vehicle; nobody recorded that %s is what stands there.", number), "part", number))
	}
	if step := w.leftBy(number, p.site.release, p.site.made); step != nil {
		all = append(all, stepReason(step), reason("WAS_ALLOWED_THEN", "", fmt.Sprintf(
			"On %s %s was the pattern to fit, and so the likeliest to have gone in, but %s might still go in.",
			day, wording.List(w.patternOf(p.role.number, p.site.release, p.site.made), "and"), number), "part", number))
	}
	return all
}

// siteEndReason says what ended a piece of which only the catalogue speaks.
func (w *vehicleUses) siteEndReason(p *usePiece) vehicle.Reason {
	day := dateOfDay(p.until)
	if p.end == endedByRecord {
		return reason("RECORDED_SINCE", "", fmt.Sprintf("From %s on it is on record what stands there.", day.Long()), "until_date", isoDate(day))
	}
	last, what := p.site.stay, "What stood there"
	for p.site.isSmall && last+1 < len(w.life.stays) && w.life.stays[last+1].further {
		last++
	}
	switch {
	case p.site.isSmall:
		what = fmt.Sprintf("The unit at the %s, with what was on it,", spoken(w.nameText(w.life.stays[last].position)))
	case last+1 < len(w.life.stays) && w.life.stays[last+1].further:
		return reason("RECORDED_SINCE", w.life.changeName(w.life.stays[last].ended), fmt.Sprintf(
			"Since the overhaul on %s it is on record what stands there.", day.Long()), "until_date", isoDate(day))
	}
	return reason("TAKEN_OFF", w.life.changeName(w.life.stays[last].ended), fmt.Sprintf("%s came off on %s.", what, day.Long()), "until_date", isoDate(day))
}
