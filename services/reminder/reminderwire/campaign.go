package reminderwire

import (
	"slices"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// OpenStates are where a vehicle of a campaign stands that is not settled. Of
// which of them letters go out, and when, the bulletins say: who refused, or
// took the vehicle abroad, is written to where somebody can be hurt.
func OpenStates() []bulletinv1.FollowUpState {
	return []bulletinv1.FollowUpState{
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED,
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG,
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_REFUSED,
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_EXPORTED,
	}
}

// FollowUpOf reads the vehicle and the campaign of a follow-up.
func FollowUpOf(f *bulletinv1.FollowUp) (serial vehicle.Serial, campaign string, err error) {
	serial, ids, err := resname.Serial("name", "vehicles/{serial}/followUps/{follow_up}", f.GetName())
	if err != nil {
		return "", "", err
	}
	if strings.Contains(ids[0], ".") { // what parts the name of a letter
		return serial, "", fault.InvalidField("name", f.GetName(), "a campaign without a full stop in its identifier")
	}
	return serial, ids[0], nil
}

// Campaign reads a vehicle of a campaign as its letter: the last one whose day
// has come on a day, or else the first. b is the version that holds; false when
// there is no letter to write, now or later.
func Campaign(f *bulletinv1.FollowUp, b *bulletinv1.Bulletin, on vehicle.Date) (reminder.Item, bool, error) {
	_, id, err := FollowUpOf(f)
	if err != nil {
		return reminder.Item{}, false, err
	}
	r := reader{}
	c := campaignOf(b)
	c.Round, c.Booked = int(f.GetRound()), r.date("booked_date", f.GetBookedDate())
	c.StopUse = c.StopUse || f.GetStopUse()
	for _, s := range f.GetSteps() {
		switch s.GetKind() {
		case bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED:
			if day := r.date("steps.step_date", s.GetStepDate()); day.After(c.Notified) {
				c.Notified = day
			}
		case bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG:
			c.Wrong, c.Changed, c.Notified = true, false, vehicle.Date{} // also when it is booked anew
		case bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED:
			c.Wrong, c.Changed = false, false
			if s.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED {
				c.Notified = vehicle.Date{}
			}
		case bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NEW_VERSION:
			c.Changed, c.Notified = true, vehicle.Date{} // of what was said before it is new
		}
	}
	i := reminder.Item{ID: id, Title: b.GetTitle(), Caution: b.GetCaution(), Class: reminder.Vital, Campaign: &c, Began: r.date("enter_date", f.GetEnterDate())}
	first := firstLetter(f)
	for n, p := range f.GetLetterDates() {
		day := r.date("letter_dates", p)
		if n > 0 && day.After(on) {
			c.Next = day
			break
		}
		c.Letter, i.ActBy = first+n, day
	}
	if c.Round < 1 {
		r.keep("round", fault.InvalidField("round", strconv.Itoa(c.Round), "1 or more"))
	}
	i.Cycle = reminder.CampaignCycle(id, c.Round, c.Letter)
	i.Sentence = "The campaign " + id + " is open for this vehicle; this is letter " + strconv.Itoa(c.Letter) + " of round " + strconv.Itoa(c.Round) + "."
	return i, c.Letter > 0, r.err
}

// Ownerless reads a vehicle of a campaign of which nobody knows whose it is;
// false for any other.
func Ownerless(f *bulletinv1.FollowUp, b *bulletinv1.Bulletin) (reminder.Ownerless, bool) {
	serial, id, err := FollowUpOf(f)
	r := reader{}
	o := reminder.Ownerless{Serial: serial, Campaign: id, Title: b.GetTitle(), StopUse: b.GetStopUse(), Since: r.date("since_date", f.GetSinceDate())}
	return o, err == nil && r.err == nil && f.GetState() == bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN
}

// firstLetter gives the number of the first letter that has a date. It is not
// always 1: who refused is written to by the letters that repeat alone.
func firstLetter(f *bulletinv1.FollowUp) int {
	at := slices.IndexFunc(f.GetLetterDates(), func(d *date.Date) bool { return proto.Equal(d, f.GetLetter().GetLetterDate()) })
	if at < 0 {
		return 1
	}
	return max(1, int(f.GetLetter().GetNumber())-at)
}

// campaignOf reads what a bulletin says.
func campaignOf(b *bulletinv1.Bulletin) reminder.Campaign {
	c := reminder.Campaign{
		StopUse: b.GetStopUse(), Sample: b.GetSample(),
		Fault: b.GetFault(), Consequence: b.GetConsequence(), Meanwhile: b.GetMeanwhile(),
	}
	for _, p := range b.GetRemedy() {
		remedy := reminder.Remedy{Title: p.GetTitle(), Caution: p.GetCaution(), Minutes: int(p.GetMinutes()), Tools: p.GetTools()}
		for _, part := range p.GetParts() {
			remedy.Parts = append(remedy.Parts, reminder.RemedyPart{Position: part.GetPosition(), Number: part.GetPart(), Quantity: int(part.GetQuantity())})
		}
		c.Remedy = append(c.Remedy, remedy)
	}
	return c
}
