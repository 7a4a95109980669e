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
	Failed  bool // it did not arrive, and another channel may tell the stage
}

// Case is all that a decision about one vehicle rests on.
type Case struct {
	Vehicle   Vehicle
	Receivers []Recipient // see Receivers
	Nobody    bool        // see Receivers
	NoAddress []string    // see WithoutAddress
	Claims    []Claim     // of this vehicle
	Answers   []Answer    // about this vehicle, withdrawn ones left out
	Cadences  Cadences
	Recent    map[string][]time.Time // by person: when service messages went to them in the last 30 days, over all vehicles
	OptOuts   map[string]bool        // by person: who wants no service notices about this vehicle
	Now       time.Time
}

// Draft is a notice to be: claimed, rendered and sent by the job.
type Draft struct {
	Vehicle Vehicle // without its items; the lines have them
	To      Recipient
	Channel Channel
	Stage   Stage // the leading line's
	Lines   []Line
	Purpose Purpose // 0 is Service
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
// one draft for each receiver, and never one for a stage that is claimed.
func Select(c Case) Plan {
	var plan Plan
	for _, r := range c.Receivers {
		d, ok := draft(c, r)
		switch {
		case !ok:
		case r.Reachable(c.Now):
			plan.Drafts = append(plan.Drafts, d)
		default:
			plan.Held = append(plan.Held, d)
		}
	}
	if t, ok := noContact(c); ok {
		plan.Tasks = append(plan.Tasks, t)
	}
	if t, ok := ownerSilent(c); ok {
		plan.Tasks = append(plan.Tasks, t)
	}
	return plan
}

// draft gathers what one person is to be told now: every item that asks for
// it, and the items of the same visit as the leading one.
func draft(c Case, r Recipient) (Draft, bool) {
	today := vehicle.DateOf(r.Local(c.Now))
	told := toldTo(c.Claims, r)
	var asking, rest []Line
	for _, item := range c.Vehicle.Items {
		line := Line{item, item.StageOn(today)}
		if told.allows(line, today) {
			asking = append(asking, line)
		} else if !item.OwnerCheck && !item.Reading && !item.ActBy.IsZero() {
			rest = append(rest, line)
		}
	}
	if len(asking) == 0 {
		return Draft{}, false
	}
	lead := slices.MinFunc(asking, byLead)
	lines := asking
	if lead.Item.Reading {
		rest = nil // there is no visit
	}
	for _, line := range rest {
		line.Stage = together(lead, line, today)
		if sameVisit(lead, line) && told.allows(line, today) {
			lines = append(lines, line)
		}
	}
	for i, line := range lines {
		if sameVisit(lead, line) && !line.Item.Reading {
			lines[i].Stage = together(lead, line, today)
		}
	}
	slices.SortFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(isLead(b, lead), isLead(a, lead)), byDay(a, b))
	})
	lines = lines[:min(len(lines), mostLines)]
	v := c.Vehicle
	v.Items = nil
	return Draft{Vehicle: v, To: r, Channel: Mail, Stage: lead.Stage, Lines: lines}, true
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

// together gives the stage of a line that goes along with the leading one:
// that of the visit, so that the visit's items stay together in later notices
// too. But nothing is called overdue before its own day has passed.
func together(lead, line Line, today vehicle.Date) Stage {
	stage := max(lead.Stage, line.Stage)
	if stage == Overdue && !line.Item.ActBy.Before(today) {
		return Due
	}
	return stage
}

// told is the furthest stage told of each round, and the day it was.
type told map[string]struct {
	stage Stage
	day   vehicle.Date
}

// toldTo looks up what one person was told.
func toldTo(claims []Claim, r Recipient) told {
	t := told{}
	for _, c := range claims {
		if c.Task != "" || c.Person != r.Person || c.Channel != Mail {
			continue
		}
		last := t[c.Cycle]
		if day := vehicle.DateOf(r.Local(c.Time)); day.After(last.day) {
			last.day = day
		}
		last.stage = max(last.stage, c.Stage)
		t[c.Cycle] = last
	}
	return t
}

// allows reports whether the line may be told today: it is a further stage
// than any told, and the last notice lies long enough back. A reading is asked
// for no sooner after another request for one than readAgain.
func (t told) allows(line Line, today vehicle.Date) bool {
	if line.Item.Reading {
		for cycle, last := range t {
			if strings.HasPrefix(cycle, line.Item.ID+".") && last.day.DaysUntil(today) < readAgain {
				return false
			}
		}
	}
	last, before := t[line.Item.Cycle]
	return line.Stage > last.stage && (!before || last.day.DaysUntil(today) >= apart)
}
