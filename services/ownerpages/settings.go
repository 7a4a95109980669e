package ownerpages

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/vehicle"
)

// settingsForm is how somebody wants to be written to. Whoever holds a link may
// change it: nothing in it sends a message anywhere else, and all of it can be
// changed back.
type settingsForm struct {
	Languages, Units, Ways []choice
	From, Until, Most      []choice
	Consents               []consentForm
	Etag, Request          string
	Bad                    map[string]bool
}

// The hours in which messages come to whoever said nothing of them, as
// halfshaft.owner.v1.Person has it.
const (
	usualFrom  = 9
	usualUntil = 18
)

// ways are the ways to reach somebody, with their phrases, in the order in which
// they are used by whoever said nothing.
var ways = []struct {
	way       ownerv1.ContactWay
	name, key string
}{
	{ownerv1.ContactWay_CONTACT_WAY_MAIL, "mail", "people.way-mail"},
	{ownerv1.ContactWay_CONTACT_WAY_TEXT, "text", "people.way-text"},
	{ownerv1.ContactWay_CONTACT_WAY_LETTER, "letter", "people.way-letter"},
}

// mostOffered are the bounds of messages in 30 days that are offered; 0 is the
// works' usual one.
var mostOffered = []int{0, 1, 2, 4, 8}

// settingsOf is the form as the record has it.
func (v *visit) settingsOf(p *ownerv1.Person) settingsForm {
	from, until := int(p.GetContactFromHour()), int(p.GetContactUntilHour())
	if from == 0 && until == 0 {
		from, until = usualFrom, usualUntil
	}
	first := ways[0].name
	if given := p.GetContactWays(); len(given) > 0 {
		for _, w := range ways {
			if w.way == given[0] {
				first = w.name
			}
		}
	}
	said := map[string]string{}
	for _, c := range consents {
		said[c.name] = answered(p, c.purpose, c.way)
	}
	return v.settingsWith(p, settingsSaid{
		language: p.GetLanguage(), unit: string(v.habit.Unit()), way: first, from: from, until: until, most: int(p.GetMostMessages()), consents: said,
	}, uuid.NewString())
}

// settingsSaid is what stands in the form, chosen or recorded.
type settingsSaid struct {
	language, unit, way string
	from, until, most   int
	consents            map[string]string // "yes", "no" or ""
}

// settingsWith offers what there is to choose from.
func (v *visit) settingsWith(p *ownerv1.Person, said settingsSaid, request string) settingsForm {
	f := settingsForm{Units: v.units(said.unit), Etag: p.GetEtag(), Request: request}
	for _, tag := range v.offered() {
		f.Languages = append(f.Languages, choice{tag, display.Self.Name(language.Make(tag)), sameLanguage(tag, said.language)})
	}
	for _, w := range ways {
		f.Ways = append(f.Ways, choice{w.name, v.say(w.key), w.name == said.way})
	}
	for hour := range 24 {
		f.From = append(f.From, choice{strconv.Itoa(hour), v.say("people.hour", "n", strconv.Itoa(hour)), hour == said.from})
		f.Until = append(f.Until, choice{strconv.Itoa(hour + 1), v.say("people.hour", "n", strconv.Itoa(hour+1)), hour+1 == said.until})
	}
	offered := mostOffered
	if !slices.Contains(offered, said.most) && said.most > 0 {
		offered = append(slices.Clone(offered), said.most)
		slices.Sort(offered)
	}
	for _, n := range offered {
		label := v.say("people.most-usual")
		if n > 0 {
			label = v.count("people.most", n)
		}
		f.Most = append(f.Most, choice{strconv.Itoa(n), label, n == said.most})
	}
	for _, c := range consents {
		f.Consents = append(f.Consents, consentForm{c.name, v.wording(v.reader, c.name), said.consents[c.name] == "yes", said.consents[c.name] == "no"})
	}
	return f
}

// answered is what counts today of what somebody said to a question: "yes", "no",
// or "" where they said nothing. The record holds what counts, the latest last.
func answered(p *ownerv1.Person, purpose ownerv1.Purpose, way ownerv1.ContactWay) string {
	for _, c := range slices.Backward(p.GetConsents()) {
		if c.GetPurpose() != purpose || c.GetWay() != way && c.GetWay() != ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED {
			continue
		}
		if c.GetGiven() {
			return "yes"
		}
		return "no"
	}
	return ""
}

// changeSettings stores how somebody wants to be written to. The record goes
// first, then each answer that is another one than before.
func (v *visit) changeSettings() {
	p, ok := v.me()
	if !ok {
		return
	}
	said, wrong := v.settingsSaid()
	v.checkWays(p, said, &wrong)
	if len(wrong.all) == 0 {
		changed := v.withSettings(p, said)
		if _, ok := v.update(changed, v.form.request(), &wrong); ok {
			v.recordConsents(p, said)
			return
		}
		if len(wrong.all) == 0 {
			return // it has been said
		}
	}
	v.askPeople(http.StatusUnprocessableEntity, p, peoplePage{
		Wrong: wrong.all, Settings: v.settingsWith(p, said, uuid.NewString()),
	})
}

// settingsSaid reads the form.
func (v *visit) settingsSaid() (said settingsSaid, wrong wrongIn) {
	f := v.form
	said = settingsSaid{language: f.text("language"), unit: f.text("unit"), way: f.text("way"), consents: map[string]string{}}
	if !slices.Contains(v.offered(), said.language) {
		wrong.add("language", v.say("takeover.wrong-language"))
	}
	if !vehicle.Unit(said.unit).Valid() {
		wrong.add("unit", v.say("takeover.wrong-unit"))
	}
	if wayNamed(said.way) == ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED {
		wrong.add("way", v.say("people.wrong-way"))
	}
	from, fromIs := f.number("from")
	until, untilIs := f.number("until")
	if said.from, said.until = from, until; !fromIs || !untilIs || from < 0 || until > 24 || from >= until {
		wrong.add("until", v.say("people.wrong-hours"))
	}
	most, is := f.number("most")
	if said.most = most; !is || most < 0 || most > 100 {
		wrong.add("most", v.say("people.wrong-most"))
	}
	for _, c := range consents {
		switch answer := f.text(c.name); answer {
		case "yes", "no", "": // what nobody answered stays unanswered
			said.consents[c.name] = answer
		default:
			wrong.add(c.name, v.say("takeover.wrong-consent"))
		}
	}
	return said, wrong
}

// wayNamed is a way by its name in the form.
func wayNamed(name string) ownerv1.ContactWay {
	for _, w := range ways {
		if w.name == name {
			return w.way
		}
	}
	return ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED
}

// checkWays refuses a way that leads nowhere: without an address, or a text
// message without a yes to it.
func (v *visit) checkWays(p *ownerv1.Person, said settingsSaid, wrong *wrongIn) {
	switch {
	case said.way == "mail" && p.GetEmail() == "":
		wrong.add("way", v.say("people.no-mail"))
	case said.way == "text" && p.GetPhone() == "":
		wrong.add("way", v.say("people.no-phone"))
	case said.way == "letter" && len(p.GetPostalLines()) == 0:
		wrong.add("way", v.say("people.no-postal"))
	case said.way == "text" && said.consents["consent-text"] != "yes":
		wrong.add("way", v.say("people.text-needs-yes"))
	}
	if said.consents["consent-text"] == "yes" && p.GetPhone() == "" && said.way != "text" {
		wrong.add("consent-text", v.say("people.no-phone"))
	}
}

// withSettings is the record with what was chosen. The country's habits go along
// with another language.
func (v *visit) withSettings(p *ownerv1.Person, said settingsSaid) *ownerv1.Person {
	changed := proto.CloneOf(p)
	if !sameLanguage(said.language, p.GetLanguage()) {
		changed.Language, changed.FormatLocale = said.language, home{region: v.region}.habits(said.language)
	}
	changed.DistanceUnit = said.unit
	changed.ContactFromHour, changed.ContactUntilHour = int32(said.from), int32(said.until)
	changed.MostMessages = int32(said.most)
	first := wayNamed(said.way)
	before := p.GetContactWays()
	if len(before) == 0 {
		before = []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_MAIL, ownerv1.ContactWay_CONTACT_WAY_LETTER}
	}
	changed.ContactWays = []ownerv1.ContactWay{first}
	if text := ownerv1.ContactWay_CONTACT_WAY_TEXT; said.consents["consent-text"] == "yes" && first != text && !slices.Contains(before, text) {
		changed.ContactWays = append(changed.ContactWays, text) // who says yes to text messages wants some
	}
	for _, w := range before {
		if w != first {
			changed.ContactWays = append(changed.ContactWays, w)
		}
	}
	return changed
}

// recordConsents keeps the answers that are others than before, word for word,
// and prints the page anew.
func (v *visit) recordConsents(before *ownerv1.Person, said settingsSaid) {
	for _, c := range consents {
		answer := said.consents[c.name]
		if answer == "" || answer == answered(before, c.purpose, c.way) {
			continue
		}
		_, err := v.Owners.RecordConsent(v.owner(), &ownerv1.RecordConsentRequest{
			Parent: v.person, RequestId: second(v.form.request(), c.name),
			Consent: &ownerv1.Consent{
				Purpose: c.purpose, Way: c.way, Given: answer == "yes", Wording: v.wording(v.reader, c.name), Language: v.words.Tag(),
				ConsentTime: timestamppb.New(v.pressed.first(v.form, v.Clock())), Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAGE,
			},
		})
		if err != nil {
			v.failed(err)
			return
		}
	}
	if p, ok := v.me(); ok {
		v.saved(p, "people.saved")
	}
}
