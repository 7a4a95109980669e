package ownerpages

import (
	"cmp"
	"net/http"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/vehicle"
)

// contactForm changes where somebody is written to. A message is forwarded, to a
// workshop above all, and its links with it; whoever has it must not be able to
// have the next one sent to themselves. So the form stands on no page that such a
// link opens: these have a link to it sent to the address on record. Nor does it
// show any address. Whoever reads nothing there any more calls.
type contactForm struct {
	Email, Phone, Postal string // what is new; empty stays as it is
	Zones                []zoneGroup
	Etag                 string
	Wrong                []problem
	Bad                  map[string]bool
}

// showMove is the page with the form.
func (v *visit) showMove() {
	if v.over() {
		return
	}
	p, ok := v.me()
	if !ok {
		return
	}
	v.askMove(http.StatusOK, contactForm{Zones: v.zonesToChoose(""), Etag: p.GetEtag()})
}

func (v *visit) askMove(status int, f contactForm) {
	f.Bad = bad(f.Wrong)
	v.ask(status, "move.html", v.say("contact.change"), f)
}

// zonesToChoose offers the countries with none chosen beforehand: which one is
// on record is not shown.
func (v *visit) zonesToChoose(chosen string) []zoneGroup {
	stranger := v.reader
	stranger.region = ""
	return stranger.zones(chosen)
}

// reach says where somebody is written to, with no more of an address than its
// owner needs to know which is meant, and which one leads nowhere.
func (v *visit) reach(p *ownerv1.Person) []string {
	var said []string
	for _, at := range []struct {
		way   ownerv1.ContactWay
		there bool
		text  string
	}{
		{ownerv1.ContactWay_CONTACT_WAY_MAIL, p.GetEmail() != "", v.say("contact.mail", "address", maskedMail(p.GetEmail()))},
		{ownerv1.ContactWay_CONTACT_WAY_TEXT, p.GetPhone() != "", v.say("contact.phone", "end", ending(p.GetPhone()))},
		{ownerv1.ContactWay_CONTACT_WAY_LETTER, len(p.GetPostalLines()) > 0, v.say("contact.postal")},
	} {
		if !at.there {
			continue
		}
		for _, u := range p.GetUndeliverable() {
			if u.GetWay() == at.way {
				on := vehicle.DateOf(u.GetMarkTime().AsTime().In(v.zone))
				at.text += " " + v.say("contact.returned", "date", v.habit.Date(on))
			}
		}
		said = append(said, at.text)
	}
	if len(said) == 0 {
		said = append(said, v.say("contact.none"))
	}
	return said
}

// maskedMail leaves the first letter and the domain: "m…@harbour.example". A word
// joiner keeps a line from ending before the @.
func maskedMail(address string) string {
	name, domain, _ := strings.Cut(address, "@")
	first, _ := utf8.DecodeRuneInString(name)
	return string(first) + "…\u2060@" + domain
}

// ending is the last two figures of a number.
func ending(number string) string { return number[max(0, len(number)-2):] }

// move stores where somebody is written to from now on. Its link changes that once.
// A form of before the address was replaced may be the one that replaced it, sent
// twice: it is answered as it was then, or is out of date.
func (v *visit) move() {
	p, ok := v.me()
	if !ok || v.form.text("etag") == p.GetEtag() && v.over() {
		return
	}
	changed, wrong := v.withContact(p)
	if len(wrong.all) == 0 {
		_, ok := v.update(changed, v.once(), &wrong)
		switch {
		case ok:
			v.result(v.say("contact.saved-title"), message{Text: []string{v.say("contact.saved"), v.say("contact.told")}})
			return
		case len(wrong.all) == 0:
			return // it has been said
		}
	}
	f := v.form
	v.askMove(http.StatusUnprocessableEntity, contactForm{
		Email: f.text("email"), Phone: f.text("phone"), Postal: f.text("postal"), Zones: v.zonesToChoose(f.text("zone")),
		Etag: p.GetEtag(), Wrong: wrong.all,
	})
}

// withContact is the record with what the form says; all that is wrong comes at
// once.
func (v *visit) withContact(p *ownerv1.Person) (*ownerv1.Person, wrongIn) {
	var wrong wrongIn
	f, changed := v.form, proto.CloneOf(p)
	at := v.livesIn(p, f.text("zone"))
	if at.bad != "" {
		wrong.add("zone", v.say("takeover.wrong-zone"))
	} else if at.zone != p.GetTimeZone() {
		changed.TimeZone, changed.FormatLocale = at.zone, at.habits(baseOf(p.GetLanguage()))
	}
	changed.Email = cmp.Or(f.text("email"), changed.Email)
	if text := f.text("phone"); text != "" {
		if changed.Phone = at.dials(v.region).telephone(text); changed.Phone == "" {
			wrong.add("phone", v.say("takeover.phone-abroad"))
		}
	}
	if lines := at.address(f.text("postal")); len(lines) > mostPostal {
		wrong.add("postal", v.say("takeover.wrong-postal"))
	} else if len(lines) > 0 {
		changed.PostalLines = lines
	}
	// A form that was sent twice has changed the record already.
	if proto.Equal(changed, p) && f.text("etag") == p.GetEtag() {
		wrong.add("", v.say("contact.nothing"))
	}
	return changed, wrong
}

// livesIn is where somebody lives: in the country that they chose, or else in
// that of the clock they go by, and where nobody knows that, of their habits.
// Whoever reads as one does in one country may live in another.
func (v *visit) livesIn(p *ownerv1.Person, chosen string) home {
	zone := cmp.Or(chosen, p.GetTimeZone())
	region, known := regionOf(zone)
	if !known && chosen != "" {
		return home{bad: "zone"}
	}
	if _, offered := zones[v.region]; zone == "" || !known && !offered { // or they named a country that is not offered
		region = v.region
	}
	return home{region: region, country: v.countryOf(region), zone: zone}
}

// dials is a home with a country in which numbers are dialled, where its own is
// not known.
func (h home) dials(region string) home {
	h.region = cmp.Or(h.region, region)
	return h
}

// countryOf is the name of a region, "" for none.
func (v *visit) countryOf(region string) string {
	if region == "" {
		return ""
	}
	return v.country(region)
}

// baseOf is a language without the country: "en" of "en-GB".
func baseOf(tag string) string {
	base, _, _ := strings.Cut(cmp.Or(tag, "en"), "-")
	return base
}
