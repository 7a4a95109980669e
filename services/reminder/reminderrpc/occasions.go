package reminderrpc

import (
	"embed"
	"fmt"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/locale"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

//go:embed words
var words embed.FS

// phrases are what a calendar says in each language.
var phrases = locale.BuiltIn(words, "words")

// reader is in whose words and habits a calendar is written.
type reader struct {
	locale.Phrases
	habit locale.Locale
	works string
	title func(item, english string) string // an item's title in the reader's language
}

func (s *Service) reader(r reminder.Recipient) reader {
	p := phrases().For(r.Language)
	title := func(item, english string) string { return s.Job.Words.Item(r.Language, item, "title", english) }
	return reader{p, p.Locale(r.Formats, r.Unit), s.Job.Works.Name, title}
}

// monthsAhead is how far a calendar looks.
const monthsAhead = 24

// task is one item of the programme on a calendar.
type task struct {
	round, title string // "E01.2026-05-01#1"
	due          vehicle.Date
}

// occasions gives what a calendar of a vehicle is about on a day: each visit
// that is planned, each item beside them that comes up, what a workshop has
// booked, and each campaign that is open.
func (d reader) occasions(v reminder.Vehicle, plan *schedulev1.VisitPlan, answers []reminder.Answer, today vehicle.Date) []occasion {
	cycles := map[string]string{} // of the present round, by item
	for _, i := range v.Items {
		cycles[i.ID] = i.Cycle
	}
	booked := map[string]bool{} // rounds
	var out []occasion
	for _, a := range answers {
		if a.Kind == reminder.Booked && !a.Day.Before(today) {
			out = append(out, d.booked(v, a, booked)...)
		}
	}
	planned := map[string]bool{} // items
	for _, visit := range plan.GetVisits() {
		var tasks []task
		for _, t := range visit.GetTasks() {
			planned[t.GetItemId()] = true
			round := roundKey(cycles[t.GetItemId()], int(t.GetRound()))
			if !booked[round] {
				tasks = append(tasks, task{round, d.title(t.GetItemId(), t.GetTitle()), dateOf(t.GetDueDate())})
			}
		}
		if len(tasks) > 0 {
			out = append(out, d.occasion(v.Serial, dateOf(visit.GetVisitDate()), today, "calendar.why", tasks))
		}
	}
	end := today.AddMonths(monthsAhead)
	for _, i := range v.Items {
		round := roundKey(i.Cycle, 1)
		if isWork(i) && !planned[i.ID] && !booked[round] && !i.ActBy.After(end) {
			out = append(out, d.occasion(v.Serial, i.ActBy, today, "calendar.alone", []task{{round, d.title(i.ID, i.Title), i.ActBy}}))
		}
	}
	for _, i := range v.Items {
		if i.Campaign != nil {
			out = append(out, d.campaign(v.Serial, i, today))
		}
	}
	return out
}

// campaign gives the occasion of an open campaign: the day that was agreed, or
// today until it is done. It is the same event from letter to letter.
func (d reader) campaign(serial vehicle.Serial, i reminder.Item, today vehicle.Date) occasion {
	c := i.Campaign
	o := occasion{day: today, late: true, rounds: []string{roundKey(reminder.CampaignCycle(i.ID, c.Round, 1), 1)}}
	why := "calendar.campaign-why"
	if !c.Booked.IsZero() && !c.Booked.Before(today) {
		o.day, o.late, o.booked, why = c.Booked, false, true, "calendar.campaign-booked"
	}
	key := "calendar.campaign"
	if c.StopUse {
		key = "calendar.campaign-stop"
	}
	o.summary = d.Say(key, map[string]string{"serial": string(serial), "title": d.title(i.ID, i.Title)})
	if o.booked {
		o.summary = d.Say("calendar.booked", map[string]string{"summary": o.summary})
	}
	o.description = d.Say(why, nil)
	return o
}

// isWork says whether an item is work that a workshop does.
func isWork(i reminder.Item) bool {
	return !i.OwnerCheck && !i.Reading && i.Purpose() == reminder.Service && !i.ActBy.IsZero()
}

// roundKey names a round of an item: the present one, and how many ahead.
func roundKey(cycle string, round int) string { return fmt.Sprintf("%s#%d", cycle, round) }

// occasion puts a visit into words.
func (d reader) occasion(serial vehicle.Serial, day, today vehicle.Date, why string, tasks []task) occasion {
	o := occasion{day: day, summary: d.summary(serial, tasks)}
	lines := make([]string, len(tasks))
	for n, t := range tasks {
		o.rounds = append(o.rounds, t.round)
		o.late = o.late || !t.due.After(today)
		lines[n] = d.Say("calendar.task", map[string]string{"title": t.title, "date": d.habit.Date(t.due)})
	}
	if o.late = o.late && !day.After(today); o.late {
		o.day = today
	}
	o.description = strings.Join(append(lines, "", d.Say(why, nil)), "\n")
	return o
}

func (d reader) summary(serial vehicle.Serial, tasks []task) string {
	key, data := "calendar.one", map[string]string{"serial": string(serial), "title": tasks[0].title, "n": d.habit.Number(int64(len(tasks) - 1))}
	if len(tasks) > 1 {
		key = "calendar.more"
	} else {
		delete(data, "n")
	}
	return d.Say(key, data)
}

// booked gives the occasion of an answer, for the rounds that are open, and
// notes them; none when none is.
func (d reader) booked(v reminder.Vehicle, a reminder.Answer, noted map[string]bool) []occasion {
	var tasks []task
	for _, i := range v.Items {
		round := roundKey(i.Cycle, 1)
		if isWork(i) && slices.Contains(a.Cycles, i.Cycle) && !noted[round] {
			noted[round] = true
			tasks = append(tasks, task{round, d.title(i.ID, i.Title), i.ActBy})
		}
	}
	if len(tasks) == 0 {
		return nil
	}
	o := d.occasion(v.Serial, a.Day, a.Day.AddDays(-1), "calendar.alone", tasks)
	o.booked, o.late = true, false
	o.summary = d.Say("calendar.booked", map[string]string{"summary": o.summary})
	o.description = strings.TrimSuffix(o.description, "\n\n"+d.Say("calendar.alone", nil))
	if a.Workshop != "" {
		o.description += "\n\n" + d.Say("calendar.workshop", map[string]string{"workshop": a.Workshop})
	}
	return []occasion{o}
}
