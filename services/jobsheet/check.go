package jobsheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
)

// Heard is what other services say of a return's numbers against all that is on
// record: by line, what is odd about a value, and the pack to fit for one that is
// outside its window; and about the reading.
type Heard struct {
	Values  map[string]vehicle.Reason
	Packs   map[string]Choice
	Reading *vehicle.Reason
}

// Check gives all that is wrong with a return, and all that is odd about it and
// not confirmed. None: it can be taken in, as far as the sheet can tell.
func (s *Sheet) Check(r *Return, h Heard) []Doubt {
	c := checking{sheet: s, back: r, heard: h}
	c.whole()
	for i := range r.Jobs {
		c.job(i)
	}
	c.remedies()
	c.changes()
	c.confirmations()
	return c.doubts
}

// checking collects doubts.
type checking struct {
	sheet  *Sheet
	back   *Return
	heard  Heard
	doubts []Doubt
	odd    []string // lines of what may be confirmed, whether it is or not
}

// wrong notes what nobody can confirm.
func (c *checking) wrong(field, line, rule, sentence string, facts ...vehicle.Fact) {
	c.doubts = append(c.doubts, Doubt{Field: field, Line: line, Reason: vehicle.Reason{Rule: rule, Sentence: sentence, Facts: facts}})
}

// doubt notes what is odd, unless it is confirmed.
func (c *checking) doubt(field, line string, why vehicle.Reason) {
	c.odd = append(c.odd, line)
	if strings.TrimSpace(c.back.confirmed(line)) == "" {
		c.doubts = append(c.doubts, Doubt{Field: field, Line: line, CanConfirm: true, Reason: why})
	}
}

// whole checks what is not about one job.
func (c *checking) whole() {
	r := c.back
	if r.Date.IsZero() {
		c.wrong("service_date", "", "DATE_MISSING", "The day on which the work was done is missing.")
	}
	if strings.TrimSpace(r.DoneBy) == "" {
		c.wrong("done_by", "", "WHO_MISSING", "Who did the work is missing.")
	}
	done := false
	for i := range r.Jobs {
		done = done || r.Jobs[i].Done
	}
	if !done && r.Note == "" && len(r.Parts)+len(r.Changes) == 0 {
		c.wrong("jobs", "", "NOTHING_DONE", "Nothing came back: no job is done. A sheet that is not used is cancelled.")
	}
	switch {
	case c.heard.Reading != nil:
		c.doubt("reading", ReadingLine, *c.heard.Reading)
	case r.Reading.IsZero():
		c.doubt("reading", ReadingLine, vehicle.Reason{Rule: "READING_MISSING", Sentence: "What the odometer showed is missing."})
	}
}

// job checks what became of one job.
func (c *checking) job(i int) {
	d := &c.back.Jobs[i]
	at, number := fmt.Sprintf("jobs[%d]", i), strconv.Itoa(d.Number)
	j := c.sheet.job(d.Number)
	if j == nil {
		c.wrong(at+".number", "", "JOB_UNKNOWN", fmt.Sprintf("The sheet has no job %d: its jobs are 1 to %d.", d.Number, len(c.sheet.Jobs)), vehicle.Fact{Name: "number", Value: number})
		return
	}
	if slices.ContainsFunc(c.back.Jobs[:i], func(b Done) bool { return b.Number == d.Number }) {
		c.wrong(at+".number", "", "JOB_TWICE", "Job "+number+" is named twice.")
		return
	}
	if !d.Done {
		if len(d.Values)+len(d.Shims) > 0 {
			c.wrong(at+".done", "", "DONE_OR_NOT", "Job "+number+" is said not to be done, and has values: say that it is done, or leave them out.")
		}
		if strings.TrimSpace(d.Note) == "" {
			c.wrong(at+".note", "", "WHY_NOT_MISSING", "Job "+number+" is said not to be done, and not why.")
		}
		return
	}
	for k := range d.Values {
		c.value(fmt.Sprintf("%s.values[%d]", at, k), j, d, k)
	}
	c.missing(at, j, d)
	for k := range d.Shims {
		c.shims(fmt.Sprintf("%s.shims[%d]", at, k), j.packLine(d, k), j, &d.Shims[k])
	}
	if j.Remedy() && len(d.Shims) > 0 {
		c.wrong(at+".shims", "", "SHIMS_OF_REMEDY", "A remedy keeps no packs of shims: put them to an item of the programme.")
	}
}

// value checks one value against its limit and against last time.
func (c *checking) value(at string, j *Job, d *Done, k int) {
	m := &d.Values[k]
	v := j.value(m.Line)
	switch {
	case v == nil:
		c.wrong(at+".line", m.Line, "LINE_UNKNOWN", fmt.Sprintf("Job %d has no line %s.", j.Number, quoted(m.Line)), vehicle.Fact{Name: "line", Value: m.Line})
		return
	case slices.ContainsFunc(d.Values[:k], func(b Measured) bool { return b.Line == m.Line }):
		c.wrong(at+".line", m.Line, "LINE_TWICE", "Line "+m.Line+" is there twice.")
		return
	case !vehicle.Convertible(m.Value.Unit, v.Limit.Unit):
		c.wrong(at+".value", m.Line, "UNIT", fmt.Sprintf("Line %s is measured in %s, and %s is not of that kind.", m.Line, v.Limit.Unit, m.Value),
			vehicle.Fact{Name: "value", Value: m.Value.String()}, vehicle.Fact{Name: "unit", Value: v.Limit.Unit})
		return
	}
	held := trend.Hold(&v.Limit, m.Value)
	if held.Verdict != trend.Within && !reshimmed(d, v) {
		why := outside(m, v, held)
		if pack, ok := c.heard.Packs[m.Line]; ok {
			why.Sentence += " " + pack.Advice()
			why.Facts = append(why.Facts, vehicle.Fact{Name: "pack", Value: pack.PackText})
		}
		if odd, ok := c.heard.Values[m.Line]; ok { // it is both, and one confirmation is for all that is said
			why.Sentence += " " + odd.Sentence
		}
		c.doubt(at, m.Line, why)
		return
	}
	if odd, ok := c.heard.Values[m.Line]; ok {
		c.doubt(at, m.Line, odd)
	}
}

// reshimmed reports whether a value was measured as it was found, and the pack
// changed because of it: what was measured with the new pack is held against the
// limits then.
func reshimmed(d *Done, v *Value) bool {
	return slices.ContainsFunc(d.Shims, func(w schedule.ShimWork) bool {
		return w.Characteristic == v.Limit.Characteristic && (v.Position == "" || w.Position == v.Position) && vehicle.Convertible(w.After.Unit, v.Limit.Unit)
	})
}

// outside says that a value is outside its limits.
func outside(m *Measured, v *Value, held trend.Against) vehicle.Reason {
	shown := m.Value.String()
	if m.Value.Unit != v.Limit.Unit {
		if figures, ok := m.Value.Figures(v.Limit.Unit); ok {
			shown += " (" + figures + " " + v.Limit.Unit + ")"
		}
	}
	window := trend.Window(&v.Limit)
	r := vehicle.Reason{Rule: "OUTSIDE_LIMITS", Facts: []vehicle.Fact{
		{Name: "line", Value: m.Line}, {Name: "value", Value: shown}, {Name: "window", Value: window},
	}}
	r.Sentence = "Outside limits, confirm: " + m.Line + " " + v.name() + " is " + shown + ", and is to be " + window + "."
	if held.Verdict == trend.BeyondAction {
		action := v.Limit.Action.String() + " " + v.Limit.Unit
		r.Rule, r.Facts = "BEYOND_ACTION_LIMIT", append(r.Facts, vehicle.Fact{Name: "action", Value: action})
		r.Sentence += " It is beyond the action limit of " + action + ": ask the engineer before it is driven on."
	}
	return r
}

// Window is within what a value is to be, in words.
func (v *Value) Window() string { return trend.Window(&v.Limit) }

// name says what a value is of, and where.
func (v *Value) name() string {
	if v.Position == "" {
		return v.Title
	}
	return v.Title + ", " + words(v.Position)
}

// missing asks for the lines of a job that is done and came back empty.
func (c *checking) missing(at string, j *Job, d *Done) {
	for i := range j.Values {
		v := &j.Values[i]
		if slices.ContainsFunc(d.Values, func(m Measured) bool { return m.Line == v.Line }) {
			continue
		}
		why := vehicle.Reason{
			Rule: "VALUE_MISSING", Facts: []vehicle.Fact{{Name: "line", Value: v.Line}},
			Sentence: fmt.Sprintf("Job %d is done, and line %s, %s, came back empty.", j.Number, v.Line, v.name()),
		}
		if j.Remedy() { // the campaign asks for it
			c.doubts = append(c.doubts, Doubt{Field: at + ".values", Line: v.Line, Reason: why})
			continue
		}
		c.doubt(at+".values", v.Line, why)
	}
}

// shims holds what was reached with a pack against the window of the sheet.
func (c *checking) shims(at, line string, j *Job, w *schedule.ShimWork) {
	for _, f := range w.Validate() {
		c.wrong(at+"."+f.Name, line, "SHIMS", fmt.Sprintf("%s: got %s, want %s.", f.Name, quoted(f.Got), f.Want))
	}
	for i := range j.Values {
		v := &j.Values[i]
		if v.Limit.Characteristic != w.Characteristic || v.Position != "" && v.Position != w.Position || w.After.Unit == "" {
			continue
		}
		if !vehicle.Convertible(w.After.Unit, v.Limit.Unit) {
			c.wrong(at+".measured_after", line, "UNIT", fmt.Sprintf("With the new pack it is measured in %s, and %s is not of that kind.", v.Limit.Unit, w.After),
				vehicle.Fact{Name: "value", Value: w.After.String()}, vehicle.Fact{Name: "unit", Value: v.Limit.Unit})
			return
		}
		if held := trend.Hold(&v.Limit, w.After); held.Verdict > trend.Within {
			why := outside(&Measured{Line: line, Value: w.After}, v, held)
			why.Sentence = strings.Replace(why.Sentence, "confirm: "+line, "confirm: with the new pack,", 1)
			c.doubt(at+".measured_after", line, why)
		}
		return
	}
}

// remedies asks for the parts of each remedy that is done: a campaign counts by
// what went in.
func (c *checking) remedies() {
	left := map[string]int{}
	for _, p := range c.back.Parts {
		left[p.Number] += max(1, p.Quantity)
	}
	for i := range c.back.Jobs {
		d := &c.back.Jobs[i]
		j := c.sheet.job(d.Number)
		if j == nil || !d.Done || !j.Remedy() {
			continue
		}
		for _, p := range j.Parts {
			if left[p.Number] -= p.Quantity; left[p.Number] < 0 {
				c.wrong("parts", "", "REMEDY_PART_MISSING", fmt.Sprintf("Job %d, %s, asks for %d of %s, and the parts that went in do not have them.", j.Number, j.Item, p.Quantity, p.Number),
					vehicle.Fact{Name: "part", Value: p.Number}, vehicle.Fact{Name: "job", Value: strconv.Itoa(j.Number)})
				left[p.Number] = 0
			}
		}
	}
}

// onSheets are the changes that come with the work of a visit. What makes another
// vehicle of it, an upgrade, options, an axle ratio, a plate, is for the engineer
// to record.
var onSheets = []build.ChangeKind{build.Fit, build.Remove, build.Overhaul, build.Tyres, build.SpeedometerDrive, build.DialChanged}

func (c *checking) changes() {
	for i := range c.back.Changes {
		if k := c.back.Changes[i].Kind; !slices.Contains(onSheets, k) {
			c.wrong(fmt.Sprintf("changes[%d].kind", i), "", "CHANGE_KIND", "A sheet brings components fitted, removed or overhauled, tyres, speedometer gears and another odometer; the engineer records the rest.",
				vehicle.Fact{Name: "kind", Value: k.String()})
		}
	}
}

// confirmations refuses what is confirmed without need: it was meant for another
// line, or the number was mended since.
func (c *checking) confirmations() {
	for i, said := range c.back.Confirmed {
		at := fmt.Sprintf("confirmed[%d]", i)
		switch {
		case slices.ContainsFunc(c.back.Confirmed[:i], func(b Confirmation) bool { return b.Line == said.Line }):
			c.wrong(at+".line", said.Line, "CONFIRMED_TWICE", "Line "+quoted(said.Line)+" is confirmed twice.")
		case strings.TrimSpace(said.Text) == "":
			c.wrong(at+".text", said.Line, "WHY_MISSING", "Line "+quoted(said.Line)+" is confirmed without a reason: why it is believed, and what is done about it.")
		case !slices.Contains(c.odd, said.Line):
			c.wrong(at+".line", said.Line, "NOTHING_TO_CONFIRM", "Nothing is odd about line "+quoted(said.Line)+": take the confirmation out.")
		}
	}
}

func quoted(text string) string { return strconv.Quote(text) }
