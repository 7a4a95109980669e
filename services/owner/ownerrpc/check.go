package ownerrpc

import (
	"time"

	"golang.org/x/text/language"

	"halfshaft/services/fault"
	"halfshaft/services/internal/reach"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// personFaults says all that is wrong with a person as of now, the outside facts
// included: whether the address, number, languages and zone can be real.
func (s *Service) personFaults(p owner.Person) []fault.Field {
	now := s.now()
	if !p.Deceased.IsZero() { // the one thing that a day decides
		if zone, err := time.LoadLocation(p.TimeZone); err == nil {
			now = now.In(zone)
		}
	}
	out := p.FaultsOn(vehicle.DateOf(now))
	if p.Email != "" && !validMailbox(p.Email) {
		out = append(out, fault.Field{Name: "email", Got: owner.Described(p.Email),
			Want: "one address, as in somebody@aldermoor.example, without a name beside it; at most 64 characters before the @ and 254 in all"})
	}
	if p.Phone != "" && !possiblePhone(p.Phone) {
		out = append(out, fault.Field{Name: "phone", Got: owner.Described(p.Phone),
			Want: "a possible number with its country code and nothing but digits, as in +441632960983 (E.164)"})
	}
	if p.Language != "" && !knownLanguage(p.Language) {
		out = append(out, fault.Field{Name: "language", Got: p.Language, Want: "a language tag, as in en-GB (BCP 47)"})
	}
	if p.Formats != "" && !knownLanguage(p.Formats) {
		out = append(out, fault.Field{Name: "format_locale", Got: p.Formats, Want: "a language tag, as in de-CH (BCP 47)"})
	}
	if p.TimeZone != "" && !knownZone(p.TimeZone) {
		out = append(out, fault.Field{Name: "time_zone", Got: p.TimeZone, Want: "an IANA time zone, as in America/New_York"})
	}
	return out
}

// validMailbox reports whether the text is one mailbox that mail can be sent to.
func validMailbox(text string) bool { return reach.Mailbox(text) }

// possiblePhone reports whether the text is a number in E.164 that could be
// dialled.
func possiblePhone(text string) bool { return reach.Phone(text) }

// knownLanguage reports whether the tag is well formed and its subtags are
// registered.
func knownLanguage(tag string) bool {
	_, err := language.Parse(tag)
	return err == nil
}

// knownZone reports whether the zone can be loaded here. "Local" is the
// machine's zone and nobody's.
func knownZone(name string) bool {
	_, err := time.LoadLocation(name)
	return err == nil && name != "Local"
}
