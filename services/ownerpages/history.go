package ownerpages

import (
	"cmp"
	"html/template"
	"net/http"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle/vehiclewire"
)

// historyPage shows what was done on the vehicle, the latest first, a year at a
// time: of twenty years a telephone on a slow line need not load all.
//
// It is the service that leaves out what an owner may not read: of what another
// owner stated, every word; of a dealer, who signed in there. So the page of the
// next owner is this page without this owner's words, and it says so.
type historyPage struct {
	Intro   string
	Ledger  template.HTML // the distance over its life; "" before two readings
	Years   []yearPress
	Year    string // that is shown, as a heading; "" where nothing is recorded
	Entries []entryView
	Goes    []string // what a new owner sees
	Stays   []string // and what not
}

// yearPress leads to a year.
type yearPress struct {
	Year string
	Path template.URL
	Here bool
}

// entryView is one service in the reader's words.
type entryView struct {
	When, Count string // the day with the odometer; how much was done
	Said        []string
	Work        []string
	Open        bool
}

func (v *visit) showHistory() {
	s, ok := v.schedule(schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if !ok {
		return
	}
	entries, err := v.entries()
	if err != nil {
		v.failed(err)
		return
	}
	readings, err := v.readings()
	if err != nil {
		v.failed(err)
		return
	}
	titles, err := v.titles(s)
	if err != nil {
		v.failed(err)
		return
	}
	page := historyPage{
		Intro: v.say("history.intro", "serial", v.target.Serial), Ledger: v.ledger(readings),
		Goes:  []string{v.say("history.goes-work"), v.say("history.goes-distance"), v.say("history.goes-build")},
		Stays: []string{v.say("history.stays-you"), v.say("history.stays-words"), v.say("history.stays-photographs"), v.say("history.stays-links")},
	}
	if on := dayIn(s.GetDeliveryDate()); !on.IsZero() {
		page.Intro = v.say("history.since", "serial", v.target.Serial, "date", v.habit.Date(on))
	}
	v.years(&page, entries, titles)
	v.ask(http.StatusOK, "history.html", v.say("history.title", "serial", v.target.Serial), page)
}

// years puts the years in which work was done on the page, and the entries of the
// one that was asked for; of the latest where none was.
func (v *visit) years(page *historyPage, entries []*schedulev1.ServiceEntry, titles map[string]string) {
	asked, there := v.r.URL.Query().Get("year"), false
	for _, e := range entries {
		year := yearOf(e)
		if n := len(page.Years); n == 0 || page.Years[n-1].Year != year {
			page.Years = append(page.Years, yearPress{Year: year, Path: v.here("").Path + template.URL("?year="+year+"#work")})
		}
		there = there || year == asked
	}
	if !there && len(page.Years) > 0 {
		asked = page.Years[0].Year
	}
	for i := range page.Years {
		page.Years[i].Here = page.Years[i].Year == asked
	}
	for _, e := range entries {
		if yearOf(e) == asked {
			page.Year = asked
			page.Entries = append(page.Entries, v.entry(e, titles, len(page.Entries) == 0))
		}
	}
}

// yearOf is the year of an entry, in figures.
func yearOf(e *schedulev1.ServiceEntry) string { return dayIn(e.GetServiceDate()).String()[:4] }

// entries gives the service entries that stand, the latest first.
func (v *visit) entries() ([]*schedulev1.ServiceEntry, error) {
	var all []*schedulev1.ServiceEntry
	ask := &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Schedules.ListServiceEntries(v.owner(), ask)
		if err != nil {
			return nil, err
		}
		for _, e := range page.GetServiceEntries() {
			if e.GetVoidReason() == "" {
				all = append(all, e)
			}
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			slices.SortStableFunc(all, func(a, b *schedulev1.ServiceEntry) int {
				return cmp.Or(dayIn(b.GetServiceDate()).Compare(dayIn(a.GetServiceDate())), cmp.Compare(b.GetName(), a.GetName()))
			})
			return all, nil
		}
	}
}

// titles gives what the work of every item is called: by the vehicle's schedule,
// and for items that are asked for no more by the programme. That is no secret of
// an owner's, and the pages read it themselves.
func (v *visit) titles(s *schedulev1.Schedule) (map[string]string, error) {
	named := map[string]string{}
	if s.GetProgramme() != "" {
		programme, err := v.Schedules.GetProgramme(v.AsService(v.r.Context()), &schedulev1.GetProgrammeRequest{Name: s.GetProgramme()})
		if err != nil {
			return nil, err
		}
		for _, i := range programme.GetItems() {
			named[i.GetItemId()] = i.GetTitle()
		}
	}
	for _, m := range s.GetItems() {
		named[m.GetItemId()] = m.GetTitle()
	}
	return named, nil
}

// mostOpen is how much work of the latest service is shown without a press: a
// telephone shows a dozen lines.
const mostOpen = 12

// entry says what was done in one service, by whom, and what was found.
func (v *visit) entry(e *schedulev1.ServiceEntry, titles map[string]string, open bool) entryView {
	view := entryView{When: v.habit.Date(dayIn(e.GetServiceDate())), Count: v.count("schedule.tasks", len(e.GetItems())), Open: open && len(e.GetItems()) <= mostOpen}
	if shown, err := vehiclewire.Entered(e.GetReading()); err == nil && e.GetReading() != nil {
		view.When = v.say("history.at", "date", view.When, "value", v.habit.Entered(shown))
	}
	if by := e.GetDoneBy(); by != "" {
		view.Said = append(view.Said, v.say("history.by", "who", by))
	}
	if e.GetOwnerStatement() {
		view.Said = append(view.Said, v.say("history.told"))
	}
	if e.GetNote() != "" {
		view.Said = append(view.Said, v.say("history.note", "text", e.GetNote()))
	}
	for _, done := range e.GetItems() {
		view.Work = append(view.Work, v.work(done, titles[done.GetItemId()]))
	}
	return view
}

// work is one piece of work with what was measured at it.
func (v *visit) work(done *schedulev1.ItemDone, title string) string {
	said := v.title(done.GetItemId(), title)
	if said == "" {
		said = v.say("history.item", "item", done.GetItemId())
	}
	var values []string
	for _, m := range done.GetMeasured() {
		name := v.item(done.GetItemId(), "measure", strings.ReplaceAll(m.GetCharacteristic(), "-", " "))
		values = append(values, v.say("history.value", "name", name, "value", v.habit.Decimal(m.GetValue().GetValue()), "unit", m.GetValue().GetUnit()))
	}
	if len(values) > 0 {
		said = v.say("history.measured", "title", said, "values", strings.Join(values, ", "))
	}
	return said
}

// ledger draws the distance over the vehicle's life as the readings tell it.
func (v *visit) ledger(readings []*schedulev1.Reading) template.HTML {
	l := figure.Ledger{Vehicle: v.target.Serial, Today: v.today}
	for _, r := range readings {
		shown, err := vehiclewire.Entered(r.GetValue())
		if err != nil || r.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
			continue
		}
		l.Readings = append(l.Readings, figure.Reading{
			On: dayIn(r.GetReadingDate()), Distance: lengthIn(r.GetLifeDistance()), Shown: v.habit.Entered(shown),
		})
	}
	if len(l.Readings) < 2 {
		return "" // of one reading there is nothing to draw
	}
	return v.draw("distance", l.Figure)
}
