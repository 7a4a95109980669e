package works_test

import (
	"fmt"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// sheetWalk is somebody at the desk with a sheet of paper beside them.
type sheetWalk struct {
	*deskWorld
	p *telephone.Telephone
}

// line types into the field of a line of the sheet, by its number on paper.
func (w *sheetWalk) line(number, text string) {
	w.t.Helper()
	w.p.Enter(w.label(number+" "), text)
}

// label is the whole label that begins with some words.
func (w *sheetWalk) label(begins string) string {
	w.t.Helper()
	label := telephone.Ask[string](w.p, fmt.Sprintf(`[...document.querySelectorAll("label")].map(e => e.innerText.trim()).find(e => e.startsWith(%q)) ?? ""`, begins))
	if label == "" {
		w.t.Fatalf("no field %q", begins)
	}
	return label
}

// tick ticks, or takes the tick from, a box with a label.
func (w *sheetWalk) tick(begins string, ticked bool) {
	w.t.Helper()
	if !telephone.Ask[bool](w.p, fmt.Sprintf(`(() => { const l = [...document.querySelectorAll("label")].find(e => e.innerText.trim().startsWith(%q)); if (!l) return false; l.control.checked = %v; return true })()`, begins, ticked)) {
		w.t.Fatalf("no box %q", begins)
	}
}

// unfold opens what is folded away under some words.
func (w *sheetWalk) unfold(words string) {
	w.t.Helper()
	if !telephone.Ask[bool](w.p, fmt.Sprintf(`(() => { const s = [...document.querySelectorAll("summary")].find(e => e.innerText.trim() == %q); if (!s) return false; s.click(); return s.parentElement.open })()`, words)) {
		w.t.Fatalf("nothing is folded away under %q", words)
	}
}

// beside is what is said to be wrong beside the field with a label.
func (w *sheetWalk) beside(begins string) string {
	w.t.Helper()
	return telephone.Ask[string](w.p, fmt.Sprintf(`document.getElementById((document.querySelector("[id='" + ([...document.querySelectorAll("label")].find(e => e.innerText.trim().startsWith(%q))?.htmlFor ?? "none") + "']")?.id ?? "none") + "-wrong")?.innerText ?? ""`, begins))
}

// light wants a page to weigh less than what a slow line takes in a breath.
func (w *sheetWalk) light(what string) {
	w.t.Helper()
	n := telephone.Ask[int64](w.p, `new TextEncoder().encode(document.documentElement.outerHTML).length`)
	if w.t.Logf("%s weighs %d bytes", what, n); n > 100_000 {
		w.t.Errorf("%s weighs %d bytes", what, n)
	}
}

// plausible is a value within the limits of a line.
func plausible(x *jobsheetv1.JobValue) string {
	switch {
	case len(x.GetLast()) > 0:
		return x.GetLast()[0].GetValue().GetValue()
	case x.GetUpper() != "":
		return x.GetUpper()
	case x.GetLower() != "":
		return x.GetLower()
	}
	return "1"
}

// A sheet is made for a long service, printed, and taken in as it comes back: with
// a value outside its limits, a pack of shims, a component, a job that was not
// done and slips of the pen. Everything odd is said at once and beside its field,
// nothing typed is lost, and what becomes of it is shown before it does.
func TestASheetGoesOutAndComesBackAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	for name, c := range map[string]struct {
		width   int64
		scheme  string
		scripts bool
	}{
		"without scripts, narrow and dark": {320, "dark", false},
		"with scripts, wide and light":     {1280, "light", true},
	} {
		t.Run(name, func(t *testing.T) {
			data := t.TempDir()
			layDemo(t, data)
			d := openDeskOver(t, data)
			p := telephone.New(t, c.width, c.scheme)
			p.Name = fmt.Sprintf("sheet-%d", c.width)
			p.Scripts(c.scripts)
			w := &sheetWalk{d, p}
			d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
			m := w.made()
			due := d.due(t, "T02")
			w.returned(m)
			if now := d.due(t, "T02"); now == due {
				t.Errorf("T02 stands where it stood: %s", now)
			}
			p.Open(d.url + "/fleet/sheets")
			p.Says("No sheet is out")
		})
	}
}

// packWrittenDown records late which pack the last overhaul left: before that the
// sheet knows none, for the one of 2022 went with the bearings.
func (w *sheetWalk) packWrittenDown() {
	mm := func(value string) *vehiclev1.Quantity { return &vehiclev1.Quantity{Value: value, Unit: "mm"} }
	pack := &schedulev1.ShimWork{Position: "output-shaft-bearing", Characteristic: "end-float", Shims: []*schedulev1.ShimUsed{{Thickness: mm("0.51"), Count: 1}}}
	got(w.clients.Schedules.RecordService(w.ctx, &schedulev1.RecordServiceRequest{Parent: "vehicles/" + aldermoor.TourSerial, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: dayProto(vehicle.MustDate(2026, 3, 2)), Items: []*schedulev1.ItemDone{{ItemId: "T02", Shims: []*schedulev1.ShimWork{pack}}}}}))(w.t)
}

// made makes the sheet of the long service in autumn.
func (w *sheetWalk) made() *jobsheetv1.JobSheet {
	w.t.Helper()
	p := w.p
	w.packWrittenDown()
	p.Open(w.url + "/vehicles/" + aldermoor.TourSerial)
	p.Press("Job sheets")
	p.Says("No sheet is out.", "Planned visits")
	p.Press("30 September 2026")

	// Nothing ticked is refused, and nothing lost.
	p.Set("Day of the visit", "2026-05-18")
	telephone.Ask[bool](p, `(document.querySelectorAll("[name=item]").forEach(e => e.checked = false), true)`)
	p.Press("Make the sheet")
	p.Says("at least one thing that is to be done")
	if got := telephone.Ask[string](p, `document.querySelector("[name=visit_date]").value`); got != "2026-05-18" {
		w.t.Errorf("the day is lost: %q", got)
	}
	p.Press("30 September 2026")
	p.Set("Day of the visit", "2026-05-18")
	w.unfold("Anything else")
	w.tick("T02", true)
	p.Press("Make the sheet")
	p.Says("The sheet is made.", "Job sheet 1 for "+aldermoor.TourSerial, "On the shelf", "Caution", "Workshop book", "Print on A4", "Where 0.20 mm is measured")
	w.light("a long sheet")
	m := got(w.clients.JobSheets.GetJobSheet(w.ctx, &jobsheetv1.GetJobSheetRequest{Name: "vehicles/" + aldermoor.TourSerial + "/jobSheets/1"}))(w.t)
	if len(m.GetJobs()) < 30 {
		w.t.Errorf("the long service has %d jobs", len(m.GetJobs()))
	}
	p.Open(w.url + "/fleet")
	p.Press("Job sheets out")
	p.Says(aldermoor.TourSerial, "18 May 2026", "Take it in")
	p.Press("Take it in")
	w.light("the form of a long sheet")
	return m
}

// returned takes the sheet in.
func (w *sheetWalk) returned(m *jobsheetv1.JobSheet) {
	w.t.Helper()
	p := w.p
	var shimmed *jobsheetv1.Job
	for _, j := range m.GetJobs() {
		n := fmt.Sprint(j.GetNumber())
		if j.GetItemId() == "T02" {
			shimmed = j
		}
		if j.GetNumber() == 1 {
			continue // not done, and not said why
		}
		w.tick("Job "+n+" is done", true)
		for _, x := range j.GetValues() {
			w.line(x.GetLine(), plausible(x))
		}
	}
	before := w.entries()
	end, pack := shimmed.GetValues()[0].GetLine(), shimmed.GetShims()[0].GetLine()
	w.line(end, "0.21 with dial gauge 4")
	p.Enter("What the odometer showed", "seven thousand")
	p.Enter("Who did the work", "Ned Larkrise")
	p.Enter("c1 Position", "transfer case")
	p.Press("Look it over")

	p.Says("things to look at. Nothing is on record yet")
	for field, want := range map[string]string{
		"Job 1: why not done":              "not why",
		end + " ":                          "Outside limits, confirm",
		"What the odometer showed":         "as in 41230",
		"Day on which the work was done":   "missing",
		"c1 Change":                        "what happened to it",
		end + ": outside limits, and righ": "",
	} {
		if said := w.beside(field); !strings.Contains(said, want) {
			w.t.Errorf("beside %q stands %q, want %q", field, said, want)
		}
	}
	p.Says("Shims that put it right:")
	if got := telephone.Ask[string](p, fmt.Sprintf(`[...document.querySelectorAll("label")].find(e => e.innerText.trim().startsWith(%q)).control.value`, end+" ")); got != "0.21 with dial gauge 4" {
		w.t.Errorf("the value is lost: %q", got)
	}

	// Mended, with shims that put it right. The one value that stays outside is
	// confirmed.
	p.Enter("Job 1: why not done, or what was found", "no washer of that size")
	p.Set("Day on which the work was done", aldermoor.Today.String())
	p.Enter("What the odometer showed", "7260")
	p.Set("c1 Change", "FIT")
	p.Enter("c1 Serial", "TC-7731")
	p.Enter(pack+" Shims that are in now", "0.51 mm + 0.13 mm")
	p.Enter(pack+" End float with them", "0.17")
	p.Press("Look it over")
	if said := w.beside(pack + " End float"); !strings.Contains(said, "with the new pack") {
		w.t.Errorf("beside the value with the new shims stands %q", said)
	}
	p.Enter(pack+": outside limits with the new shims, and right because", "one thou over; looked at again at 500 miles")
	p.Press("Look it over")
	p.Says("What sheet 1 of "+aldermoor.TourSerial+" becomes", "Nothing is on record yet", "0.21 mm", "Shims now 0.51 mm + 0.13 mm", "end float with them 0.17 mm",
		"Fitted at transfer case: serial TC-7731", "Not done", "no washer of that size", "looked at again at 500 miles")
	if n := w.entries(); n != before {
		w.t.Errorf("looking it over put %d entries on record", n-before)
	}
	p.Press("Back to the numbers")
	if got := telephone.Ask[string](p, `document.querySelector("[name='done_by']").value`); got != "Ned Larkrise" {
		w.t.Errorf("going back lost who did it: %q", got)
	}
	p.Press("Look it over")
	p.Press("Put it on record")
	p.Says("What came back is on record, all of it.", "What it became", "Service entry", "Fitted at transfer case: serial TC-7731", "Where the items stand now")
	if n := w.entries(); n != before+1 {
		w.t.Errorf("%d entries came of it", n-before)
	}
	p.Press("Service entry")
	p.Says("Ned Larkrise", "end float with them 0.17 mm")
}

// entries is how many service entries the vehicle has.
func (w *sheetWalk) entries() int {
	w.t.Helper()
	return len(entriesOf(w.t, w.ctx, w.clients, "vehicles/"+aldermoor.TourSerial))
}
