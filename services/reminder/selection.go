package reminder

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// Claim says that one stage of one round has been told, or is being told, to
// one person by one channel; or, with Task set, that the works has been told
// of the round.
type Claim struct {
	Cycle   string
	Stage   Stage
	Channel Channel
	Person  string
	Task    TaskKind // "" for a notice
	Time    time.Time
	Failed  bool   // it did not arrive, and another channel may tell the stage
	Notice  string // identifier of the notice it belongs to; "" when not known
	State   State  // that notice's, where it is not sent yet or parked; 0 is Sent
}

// Case is all that a decision about one vehicle rests on.
type Case struct {
	Vehicle  Vehicle
	People   []Recipient // see Tied
	Claims   []Claim     // of this vehicle
	Answers  []Answer    // about this vehicle; withdrawn ones do not matter
	Cadences Cadences
	Recent   map[string][]time.Time // by person: when service notices to them went out in the last 30 days, over all vehicles; what is still under way counts as of now, and those that failed are left out
	OptOuts  map[string]bool        // by person: who wants no service notices about this vehicle
	NoYear   map[string]bool        // by person: who wants no letter at the year's end about it
	Unasked  bool                   // which campaigns are open for the vehicle could not be asked: Vehicle has none, and nothing follows from that
	Now      time.Time
}

// Draft is a notice to be: claimed, rendered and sent by the job.
type Draft struct {
	Vehicle Vehicle // without its items; the lines have them
	To      Recipient
	Channel Channel
	Stage   Stage // the leading line's
	Lines   []Line
	Purpose Purpose // 0 is Service
	Season  Season  // the leading line's: in the words of which season it is told
}

// SeasonKind says which season a message belongs to.
type SeasonKind int

// The seasons.
const (
	NoSeason        SeasonKind = iota
	PuttingAway                // work to do before a lay-up begins
	Recommissioning            // work to do when it ends
)

// Season is a season with its day: the first day of the lay-up, or the day on
// which the vehicle is brought back.
type Season struct {
	Kind SeasonKind
	Day  vehicle.Date
}

// mostLines bounds a draft, so that its claims fit one transaction and its
// message the store; what is left over is told by the next pass. At three to
// four kilobytes a line, text and HTML together, forty lines stay below the
// 200 KiB that can be sealed.
const mostLines = 40

// Line is one item of a draft.
type Line struct {
	Item  Item
	Stage Stage
}

// Plan is what is to be done about one vehicle now.
type Plan struct {
	Drafts []Draft
	Held   []Draft // would be, were it not outside the recipient's hours
	Tasks  []TaskDraft
	Lines  []Pending // every item that comes up, for every person, and what becomes of it
}

// Select decides what is to be told about one vehicle now. It gives at most
// one draft of each purpose for each receiver, of safety one for each campaign,
// never one for a stage that was told and may have arrived, and in Lines, for
// each person and each item that comes up, what becomes of it.
func Select(c Case) Plan {
	var plan Plan
	c.Claims = c.current()
	for _, r := range c.People {
		v := c.viewOf(r)
		drafts := v.letters()
		for _, purpose := range []Purpose{Service, YearLetter} {
			if d, ok := v.draft(purpose); ok {
				drafts = append(drafts, d)
			}
		}
		for _, d := range drafts {
			if r.Reachable(c.Now) || d.Channel == Letter { // nobody is woken by a letter
				plan.Drafts = append(plan.Drafts, d)
			} else {
				plan.Held = append(plan.Held, d)
			}
		}
	}
	plan.Lines = c.explain(plan)
	for _, task := range []func(Case) (TaskDraft, bool){nobodyWritten, noContact, ownerSilent} {
		if t, ok := task(c); ok {
			plan.Tasks = append(plan.Tasks, t)
		}
	}
	return plan
}

// current gives the claims of the rounds that the vehicle is in, of any request
// for a reading, and of any letter about a campaign that is open: those of other
// rounds decide nothing, and after twenty years they are many.
func (c Case) current() []Claim {
	rounds := make(map[string]bool, len(c.Vehicle.Items))
	var whole []string // what the names of all rounds of an item begin with
	for i := range c.Vehicle.Items {
		rounds[c.Vehicle.Items[i].Cycle] = true
		if c.Vehicle.Items[i].Reading || c.Vehicle.Items[i].Campaign != nil {
			whole = append(whole, c.Vehicle.Items[i].ID+".")
		}
	}
	var claims []Claim
	for _, claim := range c.Claims {
		if rounds[claim.Cycle] || slices.ContainsFunc(whole, func(item string) bool { return strings.HasPrefix(claim.Cycle, item) }) {
			claims = append(claims, claim)
		}
	}
	return claims
}

// draft gathers what one person is to be told now: every item that asks for
// it, and the items of the same visit as the leading one.
func (v view) draft(purpose Purpose) (Draft, bool) {
	if _, ok := v.Allowed(v.to, purpose); !ok {
		return Draft{}, false
	}
	asking, rest := v.asking(purpose)
	if len(asking) == 0 || purpose == Service && v.overLimit(asking) {
		return Draft{}, false
	}
	lead := slices.MinFunc(asking, byLead)
	channel := v.channel(lead, purpose)
	var lines []Line
	for _, own := range asking {
		for _, line := range []Line{v.along(lead, own), own} {
			if v.open(line, channel) {
				lines = append(lines, line)
				break
			}
		}
	}
	if !lead.Item.Reading && purpose == Service { // else there is no visit
		for _, line := range rest {
			line = v.along(lead, line)
			if sameVisit(lead, line) && v.companion(lead, line) && v.open(line, channel) {
				lines = append(lines, line)
			}
		}
	}
	slices.SortFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(isLead(b, lead), isLead(a, lead)), byDay(a, b))
	})
	lines = lines[:min(len(lines), mostLines)]
	told := v.Vehicle
	told.Items = nil
	return Draft{
		Vehicle: told, To: v.to, Channel: channel, Stage: lead.Stage, Lines: lines,
		Purpose: purpose, Season: v.Vehicle.SeasonOf(lead.Item),
	}, true
}

// asking gives the lines that ask to be told now, each in the stage it has come
// to, and the rest of the work.
func (v view) asking(purpose Purpose) (asking, rest []Line) {
	for _, item := range v.Vehicle.Items {
		if item.Purpose() != purpose || item.OwnerCheck || item.ActBy.IsZero() {
			continue
		}
		line := Line{item, v.stage(item)}
		if reason := v.blocked(line); reason == "" {
			asking = append(asking, line)
		} else if !item.Reading {
			rest = append(rest, line)
		}
	}
	return asking, rest
}

// overLimit reports whether the person had as many service messages of late as
// they are to have, and none of the lines is above that: what bears on safety
// and is due.
func (v view) overLimit(asking []Line) bool {
	return !v.limitEnds().IsZero() && !slices.ContainsFunc(asking, func(l Line) bool { return l.Item.Class == Vital && l.Stage >= Due })
}

// The limit on service messages to one person (common practice, no source).
const (
	usualMost   = 4
	limitWindow = 30 * 24 * time.Hour
)

// limitEnds gives the moment from which the person may have another service
// message; the zero time when they may have one now.
func (v view) limitEnds() time.Time {
	most := v.to.Most
	if most <= 0 {
		most = usualMost
	}
	var recent []time.Time
	for _, t := range v.Recent[v.to.Person] {
		if v.Now.Sub(t) < limitWindow {
			recent = append(recent, t)
		}
	}
	if len(recent) < most {
		return time.Time{}
	}
	slices.SortFunc(recent, time.Time.Compare)
	return recent[len(recent)-most].Add(limitWindow)
}

// byLead orders lines so that the first one leads: work before a request for
// a reading, which every message holds anyway; then the furthest stage, then
// the earliest day.
func byLead(a, b Line) int {
	return cmp.Or(asks(a)-asks(b), -cmp.Compare(a.Stage, b.Stage), byDay(a, b))
}

func asks(l Line) int {
	if l.Item.Reading {
		return 1
	}
	return 0
}

// OnlyAsks says whether there is no work to tell of: the draft asks for a
// reading and nothing else.
func (d Draft) OnlyAsks() bool { return len(d.Lines) > 0 && d.Lines[0].Item.Reading }

func byDay(a, b Line) int {
	return cmp.Or(a.Item.ActBy.Compare(b.Item.ActBy), cmp.Compare(a.Item.ID, b.Item.ID), cmp.Compare(a.Item.Cycle, b.Item.Cycle))
}

func isLead(a, lead Line) int {
	if a.Item.Cycle == lead.Item.Cycle {
		return 1
	}
	return 0
}

// sameVisit reports whether the line's day lies near enough to the leading
// one's.
func sameVisit(lead, line Line) bool {
	apart := lead.Item.ActBy.DaysUntil(line.Item.ActBy)
	return -visit <= apart && apart <= visit
}
