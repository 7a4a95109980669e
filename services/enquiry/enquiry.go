package enquiry

import (
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Channel is how a question came. Its numbers are those of the API's
// enumeration.
type Channel uint8

// The channels.
const (
	NoChannel Channel = iota // not said: refused
	Telephone
	Mail
	Letter
	Text  // a text message
	Visit // in person
	channelsEnd
)

var channelNames = [...]string{"", "telephone", "mail", "letter", "text", "visit"}

func (c Channel) String() string {
	if c < channelsEnd {
		return channelNames[c]
	}
	return ""
}

// Asker is who asks. Its numbers are those of the API's enumeration.
type Asker uint8

// The askers.
const (
	NoAsker  Asker = iota // not said: refused
	Owner                 // owns it, or is tied to it
	Dealer                // a dealer
	Mechanic              // a mechanic who is no dealer
	Buyer                 // somebody who may buy it
	Works                 // somebody of the works
	Other                 // somebody else
	askersEnd
)

var askerNames = [...]string{"", "owner", "dealer", "mechanic", "buyer", "works", "other"}

func (a Asker) String() string {
	if a < askersEnd {
		return askerNames[a]
	}
	return ""
}

// Enquiry is a question that somebody asked about a vehicle, and its answers.
type Enquiry struct {
	Serial       vehicle.Serial
	ID           string
	Channel      Channel
	Asker        Asker
	Person       string   // identifier of the asker, "" for somebody who is not on record
	Organisation string   // identifier of the dealer, "" for none
	Question     string   // in the asker's words
	Positions    []string // none: the whole vehicle
	Symptom      string   // in the words of the trade, without names
	Release      string   // of the vehicle on the day it was asked
	Answers      []Answer // the oldest first
	FollowUp     vehicle.Date
	Closed       bool
	Asked        time.Time
	RecordedBy   string
	Created      time.Time
}

// Answer is an answer that was given.
type Answer struct {
	Text  string
	Links []string // names of the records that it rests on
	By    string
	At    time.Time
}

// OnRecord reports whether the asker is a person on record: their words are
// then sealed under their key, and gone when they are erased.
func (e Enquiry) OnRecord() bool { return e.Person != "" }

// Wordless gives the enquiry without the words of anybody: question, texts of
// answers, and who asked. What is left is the technical record.
func (e Enquiry) Wordless() Enquiry {
	e.Question, e.Person = "", ""
	texts := make([]Answer, len(e.Answers))
	for i, a := range e.Answers {
		a.Text = ""
		texts[i] = a
	}
	e.Answers = texts
	return e
}

// MinutesToAnswer is the time from the question to the first answer: each
// minute that has begun counts, so that an answer on the spot is 1. It is 0
// where nobody has answered.
func (e Enquiry) MinutesToAnswer() int {
	if len(e.Answers) == 0 {
		return 0
	}
	took := e.Answers[0].At.Sub(e.Asked)
	return max(1, int((took+time.Minute-1)/time.Minute))
}

// FollowUpDue reports whether the works was to come back to it by the day.
func (e Enquiry) FollowUpDue(day vehicle.Date) bool {
	return !e.Closed && !e.FollowUp.IsZero() && !e.FollowUp.After(day)
}

// Answered gives the enquiry with one more answer. A later day to come back on
// takes the place of the earlier one; closing takes it away.
func (e Enquiry) Answered(a Answer, closes bool, followUp vehicle.Date) (Enquiry, error) {
	switch {
	case e.Closed:
		return e, fault.New(fault.FailedPrecondition, "ENQUIRY_CLOSED",
			"The enquiry %s is done with: enter a new one, or open it again by a change.", e.ID)
	case len(e.Answers) >= maxAnswers:
		return e, fault.New(fault.FailedPrecondition, "ENQUIRY_FULL",
			"The enquiry %s has %d answers already: enter a new one.", e.ID, maxAnswers)
	case closes && !followUp.IsZero():
		return e, fault.InvalidField("follow_up_date", followUp.String(), "none with close, since nothing is left to come back to")
	}
	e.Answers = append(e.Answers[:len(e.Answers):len(e.Answers)], a)
	if e.bytes() > maxBytes {
		return e, fault.New(fault.FailedPrecondition, "ENQUIRY_FULL",
			"The enquiry %s has no room for this answer, with all that was said before: enter a new one.", e.ID)
	}
	if !followUp.IsZero() {
		e.FollowUp = followUp
	}
	if closes {
		e.Closed, e.FollowUp = true, vehicle.Date{}
	}
	return e, nil
}

// Changed gives the enquiry as a change says it is to be. What the service
// itself wrote stays: answers, name, release and who recorded it.
func (e Enquiry) Changed(to Enquiry) (Enquiry, error) {
	if e.OnRecord() && !to.OnRecord() {
		return e, &fault.Error{
			Kind: fault.FailedPrecondition, Reason: "ASKER_ON_RECORD",
			Message: "What a person on record said stays under their key: name another person if it was the wrong one.",
		}
	}
	to.Serial, to.ID, to.Answers, to.Release = e.Serial, e.ID, e.Answers, e.Release
	to.RecordedBy, to.Created = e.RecordedBy, e.Created
	if to.Asked.IsZero() {
		to.Asked = e.Asked
	}
	return to, nil
}
