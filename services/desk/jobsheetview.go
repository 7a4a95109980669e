package desk

import (
	"cmp"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"

	"halfshaft/services/wording"
)

// showSheet shows a sheet as it is on paper, or what came back on it.
func (v *visit) showSheet() {
	m, err := v.sheet()
	if err != nil {
		v.refuse(err)
		return
	}
	v.sheetPage(http.StatusOK, m, v.sheetStrike(m))
}

// sheetPage is that page, with the form that strikes out what came back.
func (v *visit) sheetPage(status int, m *jobsheetv1.JobSheet, strike *form) {
	head := block{Facts: sheetFacts(m)}
	head.Links = []link{{Label: "Print on A4", Path: v.atSheet("/paper/A4")}, {Label: "Print on Letter", Path: v.atSheet("/paper/Letter")}, {Label: "All sheets of the vehicle", Path: v.at("/sheets")}}
	blocks := []block{head}
	switch m.GetState() {
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN:
		head.Links = append([]link{{Label: "Take the returned sheet in", Path: v.atSheet("/return")}}, head.Links...)
		blocks[0] = head
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN, jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED:
		blocks = append(blocks, v.cameOf(m)...)
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_BEING_STRUCK_OUT, jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT:
		blocks = append(append(blocks, struckBlock(m)), v.cameOf(m)...)
	}
	blocks = append(blocks, shelfBlock(m))
	for _, j := range m.GetJobs() {
		blocks = append(blocks, jobBlock(j))
	}
	if len(m.GetGaps()) > 0 {
		gaps := block{Heading: "Not on this sheet"}
		for _, g := range m.GetGaps() {
			gaps.Text = append(gaps.Text, g.GetSentence())
		}
		blocks = append(blocks, gaps)
	}
	if m.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN {
		blocks = append(blocks, block{Heading: "Where it is not used", Form: &form{ID: "cancel", Action: v.atSheet("/cancel"), Submit: "Cancel the sheet", Grave: true, Fields: []field{{Name: "etag", Type: "hidden", Value: m.GetEtag()}}}})
	}
	if m.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED && v.staff() {
		blocks = append(blocks, sheetStrikeBlock(m, strike))
	}
	title := "Job sheet " + v.r.PathValue("sheet") + " for " + v.r.PathValue("serial")
	v.render(status, view{Title: title, Wide: true, Tabs: v.tabs(), Note: v.sheetNote(), Warnings: sheetWarnings(m), Blocks: blocks})
}

// sheetNotes are what a page says of what was just done with a sheet.
var sheetNotes = map[string]string{
	"sheet":           "The sheet is made. Print it, and take it in when it comes back.",
	"sheet-cancelled": "The sheet is cancelled.",
	"returned":        "What came back is on record, all of it.",
	"sheet-struck":    "What came back is struck out, all of it.",
	"being-struck":    "What came back is being struck out. Load the page again in a moment.",
	"taken-in":        "What came back is taken in and is being put on record. Load the page again in a moment.",
}

func (v *visit) sheetNote() string { return sheetNotes[v.r.URL.Query().Get("done")] }

// sheetWarnings are what must be said before any work: why a return was refused,
// what the sheet warns of, and the cautions of the whole visit.
func sheetWarnings(m *jobsheetv1.JobSheet) []string {
	var out []string
	if m.GetRefusal() != nil {
		out = append(out, m.GetRefusal().GetSentence())
	}
	for _, w := range m.GetWarnings() {
		out = append(out, w.GetSentence())
	}
	return append(out, m.GetCautions()...)
}

// sheetFacts are what the sheet is for.
func sheetFacts(m *jobsheetv1.JobSheet) []fact {
	facts := []fact{{Label: "Visit", Value: civil(m.GetVisitDate())}, {Label: "It is", Value: word(m.GetState(), "JOB_SHEET_STATE_")}}
	for _, f := range m.GetIdentity() {
		facts = append(facts, fact{Label: f.GetLabel(), Value: f.GetValue()})
	}
	if m.GetPlate() != "" {
		facts = append(facts, fact{Label: "Plate", Value: m.GetPlate(), Mono: true})
	}
	return append(facts, fact{Label: "Odometer", Value: odometerText(m.GetDistance())}, fact{Label: "Made", Value: day(m.GetCreateTime()) + madeBy(m.GetMadeBy())})
}

// odometerText is what is known of the odometer.
func odometerText(d *jobsheetv1.JobDistance) string {
	text := "never read"
	if d.GetLast().GetEnteredUnit() != "" {
		text = entered(d.GetLast()) + " on " + civil(d.GetLastDate())
	}
	if e := d.GetExpected(); e != nil {
		text += "; about " + distance(e, e.GetEnteredUnit()) + " expected"
	}
	if d.GetDial() != "" {
		text += " (dial: " + d.GetDial() + ")"
	}
	return text
}

// shelfBlock is what is to be there before the work begins.
func shelfBlock(m *jobsheetv1.JobSheet) block {
	b := block{Heading: "On the shelf"}
	for _, p := range m.GetParts() {
		e := entry{Term: partText(p)}
		if p.GetIfNeeded() {
			e.Text = "if needed"
		}
		b.List = append(b.List, e)
	}
	for _, f := range m.GetFluids() {
		b.List = append(b.List, entry{Term: strings.TrimSpace(quantity(f.GetQuantity()) + " " + f.GetFluid())})
	}
	if len(m.GetTools()) > 0 {
		b.List = append(b.List, entry{Term: "Tools", Text: strings.Join(m.GetTools(), ", ")})
	}
	if len(b.List) == 0 {
		b.Text = []string{"Nothing is needed besides tools of every day."}
	}
	return b
}

func partText(p *jobsheetv1.JobPart) string {
	return strings.TrimSpace(plainCount(p.GetQuantity()) + " × " + p.GetPart() + " " + p.GetTitle())
}

// jobBlock is one job: the caution first, then what it needs, what it is set to,
// and the lines that come back.
func jobBlock(j *jobsheetv1.Job) block {
	b := block{Heading: jobTitle(j)}
	if j.GetWhy() != "" {
		b.Text = append(b.Text, j.GetWhy())
	}
	for _, c := range j.GetCautions() {
		b.List = append(b.List, entry{Mark: "Caution", Text: c})
	}
	for _, p := range j.GetParts() {
		e := entry{Term: "Part", Text: partText(p), Sub: p.GetWhy()}
		if p.GetIfNeeded() {
			e.Text += ", if needed"
		}
		b.List = append(b.List, e)
	}
	for _, f := range j.GetFluids() {
		e := entry{Term: "Fill", Text: strings.TrimSpace(quantity(f.GetQuantity()) + " " + f.GetFluid()), Sub: f.GetMethod()}
		if f.GetNeverMix() != "" {
			e.Sub = strings.TrimSpace(wording.Ended(e.Sub) + " Never mix with " + place(f.GetNeverMix()) + ".")
		}
		b.List = append(b.List, e)
	}
	for _, s := range j.GetSettings() {
		b.List = append(b.List, entry{Term: "Set", Text: settingOf(s), Sub: s.GetMethod()})
	}
	for _, x := range j.GetValues() {
		b.List = append(b.List, entry{Term: x.GetLine(), Text: wording.UpperFirst(valueName(x)) + ": " + cmp.Or(lineLimit(x), "no limit"), Sub: lastText(x)})
	}
	for _, s := range j.GetShims() {
		b.List = append(b.List, entry{Term: s.GetLine(), Text: packIn(s), Sub: strings.Join(choiceTexts(s), " ")})
	}
	return b
}

func jobTitle(j *jobsheetv1.Job) string {
	return strings.Join(append([]string{plainCount(j.GetNumber()) + "  " + j.GetTitle(), j.GetItemId()}, j.GetDocRefs()...), " · ")
}

// settingOf says to what something is set, and where.
func settingOf(s *jobsheetv1.JobSetting) string {
	window := s.GetTarget()
	switch {
	case s.GetLower() != "" && s.GetUpper() != "":
		window = s.GetLower() + " to " + s.GetUpper()
	case s.GetUpper() != "":
		window = "at most " + s.GetUpper()
	case s.GetLower() != "":
		window = "at least " + s.GetLower()
	}
	return wording.UpperFirst(s.GetTitle()) + " " + strings.TrimSpace(window+" "+unitText(s.GetUnit()))
}

// lineLimit is within what a value is to be; "" for no limit.
func lineLimit(x *jobsheetv1.JobValue) string {
	text := windowText(&schedulev1.MeasuredLimit{Lower: x.GetLower(), Upper: x.GetUpper(), Unit: unitText(x.GetUnit())})
	if x.GetAction() != "" {
		text += ", act at " + x.GetAction() + " " + unitText(x.GetUnit())
	}
	return strings.TrimPrefix(text, ", ")
}

// lastText is what a value was before, how it is measured and where it goes.
func lastText(x *jobsheetv1.JobValue) string {
	var parts []string
	if x.GetMethod() != "" {
		parts = append(parts, wording.UpperFirst(x.GetMethod()))
	}
	var last []string
	for _, l := range x.GetLast() {
		last = append(last, quantity(l.GetValue())+" on "+civil(l.GetValueDate()))
	}
	if len(last) > 0 {
		parts = append(parts, "Last "+strings.Join(last, ", before that "))
	}
	if x.GetTrend() != "" {
		parts = append(parts, strings.TrimSuffix(x.GetTrend(), "."))
	}
	if len(parts) == 0 {
		return ""
	}
	return strings.Join(parts, ". ") + "."
}

func valueName(x *jobsheetv1.JobValue) string {
	if x.GetPosition() == "" {
		return x.GetTitle()
	}
	return x.GetTitle() + ", " + place(x.GetPosition())
}

// packIn is the pack that is in, and what it is to bring about.
func packIn(s *jobsheetv1.JobShims) string {
	text := "Shims, " + place(s.GetPosition()) + ": "
	if s.GetPack().GetUnit() == "" {
		text += "what is in is not on record"
	} else {
		text += quantity(s.GetPack()) + " is in"
	}
	if s.GetPackText() != "" {
		text += ", " + s.GetPackText()
	}
	if s.GetWindow() != "" {
		text += "; aim for " + s.GetWindow()
	}
	return text
}

// choiceTexts say which pack to fit for what may be measured.
func choiceTexts(s *jobsheetv1.JobShims) []string {
	var out []string
	for _, c := range s.GetChoices() {
		measured := "Where " + quantity(c.GetMeasured()) + " is measured"
		if c.GetLast() {
			measured = "Where " + quantity(c.GetMeasured()) + " is measured, as last"
		}
		if c.GetPackText() == "" {
			out = append(out, measured+": "+c.GetSentence())
			continue
		}
		out = append(out, measured+": "+c.GetPackText()+", "+quantity(c.GetPack())+" thick, which leaves "+quantity(c.GetResult())+".")
	}
	return out
}

// cameOf is what came back, what it became, and where the items stand now.
func (v *visit) cameOf(m *jobsheetv1.JobSheet) []block {
	back := m.GetJobReturn()
	b := block{Heading: "What it became", Facts: []fact{{Label: "Done on", Value: civil(back.GetServiceDate())}, {Label: "Odometer", Value: entered(back.GetReading())}, {Label: "By", Value: back.GetDoneBy()}, {Label: "Taken in", Value: day(back.GetCreateTime()) + madeBy(back.GetTakenInBy())}}}
	for _, record := range back.GetRecords() {
		switch {
		case strings.Contains(record, "/serviceEntries/"):
			b.List = append(b.List, entry{Term: "Service entry", Path: v.at("/service/" + bare(record)), Text: "with reading, measured values and shims"})
		case strings.Contains(record, "/changes/"):
			b.List = append(b.List, entry{Term: "Change of the vehicle", Text: bare(record)})
		case strings.Contains(record, "/followUps/"):
			b.List = append(b.List, entry{Term: "Campaign " + bare(record), Path: v.at("/campaigns/" + bare(record)), Text: "its remedy is recorded"})
		}
	}
	b.List = append(b.List, v.untold(m)...)
	for i, c := range back.GetChanges() {
		for k := range b.List {
			if b.List[k].Term == "Change of the vehicle" && k == i+1 {
				b.List[k].Text = changeText(c)
			}
		}
	}
	x, err := v.schedule()
	if err != nil {
		return []block{b}
	}
	now := block{Heading: "Where the items stand now"}
	for _, j := range m.GetJobs() {
		if s := itemOf(x, j.GetItemId()); s != nil {
			now.List = append(now.List, entry{Term: j.GetItemId(), Text: s.GetSentence()})
		}
	}
	return []block{b, now}
}

// untold are the campaigns that a returned sheet brought work for and that do not
// count it: not all of the remedy was done, or they did not take it.
func (v *visit) untold(m *jobsheetv1.JobSheet) (out []entry) {
	if m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED {
		return nil
	}
	seen := map[string]bool{}
	for _, d := range m.GetJobReturn().GetJobs() {
		name := m.GetJobs()[d.GetNumber()-1].GetFollowUp()
		if !d.GetDone() || name == "" || seen[name] || slices.Contains(m.GetJobReturn().GetRecords(), name) {
			continue
		}
		seen[name] = true
		out = append(out, entry{Term: "Campaign " + bare(name), Path: v.at("/campaigns/" + bare(name)), Mark: "not told",
			Text: "work for it was done, and it does not count as its remedy: look whether a step is to be recorded there"})
	}
	return out
}

// changeText says a change of the vehicle in words.
func changeText(c *buildv1.Change) string {
	of := c.GetComponent()
	unit := strings.TrimSpace(of.GetPart())
	if of.GetSerial() != "" {
		unit += ", serial " + of.GetSerial()
	}
	if of.GetLot() != "" {
		unit += ", lot " + of.GetLot()
	}
	unit = strings.TrimPrefix(unit, ", ")
	switch c.GetKind() {
	case buildv1.ChangeKind_CHANGE_KIND_FIT:
		return "Fitted at " + place(of.GetPosition()) + ": " + cmp.Or(unit, "the part that belongs there")
	case buildv1.ChangeKind_CHANGE_KIND_REMOVE:
		return "Taken off: " + place(of.GetPosition())
	case buildv1.ChangeKind_CHANGE_KIND_OVERHAUL:
		return strings.TrimSuffix("Overhauled: "+place(of.GetPosition())+", "+unit, ", ")
	case buildv1.ChangeKind_CHANGE_KIND_TYRES:
		return "Tyres: " + strings.TrimSpace(c.GetTyre().GetSize()+" "+c.GetTyre().GetPattern())
	case buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE:
		return "Speedometer gears: " + plainCount(c.GetSpeedometerDrive().GetDriverTeeth()) + " to " + plainCount(c.GetSpeedometerDrive().GetDrivenTeeth())
	case buildv1.ChangeKind_CHANGE_KIND_DIAL:
		return "Another odometer, which showed " + entered(c.GetDialStart()) + " when fitted"
	}
	return word(c.GetKind(), "CHANGE_KIND_")
}

// printSheet sends the paper.
func (v *visit) printSheet() {
	paper := v.r.PathValue("paper")
	stream, err := v.d.JobSheets.DownloadJobSheet(v.as(), &jobsheetv1.DownloadJobSheetRequest{Name: v.sheetName(), Paper: paper})
	var pdf []byte
	for err == nil {
		var chunk *jobsheetv1.DownloadJobSheetResponse
		if chunk, err = stream.Recv(); err == nil {
			pdf = append(pdf, chunk.GetData()...)
		}
	}
	if !errors.Is(err, io.EOF) {
		v.refuse(err)
		return
	}
	v.w.Header().Set("Content-Type", "application/pdf")
	v.w.Header().Set("Content-Disposition", `inline; filename="`+v.r.PathValue("serial")+"-sheet-"+v.r.PathValue("sheet")+"-"+paper+`.pdf"`)
	v.w.Write(pdf) //nolint:errcheck // the reader is gone
}
