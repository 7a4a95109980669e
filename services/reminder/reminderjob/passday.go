package reminderjob

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// mostTold bounds what a day remembers line by line, so that its record fits
// the store.
const mostTold = 2000

// Counts gives a report as numbers by stage and channel.
func (r *Report) Counts() *reminderv1.PassCounts {
	c := &reminderv1.PassCounts{
		Claimed: int32(r.Claimed), Sent: int32(r.Sent), Parked: int32(r.Parked), Silenced: int32(r.Silenced), Tasks: int32(r.Tasks),
		ByStage: map[string]int32{}, ByChannel: map[string]int32{},
	}
	for _, n := range r.Notices {
		c.ByStage[n.Stage.String()]++
		c.ByChannel[string(n.Channel)]++
	}
	return c
}

// told gives what a notice tells, line by line: "AM0147P E01.2026-05-01 early
// p0031".
func told(n reminder.Notice) []string {
	var out []string
	for _, l := range n.Lines {
		out = append(out, fmt.Sprintf("%s %s %s %s", n.Serial, l.Cycle, l.Stage, n.Person))
	}
	return out
}

// keepDay adds what a pass did to its day, by UTC. The first pass of a day
// leaves one even if it did nothing, so that the day after compares with it.
func (j *Job) keepDay(ctx context.Context, fence kv.Fence, r *Report, at time.Time) error {
	return j.Store.AddToPassDay(ctx, fence, vehicle.DateOf(at.UTC()), func(p *reminderv1.PassDay) {
		p.Counts = added(p.GetCounts(), r.Counts())
		for _, n := range r.Notices {
			p.Told = append(p.Told, told(n)...)
		}
		slices.Sort(p.Told)
		p.Told = slices.Compact(p.Told)
		p.Told = p.Told[:min(len(p.Told), mostTold)]
	})
}

// countReturn counts something that came back; a receipt that a message arrived
// is no message that came back. The numbers are not worth an error: what came
// back is taken in.
func (j *Job) countReturn(ctx context.Context, back reminder.Return) {
	j.metrics.noteReturn(back.Kind)
	if back.Kind == reminder.Delivered {
		return
	}
	err := j.Store.CountOnDay(ctx, vehicle.DateOf(back.Time.UTC()), func(p *reminderv1.PassDay) {
		p.Counts = added(p.GetCounts(), &reminderv1.PassCounts{Returned: 1})
	})
	if err != nil {
		j.Logger.Error("a return was not counted", "error", err)
	}
}

// added gives the sum of two counts.
func added(a, b *reminderv1.PassCounts) *reminderv1.PassCounts {
	sum := &reminderv1.PassCounts{
		Claimed: a.GetClaimed() + b.GetClaimed(), Sent: a.GetSent() + b.GetSent(), Parked: a.GetParked() + b.GetParked(),
		Silenced: a.GetSilenced() + b.GetSilenced(), Tasks: a.GetTasks() + b.GetTasks(), Returned: a.GetReturned() + b.GetReturned(),
		ByStage: map[string]int32{}, ByChannel: map[string]int32{},
	}
	for _, c := range []*reminderv1.PassCounts{a, b} {
		for stage, n := range c.GetByStage() {
			sum.ByStage[stage] += n
		}
		for channel, n := range c.GetByChannel() {
			sum.ByChannel[channel] += n
		}
	}
	return sum
}

// mostDifferences bounds what is said of two days.
const mostDifferences = 200

// Differences says in sentences what a day would tell that the day before did
// not, and why there is more or less to tell. before calls that day: yesterday,
// the day before.
func (r *Report) Differences(day *reminderv1.PassDay, before string) []string {
	heard := map[string][]string{} // by serial and person: what was told then, "E01 early"
	for _, line := range day.GetTold() {
		if f := strings.Fields(line); len(f) == 4 {
			item, _, _ := strings.Cut(f[1], ".")
			heard[f[0]+" "+f[3]] = append(heard[f[0]+" "+f[3]], item+" "+stageWords(f[2]))
		}
	}
	var out []string
	for _, n := range sortedNotices(r.Notices) {
		then := "nothing"
		if were := heard[string(n.Serial)+" "+n.Person]; len(were) > 0 {
			then = strings.Join(were, ", ")
		}
		out = append(out, fmt.Sprintf("%s: %s, %s, to be told to people/%s by %s; %s %s",
			n.Serial, titles(n), stageWords(n.Stage.String()), n.Person, n.Channel, before, then))
	}
	if left := len(out) - mostDifferences; left > 0 {
		out = append(out[:mostDifferences], fmt.Sprintf("and %d notices more", left))
	}
	if total := r.balance(day.GetCounts(), before); total != "" {
		out = append([]string{total}, out...)
	}
	return out
}

// balance says how many notices more or less there are, and why; "" for as
// many.
func (r *Report) balance(then *reminderv1.PassCounts, before string) string {
	now := r.Counts()
	more, word := now.GetClaimed()-then.GetClaimed(), "more"
	if more == 0 {
		return ""
	}
	if more < 0 {
		more, word = -more, "less"
	}
	var stages, held []string
	for _, s := range []reminder.Stage{reminder.Early, reminder.Due, reminder.Overdue, reminder.SecondOverdue} {
		switch n := now.GetByStage()[s.String()] - then.GetByStage()[s.String()]; {
		case n > 0:
			stages = append(stages, fmt.Sprintf("%d more %s", n, stageWords(s.String())))
		case n < 0:
			stages = append(stages, fmt.Sprintf("%d fewer %s", -n, stageWords(s.String())))
		}
	}
	why := map[string]int{}
	for _, p := range r.HeldLines() {
		why[p.Reason]++
	}
	for _, reason := range slices.Sorted(maps.Keys(why)) {
		held = append(held, fmt.Sprintf("%s %d", heldWords[reason], why[reason]))
	}
	sentence := fmt.Sprintf("%s %s than %s: %s", wording.Count(int(more), "notice"), word, before, strings.Join(stages, ", "))
	if len(held) > 0 {
		sentence += "; held back: " + strings.Join(held, ", ")
	}
	return sentence
}

// heldWords say why a line that has come to a stage is not told.
var heldWords = map[string]string{
	reminder.OutsideHours: "outside the recipient's hours", reminder.MonthlyLimit: "by the limit of messages",
	reminder.TooSoonAfter: "too soon after the last", reminder.IsBooked: "booked", reminder.IsSnoozed: "put off",
	reminder.IsSaidDone: "said to be done", reminder.OptedOut: "opted out", reminder.NoConsent: "without consent",
	reminder.NoWay: "without a way", reminder.Nobody: "with nobody to tell", reminder.Deceased: "of somebody who died",
	reminder.Scrapped: "of scrapped vehicles", reminder.Unreadable: "of vehicles that cannot be read",
}

// HeldLines gives the lines that have come to a stage and are not told, each
// with its reason, and the vehicles of which it cannot be said.
func (r *Report) HeldLines() []reminder.Pending {
	var out []reminder.Pending
	for _, p := range r.Lines {
		if _, held := heldWords[p.Reason]; held && (p.Stage != reminder.NoStage || p.Reason == reminder.Unreadable) {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, byVehicle)
	return out
}

// byVehicle orders lines by vehicle, then by the day to act on.
func byVehicle(a, b reminder.Pending) int {
	return cmp.Or(cmp.Compare(a.Serial, b.Serial), a.Item.ActBy.Compare(b.Item.ActBy), cmp.Compare(a.Item.Cycle, b.Item.Cycle), cmp.Compare(a.Person, b.Person))
}

func sortedNotices(notices []reminder.Notice) []reminder.Notice {
	return slices.SortedFunc(slices.Values(notices), func(a, b reminder.Notice) int { return cmp.Compare(a.ID, b.ID) })
}

// titles says what a notice is about: the leading item, and how many go along.
func titles(n reminder.Notice) string {
	title := wording.LowerFirst(n.Lines[0].Title)
	if more := len(n.Lines) - 1; more > 0 {
		title += fmt.Sprintf(" and %d more", more)
	}
	return title
}

func stageWords(stage string) string { return strings.ReplaceAll(stage, "-", " ") }
