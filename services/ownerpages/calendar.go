package ownerpages

import (
	"bytes"
	"cmp"
	"html/template"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

func (v *visit) showCalendar() {
	v.ask(http.StatusOK, "confirm.html", v.say("calendar.title"), confirmPage{
		Text:   []string{v.say("calendar.intro", "serial", v.target.Serial), v.say("calendar.secret"), v.say("calendar.replaces")},
		Button: v.say("calendar.button"), Request: uuid.NewString(),
		Second: &undo{Label: v.say("calendar.undo"), Fields: []labelled{{"do", "undo"}, {"request", uuid.NewString()}}},
	})
}

// calendar makes the secret address of a calendar, or makes it dead.
func (v *visit) calendar() {
	if v.form.text("do") == "undo" {
		v.endCalendar()
		return
	}
	feed, err := v.Reminders.CreateCalendarFeed(v.owner(), &reminderv1.CreateCalendarFeedRequest{
		Parent: v.vehicle, Person: v.person, RequestId: v.form.request(),
	})
	if err != nil {
		v.failed(err)
		return
	}
	back := undo{Label: v.say("calendar.undo"), Fields: []labelled{{"do", "undo"}, {"request", uuid.NewString()}}}
	if feed.GetSecret() == "" { // the form was sent twice, and the address is not kept
		v.result(v.say("calendar.made"), message{
			Text: []string{v.say("calendar.shown")}, Undo: &back, Press: []press{v.here("calendar.new")},
		})
		return
	}
	address := cmp.Or(feed.GetAddress(), v.Address+"/calendar/"+feed.GetSecret()+".ics")
	m := message{
		Text: append([]string{v.say("calendar.how"), v.say("calendar.once")}, v.relative()...),
		Big:  []labelled{{v.say("calendar.address"), address}}, Undo: &back,
	}
	if _, rest, whole := strings.Cut(address, "://"); whole {
		m.Big = append(m.Big, labelled{v.say("calendar.webcal"), "webcal://" + rest})
		m.Press = []press{{v.say("calendar.open"), template.URL("webcal://" + rest)}}
	}
	v.result(v.say("calendar.made"), m)
}

func (v *visit) endCalendar() {
	_, err := v.Reminders.EndCalendarFeed(v.owner(), &reminderv1.EndCalendarFeedRequest{
		Name: v.vehicle + "/calendarFeeds/" + v.target.Person, RequestId: v.form.request(),
	})
	// Without an address there is none to end.
	if f := rpcerr.FromStatus(err); f != nil && f.Kind != fault.NotFound {
		v.failed(err)
		return
	}
	v.result(v.say("undone.title"), message{
		Text: []string{v.say("calendar.undone")}, Press: []press{v.here("calendar.new")},
	})
}

// calendarFile gives the calendar at a secret address. A program that has it
// already is told so (RFC 9110 section 13.1.2).
func (p *pages) calendarFile(w http.ResponseWriter, r *http.Request) {
	secret, ok := strings.CutSuffix(r.PathValue("file"), ".ics")
	if !ok || secret == "" || len(secret) > 200 {
		p.tell(w, r, http.StatusNotFound, "nowhere")
		return
	}
	c, err := p.Reminders.ReadCalendar(p.AsService(r.Context()), &reminderv1.ReadCalendarRequest{Secret: secret})
	switch f := rpcerr.FromStatus(err); {
	case f == nil:
	case f.Kind == fault.NotFound, f.Kind == fault.Invalid:
		p.tell(w, r, http.StatusNotFound, "nowhere")
		return
	default:
		p.Logger.Error("a calendar could not be given", "reason", f.Reason)
		w.Header().Set("Retry-After", "300")
		p.tell(w, r, http.StatusServiceUnavailable, "unavailable")
		return
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Cache-Control", "private, no-cache") // kept, and asked about before it is used
	w.Header().Set("ETag", `"`+c.GetEntityTag()+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(c.GetCalendar()))
}
