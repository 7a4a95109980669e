package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

var allBulletins = link{Label: "All bulletins", Path: "/works/bulletins"}

// showNewDraft begins a bulletin, or the next version of one.
func (v *visit) showNewDraft() {
	b, err := v.draftOf(v.r.URL.Query().Get("of"))
	if err != nil {
		v.refuse(err)
		return
	}
	v.draftPage(http.StatusOK, b, draftForm("/works/bulletins/new", b), nil)
}

// draftOf gives what a new draft begins as: empty, or the next version of one
// that is on record.
func (v *visit) draftOf(name string) (*bulletinv1.Bulletin, error) {
	if name == "" {
		return &bulletinv1.Bulletin{Kind: bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN}, nil
	}
	b, err := v.d.Bulletins.GetBulletin(v.as(), &bulletinv1.GetBulletinRequest{Name: name})
	if err != nil {
		return nil, err
	}
	version, err := strconv.Atoi(bare(b.GetName()))
	if err != nil {
		return nil, fault.New(fault.NotFound, "NO_BULLETIN", "there is no such bulletin here")
	}
	b.Name, b.Etag = "bulletins/"+serialIn(b.GetName())+"/versions/"+strconv.Itoa(version+1), ""
	return b, nil
}

func (v *visit) showDraft() {
	b, err := v.bulletin()
	if err != nil {
		v.refuse(err)
		return
	}
	if b.GetState() != bulletinv1.BulletinState_BULLETIN_STATE_DRAFT {
		v.render(http.StatusConflict, view{Title: "This is no draft", Blocks: []block{{Text: []string{wording.UpperFirst(versionName(b.GetName())) + " is " +
			word(b.GetState(), "BULLETIN_STATE_") + ", and never changes. A next version can take its place."},
			Links: []link{{Label: "Write the next version", Path: "/works/bulletins/new?of=" + url.QueryEscape(b.GetName())}, {Label: "Back to the bulletin", Path: bulletinPath(b.GetName())}}}}})
		return
	}
	v.draftPage(http.StatusOK, b, draftForm(bulletinPath(b.GetName())+"/draft", b), nil)
}

// draftPage shows the form of a draft, below the vehicles that it would be for
// where somebody asked to see them.
func (v *visit) draftPage(status int, b *bulletinv1.Bulletin, f *form, preview *bulletinv1.PreviewSetResponse) {
	title := "Write a bulletin"
	if b.GetName() != "" {
		title = "Draft of " + versionName(b.GetName())
	}
	var blocks []block
	if preview != nil {
		shown := matchBlock(preview)
		shown.Heading = "Which vehicles it would be for"
		if preview.GetNextPageToken() != "" {
			shown.Text = append(shown.Text, "These are the first "+strconv.Itoa(mostMatches)+"; the draft's own page lists them all.")
		}
		blocks = append(blocks, shown, block{Text: []string{"Nothing is kept yet."}})
	}
	if _, simple := conditionsOf(b.GetSet().GetCondition()); !simple {
		blocks = append(blocks, block{Heading: "Conditions that this page cannot show", Text: []string{
			"The conditions of this draft are nested deeper than the fields below. They stay as they are, and all else can be changed here; the command halfshaft bulletin add changes them from a file."}})
	}
	blocks = append(blocks, furtherItems(b.GetRemedy())...)
	v.render(status, view{Title: title, Wide: true, Note: v.note(), Blocks: append(blocks, block{Form: f, Links: []link{allBulletins, allOfWorks}})})
}

// draftForm is the form of a draft.
func draftForm(action string, b *bulletinv1.Bulletin) *form {
	f := &form{ID: "draft", Action: action, Submit: "Keep the draft", Also: []option{{Value: "preview", Label: "Show which vehicles"}}}
	add := func(fields ...field) { f.Fields = append(f.Fields, fields...) }
	long := func(name, label, value, hint string) field {
		return field{Name: name, Label: label, Value: value, Lines: 3, Hint: hint}
	}
	if b.GetName() == "" {
		add(field{Name: "bulletin.name", Label: "Number", Type: "text", Autocomplete: "off", Hint: "In capitals, digits and hyphens, as in C-2026-09 or A-2026-04."})
	}
	var kinds []option
	for _, k := range []bulletinv1.BulletinKind{bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, bulletinv1.BulletinKind_BULLETIN_KIND_ADVICE} {
		kinds = append(kinds, option{Value: k.String(), Label: wording.UpperFirst(word(k, "BULLETIN_KIND_")), Chosen: k == b.GetKind()})
	}
	add(field{Name: "bulletin.kind", Label: "Kind", Options: kinds},
		field{Name: "bulletin.title", Label: "What it is about, in a line", Type: "text", Value: b.GetTitle(), Autocomplete: "off"},
		long("bulletin.fault", "What is wrong", b.GetFault(), ""),
		long("bulletin.consequence", "What can happen, in plain words", b.GetConsequence(), ""),
		long("bulletin.meanwhile", "What to do until it is put right", b.GetMeanwhile(), "Needed where driving is forbidden."),
		long("bulletin.caution", "What can hurt, and what to do against it", b.GetCaution(), "Needed where driving or delivery is forbidden."),
		field{Name: "bulletin.stop_use", Label: "No vehicle of the set is to be driven before the remedy", Type: "checkbox", Checked: b.GetStopUse()},
		field{Name: "bulletin.hold_delivery", Label: "No vehicle of the set leaves the works before the remedy", Type: "checkbox", Checked: b.GetHoldDelivery()})
	add(setFields(b.GetSet())...)
	add(remedyFields(b.GetRemedy())...)
	var days []string
	for _, d := range b.GetFollowUp().GetLetterDays() {
		days = append(days, strconv.Itoa(int(d)))
	}
	repeat := ""
	if n := b.GetFollowUp().GetRepeatDays(); n != 0 {
		repeat = strconv.Itoa(int(n))
	}
	add(field{Name: "bulletin.follow_up.letter_days", Label: "Letters, in days after a vehicle comes on the list", Type: "text", Value: strings.Join(days, ", "), Autocomplete: "off", Hint: "Empty for 0, 30, 90.", Legend: "Letters of a campaign"},
		field{Name: "bulletin.follow_up.repeat_days", Label: "Days between letters after the last of these", Type: "text", Value: repeat, Inputmode: "numeric", Autocomplete: "off", Hint: "Empty for each year, -1 for none."},
		field{Name: "bulletin.determined_date", Label: "The day on which the fault was found", Type: "date", Value: iso(b.GetDeterminedDate()), Legend: "Who answers for it"},
		field{Name: "bulletin.report_date", Label: "The day on which it was reported to an authority", Type: "date", Value: iso(b.GetReportDate()), Hint: "Empty for none. Counsel and local law say whether it has to be."},
		field{Name: "bulletin.signed_by", Label: "Signed by", Type: "text", Value: b.GetSignedBy(), Autocomplete: "off"},
		field{Name: "bulletin.sample", Label: "It is a sample that nobody has signed", Type: "checkbox", Checked: b.GetSample()},
		field{Name: "etag", Type: "hidden", Value: b.GetEtag()}, field{Name: "of", Type: "hidden", Value: b.GetName()}, requestField())
	return f
}

// blankItems is how many items of a remedy can be added at once; mostItems is how
// many the form shows, each with its fields: a page is not to grow without end.
const (
	blankItems = 1
	mostItems  = 16
)

// itemsShown is how many items the form of a remedy has fields for, with one to be
// added where there is room for it.
func itemsShown(items []*bulletinv1.RemedyItem) int {
	if len(items) > mostItems {
		return mostItems
	}
	return len(items) + blankItems
}

// furtherItems says what of a remedy the form does not show; nil where it shows all.
func furtherItems(items []*bulletinv1.RemedyItem) []block {
	if len(items) <= mostItems {
		return nil
	}
	return []block{{Heading: "Items of the remedy that this page does not show", Text: []string{
		"The remedy has " + strconv.Itoa(len(items)) + " items, and there are fields below for the first " + strconv.Itoa(mostItems) +
			". The others stay as they are, after these, and stand on the bulletin's own page; the command halfshaft bulletin add changes them from a file."}}}
}

// remedyFields ask what is done: the items there are, and one more.
func remedyFields(items []*bulletinv1.RemedyItem) []field {
	var out []field
	for n := range itemsShown(items) {
		i := &bulletinv1.RemedyItem{}
		legend := "One more thing that is done"
		if n < len(items) {
			i, legend = items[n], "What is done: "+items[n].GetItemId()
		} else if n == 0 {
			legend = "What is done"
		}
		var parts, measured []string
		for _, p := range i.GetParts() {
			parts = append(parts, strings.TrimSpace(strconv.Itoa(int(p.GetQuantity()))+" "+p.GetPart()+" "+p.GetPosition()))
		}
		for _, m := range i.GetMeasured() {
			measured = append(measured, strings.TrimRight(strings.Join([]string{place(m.GetCharacteristic()), m.GetUnit(), m.GetLower(), m.GetUpper(), m.GetAction(), m.GetMethod()}, "; "), "; "))
		}
		at := remedyAt(n)
		out = append(out,
			field{Name: at + ".item_id", Label: legendLabel(n, "short name"), Type: "text", Value: i.GetItemId(), Autocomplete: "off", Hint: "As in C" + strconv.Itoa(n+1) + "; empty where nothing more is done.", Legend: legend},
			field{Name: at + ".title", Label: legendLabel(n, "what is done, in a line"), Type: "text", Value: i.GetTitle(), Autocomplete: "off"},
			field{Name: at + ".parts", Label: legendLabel(n, "parts"), Value: strings.Join(parts, "\n"), Lines: 3, Hint: "One a line: how many, number, position, as in 1 AP-404026 brake-hydraulics-hose-rear."},
			field{Name: at + ".tools", Label: legendLabel(n, "special tools"), Type: "text", Value: strings.Join(i.GetTools(), ", "), Autocomplete: "off"},
			field{Name: at + ".caution", Label: legendLabel(n, "what can hurt"), Value: i.GetCaution(), Lines: 2},
			field{Name: at + ".minutes", Label: legendLabel(n, "minutes it takes"), Type: "text", Value: numberOrEmpty(i.GetMinutes()), Inputmode: "numeric", Autocomplete: "off"},
			field{Name: at + ".measured", Label: legendLabel(n, "what is measured"), Value: strings.Join(measured, "\n"), Lines: 2, Hint: "One a line, parted by semicolons: what; unit; lowest; highest; ask the engineer beyond; how. As in end float; mm; 0.05; 0.15."},
			field{Name: at + ".reinspection.days", Label: legendLabel(n, "looked at again after days"), Type: "text", Value: numberOrEmpty(i.GetReinspection().GetDays()), Inputmode: "numeric", Autocomplete: "off"},
			field{Name: at + ".reinspection.distance", Label: legendLabel(n, "or after a distance"), Type: "text", Value: typedAs(i.GetReinspection().GetDistance()), Autocomplete: "off", Hint: "As in 500 mi."})
	}
	return out
}

func remedyAt(n int) string { return "bulletin.remedy[" + strconv.Itoa(n) + "]" }

// legendLabel tells the fields of several items apart.
func legendLabel(n int, label string) string {
	return "Item " + strconv.Itoa(n+1) + ": " + label
}

func numberOrEmpty(n int32) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(int(n))
}

// draft reads the form of a draft. stands is what is on record of it.
func (t *typed) draft(stands *bulletinv1.Bulletin) *bulletinv1.Bulletin {
	b := &bulletinv1.Bulletin{
		Name: stands.GetName(), Kind: bulletinv1.BulletinKind(bulletinv1.BulletinKind_value[t.value("bulletin.kind")]), Title: t.value("bulletin.title"),
		Fault: t.value("bulletin.fault"), Consequence: t.value("bulletin.consequence"), Meanwhile: t.value("bulletin.meanwhile"), Caution: t.value("bulletin.caution"),
		StopUse: t.ticked("bulletin.stop_use"), HoldDelivery: t.ticked("bulletin.hold_delivery"), Set: t.set(stands.GetSet()),
		DeterminedDate: t.date("bulletin.determined_date"), ReportDate: t.date("bulletin.report_date"), SignedBy: t.value("bulletin.signed_by"), Sample: t.ticked("bulletin.sample"),
		SupersededBy: stands.GetSupersededBy(), Etag: t.value("etag"),
	}
	if b.Name == "" {
		b.Name = "bulletins/" + bare(t.value("bulletin.name")) + "/versions/1"
	}
	plan := &bulletinv1.FollowUpPlan{RepeatDays: t.whole("bulletin.follow_up.repeat_days")}
	for _, day := range t.list("bulletin.follow_up.letter_days") {
		n, err := strconv.ParseInt(day, 10, 32)
		if err != nil {
			t.wrong = append(t.wrong, fault.Field{Name: "bulletin.follow_up.letter_days", Got: day, Want: "days parted by commas, as in 0, 30, 90"})
		}
		plan.LetterDays = append(plan.LetterDays, int32(n))
	}
	if len(plan.LetterDays) > 0 || plan.RepeatDays != 0 {
		b.FollowUp = plan
	}
	for n := range itemsShown(stands.GetRemedy()) {
		if i := t.remedyItem(n); i != nil {
			b.Remedy = append(b.Remedy, i)
		}
	}
	if all := stands.GetRemedy(); len(all) > mostItems {
		b.Remedy = append(b.Remedy, all[mostItems:]...)
	}
	return b
}

// remedyItem reads an item of a remedy; nil where it has neither name nor title.
func (t *typed) remedyItem(n int) *bulletinv1.RemedyItem {
	at := remedyAt(n)
	i := &bulletinv1.RemedyItem{ItemId: t.value(at + ".item_id"), Title: t.value(at + ".title"), Tools: t.list(at + ".tools"), Caution: t.value(at + ".caution"), Minutes: t.whole(at + ".minutes")}
	if i.ItemId == "" && i.Title == "" {
		return nil
	}
	for _, line := range t.lines(at + ".parts") {
		p := strings.Fields(line)
		count, err := strconv.ParseInt(p[0], 10, 32)
		if err != nil || len(p) < 2 || len(p) > 3 {
			t.wrong = append(t.wrong, fault.Field{Name: at + ".parts", Got: line, Want: "how many, number and position, as in 1 AP-404026 brake-hydraulics-hose-rear, instead of “" + line + "”"})
			continue
		}
		part := &bulletinv1.RemedyPart{Quantity: int32(count), Part: p[1]}
		if len(p) == 3 {
			part.Position = p[2]
		}
		i.Parts = append(i.Parts, part)
	}
	for _, line := range t.lines(at + ".measured") {
		p := strings.SplitN(line+";;;;;", ";", 7)
		for k := range p {
			p[k] = strings.TrimSpace(p[k])
		}
		i.Measured = append(i.Measured, &schedulev1.MeasuredLimit{Characteristic: hyphened(p[0]), Unit: p[1], Lower: p[2], Upper: p[3], Action: p[4], Method: strings.Trim(p[5], "; ")})
	}
	if days, d := t.whole(at+".reinspection.days"), t.dial(at+".reinspection.distance", "mi"); days != 0 || d != nil {
		i.Reinspection = &bulletinv1.Reinspection{Days: days, Distance: d}
	}
	return i
}

// writeDraft records a draft, or shows which vehicles it would be for.
func (v *visit) writeDraft() {
	if !v.readForm() {
		return
	}
	stands := &bulletinv1.Bulletin{}
	if of := v.value("of"); of != "" { // the next version of what came before it
		version, _ := strconv.Atoi(bare(of))
		was, err := v.draftOf("bulletins/" + serialIn(of) + "/versions/" + strconv.Itoa(version-1))
		if err != nil {
			v.refuse(err)
			return
		}
		stands = was
	}
	v.keepDraft(stands, "/works/bulletins/new", func(b *bulletinv1.Bulletin) (*bulletinv1.Bulletin, error) {
		b.Etag = ""
		return v.d.Bulletins.CreateBulletin(v.as(), &bulletinv1.CreateBulletinRequest{Bulletin: b, RequestId: v.request()})
	})
}

// changeDraft changes a draft, or shows which vehicles it would be for.
func (v *visit) changeDraft() {
	if !v.readForm() {
		return
	}
	stands, err := v.bulletin()
	if err != nil {
		v.refuse(err)
		return
	}
	v.keepDraft(stands, bulletinPath(stands.GetName())+"/draft", func(b *bulletinv1.Bulletin) (*bulletinv1.Bulletin, error) {
		return v.d.Bulletins.UpdateBulletin(v.as(), &bulletinv1.UpdateBulletinRequest{Bulletin: b, RequestId: v.request()})
	})
}

// keepDraft does with a draft that was sent what the pressed button says.
func (v *visit) keepDraft(stands *bulletinv1.Bulletin, action string, keep func(*bulletinv1.Bulletin) (*bulletinv1.Bulletin, error)) {
	entries := &typed{visit: v}
	b := entries.draft(stands)
	err := entries.err()
	var preview *bulletinv1.PreviewSetResponse
	switch {
	case err != nil:
	case v.value("do") == "preview":
		preview, err = v.d.Bulletins.PreviewSet(v.as(), &bulletinv1.PreviewSetRequest{Set: b.GetSet(), PageSize: mostMatches})
		if err != nil {
			err = fault.Under("bulletin", refusal(err))
		}
	default:
		var kept *bulletinv1.Bulletin
		if kept, err = keep(b); err == nil {
			v.goTo("/works/bulletins/" + url.PathEscape(serialIn(kept.GetName())) + "/" + url.PathEscape(bare(kept.GetName())) + "?done=draft")
			return
		}
	}
	f := draftForm(action, stands).filled(v)
	if err == nil {
		v.draftPage(http.StatusOK, stands, f, preview)
		return
	}
	v.againPointed(ofNumber(err), f, entries.conditionField, func(status int) { v.draftPage(status, stands, f, nil) })
}

// ofNumber says a refusal of a name in the words of the form, which asks for the
// number alone.
func ofNumber(err error) error {
	refused := *refusal(err)
	refused.Fields = slices.Clone(refused.Fields)
	for i := range refused.Fields {
		f := &refused.Fields[i]
		switch {
		case f.Name != "bulletin.name":
		case strings.HasSuffix(f.Want, ", the next"):
			f.Want = "another number: this one is taken. Its next version is begun from its own page"
		default:
			f.Want = "a number in capitals, digits and hyphens, as in C-2026-09"
		}
	}
	return &refused
}
