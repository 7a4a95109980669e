package console

import (
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/wording"
)

// changeText prints a recorded change: what happened, why, what stood there
// before, and why what stands there now does. after is nil when it could not
// be asked.
func changeText(s *sheet, made *buildv1.Change, before, after *buildv1.Configuration) {
	at := ""
	if r := entered(made.GetReading()); r != "" {
		at = " at " + r
	}
	s.text(serialOf(made.GetName())+": ", "on "+day(made.GetChangeDate())+at+", "+happened(made, before, after)+".")
	s.text("  source    ", sourceText(made))
	s.text("  reason    ", made.GetReason())
	switch made.GetKind() {
	case buildv1.ChangeKind_CHANGE_KIND_UPGRADE, buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, buildv1.ChangeKind_CHANGE_KIND_OPTION_REMOVED:
		if after != nil {
			differences(s, before, after)
		}
		return
	}
	s.text("  before    ", stoodBefore(made, before))
	if made.GetKind() == buildv1.ChangeKind_CHANGE_KIND_FIT {
		whyNow(s, made, after)
	}
}

// sourceText is under whose authority and by whom a change was made.
func sourceText(ch *buildv1.Change) string {
	text := map[buildv1.ChangeSource]string{
		buildv1.ChangeSource_CHANGE_SOURCE_SERVICE:  "service or repair",
		buildv1.ChangeSource_CHANGE_SOURCE_WORKS:    "the works",
		buildv1.ChangeSource_CHANGE_SOURCE_CAMPAIGN: "the remedy of a campaign",
		buildv1.ChangeSource_CHANGE_SOURCE_OWNER:    "the owner's own modification",
	}[ch.GetSource()]
	if ch.GetDoneBy() == "" {
		return text
	}
	return strings.TrimPrefix(text+", done by "+ch.GetDoneBy(), ", ")
}

// happened is a change as a clause: "AP-6011 was fitted at the alternator".
func happened(ch *buildv1.Change, before, after *buildv1.Configuration) string {
	switch ch.GetKind() {
	case buildv1.ChangeKind_CHANGE_KIND_FIT:
		unit := ch.GetComponent()
		if unit.GetPart() == "" { // then the specification gave it
			unit = standing(after, unit.GetPosition()).GetComponent()
		}
		return unitText(unit) + " was fitted at the " + place(ch.GetComponent().GetPosition()) + cameWith(ch.GetComponent())
	case buildv1.ChangeKind_CHANGE_KIND_REMOVE:
		p := ch.GetComponent().GetPosition()
		return unitText(standing(before, p).GetComponent()) + " was taken off, and nothing stands at the " + place(p)
	case buildv1.ChangeKind_CHANGE_KIND_OVERHAUL:
		return "the " + place(ch.GetComponent().GetPosition()) + " was overhauled where it stands"
	case buildv1.ChangeKind_CHANGE_KIND_TYRES:
		return "the tyres became " + tyreText(ch.GetTyre())
	case buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO:
		return "the axle ratio became " + ratio(ch.GetAxleRatio())
	case buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE:
		return "the speedometer drive became " + teeth(ch.GetSpeedometerDrive()) + " (driver/driven)"
	case buildv1.ChangeKind_CHANGE_KIND_DIAL:
		return "the odometer became one of " + dialText(ch.GetDial()) + ", which showed " + entered(ch.GetDialStart())
	case buildv1.ChangeKind_CHANGE_KIND_UPGRADE:
		var names []string
		for _, p := range ch.GetPositions() {
			names = append(names, place(p))
		}
		return "it was brought to " + idOf(ch.GetRelease()) + " at the " + wording.List(names, "and")
	case buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED:
		return "the option " + ch.GetOption() + " was added"
	case buildv1.ChangeKind_CHANGE_KIND_OPTION_REMOVED:
		return "the option " + ch.GetOption() + " was taken off"
	case buildv1.ChangeKind_CHANGE_KIND_PLATE:
		if ch.GetPlate() == "" {
			return "it lost its plate"
		}
		return "its plate became " + ch.GetPlate()
	}
	return change(ch)
}

// cameWith is the life that a unit brings with it.
func cameWith(u *buildv1.Component) string {
	text := ""
	if d := entered(u.GetPriorDistance()); d != "" {
		text += ", after " + d + " elsewhere"
	}
	if d := day(u.GetBeddingInDate()); d != "" {
		text += ", bedding in since " + d
	}
	return text
}

// stoodBefore is what a change put an end to, as the records had it on its day.
func stoodBefore(ch *buildv1.Change, before *buildv1.Configuration) string {
	switch ch.GetKind() {
	case buildv1.ChangeKind_CHANGE_KIND_TYRES:
		return tyreText(before.GetTyre())
	case buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO:
		return orNothing(ratio(before.GetAxleRatio()))
	case buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE:
		if before.GetSpeedometerDrive() == nil {
			return "nothing on record"
		}
		return teeth(before.GetSpeedometerDrive())
	case buildv1.ChangeKind_CHANGE_KIND_DIAL:
		return dialText(before.GetDial())
	case buildv1.ChangeKind_CHANGE_KIND_PLATE:
		if before.GetPlate() == "" {
			return "no plate on record"
		}
		return before.GetPlate()
	}
	return stoodText(standing(before, ch.GetComponent().GetPosition()))
}

// stoodText is what stands at a position, since when and by which authority.
func stoodText(f *buildv1.Fitted) string {
	if f == nil {
		return "nothing stood there"
	}
	text := unitText(f.GetComponent())
	if d := day(f.GetComponent().GetFittedDate()); d != "" {
		text += ", fitted " + d
	}
	if f.GetOrigin() == buildv1.FittedOrigin_FITTED_ORIGIN_RELEASE {
		return text + ", the standard of " + idOf(f.GetRelease())
	}
	return text + ", by " + word(f.GetOrigin(), "FITTED_ORIGIN_")
}

// whyNow gives the reasons for what stands at the position of a fitting, where
// they are more than that it was fitted: it is not the standard, a campaign's
// remedy went with it, or another change of that day goes before it.
func whyNow(s *sheet, made *buildv1.Change, after *buildv1.Configuration) {
	f := standing(after, made.GetComponent().GetPosition())
	plain := f.GetStandard() && f.GetChange() == made.GetName()
	for _, r := range f.GetReasons() {
		plain = plain && r.GetRule() != "AFTER_CAMPAIGN"
	}
	if !plain {
		s.text("  so now    ", strings.Join(sentences(f.GetReasons()), " "))
	}
}

// differences is a row for each position whose part is another one since.
func differences(s *sheet, before, after *buildv1.Configuration) {
	parts := map[string]string{}
	for _, f := range before.GetFitted() {
		parts[f.GetComponent().GetPosition()] = f.GetComponent().GetPart()
	}
	rows := [][]string{{"position", "before", "now"}}
	row := func(position, was, is string) {
		if was != is {
			rows = append(rows, []string{position, orNothing(was), orNothing(is)})
		}
	}
	for _, f := range after.GetFitted() {
		p := f.GetComponent().GetPosition()
		row(p, parts[p], f.GetComponent().GetPart())
		delete(parts, p)
	}
	for _, f := range before.GetFitted() {
		if p := f.GetComponent().GetPosition(); parts[p] != "" {
			row(p, parts[p], "")
		}
	}
	if len(rows) == 1 {
		s.line("  The parts are the same as before.")
		return
	}
	s.table("  ", rows)
}

// standing finds what stands at a position; nil for nothing.
func standing(c *buildv1.Configuration, position string) *buildv1.Fitted {
	for _, f := range c.GetFitted() {
		if f.GetComponent().GetPosition() == position {
			return f
		}
	}
	return nil
}

// unitText is a unit by its numbers: "AP-3010 (serial R1052, lot L201202)".
func unitText(u *buildv1.Component) string {
	var numbers []string
	if u.GetSerial() != "" {
		numbers = append(numbers, "serial "+u.GetSerial())
	}
	if u.GetLot() != "" {
		numbers = append(numbers, "lot "+u.GetLot())
	}
	text := u.GetPart()
	if text == "" {
		text = "the part of the specification"
	}
	if len(numbers) > 0 {
		text += " (" + strings.Join(numbers, ", ") + ")"
	}
	return text
}

func tyreText(t *vehiclev1.Tyre) string {
	text := strings.TrimSpace(t.GetSize() + " " + t.GetPattern())
	if text == "" {
		return "nothing on record"
	}
	if mm := t.GetCircumferenceMm(); mm > 0 {
		text += ", measured to roll " + plural(int(mm), "mm", "mm") + " in a turn"
	}
	return text
}

func dialText(d *vehiclev1.Dial) string {
	if d == nil {
		return "nothing on record"
	}
	text := dial(&buildv1.Configuration{Dial: d})
	if d.GetTenths() {
		text += " with tenths"
	}
	if n := d.GetTurnsPerUnit(); n > 0 {
		text += " at " + plural(int(n), "turn", "turns") + " of the cable for one"
	}
	return text
}
