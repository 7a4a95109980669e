package desk

import (
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// strikeForm asks why something that is on record wrongly is struck out.
func strikeForm(action, submit, etag string) *form {
	return &form{ID: "strike", Action: action, Submit: submit, Grave: true, Fields: []field{
		{Name: "reason", Label: "Why", Type: "text", Autocomplete: "off", Required: true, Hint: "Without names, as in: of another vehicle; entered twice."},
		{Name: "etag", Type: "hidden", Value: etag}, requestField(),
	}}
}

// strikeBlock offers to strike work out. What came back on a sheet goes with the
// sheet.
func (v *visit) strikeBlock(e *schedulev1.ServiceEntry, f *form) block {
	b := block{Heading: "Where it was recorded wrongly"}
	if e.GetJobSheet() != "" {
		n := bare(e.GetJobSheet())
		b.Text = []string{"It came back on job sheet " + n + ", and is struck out there, so that all that came back goes together."}
		b.Links = []link{{Label: "Job sheet " + n, Path: v.at("/sheets/" + n)}}
		return b
	}
	b.Text = []string{"As on the wrong vehicle, or twice. It stays readable, and counts as if it had never been: its items, its reading, what was measured, its shims."}
	for _, campaign := range v.remedied(e.GetName()) {
		b.List = append(b.List, entry{Mark: "Campaign", Term: campaign, Path: v.at("/campaigns/" + campaign), Text: "counts this work as its remedy: record there that it was found wrong"})
	}
	b.Form = f
	return b
}

// remedied are the campaigns that an entry is the evidence of.
func (v *visit) remedied(name string) []string {
	all, err := v.d.Bulletins.ListFollowUps(v.as(), &bulletinv1.ListFollowUpsRequest{Parent: v.vehicle(), PageSize: 500})
	if err != nil {
		return nil // nothing else on the page hangs on it
	}
	var out []string
	for _, f := range all.GetFollowUps() {
		if remediedBy(f, name) {
			out = append(out, bare(f.GetName()))
		}
	}
	return out
}

// remediedBy reports whether a campaign is done by an entry: one that was found
// wrong and done anew is done by what was done last.
func remediedBy(f *bulletinv1.FollowUp, entry string) bool {
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
		return false
	}
	for _, s := range slices.Backward(f.GetSteps()) {
		if s.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE {
			return s.GetEvidence() == entry
		}
	}
	return false
}

// struckFacts say why, by whom and when work was struck out.
func struckFacts(e *schedulev1.ServiceEntry) []fact {
	if e.GetVoidReason() == "" {
		return nil
	}
	facts := []fact{{Label: "Struck out", Value: e.GetVoidReason()}}
	if e.GetVoidTime() != nil { // which old records do not have
		facts = append(facts, fact{Label: "Struck out on", Value: day(e.GetVoidTime()) + madeBy(e.GetVoidedBy())})
	}
	return facts
}

// strikeEntry strikes work out.
func (v *visit) strikeEntry() {
	if !v.readForm() {
		return
	}
	e, err := v.serviceEntry()
	if err != nil {
		v.refuse(err)
		return
	}
	_, err = v.d.Schedules.VoidServiceEntry(v.as(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Reason: v.value("reason"), Etag: v.value("etag"), RequestId: v.request()})
	if err != nil {
		f := v.entryStrike(e).filled(v)
		v.again(err, f, func(status int) { v.entryPage(status, e, f) })
		return
	}
	v.goTo(v.at("/service/" + v.r.PathValue("entry") + "?done=struck"))
}

func (v *visit) entryStrike(e *schedulev1.ServiceEntry) *form {
	return strikeForm(v.at("/service/"+v.r.PathValue("entry")+"/strike"), "Strike it out", e.GetEtag())
}

// strikeSheet strikes out what came back on a sheet.
func (v *visit) strikeSheet() {
	if !v.readForm() {
		return
	}
	done, err := v.d.JobSheets.VoidJobReturn(v.as(), &jobsheetv1.VoidJobReturnRequest{Name: v.sheetName(), Reason: v.value("reason"), Etag: v.value("etag"), RequestId: v.request()})
	if err == nil {
		said := "sheet-struck"
		if done.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_BEING_STRUCK_OUT {
			said = "being-struck"
		}
		v.goTo(v.atSheet("?done=" + said))
		return
	}
	m, failed := v.sheet()
	if failed != nil || m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED {
		v.refuse(err)
		return
	}
	f := v.sheetStrike(m).filled(v)
	v.again(err, f, func(status int) { v.sheetPage(status, m, f) })
}

func (v *visit) sheetStrike(m *jobsheetv1.JobSheet) *form {
	return strikeForm(v.atSheet("/strike"), "Strike out what came back", m.GetEtag())
}

// sheetStrikeBlock offers to strike out what came back, or says why that is not
// possible.
func sheetStrikeBlock(m *jobsheetv1.JobSheet, f *form) block {
	b := block{Heading: "Where it was returned wrongly", Text: []string{
		"As for another vehicle, or what is on record already. All that came back is struck out together: it stays readable, and counts as if it had never been. Campaigns that it completed are open again.",
	}, Form: f}
	for _, record := range m.GetJobReturn().GetRecords() {
		if strings.HasPrefix(record, "builds/") {
			b.Text = []string{"What came back changed the vehicle too. Such a change is not struck out, and all that came back stands or falls together: record as a change what is on the vehicle now."}
			b.Form = nil
		}
	}
	return b
}

// struckBlock says why, by whom and when what came back was struck out.
func struckBlock(m *jobsheetv1.JobSheet) block {
	s := m.GetStrike()
	return block{Heading: "Struck out", Facts: []fact{{Label: "Why", Value: s.GetReason()}, {Label: "On", Value: day(s.GetStrikeTime()) + madeBy(s.GetStruckBy())}},
		Text: []string{"What came back stays readable, and counts as if it had never been."}}
}
