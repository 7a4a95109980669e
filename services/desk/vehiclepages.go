package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// showParts answers words for a part, a fluid or a setting for the vehicle, and
// shows its technical sheet where nothing was asked.
func (v *visit) showParts() {
	said := strings.TrimSpace(v.r.URL.Query().Get("q"))
	build := "builds/" + v.r.PathValue("serial")
	if said == "" {
		sheet, err := v.d.Parts.GetTechnicalSheet(v.as(), &partsv1.GetTechnicalSheetRequest{Build: build})
		if err != nil {
			v.refuse(err)
			return
		}
		v.ofVehicle(http.StatusOK, "parts and settings", append([]block{v.askBlock("")}, sheetBlocks(sheet)...)...)
		return
	}
	a, err := v.d.Parts.AnswerPart(v.as(), &partsv1.AnswerPartRequest{Build: build, Question: said})
	if err != nil {
		v.refuse(err)
		return
	}
	blocks := v.answerBlocks(a)
	if a.GetRefusal() != nil && v.staff() { // no part: it may be a question that was answered before
		asked := v.similar(said)
		asked.ID = ""
		asked.Links = []link{{Label: "Open an enquiry", Path: v.at("/enquiries/new?question=" + url.QueryEscape(said))}}
		blocks = append(blocks, asked)
	}
	answer := v.vehicleView(said, append(blocks, v.askBlock(said))...)
	if a.GetAskBack() != "" {
		answer.Below = "Ask the caller: " + a.GetAskBack()
	}
	for _, c := range a.GetChoices() {
		answer.Lead = append(answer.Lead, orderBlock(c))
	}
	v.render(http.StatusOK, answer)
}

// answerBlocks are the answer to a question about parts: what to order first.
func (v *visit) answerBlocks(a *partsv1.PartAnswer) (blocks []block) {
	if r := a.GetRefusal(); r != nil {
		b := block{Heading: refusedHeading(r), Text: append([]string{r.GetSentence()}, r.GetBelongsTo()...)}
		for _, x := range r.GetReasons() {
			if x.GetSentence() != r.GetSentence() {
				b.Text = append(b.Text, x.GetSentence())
			}
		}
		blocks = append(blocks, b)
	}
	for _, c := range a.GetChoices() {
		blocks = append(blocks, choiceBlock(c))
	}
	if len(a.GetFluids()) > 0 {
		blocks = append(blocks, fluidsBlock(a.GetFluids()))
	}
	if len(a.GetSettings()) > 0 {
		blocks = append(blocks, settingsBlock("Settings", a.GetSettings()))
	}
	return blocks
}

// refusedHeading says whether there is such a part at all.
func refusedHeading(r *partsv1.Refusal) string {
	if r.GetRule() == "NO_SUCH_PART" {
		return "No part, fluid or setting is called so"
	}
	return "Not offered"
}

// orderBlock is what to order for a position, to be read out.
func orderBlock(c *partsv1.PartChoice) block {
	e := entry{Term: bare(c.GetOrder().GetName()), Mono: true, Text: c.GetOrder().GetTitle(), Sub: fmt.Sprintf("Order %d.", max(c.GetQuantity(), 1))}
	return block{Heading: c.GetPositionTitle(), List: []entry{e}}
}

func choiceBlock(c *partsv1.PartChoice) block {
	b := block{Heading: c.GetPositionTitle()}
	if c.GetCaution() != "" {
		b.List = append(b.List, entry{Mark: "Caution", Text: c.GetCaution()})
	}
	if c.GetFittedPart() != "" {
		b.List = append(b.List, entry{Term: "Fitted", Text: strings.TrimSpace(c.GetFittedPart() + " " + c.GetFittedSerial())})
	}
	for _, k := range []struct {
		word  string
		lines []*partsv1.KitLine
	}{{"Order with it", c.GetAlsoOrder()}, {"Renew with it", c.GetRenewWith()}, {"In the kit", c.GetContents()}} {
		for _, l := range k.lines {
			b.List = append(b.List, entry{Term: k.word, Text: fmt.Sprintf("%d of %s, %s", max(l.GetQuantity(), 1), bare(l.GetPart()), l.GetTitle())})
		}
	}
	for _, f := range c.GetCapacities() {
		b.List = append(b.List, entry{Term: "Fill", Text: capacityText(f)})
	}
	for _, s := range c.GetSettings() {
		b.List = append(b.List, entry{Term: "Set", Text: settingText(s)})
	}
	if len(c.GetTools()) > 0 {
		b.List = append(b.List, entry{Term: "Tools", Text: strings.Join(c.GetTools(), "; ")})
	}
	for _, r := range c.GetReasons() {
		b.List = append(b.List, entry{Term: "Because", Text: r.GetSentence()})
	}
	return b
}

// sample marks what no engineer has signed.
func sample(is bool) string {
	if is {
		return " (sample, to be signed by the works' engineer)"
	}
	return ""
}

func capacityText(f *partsv1.Capacity) string {
	text := quantity(f.GetQuantity()) + " of " + f.GetFluid()
	if f.GetMethod() != "" {
		text += ", " + strings.TrimSuffix(f.GetMethod(), ".")
	}
	if len(f.GetNeverMix()) > 0 {
		text += "; never mix with " + place(strings.Join(f.GetNeverMix(), " or "))
	}
	return text + sample(f.GetSample())
}

func settingText(s *partsv1.SheetSetting) string {
	m := s.GetSetting()
	text := place(m.GetCharacteristic())
	if m.GetSubject() != "" {
		text += ", " + m.GetSubject()
	}
	return text + ": " + s.GetWindow() + sample(m.GetSample())
}

func fluidsBlock(all []*partsv1.SheetFluid) block {
	b := block{Heading: "Fluids"}
	for _, f := range all {
		e := entry{Term: wording.UpperFirst(place(f.GetCapacity().GetPosition())), Text: capacityText(f.GetCapacity())}
		if c := f.GetCapacity().GetCaution(); c != "" {
			e.Sub = "Caution: " + c
		}
		b.List = append(b.List, e)
	}
	if len(all) == 0 {
		b.Text = []string{"The technical data have none for it."}
	}
	return b
}

func settingsBlock(heading string, all []*partsv1.SheetSetting) block {
	b := block{Heading: heading}
	for _, s := range all {
		e := entry{Term: wording.UpperFirst(place(s.GetSetting().GetPosition())), Text: settingText(s), Sub: s.GetSetting().GetMethod()}
		if c := s.GetSetting().GetCaution(); c != "" {
			e.Sub = strings.TrimSpace(wording.Ended(e.Sub) + " Caution: " + c)
		}
		b.List = append(b.List, e)
	}
	if len(all) == 0 {
		b.Text = []string{"The technical data have none for it."}
	}
	return b
}

// showDueOf lists every item, the most urgent first, with why.
func (v *visit) showDueOf() {
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	if said := v.noMore(); said != "" {
		v.ofVehicle(http.StatusOK, "due", block{Text: []string{said}, Links: []link{{Label: "What was done on it", Path: v.at("/history")}}})
		return
	}
	var blocks []block
	for _, g := range []struct {
		heading string
		state   schedulev1.DueState
	}{
		{"Overdue", schedulev1.DueState_DUE_STATE_OVERDUE}, {"Due", schedulev1.DueState_DUE_STATE_DUE},
		{"Coming", schedulev1.DueState_DUE_STATE_COMING}, {"Later", schedulev1.DueState_DUE_STATE_NOT_YET},
	} {
		t := &table{Caption: g.heading, Heads: []string{"Item", "What and why", "When", ""}}
		for _, i := range x.GetItems() {
			if i.GetState() == g.state && !i.GetItem().GetOwnerCheck() {
				t.Rows = append(t.Rows, v.dueRow(i))
			}
		}
		if g.state == schedulev1.DueState_DUE_STATE_NOT_YET { // before what is later, which is much
			blocks = append(blocks, v.aheadBlock(x)...)
		}
		if len(t.Rows) > 0 {
			blocks = append(blocks, block{Heading: g.heading, Table: t})
		}
	}
	if own := v.ownerChecks(x); own != nil {
		blocks = append(blocks, *own)
	}
	if len(blocks) == 0 {
		blocks = []block{{Text: []string{"No item of the programme applies to it."}}}
	}
	v.ofVehicle(http.StatusOK, "due", blocks...)
}

// aheadBlock draws where the distance goes within a year, and at which distances
// something is due: whether it can wait. The page stands without it.
func (v *visit) aheadBlock(x *schedulev1.Schedule) []block {
	readings, err := v.readings()
	if err != nil || x.GetPace().GetCountedReadings() == 0 {
		return nil
	}
	return []block{{Heading: "Where its distance goes", Drawing: ledgerFigure(v.r.PathValue("serial"), x, lately(readings, onDay(x.GetOnDate())))}}
}

// lately are the readings of the last two years, and the one before them: of a
// whole life, the year to come would be a sliver.
func lately(all []*schedulev1.Reading, today vehicle.Date) []*schedulev1.Reading {
	const months = 24
	since := today.AddMonths(-months)
	for i, r := range all {
		if !onDay(r.GetReadingDate()).Before(since) {
			return all[max(0, i-1):]
		}
	}
	return all[max(0, len(all)-1):]
}

// noMore says that a vehicle was scrapped; "" for all others, and for those who
// may not know.
func (v *visit) noMore() string {
	if !v.staff() {
		return ""
	}
	s, err := v.standing()
	if err != nil || s.GetState() != ownerv1.StandingState_STANDING_STATE_SCRAPPED {
		return ""
	}
	return "It was scrapped on " + civil(s.GetSinceDate()) + ": nothing is due on it any more; its record stays."
}

// ownerChecks are what an owner looks at without a workshop: nobody hears of it,
// so that nothing is said of whether it is late.
func (v *visit) ownerChecks(x *schedulev1.Schedule) *block {
	t := &table{Caption: "What its owner looks after", Heads: []string{"Item", "What"}}
	for _, i := range x.GetItems() {
		if i.GetItem().GetOwnerCheck() {
			t.Rows = append(t.Rows, []cell{{Text: i.GetItemId(), Mono: true, Tight: true}, {Text: i.GetTitle()}})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return &block{Heading: t.Caption, Text: []string{"Checks without a workshop, as the handbook has them. Nobody reports them, and they count as neither done nor late."}, Table: t}
}

func (v *visit) dueRow(i *schedulev1.ItemStatus) []cell {
	what := cell{Text: i.GetSentence()}
	if c := i.GetItem().GetCaution(); c != "" {
		what.Sub = "Caution: " + c
	}
	if i.GetState() != schedulev1.DueState_DUE_STATE_NOT_YET { // later ones are many
		for _, r := range i.GetReasons() {
			if r.GetSentence() != i.GetSentence() {
				what.Why = append(what.Why, r.GetSentence())
			}
		}
	}
	on := ""
	if i.GetDueDate() != nil {
		on = civil(i.GetDueDate())
	}
	return []cell{{Text: i.GetItemId(), Mono: true, Tight: true}, what, {Text: on, Tight: true}, {Text: "Record " + i.GetItemId(), Tight: true, Path: v.at("/service?item=" + url.QueryEscape(i.GetItemId()))}}
}

func (v *visit) schedule() (*schedulev1.Schedule, error) {
	return v.d.Schedules.GetSchedule(v.as(), &schedulev1.GetScheduleRequest{Name: v.vehicle() + "/schedule"})
}

// showHistoryOf shows the distance over its life and the work, the latest first.
func (v *visit) showHistoryOf() {
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	readings, err := v.readings()
	if err != nil {
		v.refuse(err)
		return
	}
	work, err := v.d.Schedules.ListServiceEntries(v.as(), &schedulev1.ListServiceEntriesRequest{
		Parent: v.vehicle(), LatestFirst: true, PageSize: 40, PageToken: v.r.URL.Query().Get("page"),
	})
	if err != nil {
		v.refuse(err)
		return
	}
	done := block{Heading: "Work", Links: more(v.at("/history?page="), work.GetNextPageToken())}
	for _, e := range work.GetServiceEntries() {
		done.List = append(done.List, v.workEntry(e, titles(x)))
	}
	if len(done.List) == 0 {
		done.Text = []string{"No work is on record."}
	}
	read := block{Heading: "Readings", Links: []link{{Label: "Record a reading", Path: v.at("/readings/new")}}, Table: v.readingsTable(readings)}
	v.ofVehicle(http.StatusOK, "history", block{Heading: "Distance", Drawing: ledgerFigure(v.r.PathValue("serial"), x, readings)}, done, read)
}

// readingsTable lists readings, the latest first; those in doubt with why, and
// where that is settled.
func (v *visit) readingsTable(all []*schedulev1.Reading) *table {
	t := &table{Caption: "Readings", Heads: []string{"Read on", "Shown", "Counts"}, Empty: "No reading of its odometer is on record."}
	for _, r := range slices.Backward(all[max(0, len(all)-mostReadings):]) {
		state := cell{Text: map[schedulev1.ReadingState]string{
			schedulev1.ReadingState_READING_STATE_COUNTED: "yes", schedulev1.ReadingState_READING_STATE_DOUBTFUL: "in doubt", schedulev1.ReadingState_READING_STATE_REJECTED: "no",
		}[r.GetState()], Sub: r.GetSettlement().GetReason()}
		if r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			if x := r.GetExplanations(); len(x) > 0 {
				state.Sub = x[0].GetSentence()
			}
			if v.staff() {
				state.Text, state.Path = "in doubt: settle it", v.at("/readings/"+bare(r.GetName()))
			}
		}
		t.Rows = append(t.Rows, []cell{{Text: civil(r.GetReadingDate()), Tight: true}, {Text: entered(r.GetValue()), Tight: true}, state})
	}
	return t
}

// readings lists them all, the earliest first: what is in doubt is often among
// the last.
func (v *visit) readings() ([]*schedulev1.Reading, error) {
	return page.All(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := v.d.Schedules.ListReadings(v.as(), &schedulev1.ListReadingsRequest{Parent: v.vehicle(), PageSize: 500, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	})
}

// mostReadings is how many readings a page shows: nobody looks at more.
const mostReadings = 100

// showMeasured shows each measured quantity, and one of them drawn.
func (v *visit) showMeasured() {
	r, err := v.d.Schedules.ListMeasuredSeries(v.as(), &schedulev1.ListMeasuredSeriesRequest{Parent: v.vehicle(), PageSize: 500})
	if err != nil {
		v.refuse(err)
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	chosen := v.r.URL.Query().Get("series")
	var blocks []block
	list := block{Heading: "All that was measured"}
	for n, m := range r.GetMeasuredSeries() {
		e := seriesEntry(m)
		e.Path = v.at("/measured?series=" + url.QueryEscape(bare(m.GetName())))
		list.List = append(list.List, e)
		if bare(m.GetName()) == chosen || chosen == "" && n == 0 {
			blocks = append(blocks, block{Heading: e.Term, Drawing: measuredFigure(n, v.r.PathValue("serial"), m, onDay(x.GetOnDate())),
				Text: []string{m.GetTrend().GetReason().GetSentence(), m.GetTrend().GetOutlook().GetSentence()}})
		}
	}
	if len(list.List) == 0 {
		list.Text = []string{"Nothing was measured on it so far."}
	}
	v.ofVehicle(http.StatusOK, "measured", append(blocks, list)...)
}
