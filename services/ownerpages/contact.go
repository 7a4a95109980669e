package ownerpages

import (
	"cmp"
	"net/http"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"
	"github.com/nyaruka/phonenumbers"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/webguard"
	"halfshaft/services/vehicle"
)

// contactForm changes where somebody is written to. A message is forwarded, to a
// workshop above all, and its links with it; whoever has it must not be able to
// have the next one sent to themselves. So the form shows no address, and asks
// for one thing that stands in no message: the telephone number that we have of
// its reader, or else the first line of their postal address that is not their
// name, with which messages begin. Whoever has told us neither calls.
type contactForm struct {
	Proof                string // what is asked for, as the label of its field; "" for nothing that could be
	Said                 string
	Email, Phone, Postal string // what is new; empty stays as it is
	Zones                []zoneGroup
	Etag, Request        string
	Open                 bool // something is wrong with it
	Bad                  map[string]bool
}

// contactOf is the empty form.
func (v *visit) contactOf(p *ownerv1.Person) contactForm {
	return contactForm{Proof: v.proof(p), Zones: v.zonesToChoose(""), Etag: p.GetEtag(), Request: uuid.NewString()}
}

// proof is what the form asks for.
func (v *visit) proof(p *ownerv1.Person) string {
	switch {
	case p.GetPhone() != "":
		return v.say("contact.proof-phone")
	case street(p) != "":
		return v.say("contact.proof-postal")
	}
	return ""
}

// zonesToChoose offers the countries with none chosen beforehand: which one is
// on record is not shown.
func (v *visit) zonesToChoose(chosen string) []zoneGroup {
	stranger := v.reader
	stranger.region = ""
	return stranger.zones(chosen)
}

// proves says whether what was said is what the form asked for.
func (v *visit) proves(p *ownerv1.Person, said string) bool {
	if p.GetPhone() != "" {
		return home{region: dialledIn(p.GetPhone())}.telephone(said) == p.GetPhone() || squeezed(said) == squeezed(p.GetPhone())
	}
	return squeezed(said) != "" && squeezed(said) == squeezed(street(p))
}

// provesByNow says whether the form itself brought what it would have to prove: it
// was sent twice, and the first time has changed that. Only a form of an older
// page can have.
func (v *visit) provesByNow(p *ownerv1.Person) bool {
	if v.form.text("etag") == p.GetEtag() {
		return false
	}
	if p.GetPhone() != "" {
		return v.livesIn(p, v.form.text("zone")).dials(v.region).telephone(v.form.text("phone")) == p.GetPhone()
	}
	after := proto.CloneOf(p)
	after.PostalLines = home{}.address(v.form.text("postal"))
	return v.proves(p, street(after))
}

// street is the first line of somebody's postal address that does not say their
// name; "" for none.
func street(p *ownerv1.Person) string {
	names := spelled(p.GetFullName())
	for _, line := range p.GetPostalLines() {
		named := slices.ContainsFunc(spelled(line), func(word string) bool {
			return len(names) > 0 && (word == names[0] || word == names[len(names)-1])
		})
		if !named || strings.ContainsFunc(line, unicode.IsDigit) {
			return line
		}
	}
	return ""
}

// spelled are the words of a text, in small letters.
func spelled(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
}

// dialledIn is the country of a number, in which it is dialled without the plus:
// whoever lives elsewhere by now still knows it so. Empty where nobody can tell.
func dialledIn(number string) string {
	parsed, err := phonenumbers.Parse(number, "ZZ")
	if err != nil {
		return ""
	}
	return phonenumbers.GetRegionCodeForCountryCode(int(parsed.GetCountryCode()))
}

// squeezed leaves the letters and figures by which addresses are told apart.
func squeezed(text string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, text)
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

// changeContact stores where somebody is written to from now on.
func (v *visit) changeContact() {
	p, ok := v.me()
	if !ok {
		return
	}
	f := v.form
	page := peoplePage{Settings: v.settingsOf(p), Contact: contactForm{
		Proof: v.proof(p), Said: f.text("proof"), Email: f.text("email"), Phone: f.text("phone"), Postal: f.text("postal"),
		Zones: v.zonesToChoose(f.text("zone")), Etag: p.GetEtag(), Request: uuid.NewString(), Open: true,
	}}
	// Whoever guesses waits, as with the codes of take-over.
	wait, ok := v.tries.Take(v.Proxies.Sender(v.r), v.Clock())
	if ok {
		wait, ok = v.proofs.Take(v.person, v.Clock())
	}
	if !ok {
		v.w.Header().Set("Retry-After", webguard.RetryAfter(wait))
		page.Wrong = []problem{{"proof", v.say("contact.too-often")}}
		v.askPeople(http.StatusTooManyRequests, p, page)
		return
	}
	changed, wrong := v.withContact(p)
	if len(wrong.all) == 0 {
		if updated, ok := v.update(changed, &wrong); ok {
			v.saved(updated, "contact.saved")
			return
		} else if len(wrong.all) == 0 {
			return // it has been said
		}
	}
	page.Wrong = wrong.all
	v.askPeople(http.StatusUnprocessableEntity, p, page)
}

// withContact is the record with what the form says; all that is wrong comes at
// once. Without the proof nothing is said of the rest.
func (v *visit) withContact(p *ownerv1.Person) (*ownerv1.Person, wrongIn) {
	var wrong wrongIn
	f, changed := v.form, proto.CloneOf(p)
	if !v.proves(p, f.text("proof")) && !v.provesByNow(p) {
		wrong.add("proof", v.say("contact.wrong-proof"))
		return changed, wrong
	}
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
