package ownerpages

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"html/template"
	"net/http"
	"time"

	"golang.org/x/text/language"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/locale"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
)

// reader is how somebody reads.
type reader struct {
	words locale.Phrases
	habit locale.Locale
	today vehicle.Date // by the clock on their wall
	zone  *time.Location

	region string // the country whose habits they have, by ISO 3166 code; "" when not known
}

// readerOf gives the habits of a person.
func (p *pages) readerOf(person *ownerv1.Person) reader {
	words := p.catalogue.For(person.GetLanguage())
	unit, _ := vehicle.ParseUnit(person.GetDistanceUnit())
	zone, err := time.LoadLocation(person.GetTimeZone())
	if err != nil {
		zone = time.UTC
	}
	formats := cmp.Or(person.GetFormatLocale(), person.GetLanguage())
	return reader{words, words.Locale(formats, unit), vehicle.DateOf(p.Clock().In(zone)), zone, regionIn(formats)}
}

// stranger gives the habits of somebody of whom only the browser tells.
func (p *pages) stranger(r *http.Request) reader {
	wanted, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	tag := "en"
	if err == nil && len(wanted) > 0 {
		if _, n, sure := p.matcher.Match(wanted...); sure > language.No {
			tag = p.languages[n].String()
		}
	}
	formats := tag
	if len(wanted) > 0 {
		formats = wanted[0].String()
	}
	words := p.catalogue.For(tag)
	return reader{words, words.Locale(formats, ""), vehicle.DateOf(p.Clock().UTC()), time.UTC, regionIn(formats)}
}

// regionIn is the country that a language tag names.
func regionIn(tag string) string {
	region, sure := language.Make(tag).Region()
	if sure < language.Exact {
		return ""
	}
	return region.String()
}

// visit is one press of a link: what it is for, who pressed it, and what is
// sent with it.
type visit struct {
	*pages
	reader
	w http.ResponseWriter
	r *http.Request

	link    links.Link
	target  links.Target
	vehicle string // "vehicles/AM0147P"
	person  string // "people/p0031"
	alive   bool
	notice  *reminderv1.Notice // that the link stands in; nil for none
	form    form

	replaced bool // the address that a link which confirms went to was replaced since
}

// visit reads the token of a request and asks whether the link is alive; what
// is wrong with it has been said when ok is false. Forged, withdrawn and
// unknown links, and those of former owners, get one and the same answer.
func (p *pages) visit(w http.ResponseWriter, r *http.Request) (v *visit, ok bool) {
	l, err := p.Links.Read(r.PathValue("token"), p.Clock())
	t, whole := l.Target()
	stops := l.Purpose == links.Unsubscribe || l.Purpose == links.StopYearLetter
	switch {
	case errors.Is(err, links.ErrExpired) && stops:
		// Whoever wants no more messages is let go, from however old a one.
	case errors.Is(err, links.ErrExpired):
		p.tell(w, r, http.StatusGone, "too-old")
		return nil, false
	case err != nil || !whole:
		p.dead(w, r)
		return nil, false
	}
	v = &visit{pages: p, w: w, r: r, link: l, target: t, vehicle: "vehicles/" + t.Serial, person: "people/" + t.Person, reader: p.stranger(r)}
	ask := &reminderv1.CheckLinkRequest{Vehicle: v.vehicle, Person: v.person, Epoch: int32(t.Epoch)}
	if t.Notice != "" {
		ask.Notice = "notices/" + t.Serial + "." + t.Notice
	}
	good, err := p.Reminders.CheckLink(p.AsService(r.Context()), ask)
	if err != nil {
		v.failed(err)
		return nil, false
	}
	v.alive, v.notice, v.replaced, v.reader = true, good.GetNotice(), good.GetAddressReplaced(), p.readerOf(good.GetPerson())
	return v, true
}

// dead is the one answer to links that are no key.
func (p *pages) dead(w http.ResponseWriter, r *http.Request) {
	p.tell(w, r, http.StatusNotFound, "dead")
}

// owner is the context of calls that are made by the person.
func (v *visit) owner() context.Context { return v.AsOwner(v.r.Context(), v.target.Person) }

// failed says in general words why nothing came of it. Of somebody whose link
// is alive a service knows nothing only where they do not keep the vehicle:
// whoever pays for it is told what is due and reports nothing.
func (v *visit) failed(err error) {
	f := rpcerr.FromStatus(err)
	switch {
	case f.Kind == fault.NotFound && !v.alive:
		v.dead(v.w, v.r)
	case f.Kind == fault.NotFound, f.Kind == fault.Denied:
		v.message(http.StatusForbidden, "not-yours")
	default:
		v.Logger.Error("a page could not be answered", "purpose", string(rune(v.link.Purpose)), "reason", f.Reason)
		v.message(http.StatusServiceUnavailable, "unavailable")
	}
}

// press leads on to another page for the same person and notice; none where the
// link leads to no such page.
func (v *visit) press(purpose links.Purpose, key string) []press {
	l, ok := v.link.On(purpose, v.Clock())
	if !ok {
		return nil
	}
	return []press{{v.say(key), v.pathOf(l)}}
}

// pathOf signs a link and gives its address.
func (p *pages) pathOf(l links.Link) template.URL {
	var nonce links.Nonce
	rand.Read(nonce[:]) //nolint:errcheck // it never fails
	token, err := p.Links.Token(l, nonce)
	if err != nil {
		p.Logger.Error("a link could not be signed", "error", err)
		return ""
	}
	return template.URL("/l/" + token)
}

// here leads back to the page itself, by the very link that was pressed.
func (v *visit) here(key string) press {
	return press{v.say(key), template.URL("/l/" + v.r.PathValue("token"))}
}
