package desk

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// backReader reads what was typed of a returned sheet. It remembers in which
// field each part of the return was typed, so that whatever a service finds
// wrong stands beside it.
type backReader struct {
	typed
	sheet *jobsheetv1.JobSheet
	back  *jobsheetv1.JobReturn
	at    map[string]string // "jobs[2].values[0]": "value.3.1"
}

// readReturn reads the form that was sent.
func (v *visit) readReturn(m *jobsheetv1.JobSheet) *backReader {
	r := &backReader{typed: typed{visit: v}, sheet: m, at: map[string]string{}}
	r.back = &jobsheetv1.JobReturn{
		ServiceDate: r.date("service_date"), Reading: r.dial("reading", r.dialUnit()), DoneBy: r.value("done_by"), Note: r.value("note"),
	}
	r.at["service_date"], r.at["reading"], r.at["done_by"], r.at["note"] = "service_date", "reading", "done_by", "note"
	for i, j := range m.GetJobs() {
		r.job(i, j)
	}
	r.confirm("reading")
	r.at["jobs"] = "done.1"
	r.parts()
	r.components()
	r.rare()
	return r
}

// dialUnit is what the dial counts.
func (r *backReader) dialUnit() string {
	d := r.sheet.GetDistance()
	return cmp.Or(d.GetUnit(), d.GetLast().GetEnteredUnit())
}

// job reads what became of one job. Each is said, so that none is left out
// without a reason.
func (r *backReader) job(i int, j *jobsheetv1.Job) {
	n := plainCount(j.GetNumber())
	d := &jobsheetv1.JobDone{Number: j.GetNumber(), Done: r.value("done."+n) != "", Note: r.value("note." + n)}
	at := fmt.Sprintf("jobs[%d]", i)
	r.at[at], r.at[at+".note"] = "done."+n, "note."+n
	for _, x := range j.GetValues() {
		if value, with := r.measured("value."+x.GetLine(), x.GetUnit()); value != nil {
			r.at[fmt.Sprintf("%s.values[%d]", at, len(d.Values))] = "value." + x.GetLine()
			d.Values = append(d.Values, &jobsheetv1.JobMeasured{Line: x.GetLine(), Value: value, Instrument: with})
		}
		r.confirm(x.GetLine())
	}
	for _, x := range j.GetShims() {
		if w := r.shims(j, x); w != nil {
			to := fmt.Sprintf("%s.shims[%d]", at, len(d.Shims))
			r.at[to], r.at[to+".measured_after"], r.at[to+".pack_before"] = "shims."+x.GetLine(), "after."+x.GetLine(), "pack."+x.GetLine()
			d.Shims = append(d.Shims, w)
		}
		r.confirm(x.GetLine())
	}
	r.back.Jobs = append(r.back.Jobs, d)
}

// measured reads a value, and with what it was measured: "0.12 with dial gauge 4".
func (r *backReader) measured(name, unit string) (*vehiclev1.Quantity, string) {
	number, with, _ := strings.Cut(r.value(name), " with ")
	return r.number(name, number, unit), strings.TrimSpace(with)
}

// number reads a value that was typed into a field.
func (r *backReader) number(name, text, unit string) *vehiclev1.Quantity {
	q, err := readQuantity(text, unit)
	if err != nil {
		r.wrong = append(r.wrong, fault.Field{Name: name, Got: text, Want: "a number, as in 0.10, with its unit where that is not " + unitText(unit)})
	}
	return q
}

// shims reads a change of a pack; nil where there was none.
func (r *backReader) shims(j *jobsheetv1.Job, x *jobsheetv1.JobShims) *schedulev1.ShimWork {
	line := x.GetLine()
	text := r.value("shims." + line)
	if text == "" {
		if r.value("after."+line) != "" {
			r.wrong = append(r.wrong, fault.Field{Name: "shims." + line, Want: "the shims that are in now; a value with the old ones belongs to the line above"})
		}
		return nil
	}
	w := &schedulev1.ShimWork{Position: x.GetPosition(), Characteristic: x.GetCharacteristic(), PackBefore: x.GetPack(), MeasuredAfter: nil}
	unit := "mm"
	for _, of := range j.GetValues() {
		if of.GetCharacteristic() == x.GetCharacteristic() && (of.GetPosition() == "" || of.GetPosition() == x.GetPosition()) {
			unit = of.GetUnit()
			if before, err := readQuantity(first(r.value("value."+of.GetLine())), unit); err == nil {
				w.MeasuredBefore = before
			}
		}
	}
	w.MeasuredAfter = r.number("after."+line, r.value("after."+line), unit)
	if old := r.number("pack."+line, r.value("pack."+line), "mm"); old != nil {
		w.PackBefore = old
	}
	all, err := vehicle.ParseCounted(text)
	if err != nil || len(all) == 0 {
		r.wrong = append(r.wrong, fault.Field{Name: "shims." + line, Got: text, Want: "sizes with how many of each, as in 0.51 mm + 2 x 0.13 mm"})
		return nil
	}
	for _, one := range all {
		w.Shims = append(w.Shims, shimUsed(one))
	}
	return w
}

// first is a typed value without the instrument behind it.
func first(text string) string {
	number, _, _ := strings.Cut(text, " with ")
	return number
}

// confirm reads why something odd stands. A reason that was given for another
// number than the one that is there now is none: the new one is asked about.
func (r *backReader) confirm(line string) {
	if text := r.value("confirm." + line); text != "" && r.value("seen."+line) == r.value(typedAt(line)) {
		r.at[fmt.Sprintf("confirmed[%d]", len(r.back.Confirmed))] = "confirm." + line
		r.back.Confirmed = append(r.back.Confirmed, &jobsheetv1.JobConfirmation{Line: line, Text: text})
	}
}

// parts reads how many of each part went in.
func (r *backReader) parts() {
	r.at["parts"] = "parts"
	for i, p := range r.sheet.GetParts() {
		n := strconv.Itoa(i + 1)
		text := r.value("part." + n)
		if text == "" {
			if r.value("lot."+n) != "" {
				r.wrong = append(r.wrong, fault.Field{Name: "part." + n, Want: "how many of that lot went in"})
			}
			continue
		}
		count, err := strconv.Atoi(text)
		if err != nil || count < 0 || count > mostOfPart {
			r.wrong = append(r.wrong, fault.Field{Name: "part." + n, Got: text, Want: "how many went in, 0 to 1000"})
			continue
		}
		if count > 0 {
			r.used("part."+n, &schedulev1.PartUsed{Part: p.GetPart(), Quantity: int32(count), Lot: r.value("lot." + n)})
		}
	}
	for line := range strings.SplitSeq(r.value("parts"), "\n") {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		used, err := readPart(line)
		if err != nil {
			r.wrong = append(r.wrong, fault.Field{Name: "parts", Got: line, Want: "a part number a line, as in 2 AP-2041 lot 7731: " + line + " is none"})
			continue
		}
		r.used("parts", used)
	}
}

// mostOfPart bounds how many of one part go in: more is a slip of the pen.
const mostOfPart = 1000

func (r *backReader) used(name string, u *schedulev1.PartUsed) {
	r.at[fmt.Sprintf("parts[%d]", len(r.back.Parts))] = name
	r.back.Parts = append(r.back.Parts, u)
}

// components reads the rows for components that were changed.
func (r *backReader) components() {
	r.at["changes"] = "change.1.kind"
	for n := 1; n <= mostComponents; n++ {
		at := fmt.Sprintf("change.%d.", n)
		kind, position := r.value(at+"kind"), r.value(at+"position")
		c := &buildv1.Component{Position: positionName(position), Part: r.value(at + "part"), Serial: r.value(at + "serial"), Lot: r.value(at + "lot")}
		if kind == "" {
			if position+c.Part+c.Serial+c.Lot != "" {
				r.wrong = append(r.wrong, fault.Field{Name: at + "kind", Want: "what happened to it"})
			}
			continue
		}
		if position == "" {
			r.wrong = append(r.wrong, fault.Field{Name: at + "position", Want: "where it is, as in transfer case"})
			continue
		}
		to := r.change(at+"kind", &buildv1.Change{Kind: componentKind(kind), Component: c})
		for _, name := range []string{"position", "part", "serial", "lot"} {
			r.at[to+".component."+name] = at + name
		}
	}
}

// change adds a change, and gives where it is in the return.
func (r *backReader) change(name string, c *buildv1.Change) string {
	to := fmt.Sprintf("changes[%d]", len(r.back.Changes))
	r.at[to] = name
	r.back.Changes = append(r.back.Changes, c)
	return to
}

// rare reads tyres, gears of the speedometer and another odometer.
func (r *backReader) rare() {
	if size, pattern := r.value("tyre.size"), r.value("tyre.pattern"); size+pattern != "" {
		to := r.change("tyre.size", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, Tyre: &vehiclev1.Tyre{Size: size, Pattern: pattern}})
		r.at[to+".tyre.pattern"] = "tyre.pattern"
	}
	if text := r.value("gears"); text != "" {
		driver, driven, err := readGears(text)
		if err != nil {
			r.wrong = append(r.wrong, fault.Field{Name: "gears", Got: text, Want: "teeth of the driving and the driven gear, as in 5:15"})
		} else {
			r.change("gears", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE, SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: driver, DrivenTeeth: driven}})
		}
	}
	if r.value("dial.start")+r.value("dial.unit")+r.value("dial.digits")+r.value("dial.turns") == "" {
		return
	}
	unit := cmp.Or(r.value("dial.unit"), r.dialUnit())
	c := &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, DialStart: r.dial("dial.start", unit), Dial: &vehiclev1.Dial{Unit: unit, Digits: r.whole("dial.digits"), TurnsPerUnit: r.whole("dial.turns")}}
	to := r.change("dial.start", c)
	r.at[to+".dial.digits"], r.at[to+".dial.turns_per_unit"], r.at[to+".dial.unit"] = "dial.digits", "dial.turns", "dial.unit"
}

// whole reads a whole number; 0 where none was typed, which the services refuse
// in their own words.
func (r *backReader) whole(name string) int32 {
	text := r.value(name)
	if text == "" {
		return 0
	}
	n, err := strconv.ParseInt(text, 10, 32)
	if err != nil {
		r.wrong = append(r.wrong, fault.Field{Name: name, Got: text, Want: "a whole number"})
	}
	return int32(n)
}

// where gives the field in which a part of the return was typed: its own, or that
// of the nearest thing around it; "" for none.
func (r *backReader) where(path string) string {
	path = strings.TrimPrefix(path, "job_return.")
	for path != "" {
		if name, ok := r.at[path]; ok {
			return name
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut < 0 {
			return ""
		}
		path = path[:cut]
	}
	return ""
}

// readPart reads "2 AP-2041 lot 7731".
func readPart(line string) (*schedulev1.PartUsed, error) {
	m := partLine.FindStringSubmatch(line)
	if m == nil {
		return nil, fault.InvalidField("parts", line, "a part number, with how many in front and its lot behind")
	}
	u := &schedulev1.PartUsed{Part: m[2], Lot: m[3], Quantity: 1}
	if m[1] != "" {
		n, err := strconv.Atoi(m[1])
		if err != nil || n < 1 || n > mostOfPart {
			return nil, fault.InvalidField("parts", line, "1 to 1000 of a part")
		}
		u.Quantity = int32(n)
	}
	return u, nil
}

var partLine = regexp.MustCompile(`^(?:([0-9]{1,9})\s*[x×]?\s+)?([^\s;,]+)(?:[\s,;]+(?i:lot)\s+(\S+))?$`)

// readGears reads "5:15".
func readGears(text string) (driver, driven int32, err error) {
	a, b, ok := strings.Cut(text, ":")
	x, errX := strconv.ParseInt(strings.TrimSpace(a), 10, 32)
	y, errY := strconv.ParseInt(strings.TrimSpace(b), 10, 32)
	if !ok || errX != nil || errY != nil {
		return 0, 0, fault.InvalidField("gears", text, "two numbers of teeth, as in 5:15")
	}
	return int32(x), int32(y), nil
}

// positionName is a position as the records write it: "transfer-case".
func positionName(said string) string {
	return strings.ReplaceAll(strings.ToLower(strings.Join(strings.Fields(said), " ")), " ", "-")
}
