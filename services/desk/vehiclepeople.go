package desk

import (
	"net/http"
	"regexp"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"

	"halfshaft/services/wording"
)

// callRoutes are what a call changes besides readings, work and enquiries: how
// somebody is reached, whose the vehicle is, how it is used, which dealers see it
// and which odometer it has.
func callRoutes() []Route {
	return []Route{
		{"GET /vehicles/{serial}/people/{person}", Support, (*visit).showContact},
		{"POST /vehicles/{serial}/people/{person}", Support, (*visit).changeContact},
		{"GET /vehicles/{serial}/new-owner", Support, (*visit).showNewOwner},
		{"POST /vehicles/{serial}/new-owner", Support, (*visit).recordNewOwner},
		{"GET /vehicles/{serial}/use", Staff, (*visit).showUse},
		{"POST /vehicles/{serial}/use", Staff, (*visit).recordUse},
		{"GET /vehicles/{serial}/dealers", Staff, (*visit).showDealers},
		{"POST /vehicles/{serial}/dealers", Staff, (*visit).assign},
		{"GET /vehicles/{serial}/dealers/{assignment}", Staff, (*visit).showEndAssignment},
		{"POST /vehicles/{serial}/dealers/{assignment}", Staff, (*visit).endAssignment},
		{"GET /vehicles/{serial}/odometer", Engineers, (*visit).showOdometer},
		{"POST /vehicles/{serial}/odometer", Engineers, (*visit).recordOdometer},
	}
}

// reachFields ask how somebody is reached; prefix is what their fields are called
// by.
func reachFields(prefix string, p *ownerv1.Person) []field {
	return []field{
		{Name: prefix + ".full_name", Label: "Name", Type: "text", Value: p.GetFullName(), Autocomplete: "off"},
		{Name: prefix + ".postal_lines", Label: "Postal address", Lines: 4, Value: strings.Join(p.GetPostalLines(), "\n"), Hint: "As on an envelope, without the name: a line each, the country last."},
		{Name: prefix + ".phone", Label: "Telephone", Type: "tel", Value: p.GetPhone(), Autocomplete: "off", Hint: "With its country, as in +44 1632 960100."},
		{Name: prefix + ".email", Label: "Mail address", Type: "email", Value: p.GetEmail(), Autocomplete: "off"},
		{Name: prefix + ".time_zone", Label: "Time zone", Type: "text", Value: p.GetTimeZone(), Autocomplete: "off", Hint: "As in Europe/London or America/New_York: nobody is written to at night."},
	}
}

// betweenDigits is what people write between the digits of a telephone number.
var betweenDigits = regexp.MustCompile(`[\s().\-/]+`)

// readReach puts into a person what was typed of how they are reached.
func (v *visit) readReach(prefix string, p *ownerv1.Person) {
	p.FullName, p.Email, p.TimeZone = v.value(prefix+".full_name"), v.value(prefix+".email"), v.value(prefix+".time_zone")
	p.Phone = betweenDigits.ReplaceAllString(v.value(prefix+".phone"), "")
	p.PostalLines = nil
	for line := range strings.Lines(v.value(prefix + ".postal_lines")) {
		if line = strings.TrimSpace(line); line != "" {
			p.PostalLines = append(p.PostalLines, line)
		}
	}
}

func (v *visit) contactForm(p *ownerv1.Person) *form {
	return &form{ID: "contact", Action: v.at("/people/" + v.r.PathValue("person")), Submit: "Keep the change",
		Fields: append(reachFields("person", p), field{Name: "etag", Type: "hidden", Value: p.GetEtag()}, requestField())}
}

func (v *visit) showContact() {
	p, err := v.tiedPerson()
	if err != nil {
		v.refuse(err)
		return
	}
	v.contactPage(http.StatusOK, p, v.contactForm(p))
}

// contactPage says beside the form by which ways somebody is not reached: the
// reason why many ring.
func (v *visit) contactPage(status int, p *ownerv1.Person, f *form) {
	var b block
	for _, u := range p.GetUndeliverable() {
		b.List = append(b.List, entry{Mark: "Came back", Text: "by " + word(u.GetWay(), "CONTACT_WAY_") + " on " + day(u.GetMarkTime()) + ".", Sub: wording.Ended(u.GetReason())})
	}
	title := "How they are reached"
	if p.GetFullName() != "" {
		title = "How " + p.GetFullName() + " is reached"
	}
	v.formPage(status, title, f, b)
}

func (v *visit) changeContact() {
	if !v.readForm() {
		return
	}
	p, err := v.tiedPerson()
	if err != nil {
		v.refuse(err)
		return
	}
	changed := proto.Clone(p).(*ownerv1.Person)
	v.readReach("person", changed)
	changed.Etag = v.value("etag")
	if _, err := v.d.Owners.UpdatePerson(v.as(), &ownerv1.UpdatePersonRequest{Person: changed, RequestId: v.request()}); err != nil {
		f := v.contactForm(p).filled(v)
		v.again(err, f, func(status int) { v.contactPage(status, p, f) })
		return
	}
	v.goTo(v.at("?done=contact"))
}

// newOwnerForm asks who owns the vehicle from when on, and what shows it. Who
// looks after it or pays for it may stay.
func (v *visit) newOwnerForm(contacts []*enquiryv1.DossierContact) *form {
	zone := "UTC"
	if v.d.Zone != nil && v.d.Zone != time.Local {
		zone = v.d.Zone.String()
	}
	f := &form{ID: "new-owner", Action: v.at("/new-owner"), Submit: "Record the new owner", Fields: []field{
		{Name: "transfer_date", Label: "Sold on", Type: "date", Hint: "Left empty, it is today."},
		{Name: "evidence", Label: "What shows it, without names", Type: "text", Autocomplete: "off", Hint: "As in letter of 3 May, file 2026/41."},
	}}
	for i, x := range reachFields("new_owner", &ownerv1.Person{TimeZone: zone}) {
		if i == 0 {
			x.Legend, x.Label, x.Hint = "The new owner", "Name of the new owner", "Left empty where nobody knows: the vehicle then waits for its owner to be found."
		}
		f.Fields = append(f.Fields, x)
	}
	legend := "Who stays"
	for _, c := range contacts {
		if t := c.GetTie(); t.GetRole() == ownerv1.Role_ROLE_CARETAKER || t.GetRole() == ownerv1.Role_ROLE_PAYER {
			f.Fields = append(f.Fields, field{Name: "staying", Type: "checkbox", Value: t.GetPerson(), Label: contactWords(c), Legend: legend})
			legend = ""
		}
	}
	f.Fields = append(f.Fields, requestField())
	return f
}

func (v *visit) showNewOwner() {
	contacts, err := v.contacts()
	if err != nil {
		v.refuse(err)
		return
	}
	v.newOwnerPage(http.StatusOK, v.newOwnerForm(contacts))
}

func (v *visit) newOwnerPage(status int, f *form) {
	v.formPage(status, "Sold: the new owner", f, block{Text: []string{
		"The links, calendars and notices of whoever owned it end at once. What was done to the vehicle stays with it; their name and address do not go to the new owner."}})
}

func (v *visit) recordNewOwner() {
	if !v.readForm() {
		return
	}
	contacts, err := v.contacts()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	r := &ownerv1.RecordTransferRequest{Parent: v.vehicle(), TransferDate: t.date("transfer_date"), Evidence: v.value("evidence"), Staying: v.r.PostForm["staying"], RequestId: v.request()}
	p := &ownerv1.Person{}
	v.readReach("new_owner", p)
	if p.FullName != "" || p.Email != "" || p.Phone != "" || len(p.PostalLines) > 0 {
		r.NewOwner = p
	}
	if err = t.err(); err == nil {
		_, err = v.d.Owners.RecordTransfer(v.as(), r)
	}
	if err != nil {
		f := v.newOwnerForm(contacts).filled(v)
		v.again(err, f, func(status int) { v.newOwnerPage(status, f) })
		return
	}
	v.goTo(v.at("?done=new-owner"))
}
