package reminder

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// The second implementation is dumb on purpose: it is written from the rules
// in words, walks the calendar day by day, compares everything with everything
// and remembers nothing. The rules:
//
// An item is told early, on its day, when it is overdue and a second time after
// that. Early is as its class says, or as the item says, but within the last
// third of its round; work of a season has the season's lead at least. The
// second overdue notice follows the first by the class's days. Between two
// notices about one round lie the days of the class, and the first must be out
// before the second is begun. Nothing is told that
// somebody has answered about, and nothing while the vehicle stands laid up,
// unless it is for bringing it back or to be done while it stands. What falls
// due within thirty days of the leading item goes along, after the shorter of the
// two classes' days between notices.
//
// A letter about a campaign goes from its day on to everybody who is tied and
// lives, alone in its message, whatever they opted out of, agreed to or were
// told of late; once to each. It waits until a day that was agreed has gone by,
// and for seven days after the letter before it. Whoever the works told since its
// day, by other means, needs none. If nobody had it and nobody can have it, the
// works is told.

type dumb struct {
	Case
	r     Recipient
	today vehicle.Date
}

// days gives the days from one date to another; from a later to an earlier one
// there are none.
func days(from, to vehicle.Date) int {
	return max(0, to.Ordinal()-from.Ordinal())
}

// within says whether a day is one of the n days before, on, or after another.
func within(a, b vehicle.Date, n int) bool { return days(a, b) <= n && days(b, a) <= n }

func (d dumb) stands(on vehicle.Date) bool {
	v := d.Vehicle
	if v.LayUpFrom.IsZero() {
		return false
	}
	return !on.Before(v.LayUpFrom) && (v.LayUpTo.IsZero() || !v.LayUpTo.Before(on))
}

// season gives "away", "back" or "".
func (d dumb) season(i Item) string {
	v := d.Vehicle
	if i.Reading || i.Year > 0 {
		return ""
	}
	if (i.MovedTo != vehicle.Date{}) {
		return "back"
	}
	if v.LayUpFrom.IsZero() {
		return ""
	}
	if i.ActBy.AddDays(1) == v.LayUpFrom {
		return "away"
	}
	if i.Class == "seasonal" {
		if days(i.ActBy, v.LayUpFrom) > 0 {
			return "away"
		}
		if !v.LayUpTo.IsZero() && days(v.LayUpTo, i.ActBy) > 0 {
			return "back"
		}
	}
	return ""
}

func (d dumb) cadence(class Class) Cadence {
	if c, ok := d.Cadences[class]; ok && class != "" {
		return c
	}
	if c, ok := d.Cadences["routine"]; ok && class == "" {
		return c
	}
	switch class {
	case "safety":
		return Cadence{30, 14, 14, 14, 7}
	case "settling":
		return Cadence{14, 14, 14, 21, 7}
	case "seasonal":
		return Cadence{42, 30, 30, 30, 14}
	}
	return Cadence{30, 30, 30, 30, 14}
}

func (d dumb) earlyDays(i Item) int {
	n := d.cadence(i.Class).Early
	if i.NoticeDays > 0 {
		n = i.NoticeDays
	}
	round := 1 << 20
	if !i.Began.IsZero() && days(i.Began, i.ActBy) > 0 {
		round = days(i.Began, i.ActBy)
	}
	if i.Class != "seasonal" {
		third := round / 3
		if third < 1 {
			third = 1
		}
		if n > third {
			n = third
		}
	}
	if d.season(i) != "" && (i.Class != "seasonal" || i.NoticeDays == 0) {
		if s := d.cadence("seasonal").Early; s > n {
			n = s
		}
	}
	if n > round {
		n = round
	}
	if n > 120 {
		n = 120
	}
	return n
}

// stage gives how far an item has come by the calendar.
func (d dumb) stage(i Item) Stage {
	if i.OwnerCheck || i.ActBy.IsZero() {
		return NoStage
	}
	if i.Campaign != nil {
		if d.today.Before(i.ActBy) {
			return NoStage
		}
		return Due
	}
	if i.Reading {
		if i.ActBy == d.today || days(i.ActBy, d.today) > 0 {
			return Early
		}
		return NoStage
	}
	if i.Year > 0 {
		for n := 0; n <= 35; n++ {
			if i.ActBy.AddDays(n) == d.today {
				return Early
			}
		}
		return NoStage
	}
	c := d.cadence(i.Class)
	stage := NoStage
	early := d.earlyDays(i)
	for n := i.ActBy.Ordinal() - 130; n <= d.today.Ordinal(); n++ {
		switch n - i.ActBy.Ordinal() {
		case -early:
			stage = max(stage, Early)
		case c.Overdue + c.SecondOverdue:
			stage = SecondOverdue
		}
		switch n - i.ActBy.Ordinal() {
		case 0:
			stage = Due
		case c.Overdue:
			stage = Overdue
		}
	}
	return stage
}

// heard gives what the person was told of a round and what did not fail.
func (d dumb) heard(cycle string) []Claim {
	var out []Claim
	for _, c := range d.Claims {
		if c.Task == "" && c.Cycle == cycle && c.Person == d.r.Person && !c.Failed {
			out = append(out, c)
		}
	}
	return out
}

// overdueStage gives which of the two overdue notices it is time for.
func (d dumb) overdueStage(i Item) Stage {
	second := d.cadence(i.Class).SecondOverdue
	if second == 0 {
		return Overdue
	}
	for _, c := range d.heard(i.Cycle) {
		if c.Stage >= Overdue && days(vehicle.DateOf(d.r.Local(c.Time)), d.today) >= second {
			return SecondOverdue
		}
	}
	return Overdue
}

func (d dumb) own(i Item) Stage {
	if s := d.stage(i); s < Overdue {
		return s
	}
	return d.overdueStage(i)
}

func (d dumb) answer(cycle string) string {
	kind, longest := "", vehicle.Date{}
	for _, a := range d.Answers {
		if !a.Withdrawn.IsZero() || !slices.Contains(a.Cycles, cycle) {
			continue
		}
		end := a.Day
		if a.Kind == Booked {
			end = a.Day.AddDays(7)
		}
		switch {
		case a.Kind == Done:
			return IsSaidDone
		case days(d.today, end) == 0 || !longest.Before(end):
		case a.Kind == Booked:
			kind, longest = IsBooked, end
		case a.Kind == Snoozed:
			kind, longest = IsSnoozed, end
		}
	}
	return kind
}

func (d dumb) failedBy(cycle string, s Stage, way Channel) bool {
	for _, c := range d.Claims {
		if c.Failed && c.Person == d.r.Person && c.Cycle == cycle && c.Stage == s && c.Channel == way {
			return true
		}
	}
	return false
}

func (d dumb) way(i Item, s Stage) Channel {
	ways := d.r.Ways
	if i.Year > 0 {
		ways = d.r.YearWays
	}
	if i.Campaign != nil {
		ways = d.r.Safety
	}
	for _, way := range ways {
		if !d.failedBy(i.Cycle, s, way) {
			return way
		}
	}
	return ""
}

// soon says whether the last notice was too short a time ago.
func (d dumb) soon(i Item) bool { return d.sooner(i, d.cadence(i.Class).Apart) }

func (d dumb) sooner(i Item, apart int) bool {
	for back := 0; back < apart; back++ {
		for _, c := range d.heard(i.Cycle) {
			if vehicle.DateOf(d.r.Local(c.Time)) == d.today.AddDays(-back) {
				return true
			}
		}
	}
	if i.Reading {
		for _, c := range d.Claims {
			if c.Task == "" && !c.Failed && c.Person == d.r.Person && strings.HasPrefix(c.Cycle, i.ID+".") && days(vehicle.DateOf(d.r.Local(c.Time)), d.today) < 91 {
				return true
			}
		}
	}
	return false
}

func (d dumb) furthest(cycle string) Stage {
	furthest := NoStage
	for _, c := range d.heard(cycle) {
		if c.Stage > furthest {
			furthest = c.Stage
		}
	}
	return furthest
}

// sleeps says whether the lay-up keeps an item silent.
func (d dumb) sleeps(i Item) bool {
	if !d.stands(d.today) || i.Year > 0 || d.season(i) == "back" {
		return false
	}
	return i.Reading || !d.stands(i.ActBy)
}

// why gives why an item is not told today; "" when it is time for it.
func (d dumb) why(i Item) string {
	if i.Campaign != nil {
		return d.whyNoLetter(i)
	}
	s := d.own(i)
	if a := d.answer(i.Cycle); a != "" {
		return a
	}
	if s > d.furthest(i.Cycle) {
		switch {
		case d.sleeps(i):
			return NotYet
		case d.waits(i) != "":
			return d.waits(i)
		case d.soon(i):
			return TooSoonAfter
		case d.way(i, s) == "":
			return NoWay
		}
		return ""
	}
	if s == NoStage && d.furthest(i.Cycle) == NoStage {
		return NotYet
	}
	return Told
}

// told100 gives the letters of a round that the person was told, by their
// numbers up to a hundred.
func (d dumb) told100(i Item) (letters []Claim, furthest int) {
	for n := 1; n <= 100; n++ {
		cycle := fmt.Sprintf("%s.%d-%d", i.ID, i.Campaign.Round, n)
		if n == 1 {
			cycle = fmt.Sprintf("%s.%d", i.ID, i.Campaign.Round)
		}
		if heard := d.heard(cycle); len(heard) > 0 {
			letters, furthest = append(letters, heard...), n
		}
	}
	return letters, furthest
}

// phoned says whether the works told the person itself.
func (d dumb) phoned(i Item) bool {
	on := i.Campaign.Notified
	return on != vehicle.Date{} && days(on, i.ActBy) == 0 && days(on, d.r.Since) == 0
}

func (d dumb) whyNoLetter(i Item) string {
	letters, furthest := d.told100(i)
	begun := !d.today.Before(i.ActBy)
	for n := range 7 {
		if d.today.AddDays(n) == i.Campaign.Booked {
			return IsBooked
		}
	}
	switch {
	case !i.Campaign.Booked.IsZero() && days(d.today, i.Campaign.Booked) > 0:
		return IsBooked
	case furthest >= i.Campaign.Letter, begun && d.phoned(i):
		return Told
	case !begun:
		return NotYet
	}
	for _, c := range letters {
		if within(vehicle.DateOf(d.r.Local(c.Time)), d.today, 6) {
			return TooSoonAfter
		}
	}
	if d.way(i, Due) == "" {
		return NoWay
	}
	return ""
}

// letter gives the way by which a letter about a campaign goes; "" for none.
func (d dumb) letter(i Item) Channel {
	if d.Vehicle.Scrapped || d.r.Deceased || d.why(i) != "" {
		return ""
	}
	return d.way(i, Due)
}

// goes says whether an item goes along with a leading one in a stage, though it
// did not ask: the shorter of the two classes' distances is enough.
func (d dumb) goes(lead, i Item, s Stage) bool {
	apart := d.cadence(i.Class).Apart
	if shorter := d.cadence(lead.Class).Apart; shorter < apart {
		apart = shorter
	}
	return d.answer(i.Cycle) == "" && s > d.furthest(i.Cycle) && d.waits(i) == "" && !d.sooner(i, apart)
}

// last gives the last notice of the furthest stage.
func (d dumb) last(cycle string) Claim {
	var last Claim
	for _, c := range d.heard(cycle) {
		if c.Stage > last.Stage || c.Stage == last.Stage && !c.Time.Before(last.Time) {
			last = c
		}
	}
	return last
}

// waits says what the last notice waits for; "" for nothing.
func (d dumb) waits(i Item) string {
	last := d.last(i.Cycle)
	if last.State != Claimed && last.State != Waiting {
		return ""
	}
	return map[bool]string{true: LetterToPrint, false: WaitingToSend}[last.Channel == Letter]
}

// with gives the stage of an item that goes along with a leading one.
func (d dumb) with(lead Item, s Stage, i Item) Stage {
	own := d.own(i)
	if own >= s || i.Reading || i.Year > 0 || !within(lead.ActBy, i.ActBy, 30) {
		return own
	}
	if s == Early || s == Due {
		return s
	}
	if days(i.ActBy, d.today) == 0 {
		return Due
	}
	if s == SecondOverdue && (d.overdueStage(i) == SecondOverdue || d.cadence(i.Class).SecondOverdue > 0 && d.firstLate(i) != "" && d.firstLate(i) == d.firstLate(lead)) {
		return SecondOverdue
	}
	return Overdue
}

// firstLate gives the day on which an item was first called overdue; "" for
// never.
func (d dumb) firstLate(i Item) string {
	first := ""
	for _, c := range d.heard(i.Cycle) {
		on := vehicle.DateOf(d.r.Local(c.Time)).String()
		if (c.Stage == Overdue || c.Stage == SecondOverdue) && (first == "" || on < first) {
			first = on
		}
	}
	return first
}

// full says whether the person had their messages of 30 days.
func (d dumb) full() bool {
	n := 0
	for _, t := range d.Recent[d.r.Person] {
		if t.Add(30 * 24 * time.Hour).After(d.Now) {
			n++
		}
	}
	if d.r.Most == 0 {
		return n >= 4
	}
	return n >= d.r.Most
}

// may says whether the person may be written to.
func (d dumb) may(p Purpose) bool {
	if d.Vehicle.Scrapped || d.r.Deceased {
		return false
	}
	if p == YearLetter {
		return d.r.Yearly && !d.NoYear[d.r.Person]
	}
	return d.r.Notices && !d.r.Refused && !d.OptOuts[d.r.Person]
}

// message gives the stages by round of what the person is told for a purpose,
// the leading round, and the channel; no rounds when nothing is told.
func (d dumb) message(p Purpose) (lead string, by Channel, lines map[string]Stage) {
	if !d.may(p) {
		return "", "", nil
	}
	var first *Item
	urgent := false
	var asking []Item
	for n, i := range d.Vehicle.Items {
		if i.Campaign != nil || (p == YearLetter) != (i.Year > 0) || i.OwnerCheck || i.ActBy.IsZero() || d.why(i) != "" {
			continue
		}
		asking = append(asking, i)
		urgent = urgent || i.Class == "safety" && d.own(i) != Early
		if first == nil || d.leads(i, *first) {
			first = &d.Vehicle.Items[n]
		}
	}
	if first == nil || p == Service && d.full() && !urgent {
		return "", "", nil
	}
	stage := d.own(*first)
	by = d.way(*first, stage)
	lines = map[string]Stage{}
	for _, i := range d.Vehicle.Items {
		if i.Campaign != nil || (p == YearLetter) != (i.Year > 0) || i.OwnerCheck || i.ActBy.IsZero() {
			continue
		}
		s := d.with(*first, stage, i)
		if slices.ContainsFunc(asking, func(a Item) bool { return a.Cycle == i.Cycle }) {
			if !d.failedBy(i.Cycle, s, by) {
				lines[i.Cycle] = s
			} else if !d.failedBy(i.Cycle, d.own(i), by) {
				lines[i.Cycle] = d.own(i)
			}
			continue
		}
		if p == Service && !first.Reading && !i.Reading && within(first.ActBy, i.ActBy, 30) && d.goes(*first, i, s) && !d.failedBy(i.Cycle, s, by) {
			lines[i.Cycle] = s
		}
	}
	return first.Cycle, by, lines
}

// leads says whether a leads b: work before a reading, the furthest stage, the
// earliest day, the identifier.
func (d dumb) leads(a, b Item) bool {
	if a.Reading != b.Reading {
		return b.Reading
	}
	if d.own(a) != d.own(b) {
		return d.own(a) > d.own(b)
	}
	if a.ActBy != b.ActBy {
		return a.ActBy.Before(b.ActBy)
	}
	return a.ID < b.ID
}

// worksDay gives the day on which the works is told of a round as far as this
// person goes; zero for none.
func (d dumb) worksDay(i Item) vehicle.Date {
	own := d.own(i)
	if i.Campaign != nil || i.Reading || i.Year > 0 || own < Due || d.answer(i.Cycle) != "" {
		return vehicle.Date{}
	}
	last := Overdue
	if d.cadence(i.Class).SecondOverdue > 0 {
		last = SecondOverdue
	}
	deaf := own >= Overdue && d.why(i) == NoWay
	if d.furthest(i.Cycle) < last && !deaf {
		return vehicle.Date{}
	}
	latest := vehicle.Date{}
	for _, c := range d.Claims {
		if c.Task == "" && c.Person == d.r.Person && c.Cycle == i.Cycle && (!c.Failed || d.furthest(i.Cycle) < last) {
			if on := vehicle.DateOf(d.r.Local(c.Time)); latest.Before(on) {
				latest = on
			}
		}
	}
	for _, a := range d.Answers {
		end := a.Day
		if a.Kind == Booked {
			end = end.AddDays(7)
		}
		if a.Kind != Done && a.Withdrawn.IsZero() && slices.Contains(a.Cycles, i.Cycle) && latest.Before(end) {
			latest = end
		}
	}
	return latest.AddDays(d.cadence(i.Class).Works)
}

// tasks gives what the works is told: "OWNER_SILENT I1.1".
func dumbTasks(c Case) map[string]bool {
	tasks := map[string]bool{}
	if c.Vehicle.Scrapped {
		return tasks
	}
	var told []dumb
	wanted, estate, heir := false, false, false
	for _, r := range c.People {
		d := dumb{c, r, vehicle.DateOf(r.Local(c.Now))}
		if d.may(Service) && len(r.Ways) > 0 {
			told = append(told, d)
		}
		wanted = wanted || r.Notices && !r.Deceased && !d.may(Service)
		estate = estate || r.Role == "owner" && r.Deceased
		heir = heir || (r.Role == "owner" || r.Role == "executor") && !r.Deceased
	}
	is := func(i Item, kind TaskKind) bool {
		return slices.ContainsFunc(c.Claims, func(k Claim) bool { return k.Task == kind && k.Cycle == i.Cycle })
	}
	works := dumb{Case: c, today: vehicle.DateOf(c.Now.UTC())}
	for _, i := range c.Vehicle.Items {
		if i.Campaign != nil {
			lost := works.stage(i) == Due && days(works.today, i.Campaign.Booked.AddDays(1)) == 0 && !is(i, NoContact)
			for _, r := range c.People {
				d := dumb{c, r, vehicle.DateOf(r.Local(c.Now))}
				_, furthest := d.told100(i)
				lost = lost && (r.Deceased || furthest < i.Campaign.Letter && !d.phoned(i) && d.way(i, Due) == "")
			}
			if lost {
				tasks["NO_CONTACT "+i.Cycle] = true
			}
			continue
		}
		silent := len(told) > 0 && !is(i, OwnerSilent)
		for _, d := range told {
			on := d.worksDay(i)
			silent = silent && !on.IsZero() && !d.today.Before(on) && !d.sleeps(i)
		}
		if silent {
			tasks["OWNER_SILENT "+i.Cycle] = true
		}
		if len(told) == 0 && !(wanted && !(estate && !heir)) && !c.Vehicle.LostTrack && !i.Reading && i.Year == 0 &&
			works.stage(i) != NoStage && works.answer(i.Cycle) == "" && !works.sleeps(i) && !is(i, NoContact) {
			tasks["NO_CONTACT "+i.Cycle] = true
		}
	}
	return tasks
}
