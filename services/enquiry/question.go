package enquiry

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// Ask is something to ask the caller, and why.
type Ask struct {
	Text string
	Why  vehicle.Reason
}

// longUnread is how many months without a reading make one worth asking for:
// common practice, no source.
const longUnread = 12

// Questions gives what to ask the caller while they are on the telephone, the
// most useful first: what keeps people safe, then what changes a date, then
// what mends the record.
func (c Circumstances) Questions() []Ask {
	if c.Standing == Scrapped {
		return nil // there is nothing left to ask about
	}
	var out []Ask
	out = append(out, c.campaignQuestions()...)
	out = append(out, c.readingQuestions()...)
	out = append(out, c.followUpQuestions()...)
	out = append(out, c.peopleQuestions()...)
	if c.CoverAsk != "" {
		out = append(out, ask(c.CoverAsk, "COVER_UNKNOWN", c.CoverName, "Whether it is under warranty hangs on this."))
	}
	if !c.KnowsUse {
		out = append(out, ask("How is it used: near the sea, on dust, wading, towing, short trips, in some months only?",
			"USE_UNKNOWN", "", "No use was ever declared, so that the schedule takes it for ordinary."))
	}
	return out
}

// ask makes a question with its reason.
func ask(text, rule, record, why string, facts ...vehicle.Fact) Ask {
	return Ask{text, vehicle.Reason{Rule: rule, Facts: facts, Record: record, Sentence: why}}
}

func (c Circumstances) campaignQuestions() []Ask {
	var out []Ask
	for _, b := range c.Campaigns {
		if b.StopUse {
			out = append(out, ask("Is it standing still, and where?", "STOP_USE", b.Name,
				b.ID+" says that it must not be driven: "+b.Title+".", vehicle.Fact{Name: "bulletin", Value: b.ID}))
		}
	}
	for _, b := range c.Campaigns {
		if b.Open && !b.Booked && !b.Advice {
			out = append(out, ask("When can it come in for "+b.ID+"?", "CAMPAIGN_NOT_BOOKED", b.Name,
				"The campaign "+b.ID+" is open and no day is agreed: "+b.Title+".", vehicle.Fact{Name: "bulletin", Value: b.ID}))
		}
	}
	return out
}

func (c Circumstances) readingQuestions() []Ask {
	var out []Ask
	for _, d := range c.Doubtful {
		why := fmt.Sprintf("The reading of %s, %s, is in doubt", d.Date.Long(), d.Value.Text())
		if len(d.Says) > 0 {
			why += ": " + strings.TrimSuffix(d.Says[0], ".")
		}
		out = append(out, ask("What does the odometer show now, digit by digit, and were the tenths among them?", "READING_DOUBTFUL", d.Name, why+".",
			vehicle.Fact{Name: "reading_date", Value: d.Date.String()}, vehicle.Fact{Name: "value", Value: d.Value.String()}))
	}
	switch {
	case len(out) > 0 || !c.KnowsReads: // asked already, or nobody knows
	case c.ReadingAsk != nil:
		why := *c.ReadingAsk
		out = append(out, Ask{"What does the odometer show today?", why})
	case c.LastReading.IsZero():
		out = append(out, ask("What does the odometer show today?", "NO_READING", "", "There is no reading that counts."))
	case c.LastReading.AddMonths(longUnread).Before(c.Today):
		out = append(out, ask("What does the odometer show today?", "NO_READING_FOR_LONG", "",
			"The last reading that counts is of "+c.LastReading.Long()+".", vehicle.Fact{Name: "reading_date", Value: c.LastReading.String()}))
	}
	return out
}

func (c Circumstances) followUpQuestions() []Ask {
	var out []Ask
	for _, f := range c.FollowUps {
		if f.Day.After(c.Today) {
			continue
		}
		about := f.Symptom
		if about == "" {
			about = "what was asked"
		}
		out = append(out, ask("What came of it: "+about+"?", "FOLLOW_UP_DUE", f.Name,
			"The works was to come back to it by "+f.Day.Long()+".", vehicle.Fact{Name: "follow_up_date", Value: f.Day.String()}))
	}
	return out
}

func (c Circumstances) peopleQuestions() []Ask {
	if !c.KnowsTies {
		return nil
	}
	if !c.Tied {
		return []Ask{ask("Whose is it now, and since when?", "NO_OWNER", "", "Nobody is tied to it today.")}
	}
	var out []Ask
	for _, p := range c.People {
		switch {
		case !p.Deceased.IsZero():
			out = append(out, ask("Who speaks for the estate?", "OWNER_DECEASED", p.Name, "The "+p.Role+" on record died on "+p.Deceased.Long()+"."))
		case p.Ways == 0:
			out = append(out, ask("By what address or number can the "+p.Role+" be reached?", "NO_WAY", p.Name,
				"There is no way to reach the "+p.Role+": none is on record, or what was sent came back."))
		}
	}
	return out
}
