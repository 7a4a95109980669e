package desk

import (
	"fmt"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

// typedBefore writes a return that was refused as it was typed, so that it is
// mended and not typed again. A sheet on which nothing came back has nothing.
func typedBefore(m *jobsheetv1.JobSheet) map[string]string {
	said := map[string]string{}
	back := m.GetJobReturn()
	if back == nil {
		return said
	}
	put := func(name, text string) {
		if text != "" {
			said[name] = text
		}
	}
	put("service_date", iso(back.GetServiceDate()))
	put("reading", strings.TrimSpace(back.GetReading().GetEnteredValue()+" "+back.GetReading().GetEnteredUnit()))
	put("done_by", back.GetDoneBy())
	put("note", back.GetNote())
	for _, d := range back.GetJobs() {
		n := plainCount(d.GetNumber())
		put("note."+n, d.GetNote())
		if d.GetDone() {
			said["done."+n] = "yes"
		}
		for _, x := range d.GetValues() {
			text := quantity(x.GetValue())
			if x.GetInstrument() != "" {
				text += " with " + x.GetInstrument()
			}
			put("value."+x.GetLine(), text)
		}
		shimsBefore(m, d, put)
	}
	for _, c := range back.GetConfirmed() {
		put("confirm."+c.GetLine(), c.GetText())
		put("seen."+c.GetLine(), said[typedAt(c.GetLine())])
	}
	partsBefore(m, back, put)
	changesBefore(back.GetChanges(), put)
	return said
}

// shimsBefore writes the packs of a job.
func shimsBefore(m *jobsheetv1.JobSheet, d *jobsheetv1.JobDone, put func(name, text string)) {
	for _, w := range d.GetShims() {
		for _, x := range m.GetJobs()[d.GetNumber()-1].GetShims() {
			if x.GetPosition() != w.GetPosition() || x.GetCharacteristic() != w.GetCharacteristic() {
				continue
			}
			put("shims."+x.GetLine(), shimsTyped(w.GetShims()))
			put("after."+x.GetLine(), quantity(w.GetMeasuredAfter()))
			if x.GetPack().GetUnit() == "" {
				put("pack."+x.GetLine(), quantity(w.GetPackBefore()))
			}
		}
	}
}

func shimsTyped(shims []*schedulev1.ShimUsed) string {
	var parts []string
	for _, s := range shims {
		text := quantity(s.GetThickness())
		if s.GetCount() > 1 {
			text = plainCount(s.GetCount()) + " x " + text
		}
		if s.GetPart() != "" {
			text += " (" + s.GetPart() + ")"
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, " + ")
}

// partsBefore writes the parts: each to its line, and what has none below.
func partsBefore(m *jobsheetv1.JobSheet, back *jobsheetv1.JobReturn, put func(name, text string)) {
	taken := map[int]bool{}
	var rest []string
	for _, u := range back.GetParts() {
		on := -1
		for i, p := range m.GetParts() {
			if p.GetPart() == u.GetPart() && !taken[i] {
				on = i
				break
			}
		}
		if on < 0 {
			line := plainCount(max(1, u.GetQuantity())) + " " + u.GetPart()
			if u.GetLot() != "" {
				line += " lot " + u.GetLot()
			}
			rest = append(rest, line)
			continue
		}
		taken[on] = true
		n := strconv.Itoa(on + 1)
		put("part."+n, plainCount(max(1, u.GetQuantity())))
		put("lot."+n, u.GetLot())
	}
	put("parts", strings.Join(rest, "\n"))
}

// changesBefore writes the changes of the vehicle.
func changesBefore(changes []*buildv1.Change, put func(name, text string)) {
	row := 0
	for _, c := range changes {
		switch c.GetKind() {
		case buildv1.ChangeKind_CHANGE_KIND_TYRES:
			put("tyre.size", c.GetTyre().GetSize())
			put("tyre.pattern", c.GetTyre().GetPattern())
		case buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE:
			put("gears", plainCount(c.GetSpeedometerDrive().GetDriverTeeth())+":"+plainCount(c.GetSpeedometerDrive().GetDrivenTeeth()))
		case buildv1.ChangeKind_CHANGE_KIND_DIAL:
			dialBefore(c.GetDial(), c.GetDialStart(), put)
		default:
			row++
			at, of := fmt.Sprintf("change.%d.", row), c.GetComponent()
			put(at+"kind", strings.TrimPrefix(c.GetKind().String(), "CHANGE_KIND_"))
			put(at+"position", of.GetPosition())
			put(at+"part", of.GetPart())
			put(at+"serial", of.GetSerial())
			put(at+"lot", of.GetLot())
		}
	}
}

func dialBefore(d *vehiclev1.Dial, start *vehiclev1.Distance, put func(name, text string)) {
	put("dial.start", strings.TrimSpace(start.GetEnteredValue()+" "+start.GetEnteredUnit()))
	put("dial.unit", d.GetUnit())
	put("dial.digits", plainCount(d.GetDigits()))
	put("dial.turns", plainCount(d.GetTurnsPerUnit()))
}
