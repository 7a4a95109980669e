package reminder

import (
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// view is a case as one person sees it: on the day of their calendar, with what
// they were told.
type view struct {
	Case
	to    Recipient
	today vehicle.Date
	told  map[string]told // by round
}

// told is how far the telling of one round to one person has gone. What failed
// does not count.
type told struct {
	stage Stage
	day   vehicle.Date // of the last notice
	late  vehicle.Date // of the first overdue notice
	claim Claim        // of that stage
}

// viewOf looks up what one person was told, by whatever channel.
func (c Case) viewOf(r Recipient) view {
	v := view{Case: c, to: r, today: vehicle.DateOf(r.Local(c.Now)), told: map[string]told{}}
	for _, claim := range c.Claims {
		if claim.Task != "" || claim.Person != r.Person || claim.Failed {
			continue
		}
		last := v.told[claim.Cycle]
		day := vehicle.DateOf(r.Local(claim.Time))
		if claim.Stage > last.claim.Stage || claim.Stage == last.claim.Stage && !claim.Time.Before(last.claim.Time) {
			last.claim = claim
		}
		if day.After(last.day) {
			last.day = day
		}
		if claim.Stage >= Overdue && (last.late.IsZero() || day.Before(last.late)) {
			last.late = day
		}
		last.stage = max(last.stage, claim.Stage)
		v.told[claim.Cycle] = last
	}
	return v
}

// on gives the view on another day.
func (v view) on(day vehicle.Date) view {
	v.today = day
	return v
}

// stage gives the stage that an item has come to for the person: what the
// calendar says, but no second overdue notice before the first one, nor before
// the cadence's days after it.
func (v view) stage(i Item) Stage {
	stage := v.Vehicle.StageOn(i, v.today, v.Cadences)
	if stage < Overdue {
		return stage
	}
	return v.late(i)
}

// late gives the stage of an item that is overdue.
func (v view) late(i Item) Stage {
	cadence, last := v.Cadences.Of(i.Class), v.told[i.Cycle]
	if cadence.SecondOverdue > 0 && !last.late.IsZero() && last.late.DaysUntil(v.today) >= cadence.SecondOverdue {
		return SecondOverdue
	}
	return Overdue
}

// along gives a line in the stage in which it goes along with the leading one:
// that of the visit, so that the visit's items stay together in later notices
// too. But nothing is called overdue before its own day has passed, and
// nothing a last time before its own time for that, unless it was first called
// overdue together with the leading one. What is not of the visit keeps its own
// stage.
func (v view) along(lead, line Line) Line {
	if line.Item.Reading || line.Item.Year != 0 || !sameVisit(lead, line) || line.Stage >= lead.Stage {
		return line
	}
	line.Stage = lead.Stage
	if line.Stage >= Overdue {
		line.Stage = min(v.late(line.Item), lead.Stage)
		if late := v.told[line.Item.Cycle].late; lead.Stage == SecondOverdue && !late.IsZero() &&
			late == v.told[lead.Item.Cycle].late && v.Cadences.Of(line.Item.Class).SecondOverdue > 0 {
			line.Stage = SecondOverdue
		}
		if !line.Item.ActBy.Before(v.today) {
			line.Stage = Due
		}
	}
	return line
}

// blocked gives the reason why a line is not to be told today, one of the
// Reason constants; "" when it is. Limit and hours are not its concern.
func (v view) blocked(line Line) string {
	if line.Item.Campaign != nil {
		return v.unwritten(line)
	}
	if a := v.answered(line.Item.Cycle, v.today); a != nil {
		return map[AnswerKind]string{Booked: IsBooked, Snoozed: IsSnoozed, Done: IsSaidDone}[a.Kind]
	}
	last := v.told[line.Item.Cycle]
	switch {
	case line.Stage == NoStage && last.stage == NoStage, v.Vehicle.asleep(line.Item, v.today) && line.Stage > last.stage:
		return NotYet
	case line.Stage <= last.stage:
		return Told
	case last.waits():
		return last.waiting()
	case v.tooSoon(line):
		return TooSoonAfter
	case v.channel(line, line.Item.Purpose()) == "":
		return NoWay
	}
	return ""
}

// companion reports whether a line that did not ask may go along in its stage.
// The message goes out anyway, so the leading line's distance between notices
// is enough where it is the shorter: one visit is told in one message, whatever
// the classes of its items.
func (v view) companion(lead, line Line) bool {
	apart := min(v.Cadences.Of(lead.Item.Class).Apart, v.Cadences.Of(line.Item.Class).Apart)
	return v.answered(line.Item.Cycle, v.today) == nil && line.Stage > v.told[line.Item.Cycle].stage &&
		!v.told[line.Item.Cycle].waits() && !v.within(line, apart)
}

// waits reports whether the last notice about a round is still to be sent: the
// next one must not go out beside it.
func (t told) waits() bool { return t.claim.State == Claimed || t.claim.State == Waiting }

func (t told) waiting() string {
	if t.claim.Channel == Letter {
		return LetterToPrint
	}
	return WaitingToSend
}

// tooSoon reports whether the last notice about the round lies too short a time
// back, or for a reading the last request for any.
func (v view) tooSoon(line Line) bool {
	if line.Item.Reading {
		for cycle, last := range v.told {
			if strings.HasPrefix(cycle, line.Item.ID+".") && last.day.DaysUntil(v.today) < readAgain {
				return true
			}
		}
	}
	return v.within(line, v.Cadences.Of(line.Item.Class).Apart)
}

// within reports whether the round was last told fewer days ago.
func (v view) within(line Line, days int) bool {
	last, before := v.told[line.Item.Cycle]
	return before && last.day.DaysUntil(v.today) < days
}

// channel gives the channel by which a line is to be told: the first of the
// person's ways that has not failed for its round and stage; "" for none.
func (v view) channel(line Line, p Purpose) Channel {
	for _, way := range v.to.waysFor(p) {
		if v.open(line, way) {
			return way
		}
	}
	return ""
}

// open reports whether a channel has not failed for the line.
func (v view) open(line Line, way Channel) bool {
	return !failed(v.Claims, v.to.Person, line.Item.Cycle, line.Stage, way)
}

// failed reports whether the telling of a stage by a channel failed.
func failed(claims []Claim, person, cycle string, stage Stage, way Channel) bool {
	return slices.ContainsFunc(claims, func(c Claim) bool {
		return c.Failed && c.Task == "" && c.Person == person && c.Cycle == cycle && c.Stage == stage && c.Channel == way
	})
}

// answered gives the answer that silences a round for the longest; nil for
// none.
func (c Case) answered(cycle string, today vehicle.Date) *Answer {
	var longest *Answer
	for n := range c.Answers {
		a := &c.Answers[n]
		if !a.Silences(cycle, today) {
			continue
		}
		if longest == nil || !longest.Until().IsZero() && (a.Until().IsZero() || a.Until().After(longest.Until())) {
			longest = a
		}
	}
	return longest
}
