package ownerpages

import (
	"io"
	"net/http"
	"strings"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
)

// stopPage asks whether to stop.
type stopPage struct {
	Text    []string
	Button  string
	Request string
	Instead []string // what may be meant instead, and where that is to be had
}

// stopped is what a link stops: which purpose, and the beginning of its
// phrases.
func (v *visit) stopped() (ownerv1.Purpose, string) {
	if v.link.Purpose == links.StopYearLetter {
		return ownerv1.Purpose_PURPOSE_YEAR_LETTER, "stop-year"
	}
	return ownerv1.Purpose_PURPOSE_SERVICE, "stop"
}

func (v *visit) showStop() {
	purpose, key := v.stopped()
	out, err := v.optOut(purpose)
	switch {
	case err != nil:
		v.failed(err)
		return
	case out != nil:
		on := v.habit.Date(vehicle.DateOf(out.GetCreateTime().AsTime().In(v.zone)))
		v.result(v.say(key+".done-title"), message{
			Text: []string{v.say(key+".since", "date", on), v.say(key+".done", "serial", v.target.Serial), v.say("stop.safety")},
			Undo: &undo{Label: v.say(key + ".again"), Fields: []labelled{{"do", "undo"}, {"request", uuid.NewString()}}},
		})
		return
	}
	page := stopPage{
		Text:   []string{v.say(key+".intro", "serial", v.target.Serial), v.say("stop.safety")},
		Button: v.say(key + ".button"), Request: uuid.NewString(),
	}
	if purpose == ownerv1.Purpose_PURPOSE_SERVICE && v.Clock().Before(v.link.Expires) {
		call := v.say("stop.call-none")
		if v.Telephone != "" {
			call = v.say("stop.call", "telephone", strings.ReplaceAll(v.Telephone, " ", "\u00a0"))
		}
		page.Instead = []string{v.say("stop.instead"), call}
	}
	v.ask(http.StatusOK, "stop.html", v.say(key+".title"), page)
}

// optOut gives the opt-out by which this person gets no messages of a purpose
// about the vehicle; nil for none.
func (v *visit) optOut(purpose ownerv1.Purpose) (*reminderv1.OptOut, error) {
	ask := &reminderv1.ListOptOutsRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Reminders.ListOptOuts(v.AsService(v.r.Context()), ask)
		if err != nil {
			return nil, err
		}
		for _, o := range page.GetOptOuts() {
			if o.GetName() == v.optOutName(purpose) {
				return o, nil
			}
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			return nil, nil
		}
	}
}

// optOutName is the name that an opt-out of this person has.
func (v *visit) optOutName(purpose ownerv1.Purpose) string {
	name := "optOuts/" + v.target.Serial + "." + v.target.Person
	if purpose == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
		name += ".year-letter"
	}
	return name
}

// stop ends messages of a purpose about one vehicle to one person, or lets them
// go on again. A mail program sends the body that RFC 8058 prescribes and reads
// no page.
func (v *visit) stop() {
	purpose, key := v.stopped()
	if v.form.text("do") == "undo" {
		v.goOn(purpose, key)
		return
	}
	way := "page"
	if v.form.Get("List-Unsubscribe") == "One-Click" {
		way = "one-click"
	}
	_, err := v.Reminders.CreateOptOut(v.AsService(v.r.Context()), &reminderv1.CreateOptOutRequest{
		OptOut:    &reminderv1.OptOut{Vehicle: v.vehicle, Person: v.person, Way: way, Purpose: purpose},
		RequestId: v.form.request(),
	})
	// Somebody who has stopped already has what they want.
	if f := rpcerr.FromStatus(err); f != nil && f.Kind != fault.AlreadyExists {
		v.failed(err)
		return
	}
	if way == "one-click" {
		v.w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		io.WriteString(v.w, "Unsubscribed.\n") //nolint:errcheck // nobody reads it
		return
	}
	v.result(v.say(key+".done-title"), message{
		Text: []string{v.say(key+".done", "serial", v.target.Serial), v.say("stop.safety")},
		Undo: &undo{Label: v.say(key + ".undo"), Fields: []labelled{{"do", "undo"}, {"request", uuid.NewString()}}},
	})
}

// goOn ends an opt-out.
func (v *visit) goOn(purpose ownerv1.Purpose, key string) {
	_, err := v.Reminders.EndOptOut(v.AsService(v.r.Context()), &reminderv1.EndOptOutRequest{Name: v.optOutName(purpose), RequestId: v.form.request()})
	// Without an opt-out they go on anyway.
	if f := rpcerr.FromStatus(err); f != nil && f.Kind != fault.NotFound {
		v.failed(err)
		return
	}
	v.result(v.say("undone.title"), message{Text: []string{v.say(key+".undone", "serial", v.target.Serial)}})
}
