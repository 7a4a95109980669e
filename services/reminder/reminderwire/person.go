package reminderwire

import (
	"slices"
	"strings"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// roles are the API's roles as the domain says them.
var roles = map[ownerv1.Role]string{
	ownerv1.Role_ROLE_OWNER: "owner", ownerv1.Role_ROLE_CARETAKER: "caretaker",
	ownerv1.Role_ROLE_PAYER: "payer", ownerv1.Role_ROLE_EXECUTOR: "executor",
}

// The ways as channels, and back.
var (
	channelOf = map[ownerv1.ContactWay]reminder.Channel{
		ownerv1.ContactWay_CONTACT_WAY_MAIL: reminder.Mail, ownerv1.ContactWay_CONTACT_WAY_TEXT: reminder.Text,
		ownerv1.ContactWay_CONTACT_WAY_LETTER: reminder.Letter,
	}
	wayOf = map[reminder.Channel]ownerv1.ContactWay{
		reminder.Mail: ownerv1.ContactWay_CONTACT_WAY_MAIL, reminder.Text: ownerv1.ContactWay_CONTACT_WAY_TEXT,
		reminder.Letter: ownerv1.ContactWay_CONTACT_WAY_LETTER,
	}
)

// ContactWay gives the way of a channel.
func ContactWay(c reminder.Channel) ownerv1.ContactWay { return wayOf[c] }

// usualWays are the ways of somebody who chose none.
var usualWays = []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_MAIL, ownerv1.ContactWay_CONTACT_WAY_LETTER}

// Recipient reads a person. zone finds a time zone by its name; a name it does
// not know leaves the person on UTC, with the error returned beside them.
func Recipient(p *ownerv1.Person, zone func(string) (*time.Location, error)) (reminder.Recipient, error) {
	r := reminder.Recipient{
		Person: strings.TrimPrefix(p.GetName(), "people/"), Name: strings.Join(strings.Fields(p.GetFullName()), " "),
		Address: p.GetEmail(), Phone: p.GetPhone(), Postal: p.GetPostalLines(),
		Language: p.GetLanguage(), Formats: p.GetFormatLocale(), Most: int(p.GetMostMessages()),
		Deceased: p.GetDeceasedDate() != nil, Unit: vehicle.Miles, Zone: time.UTC,
		Hours: reminder.Hours{From: int(p.GetContactFromHour()), Until: int(p.GetContactUntilHour())},
	}
	if p.GetDistanceUnit() == string(vehicle.Kilometres) {
		r.Unit = vehicle.Kilometres
	}
	r.Ways = ways(p)
	said, given := consent(p.GetConsents(), ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED)
	r.Refused = said && !given && len(r.Ways) == 0
	r.YearWays = YearWays(p)
	r.Yearly = len(r.YearWays) > 0
	r.Safety = safetyWays(p)
	r.Asked = askedWays(p)
	if p.GetTimeZone() == "" {
		return r, nil
	}
	found, err := zone(p.GetTimeZone())
	if err != nil {
		return r, fault.InvalidField("time_zone", p.GetTimeZone(), "an IANA time zone")
	}
	r.Zone = found
	return r, nil
}

// ways gives the channels by which service notices reach a person, in their
// order: with an address, not marked as leading nowhere, with the consent that
// a text message needs, and not refused.
func ways(p *ownerv1.Person) []reminder.Channel {
	return reached(p, wanted(p), func(way ownerv1.ContactWay) bool {
		said, given := consent(p.GetConsents(), ownerv1.Purpose_PURPOSE_SERVICE, way)
		return given || !said && way != ownerv1.ContactWay_CONTACT_WAY_TEXT
	})
}

// YearWays gives the channels by which the letter at the year's end reaches a
// person, in their order: those that they agreed to. It is too long for a text
// message.
func YearWays(p *ownerv1.Person) []reminder.Channel {
	return reached(p, wanted(p), func(way ownerv1.ContactWay) bool {
		_, given := consent(p.GetConsents(), ownerv1.Purpose_PURPOSE_YEAR_LETTER, way)
		return given && way != ownerv1.ContactWay_CONTACT_WAY_TEXT
	})
}

// safetyWays gives the channels by which a letter about a safety campaign
// reaches a person. No consent is asked for it: their own ways come first, and
// then every other way to which there is an address, paper before a telephone
// that they did not name.
func safetyWays(p *ownerv1.Person) []reminder.Channel {
	all := slices.Concat(p.GetContactWays(), usualWays, []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_TEXT})
	return reached(p, all, func(ownerv1.ContactWay) bool { return true })
}

// askedWays gives the channels by which a person is sent what was asked for, in
// their order. No consent is asked for it but to text messages, of which it
// would be one.
func askedWays(p *ownerv1.Person) []reminder.Channel {
	return reached(p, wanted(p), func(way ownerv1.ContactWay) bool {
		_, given := consent(p.GetConsents(), ownerv1.Purpose_PURPOSE_SERVICE, way)
		return given || way != ownerv1.ContactWay_CONTACT_WAY_TEXT
	})
}

// wanted gives the ways that a person chose.
func wanted(p *ownerv1.Person) []ownerv1.ContactWay {
	if chosen := p.GetContactWays(); len(chosen) > 0 {
		return chosen
	}
	return usualWays
}

// reached gives those channels that are allowed, have an address and are not
// marked as leading nowhere.
func reached(p *ownerv1.Person, wanted []ownerv1.ContactWay, allowed func(ownerv1.ContactWay) bool) []reminder.Channel {
	there := map[ownerv1.ContactWay]bool{
		ownerv1.ContactWay_CONTACT_WAY_MAIL: p.GetEmail() != "", ownerv1.ContactWay_CONTACT_WAY_TEXT: p.GetPhone() != "",
		ownerv1.ContactWay_CONTACT_WAY_LETTER: len(p.GetPostalLines()) > 0,
	}
	for _, u := range p.GetUndeliverable() {
		there[u.GetWay()] = false
	}
	var out []reminder.Channel
	for _, way := range wanted {
		if there[way] && allowed(way) && !slices.Contains(out, channelOf[way]) {
			out = append(out, channelOf[way])
		}
	}
	return out
}

// consent gives what a person said last that bears on a purpose by a way: of
// that way, or of all. Of two at the same time the one of that way counts.
func consent(consents []*ownerv1.Consent, purpose ownerv1.Purpose, way ownerv1.ContactWay) (said, given bool) {
	var last *ownerv1.Consent
	for _, c := range consents {
		if c.GetPurpose() != purpose || c.GetWay() != way && c.GetWay() != ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED {
			continue
		}
		older := last != nil && (c.GetConsentTime().AsTime().Before(last.GetConsentTime().AsTime()) ||
			c.GetConsentTime().AsTime().Equal(last.GetConsentTime().AsTime()) && c.GetWay() != way)
		if !older {
			last = c
		}
	}
	return last != nil, last.GetGiven()
}

// Standing says what has become of a vehicle: nothing is told of one that was
// scrapped, and nobody is looked for where that was done in vain or where it
// left the country.
func Standing(s *ownerv1.Standing) (scrapped, lostTrack bool) {
	switch s.GetState() {
	case ownerv1.StandingState_STANDING_STATE_SCRAPPED:
		return true, false
	case ownerv1.StandingState_STANDING_STATE_OWNER_UNKNOWN, ownerv1.StandingState_STANDING_STATE_EXPORTED:
		return false, true
	}
	return false, false
}
