package desk

import (
	"html/template"
	"net/http"
	"strconv"
	"strings"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// showReturn is the form for what came back. Where a return was refused, what it
// said stands in the fields, to be mended.
func (v *visit) showReturn() {
	m, err := v.sheet()
	if err != nil {
		v.refuse(err)
		return
	}
	if m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN {
		v.inAlready(m)
		return
	}
	v.returnPage(http.StatusOK, m, newBackForm(v, m, typedBefore(m)))
}

func (v *visit) returnPage(status int, m *jobsheetv1.JobSheet, f *backForm) {
	title := "Take sheet " + v.r.PathValue("sheet") + " of " + v.r.PathValue("serial") + " in"
	v.render(status, view{Title: title, Wide: true, Warnings: refusalOf(m), Blocks: []block{{
		Text:    []string{"The lines are those of the paper, in its order. Numbers are in the unit that stands beside them; another is said behind the number, as in 5 thou."},
		Drawing: f.HTML(v.d, m), Links: []link{{Label: "Back to the sheet", Path: v.atSheet("")}, {Label: "Back to the vehicle", Path: v.at("")}},
	}}})
}

func refusalOf(m *jobsheetv1.JobSheet) []string {
	if m.GetRefusal() == nil {
		return nil
	}
	return []string{m.GetRefusal().GetSentence()}
}

// takeReturn looks over what was typed: it is shown again with all that is to be
// looked at, or what it will become, or it is put on record.
func (v *visit) takeReturn() {
	if !v.readForm() {
		return
	}
	m, err := v.sheet()
	if err != nil {
		v.refuse(err)
		return
	}
	f := sentBackForm(v, m)
	if m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN && v.value("do") != "record" { // which may be the same press again
		v.inAlready(m)
		return
	}
	if v.value("do") == "edit" {
		v.returnPage(http.StatusOK, m, f)
		return
	}
	r := v.readReturn(m)
	if v.value("do") == "record" && len(r.wrong) == 0 {
		done, err := v.d.JobSheets.ReturnJobSheet(v.as(), &jobsheetv1.ReturnJobSheetRequest{Name: m.GetName(), JobReturn: r.back, Etag: v.value("etag"), RequestId: v.request()})
		if err == nil {
			said := "returned"
			if done.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
				said = "taken-in"
			}
			v.goTo(v.atSheet("?done=" + said))
			return
		}
		if m, f = v.refused(m, f, err); f == nil {
			return
		}
	}
	outcome, err := v.lookOver(r, f)
	switch {
	case err != nil:
		refused := refusal(err)
		f.Error = sentence(refused)
		v.returnPage(answers[refused.Kind].status, m, f)
	case len(f.wrong) > 0 || f.Error != "":
		v.returnPage(http.StatusUnprocessableEntity, m, f)
	default:
		v.becomesPage(m, f, r.back, outcome)
	}
}

// inAlready says that nothing can be taken in on a sheet any more, and where that
// which was is found.
func (v *visit) inAlready(m *jobsheetv1.JobSheet) {
	back, name := m.GetJobReturn(), "Sheet "+v.r.PathValue("sheet")+" of "+v.r.PathValue("serial")
	title, text := name+" is in already", "What came back on it was taken in on "+day(back.GetCreateTime())+madeBy(back.GetTakenInBy())+". Nothing of a second return is on record: work that is missing there is recorded by itself."
	links := []link{{Label: "What came back on it", Path: v.atSheet("")}, {Label: "Record work", Path: v.at("/service")}}
	switch m.GetState() {
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN:
		text = "What came back on it is being put on record. Nothing of a second return is."
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_CANCELLED:
		title, text = name+" is cancelled", "Nothing that comes back on it is put on record. What was done is recorded by itself."
	case jobsheetv1.JobSheetState_JOB_SHEET_STATE_BEING_STRUCK_OUT, jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT:
		title, text = name+" was struck out", "What came back on it counts for nothing. Make another sheet, or record the work by itself."
	}
	if m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED {
		links[0].Label = "The sheet"
	}
	v.render(http.StatusConflict, view{Title: title, Tabs: v.tabs(), Blocks: []block{{Text: []string{text}, Links: links}}})
}

// refused says why a return was not put on record, with the sheet as it stands
// now. Where nobody can take the sheet in any more, it answers by itself and the
// form is nil.
func (v *visit) refused(m *jobsheetv1.JobSheet, f *backForm, err error) (*jobsheetv1.JobSheet, *backForm) {
	why := refusal(err)
	now, failed := v.sheet()
	switch {
	case failed != nil:
		v.refuse(err)
		return m, nil
	case now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN:
		v.inAlready(now)
		return m, nil
	}
	again := newBackForm(v, now, f.said)
	if why.Reason != "JOB_RETURN_DOUBTFUL" { // whose doubts stand beside their fields
		again.Error = sentence(why)
	}
	return now, again
}

// lookOver asks the services what is odd about a return, and puts each thing
// beside the field in which it was typed.
func (v *visit) lookOver(r *backReader, f *backForm) (*jobsheetv1.JobOutcome, error) {
	for _, x := range r.wrong {
		f.wrong[x.Name] = "Please enter " + x.Want + "."
	}
	checked, err := v.d.JobSheets.CheckJobReturn(v.as(), &jobsheetv1.CheckJobReturnRequest{Name: r.sheet.GetName(), JobReturn: r.back})
	if err != nil {
		refused := refusal(err)
		if refused.Kind != fault.Invalid {
			return nil, err
		}
		for _, x := range refused.Fields {
			f.put(r.where(x.Name), "Please enter "+x.Want+".")
		}
		if len(refused.Fields) == 0 {
			f.put("", sentence(refused))
		}
		return nil, nil
	}
	for _, d := range checked.GetDoubts() {
		f.doubt(r.place(d), d)
	}
	return checked.GetOutcome(), nil
}

// place is the field that a doubt is about.
func (r *backReader) place(d *jobsheetv1.JobDoubt) string {
	line := d.GetLine()
	switch {
	case strings.HasPrefix(d.GetField(), "confirmed["):
		return "confirm." + line
	case line == "reading":
		return "reading"
	case strings.Contains(line, ".s"):
		if strings.HasSuffix(d.GetField(), "measured_after") {
			return "after." + line
		}
		return "shims." + line
	case line != "" && strings.Contains(d.GetField(), ".values"):
		return "value." + line
	}
	return r.where(d.GetField())
}

// doubt puts a doubt beside a field, unless what was typed there could not even be
// read.
func (f *backForm) doubt(name string, d *jobsheetv1.JobDoubt) {
	if d.GetCanConfirm() && f.wrong[name] == "" {
		f.odd[d.GetLine()] = true
	}
	f.put(name, d.GetReason().GetSentence())
}

// put says what is wrong with a field; the first word stands. What is about no
// field stands above all.
func (f *backForm) put(name, text string) {
	switch {
	case name == "":
		f.Error = strings.TrimSpace(f.Error + " " + wording.Ended(text))
	case f.wrong[name] == "":
		f.wrong[name] = text
	}
}

// becomesPage shows what a return would become, before it does.
func (v *visit) becomesPage(m *jobsheetv1.JobSheet, f *backForm, back *jobsheetv1.JobReturn, o *jobsheetv1.JobOutcome) {
	e := o.GetServiceEntry()
	facts := block{Heading: "One service entry", Facts: []fact{{Label: "Done on", Value: civil(back.GetServiceDate())}, {Label: "Odometer", Value: entered(back.GetReading())}, {Label: "By", Value: e.GetDoneBy()}}}
	if e.GetNote() != "" {
		facts.Facts = append(facts.Facts, fact{Label: "Note", Value: e.GetNote()})
	}
	done := block{Heading: "Done"}
	for _, i := range e.GetItems() {
		done.List = append(done.List, itemEntry(i, &schedulev1.ItemStatus{Title: titleOn(m, i.GetItemId())}))
	}
	for _, p := range e.GetParts() {
		x := entry{Term: strconv.Itoa(int(p.GetQuantity())) + " × " + p.GetPart()}
		if p.GetLot() != "" {
			x.Text = "lot " + p.GetLot()
		}
		done.List = append(done.List, x)
	}
	blocks := []block{facts}
	if len(done.List) > 0 {
		blocks = append(blocks, done)
	}
	if len(o.GetChanges()) > 0 {
		b := block{Heading: "Changes of the vehicle"}
		for _, c := range o.GetChanges() {
			b.List = append(b.List, entry{Text: changeText(c)})
		}
		blocks = append(blocks, b)
	}
	if len(o.GetFollowUps()) > 0 {
		b := block{Heading: "Campaigns"}
		for _, name := range o.GetFollowUps() {
			b.List = append(b.List, entry{Term: bare(name), Text: "its remedy is recorded as done"})
		}
		blocks = append(blocks, b)
	}
	if left := leftOut(m, back); len(left) > 0 {
		blocks = append(blocks, block{Heading: "Not done", List: left})
	}
	blocks = append(blocks, block{Drawing: f.kept(v.d)})
	v.render(http.StatusOK, view{Title: "What sheet " + v.r.PathValue("sheet") + " of " + v.r.PathValue("serial") + " becomes", Wide: true, Blocks: blocks,
		Below: "Nothing is on record yet. Put on record, it is all there, or nothing of it."})
}

// titleOn is what the sheet calls an item.
func titleOn(m *jobsheetv1.JobSheet, item string) string {
	for _, j := range m.GetJobs() {
		if j.GetItemId() == item {
			return j.GetTitle()
		}
	}
	return ""
}

// leftOut are the jobs that were not done, and why.
func leftOut(m *jobsheetv1.JobSheet, back *jobsheetv1.JobReturn) []entry {
	var out []entry
	for _, d := range back.GetJobs() {
		if j := m.GetJobs()[d.GetNumber()-1]; !d.GetDone() {
			out = append(out, entry{Term: j.GetItemId() + " " + j.GetTitle(), Text: d.GetNote(), Sub: "It stays due."})
		}
	}
	return out
}

// kept is the form that carries what was typed on, to be put on record or mended.
func (f *backForm) kept(d *desk) template.HTML {
	f.Request = requestField().Value
	return d.part("sheetkept", f)
}

// own are fields of the form that say nothing of the work.
var own = map[string]bool{"do": true, "etag": true, "request": true}

// typedNow is what was typed into the form that was sent.
func typedNow(v *visit) map[string]string {
	said := map[string]string{}
	for name := range v.r.PostForm {
		if text := v.value(name); text != "" && !own[name] {
			said[name] = text
		}
	}
	return said
}
