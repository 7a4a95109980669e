package parts

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// use puts a piece into words.
func (w *vehicleUses) use(p *usePiece) Use {
	u := Use{
		Vehicle: w.life.serial, Position: w.nameText(p.position), Certainty: p.certainty,
		From: dateOfDay(p.from), Until: dateOfDay(p.until),
	}
	switch {
	case p.isByCatalogue():
		u.Part = p.pattern.number
		if !p.site.isSmall {
			u.Origin = build.Origin(w.life.stays[p.site.stay].origin)
		}
	case p.stay >= 0:
		s := &w.life.stays[p.stay]
		u.Part, u.Serial, u.Lot = w.index.names.text(s.part), w.index.marks.text(s.serial), w.index.marks.text(s.lot)
		u.Origin, u.Record = build.Origin(s.origin), w.life.changeName(s.began)
	default:
		line := w.used[p.used]
		u.Part, u.Lot, u.Origin, u.Record = line.Part, line.Lot, build.FromService, line.Entry
	}
	if u.Lot == "" && (p.lot.state == inEntry || p.lot.state == onOtherStay) {
		u.Lot = p.lot.text
	}
	if u.Serial == "" && p.serial.state == onOtherStay {
		u.Serial = p.serial.text
	}
	var before, after *unitStay
	if p.stay >= 0 && !w.life.isAlone(&w.life.stays[p.stay]) {
		before, after = w.index.neighbours(unitStay{w.life, p.stay})
	}
	switch {
	case p.isByCatalogue():
		u.Reasons = append(u.Reasons, w.calledReasons(p)...)
	case p.pattern != nil:
		u.Reasons = append(u.Reasons, w.unrecordedReason(&w.life.stays[p.stay]))
	default:
		u.Reasons = append(u.Reasons, w.beginReason(p, &u))
	}
	if before != nil {
		u.CameFrom = before.life.serial
		u.Reasons = append(u.Reasons, w.cameReason(before))
	}
	u.Reasons = append(u.Reasons, w.whyReasons(p, &u)...)
	if p.end != stillOpen {
		u.Reasons = append(u.Reasons, w.endReason(p))
	}
	if after != nil {
		u.WentTo = after.life.serial
		u.Reasons = append(u.Reasons, w.wentReason(after))
	}
	return u
}

// beginReason says which record puts it there.
func (w *vehicleUses) beginReason(p *usePiece, u *Use) vehicle.Reason {
	facts := []string{"part", u.Part, "position", u.Position, "lot", u.Lot, "component_serial", u.Serial, "from_date", isoDate(u.From)}
	if p.stay < 0 {
		line := w.used[p.used]
		where := "which position it was for is not on record"
		if p.position != 0 {
			where = "the " + spoken(u.Position) + " is the one place for it here"
		}
		if p.role.kind != sought {
			where = "what was done with it is not on record"
		}
		return reason("USED_IN_SERVICE", line.Entry, fmt.Sprintf("%d of %s%s went in at the service on %s; %s.",
			line.Quantity, line.Part, marksOf("", line.Lot), line.Date.Long(), where), append(facts, "quantity", strconv.Itoa(line.Quantity))...)
	}
	s := &w.life.stays[p.stay]
	unit := u.Part + marksOf(w.index.marks.text(s.serial), w.index.marks.text(s.lot))
	at, day := spoken(u.Position), u.From.Long()
	if s.further {
		return reason("MADE_AT_OVERHAUL", u.Record, fmt.Sprintf("The overhaul on %s made the unit at the %s %s.", day, at, unit), facts...)
	}
	rule, how := "FITTED_IN_SERVICE", ""
	switch build.Origin(s.origin) {
	case build.FromRelease:
		rule, how = "STANDARD_OF_RELEASE", ", as the release has it"
	case build.FromOption:
		rule, how = "BY_OPTION", ", by an option of the vehicle"
	case build.FromBuild:
		rule, how = "IN_BUILD_RECORD", ", by the build record"
	case build.FromCampaign:
		rule, how = "FITTED_IN_CAMPAIGN", ", in a campaign"
	case build.FromOwner:
		rule, how = "FITTED_BY_OWNER", ", for the owner, as a modification of their own"
	}
	sentence := fmt.Sprintf("%s was fitted at the %s on %s%s.", unit, at, day, how)
	return reason(rule, u.Record, sentence, facts...)
}

// marksOf writes what a unit is marked with: " with serial G1 of lot L7".
func marksOf(serial, lot string) string {
	var marks []string
	if serial != "" {
		marks = append(marks, "with serial "+serial)
	}
	if lot != "" {
		marks = append(marks, "of lot "+lot)
	}
	if len(marks) == 0 {
		return ""
	}
	return " " + strings.Join(marks, " ")
}

// whyReasons says what the use has to do with the question, and what is in
// doubt about it.
func (w *vehicleUses) whyReasons(p *usePiece, u *Use) []vehicle.Reason {
	var all []vehicle.Reason
	switch r := p.role; r.kind {
	case kit:
		all = append(all, reason("KIT_HOLDS_PART", PartName(r.number),
			fmt.Sprintf("%s is a kit that holds %s; whether that went in as well is not on record.", r.number, r.wanted), "part", r.wanted, "kit", r.number))
	case renewer:
		all = append(all, reason("RENEWED_WITH", PartName(r.number),
			fmt.Sprintf("%s is renewed with %s; whether it was is not on record.", r.wanted, r.number), "part", r.wanted, "with", r.number))
	case sought:
		for _, s := range r.path {
			if !p.isByCatalogue() {
				all = append(all, stepReason(s))
			}
		}
	}
	if p.site != nil && !p.isByCatalogue() {
		all = append(all, w.whichReasons(p)...)
	}
	if r := w.markReason("lot", w.Lot, p.lot, p, u); r != nil {
		all = append(all, *r)
	}
	if r := w.markReason("serial", w.Serial, p.serial, p, u); r != nil {
		all = append(all, *r)
	}
	if p.doubt <= w.on && p.doubt < p.until && p.certainty == MayHave && p.role.kind == sought {
		all = append(all, w.doubtReason(p))
	}
	return all
}

// markReason says how a lot or a serial is known, or that it is not; nil where
// the record of the use itself says it.
func (w *vehicleUses) markReason(what, asked string, m marked, p *usePiece, u *Use) *vehicle.Reason {
	rule, record, sentence := "", "", ""
	switch m.state {
	case onOtherStay:
		rule, record = "KNOWN_FROM_ELSEWHERE", build.Name(m.at.life.serial)
		sentence = fmt.Sprintf("Its %s, %s, is on record from %s, where the same unit stood.", what, m.text, m.at.life.serial)
		if m.at.life == w.life {
			sentence = fmt.Sprintf("Its %s, %s, is on record from another time that the same unit stood on this vehicle.", what, m.text)
		}
	case inEntry:
		rule, record = "KNOWN_FROM_SERVICE_ENTRY", w.used[m.use].Entry
		sentence = fmt.Sprintf("The service entry of that day names lot %s.", m.text)
	case oneOfSome:
		rule, record = "ONE_OF_SEVERAL_LOTS", w.used[m.use].Entry
		sentence = fmt.Sprintf("Several lots went in that day, lot %s among them; which of them went here is not on record.", m.text)
	case nobodyKnows:
		rule, record = "LOT_NOT_RECORDED", u.Record
		if what == "serial" {
			rule = "SERIAL_NOT_RECORDED"
		}
		sentence = fmt.Sprintf("Nobody wrote down its %s, so %s %s is not excluded.", what, what, asked)
		if p.role.kind != sought {
			sentence = fmt.Sprintf("Nobody wrote down the %s of the %s in question, so %s %s is not excluded.", what, p.role.wanted, what, asked)
		}
		if what == "serial" && len(w.known) > 0 {
			sentence += w.lastSeen(p)
		}
	default:
		return nil
	}
	r := reason(rule, record, sentence, what, asked)
	return &r
}

// lastSeen says where the component that is asked for stood before the days of
// a piece.
func (w *vehicleUses) lastSeen(p *usePiece) string {
	for i := len(w.known) - 1; i >= 0; i-- {
		if s := w.known[i].stay(); s.until <= p.from {
			return fmt.Sprintf(" %s came off %s on %s, and no record says where it went then.", w.Serial, w.known[i].life.serial, dateOfDay(s.until).Long())
		}
	}
	return ""
}

func (w *vehicleUses) doubtReason(p *usePiece) vehicle.Reason {
	if p.doubtRoot && p.doubtUse < 0 {
		return reason("ASSEMBLY_GONE", "", fmt.Sprintf("The assembly that it stood on came off on %s; whether it went with that is not on record.",
			dateOfDay(p.doubt).Long()), "date", isoDate(dateOfDay(p.doubt)))
	}
	if p.doubtUse < 0 {
		return reason("ANOTHER_PLACE_FILLED", "", fmt.Sprintf(
			"On %s one of the places for it was filled anew; whether that was the place where it stood is not on record.", dateOfDay(p.doubt).Long()),
			"date", isoDate(dateOfDay(p.doubt)))
	}
	line := w.used[p.doubtUse]
	return reason("MAY_HAVE_BEEN_REPLACED", line.Entry, fmt.Sprintf(
		"%d of %s went in at the service on %s; whether in its place is not on record.", line.Quantity, line.Part, line.Date.Long()),
		"part", line.Part, "quantity", strconv.Itoa(line.Quantity), "date", isoDate(line.Date))
}

// endReason says what ended it.
func (w *vehicleUses) endReason(p *usePiece) vehicle.Reason {
	day := dateOfDay(p.until).Long()
	facts := []string{"until_date", isoDate(dateOfDay(p.until))}
	switch p.end {
	case endedByUse:
		line := w.used[p.endUse]
		return reason("REPLACED_IN_SERVICE", line.Entry, fmt.Sprintf(
			"At the service on %s as many of %s went in as there are places for it, so this one is no longer there.", day, line.Part), facts...)
	case endedByPlaces:
		return reason("PLACES_FILLED_ANEW", "", fmt.Sprintf(
			"By %s every place for it had been filled anew, so it is no longer there.", day), facts...)
	}
	if p.isByCatalogue() {
		return w.siteEndReason(p)
	}
	s := &w.life.stays[p.stay]
	if next := p.stay + 1; next < len(w.life.stays) && w.life.stays[next].further {
		return reason("UNTIL_OVERHAUL", w.life.changeName(s.ended), fmt.Sprintf("The overhaul on %s made something else of it.", day), facts...)
	}
	return reason("TAKEN_OFF", w.life.changeName(s.ended), fmt.Sprintf("It came off on %s.", day), facts...)
}

func (w *vehicleUses) cameReason(from *unitStay) vehicle.Reason {
	s := from.stay()
	where := string(from.life.serial)
	if from.life == w.life {
		where = "the " + spoken(w.index.names.text(s.position)) + " of this vehicle"
	}
	sentence := fmt.Sprintf("The unit came from %s", where)
	if s.until != never {
		sentence += fmt.Sprintf(", where it stood until %s", dateOfDay(s.until).Long())
	}
	return reason("CAME_FROM", build.Name(from.life.serial), sentence+".", "came_from", string(from.life.serial))
}

func (w *vehicleUses) wentReason(to *unitStay) vehicle.Reason {
	s := to.stay()
	where := string(to.life.serial)
	if to.life == w.life {
		where = "the " + spoken(w.index.names.text(s.position)) + " of this vehicle"
	}
	return reason("WENT_TO", build.Name(to.life.serial), fmt.Sprintf("The unit went on to %s, where it was fitted on %s.",
		where, dateOfDay(s.from).Long()), "went_to", string(to.life.serial))
}
