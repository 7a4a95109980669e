package ownerpages

import (
	"net/http"
	"strconv"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
)

// peoplePage says who its reader is to the vehicle and how they are written to,
// and lets them change it. Of others it says nothing, not even that there are
// any: that is not an owner's to know by a link.
type peoplePage struct {
	Saved    string // what was just done
	Wrong    []problem
	Who      []string // what the reader is to the vehicle
	Reach    []string // where they are written to, with addresses that are masked
	Settings settingsForm
	Asks     string // request of the button that asks for a link to change addresses
	Ends     string // and of the one that makes all links dead: whoever presses both means both
	Press    []press
}

// problem is a field that is wrong, and what is wrong with it.
type problem struct{ Field, Text string }

// wrongIn collects what is wrong with a form, all at once.
type wrongIn struct{ all []problem }

func (w *wrongIn) add(field, text string) { w.all = append(w.all, problem{field, text}) }

// bad are the fields that are wrong.
func bad(all []problem) map[string]bool {
	fields := map[string]bool{}
	for _, p := range all {
		fields[p.Field] = true
	}
	return fields
}

// me asks for the record of who pressed the link; what went wrong has been said
// when ok is false.
func (v *visit) me() (p *ownerv1.Person, ok bool) {
	p, err := v.Owners.GetPerson(v.owner(), &ownerv1.GetPersonRequest{Name: v.person})
	if err != nil {
		v.failed(err)
		return nil, false
	}
	return p, true
}

func (v *visit) showPeople() {
	p, ok := v.me()
	if !ok {
		return
	}
	v.askPeople(http.StatusOK, p, peoplePage{Settings: v.settingsOf(p)})
}

// askPeople prints the page with what stands in its forms.
func (v *visit) askPeople(status int, p *ownerv1.Person, page peoplePage) {
	var err error
	if page.Who, err = v.who(); err != nil {
		v.failed(err)
		return
	}
	page.Reach, page.Asks, page.Ends = v.reach(p), uuid.NewString(), uuid.NewString()
	page.Settings.Bad = bad(page.Wrong)
	page.Press = append(v.press(links.Calendar, "press.calendar"), v.press(links.Unsubscribe, "press.stop")...)
	v.ask(status, "people.html", v.say("people.title"), page)
}

// changePeople does what one of the page's forms asks for.
func (v *visit) changePeople() {
	switch v.form.text("do") {
	case "settings":
		v.changeSettings()
	case "contact":
		v.confirm(reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_CONTACT)
	case "withdraw":
		v.withdrawLinks()
	default:
		v.message(http.StatusBadRequest, "form-unread")
	}
}

// saved prints the page with the record as it is since, in the language that it
// may have now.
func (v *visit) saved(p *ownerv1.Person, key string) {
	v.reader = v.readerOf(p)
	v.askPeople(http.StatusOK, p, peoplePage{Saved: v.say(key), Settings: v.settingsOf(p)})
}

// roles are the phrases for what somebody is to a vehicle.
var roles = map[ownerv1.Role]string{
	ownerv1.Role_ROLE_OWNER: "people.owner", ownerv1.Role_ROLE_CARETAKER: "people.caretaker",
	ownerv1.Role_ROLE_PAYER: "people.payer", ownerv1.Role_ROLE_EXECUTOR: "people.executor",
}

// who says what the reader is to the vehicle, and whether reminders come to them.
func (v *visit) who() ([]string, error) {
	var said []string
	ask := &ownerv1.ListTiesRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Owners.ListTies(v.owner(), ask)
		if err != nil {
			return nil, err
		}
		for _, t := range page.GetTies() {
			end := dayIn(t.GetEndDate())
			key, known := roles[t.GetRole()]
			if t.GetPerson() != v.person || !known || !end.IsZero() && !v.today.Before(end) {
				continue
			}
			notices := v.say("people.no-notices")
			if t.GetNotices() {
				notices = v.say("people.notices")
			}
			said = append(said, v.say(key, "serial", v.target.Serial, "date", v.habit.Date(dayIn(t.GetStartDate())))+" "+notices)
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			return append(said, v.say("people.others")), nil
		}
	}
}

// update stores the person as changed, based on the version that the form was
// shown with, under a request. What is wrong goes into wrong, by field.
func (v *visit) update(p *ownerv1.Person, request string, wrong *wrongIn) (*ownerv1.Person, bool) {
	p.Etag, p.CreateTime, p.Undeliverable, p.Consents = v.form.text("etag"), nil, nil, nil
	updated, err := v.Owners.UpdatePerson(v.owner(), &ownerv1.UpdatePersonRequest{Person: p, RequestId: request})
	f := rpcerr.FromStatus(err)
	switch {
	case f == nil:
		return updated, true
	case f.Kind == fault.Aborted:
		wrong.add("", v.say("people.meanwhile"))
	case f.Reason == "REQUEST_ID_REUSED" && request == v.once():
		v.message(http.StatusGone, "confirm.used")
	case f.Reason == "REQUEST_ID_REUSED":
		wrong.add("", v.say("people.sent"))
	case f.Kind == fault.Invalid && badField(err) != "code" && badField(err) != "":
		field := badField(err)
		wrong.add(field, v.say("takeover.wrong-"+field))
	case f.Kind == fault.Invalid:
		wrong.add("", v.say("people.refused"))
	default:
		v.failed(err)
	}
	return nil, false
}

// withdrawLinks makes every link that was ever sent to this person dead: a
// message got into the wrong hands. The link that was pressed dies with them.
func (v *visit) withdrawLinks() {
	_, err := v.Reminders.WithdrawLinks(v.owner(), &reminderv1.WithdrawLinksRequest{Person: v.person, RequestId: v.form.request()})
	if err != nil {
		v.failed(err)
		return
	}
	v.print(v.w, v.reader, http.StatusOK, "people.withdrawn", nil)
}

// number is a small number of a form; ok is false for what is none.
func (f form) number(name string) (n int, ok bool) {
	n, err := strconv.Atoi(f.text(name))
	return n, err == nil
}
