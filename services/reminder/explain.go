package reminder

import (
	"slices"

	"halfshaft/services/vehicle"
)

// explain says for every item that comes up within the horizon, and for every
// person whom it concerns, what becomes of it. Where it concerns nobody, it
// says that.
func (c Case) explain(plan Plan) []Pending {
	var lines []Pending
	for _, i := range c.Vehicle.Items {
		found := false
		for _, r := range c.People {
			if !r.Notices && (i.Year == 0 || !r.Yearly) && i.Campaign == nil {
				continue
			}
			found = true
			if v := c.viewOf(r); v.comesUp(i) {
				lines = append(lines, v.pending(i, plan))
			}
		}
		if v := c.viewOf(Recipient{}); !found && v.comesUp(i) {
			lines = append(lines, v.nobody(i))
		}
	}
	return lines
}

// comesUp reports whether an item is to be spoken of: its day lies within the
// horizon, and it is not an owner's own check or a letter whose time is over.
func (v view) comesUp(i Item) bool {
	return !i.OwnerCheck && !i.ActBy.IsZero() && v.today.DaysUntil(i.ActBy) <= Horizon &&
		(i.Year == 0 || i.ActBy.DaysUntil(v.today) <= YearDays)
}

// nobody says of an item that there is nobody to tell.
func (v view) nobody(i Item) Pending {
	p := Pending{Serial: v.Vehicle.Serial, Item: i, Stage: v.Vehicle.StageOn(i, v.today, v.Cadences), Reason: Nobody,
		Sentence: "Nobody is recorded whom service notices go to."}
	if v.Vehicle.Scrapped {
		p.Reason, p.Sentence = Scrapped, "The vehicle was scrapped: nothing is told of it any more."
	} else if i.Campaign != nil {
		p.Sentence = v.letterSentence(i, Nobody, vehicle.Date{})
	} else if v.worksTold(i) {
		p.Sentence += " The works has a task."
	}
	return p
}

// worksTold reports whether the works has a task about the round.
func (v view) worksTold(i Item) bool {
	return slices.ContainsFunc(v.Claims, func(c Claim) bool {
		return c.Cycle == i.Cycle && (c.Task == OwnerSilent || c.Task == NoContact)
	})
}

// pending says what becomes of an item for the person.
func (v view) pending(i Item, plan Plan) Pending {
	line := Line{i, v.stage(i)}
	p := Pending{Serial: v.Vehicle.Serial, Person: v.to.Person, Item: i, Stage: v.Vehicle.StageOn(i, v.today, v.Cadences)}
	purpose := i.Purpose()
	reason, ok := v.Allowed(v.to, purpose)
	last := v.told[i.Cycle]
	p.Notice = last.claim.Notice
	if now, found := draftOf(plan.Drafts, v.to.Person, i.Cycle); ok && found {
		p.Reason, p.Notice = Told, now.NoticeID(1)
		p.Sentence = "It is told now, " + now.Channel.by() + "."
		return p
	}
	if held, found := draftOf(plan.Held, v.to.Person, i.Cycle); ok && found {
		p.Reason, p.Next = OutsideHours, v.opens()
		p.Sentence = "It is told " + held.Channel.by() + " when the hours of the recipient come round."
		return p
	}
	if ok {
		if reason = v.blocked(line); reason == Told {
			reason = v.sofar(i, last)
		}
	}
	switch {
	case ok && len(v.to.waysFor(purpose)) == 0 && (reason == "" || reason == NotYet || reason == NoWay || reason == TooSoonAfter):
		reason = NoWay
		if purpose == Service && len(v.to.Unasked) > 0 {
			reason = NoConsent
		}
	case ok && reason == "" && !v.limitEnds().IsZero() && purpose == Service:
		reason, p.Next = MonthlyLimit, vehicle.DateOf(v.to.Local(v.limitEnds()))
	case ok && reason == "":
		reason, p.Next = WaitingToSend, v.today
	case ok:
		p.Next = v.next(i)
	}
	p.Reason, p.Sentence = reason, v.sentence(i, reason, p.Next)
	return p
}

func draftOf(drafts []Draft, person, cycle string) (Draft, bool) {
	at := slices.IndexFunc(drafts, func(d Draft) bool {
		return d.To.Person == person && slices.ContainsFunc(d.Lines, func(l Line) bool { return l.Item.Cycle == cycle })
	})
	if at < 0 {
		return Draft{}, false
	}
	return drafts[at], true
}

// sofar says where the telling of a round stands that is told as far as its
// time has come.
func (v view) sofar(i Item, last told) string {
	switch {
	case last.claim.State == Parked:
		return IsParked
	case last.waits():
		return last.waiting()
	case v.worksTold(i):
		return WorksTold
	}
	return Told
}

// opens gives the day on which the person's hours come round next.
func (v view) opens() vehicle.Date {
	hours := v.to.Hours
	if hours == (Hours{}) {
		hours = usualHours
	}
	if v.to.Local(v.Now).Hour() < hours.From {
		return v.today
	}
	return v.today.AddDays(1)
}

// next gives the next day on which the item asks to be told, by what is known
// today; failing that, the day on which the works is told that it was not done;
// zero when nothing changes by itself.
func (v view) next(i Item) vehicle.Date {
	if i.Campaign != nil {
		return v.nextLetter(i)
	}
	cadence, last := v.Cadences.Of(i.Class), v.told[i.Cycle]
	days := []vehicle.Date{i.ActBy.AddDays(-v.Vehicle.lead(i, v.Cadences)), i.ActBy, i.ActBy.AddDays(cadence.Overdue)}
	if !last.day.IsZero() {
		days = append(days, last.day.AddDays(cadence.Apart))
	}
	if !last.late.IsZero() {
		days = append(days, last.late.AddDays(cadence.SecondOverdue))
	}
	if !v.Vehicle.LayUpTo.IsZero() {
		days = append(days, v.Vehicle.LayUpTo.AddDays(1))
	}
	for _, a := range v.Answers {
		if until := a.Until(); !until.IsZero() && slices.Contains(a.Cycles, i.Cycle) {
			days = append(days, until)
		}
	}
	if i.Reading {
		for _, told := range v.told {
			days = append(days, told.day.AddDays(readAgain))
		}
	}
	slices.SortFunc(days, vehicle.Date.Compare)
	for _, day := range days {
		if w := v.on(day); day.After(v.today) && w.blocked(Line{i, w.stage(i)}) == "" {
			return day
		}
	}
	if from := v.worksFrom(i); from.After(v.today) && !v.worksTold(i) {
		return from
	}
	return vehicle.Date{}
}

// by and address are the channel in a sentence.
func (c Channel) by() string {
	switch c {
	case Text:
		return "by text message"
	case Letter:
		return "by letter"
	}
	return "by mail"
}

func (c Channel) address() string {
	switch c {
	case Text:
		return "telephone number"
	case Letter:
		return "postal address"
	}
	return "mail address"
}

// sentence says a reason in plain English, without the person's name.
func (v view) sentence(i Item, reason string, next vehicle.Date) string {
	if i.Campaign != nil {
		return v.letterSentence(i, reason, next)
	}
	last := v.told[i.Cycle]
	on := " on " + last.day.Long()
	answer := Answer{}
	if a := v.answered(i.Cycle, v.today); a != nil {
		answer = *a
	}
	switch reason {
	case Told:
		return after(last.stage.notice()+" went out "+last.claim.Channel.by()+on+".", "The next step is on ", next)
	case NotYet:
		if v.Vehicle.asleep(i, v.today) {
			return after("The vehicle is laid up, and this can wait.", "It is told from ", next)
		}
		return after("It is not time yet.", "It is told from ", next)
	case TooSoonAfter:
		if i.Reading && last.day.IsZero() {
			return after("A reading was asked for not long ago.", "It is asked for again from ", next)
		}
		return after(last.stage.notice()+" went out only"+on+".", "The next one may go from ", next)
	case MonthlyLimit:
		return after("The recipient had as many messages in 30 days as they are to have.", "It is told from ", next)
	case IsBooked:
		return after("It is booked for "+answer.Day.Long()+".", "Without the work, it is told again from ", next)
	case IsSnoozed:
		return after("It was put off until "+answer.Day.Long()+".", "It is told again from ", next)
	case IsSaidDone:
		return "It is said to be done since " + answer.Day.Long() + "; the works waits for the paper."
	case OptedOut:
		return "The recipient wants no such notices about this vehicle."
	case NoConsent:
		if v.to.Refused {
			return "The recipient said that they want no service notices, about no vehicle."
		}
		return "The recipient has not agreed to be written to for this, or not by any way that is left."
	case NoWay:
		return after("There is no way left by which this can reach the recipient.", "It is tried again from ", next)
	case WaitingToSend:
		if last.stage == NoStage || last.claim.State == 0 || last.claim.State == Sent {
			return "It goes with the next message."
		}
		return last.stage.notice() + " waits to be sent since " + last.day.Long() + "."
	case LetterToPrint:
		return last.stage.notice() + " waits to be printed and posted since " + last.day.Long() + "."
	case IsParked:
		return after(last.stage.notice()+" could not be delivered; the works has a task.", "The next step is on ", next)
	case WorksTold:
		return "Every notice went out and nothing was recorded; the works has a task."
	}
	return v.commonSentence(reason)
}

// commonSentence says what is said alike of work and of letters.
func (v view) commonSentence(reason string) string {
	switch reason {
	case Deceased:
		return "The recipient has died."
	case Scrapped:
		return "The vehicle was scrapped: nothing is told of it any more."
	}
	return "Nobody is recorded whom service notices go to."
}

// after adds to a sentence what comes next and when, if it does.
func after(sentence, then string, next vehicle.Date) string {
	if next.IsZero() {
		return sentence
	}
	return sentence + " " + then + next.Long() + "."
}

// notice is the stage's notice at the head of a sentence.
func (s Stage) notice() string {
	switch s {
	case Early:
		return "The early notice"
	case Due:
		return "The notice that it is due"
	case Overdue:
		return "The overdue notice"
	}
	return "The second overdue notice"
}
