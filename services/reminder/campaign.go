package reminder

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Campaign is what an item is that stands for a letter about a safety campaign.
// Such an item has the campaign as its ID, the day of the letter as ActBy, and a
// round of its own: see CampaignCycle.
//
// Nobody opts out of it, no consent is asked for it and no limit counts it. It
// goes to everybody who is tied to the vehicle, whether or not service notices
// go to them: whoever drives it must know. A lay-up holds nothing up, and no
// answer about other work does. Only the hours of the recipient hold for it as
// for any message: one that comes at night is read in the morning too.
type Campaign struct {
	Round  int          // of the vehicle on the campaign's list: it grows when the remedy is found wrong
	Letter int          // of the round, from 1
	Next   vehicle.Date // when the next letter falls; zero for none
	// Booked is the day that a workshop has agreed; the letters wait until it has
	// passed. Zero for none.
	Booked   vehicle.Date
	Notified vehicle.Date // when the owner was last told by other means; zero for never
	Wrong    bool         // the remedy was carried out and found wrong
	Changed  bool         // a later version asks more than the one that was written about before
	Before   vehicle.Date // in a draft: when this person was last written to about the campaign; zero for never

	StopUse     bool   // it is not to be driven before the remedy
	Sample      bool   // the bulletin is a sample that nobody has signed
	Fault       string // what is wrong
	Consequence string // what can happen
	Meanwhile   string // what to do until it is put right
	Remedy      []Remedy
}

// Remedy is one piece of work of a campaign, which the works pays for.
type Remedy struct {
	Title, Caution string
	Minutes        int // 0 when not said
	Parts          []RemedyPart
	Tools          []string
}

// RemedyPart is a part that goes in.
type RemedyPart struct {
	Position, Number string
	Quantity         int
}

// campaignApart is the least time, in days, between two letters of one round to
// one person (common practice, no source): when a letter was late, the next one
// does not follow on its heels.
const campaignApart = 7

// CampaignCycle names a letter: "C-2026-02.1" is the first of the first round,
// "C-2026-02.1-2" the second. Each letter is told in one stage, Due, so that a
// claim of its name tells it once to each person, also of those that come back
// every year.
func CampaignCycle(id string, round, letter int) string {
	cycle := id + "." + strconv.Itoa(round)
	if letter > 1 {
		cycle += "-" + strconv.Itoa(letter)
	}
	return cycle
}

// letterOf gives which letter of an item's round a cycle names; 0 for another
// round, or none of the campaign's.
func (i Item) letterOf(cycle string) int {
	rest, ok := strings.CutPrefix(cycle, i.ID+"."+strconv.Itoa(i.Campaign.Round))
	if !ok {
		return 0
	}
	if rest == "" {
		return 1
	}
	n, err := strconv.Atoi(strings.TrimPrefix(rest, "-"))
	if err != nil || n < 2 || rest[0] != '-' {
		return 0
	}
	return n
}

// Purpose gives what somebody is written to for about the item.
func (i Item) Purpose() Purpose {
	switch {
	case i.Campaign != nil:
		return Safety
	case i.Handout != nil:
		return Handbook
	case i.Matter != nil:
		return i.Matter.purpose()
	case i.Year != 0:
		return YearLetter
	}
	return Service
}

// held reports whether the letters wait for a day that a workshop has agreed.
func (c Campaign) held(today vehicle.Date) bool {
	return !c.Booked.IsZero() && !today.After(c.Booked)
}

// toldOtherwise reports whether the works told a person by other means since the
// letter's day. What was said to somebody who had the vehicle before does not
// reach whoever has it now.
func (i Item) toldOtherwise(r Recipient) bool {
	on := i.Campaign.Notified
	return !on.IsZero() && !on.Before(i.ActBy) && !on.Before(r.Since)
}

// over reports whether a letter is not to go out any more, or not now: what it
// asks for is done or called off, another letter's day has come, a day is
// agreed, or its person was told.
func (c Case) over(cycle string, to Recipient, today vehicle.Date) bool {
	at := slices.IndexFunc(c.Vehicle.Items, func(i Item) bool { return i.Cycle == cycle && i.Campaign != nil })
	return at < 0 || c.Vehicle.Items[at].Campaign.held(today) || c.Vehicle.Items[at].toldOtherwise(to)
}

// letters gives the messages about campaigns, one for each: a letter about a
// campaign speaks of nothing else. What must not be driven comes first.
func (v view) letters() []Draft {
	if _, ok := v.Allowed(v.to, Safety); !ok {
		return nil
	}
	told := v.Vehicle
	told.Items = nil
	var drafts []Draft
	for _, item := range v.Vehicle.Items {
		line := Line{item, v.stage(item)}
		if item.Campaign == nil || v.blocked(line) != "" {
			continue
		}
		campaign := *item.Campaign
		campaign.Before = v.wroteLast(item)
		line.Item.Campaign = &campaign
		drafts = append(drafts, Draft{
			Vehicle: told, To: v.to, Channel: v.channel(line, Safety), Stage: line.Stage, Lines: []Line{line}, Purpose: Safety,
		})
	}
	slices.SortStableFunc(drafts, func(a, b Draft) int { return cmp.Compare(stopsUse(b), stopsUse(a)) })
	return drafts
}

func stopsUse(d Draft) int {
	if d.Lines[0].Item.Campaign.StopUse {
		return 1
	}
	return 0
}

// unwritten gives the reason why a letter is not to go out today, one of the
// Reason constants; "" when it is.
func (v view) unwritten(line Line) string {
	furthest, last := v.wrote(line.Item)
	switch {
	case line.Item.Campaign.held(v.today):
		return IsBooked
	case furthest >= line.Item.Campaign.Letter, line.Stage != NoStage && line.Item.toldOtherwise(v.to):
		return Told
	case line.Stage == NoStage:
		return NotYet
	case !last.IsZero() && last.DaysUntil(v.today) < campaignApart:
		return TooSoonAfter
	case v.channel(line, Safety) == "":
		return NoWay
	}
	return ""
}

// wrote gives the furthest letter of a round that the person was told, 0 for
// none, and the day of the last one.
func (v view) wrote(i Item) (furthest int, last vehicle.Date) {
	for cycle, t := range v.told {
		if n := i.letterOf(cycle); n > 0 {
			furthest = max(furthest, n)
			if t.day.After(last) {
				last = t.day
			}
		}
	}
	return furthest, last
}

// wroteLast gives the day on which the person was last written to about the
// campaign, in whatever round; zero for never. What could not be delivered was
// not read.
func (v view) wroteLast(i Item) vehicle.Date {
	var last vehicle.Date
	for cycle, t := range v.told {
		if strings.HasPrefix(cycle, i.ID+".") && t.claim.State != Parked && t.day.After(last) {
			last = t.day
		}
	}
	return last
}

// nextLetter gives the day on which the person is written to next, by what is
// known today; zero for never.
func (v view) nextLetter(i Item) vehicle.Date {
	_, last := v.wrote(i)
	var days []vehicle.Date
	for _, day := range []vehicle.Date{i.ActBy, i.Campaign.Booked.AddDays(1), last.AddDays(campaignApart)} {
		if w := v.on(day); day.After(v.today) && w.blocked(Line{i, w.stage(i)}) == "" {
			days = append(days, day)
		}
	}
	if len(days) > 0 {
		return slices.MinFunc(days, vehicle.Date.Compare)
	}
	next := i.Campaign.Next
	if next.IsZero() {
		return next
	}
	for _, day := range []vehicle.Date{i.Campaign.Booked.AddDays(1), last.AddDays(campaignApart)} {
		if day.After(next) {
			next = day
		}
	}
	return next
}

// letterSentence says what becomes of a letter, in plain English.
func (v view) letterSentence(i Item, reason string, next vehicle.Date) string {
	last := v.told[i.Cycle]
	switch reason {
	case Told:
		text := "The owner was told by other means."
		if last.stage != NoStage {
			text = "The letter about the campaign went out " + last.claim.Channel.by() + " on " + last.day.Long() + "."
		} else if furthest, day := v.wrote(i); furthest >= i.Campaign.Letter {
			text = "A later letter about the campaign went out on " + day.Long() + "."
		}
		return after(text, "The next one is to go out on ", next)
	case NotYet:
		return after("It is not time yet for the letter about the campaign.", "It goes out on ", next)
	case TooSoonAfter:
		_, day := v.wrote(i)
		return after("The last letter about the campaign went out only on "+day.Long()+".", "The next one may go from ", next)
	case IsBooked:
		return after("The remedy is booked for "+i.Campaign.Booked.Long()+".", "Without it, the letters go on from ", next)
	case WaitingToSend:
		return "The letter about the campaign waits to be sent since " + last.day.Long() + "."
	case LetterToPrint:
		return "The letter about the campaign waits to be printed and posted since " + last.day.Long() + "."
	case IsParked:
		return after("The letter about the campaign could not be delivered; the works has a task.", "The next one is to go out on ", next)
	case NoWay:
		text := "There is no way left by which the letter about the campaign can reach the recipient."
		if v.worksTold(i) {
			text += " The works has a task."
		}
		return after(text, "The next one is to go out on ", next)
	case Nobody:
		text := "Nobody is recorded who could be written to about the campaign; the vehicle stays on its list."
		if v.worksTold(i) {
			text += " The works has a task."
		}
		return text
	}
	return v.commonSentence(reason)
}

// nobodyWritten gives the task that is due when nobody can be written to about a
// campaign: once for each letter. That the works looked for an owner in vain
// before, or that the vehicle left the country, is no reason not to look again.
func nobodyWritten(c Case) (TaskDraft, bool) {
	if c.Vehicle.Scrapped {
		return TaskDraft{}, false
	}
	today := vehicle.DateOf(c.Now.UTC())
	items := untasked(c, NoContact, func(i Item) bool {
		return i.Campaign != nil && c.Vehicle.StageOn(i, today, c.Cadences) != NoStage && !i.Campaign.held(today) && !c.heard(i)
	})
	return taskDraft(c, NoContact, items, "Nobody can be written to about a safety campaign for %s: %s. "+
		"Find out who has the vehicle now, telephone whoever is recorded, and record an address. It stays on the list of the campaign.")
}

// heard reports whether somebody was told of a letter, or can be.
func (c Case) heard(i Item) bool {
	return slices.ContainsFunc(c.People, func(r Recipient) bool {
		if _, ok := c.Allowed(r, Safety); !ok {
			return false
		}
		v := c.viewOf(r)
		furthest, _ := v.wrote(i)
		return furthest >= i.Campaign.Letter || i.toldOtherwise(r) || v.channel(Line{i, Due}, Safety) != ""
	})
}
