package console

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// shortestName is how much of a name the services want to be told.
const shortestName = 3

// findPeople asks who goes by a fragment; nobody when that cannot be asked:
// the fragment is too short, or the caller may not read people.
func (c *Console) findPeople(ctx context.Context, query string) ([]*ownerv1.FoundPerson, error) {
	if len([]rune(strings.TrimSpace(query))) < shortestName {
		return nil, nil
	}
	found, err := c.Owners.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: query})
	switch status.Code(err) {
	case codes.PermissionDenied, codes.InvalidArgument:
		return nil, nil
	}
	return found.GetPeople(), err
}

// foundPeople prints people with what they are or were to which vehicles.
func foundPeople(s *sheet, people []*ownerv1.FoundPerson) {
	for _, f := range people {
		by := map[string]string{"email": "mail address", "phone": "telephone number"}[f.GetMatched()]
		s.line("%s  %s, by %s", idOf(f.GetPerson().GetName()), f.GetPerson().GetFullName(), cmp.Or(by, f.GetMatched()))
		for _, t := range f.GetTies() {
			s.line("    %s", tieWords(t, serialOf(t.GetName())))
		}
		if len(f.GetTies()) == 0 {
			s.line("    tied to no vehicle")
		}
	}
}

// tieWords says what somebody is or was to what.
func tieWords(t *ownerv1.Tie, to string) string {
	text := fmt.Sprintf("%s  %s since %s", to, word(t.GetRole(), "ROLE_"), day(t.GetStartDate()))
	if t.GetEndDate() != nil {
		return strings.Replace(text, " since ", " from ", 1) + " until " + day(t.GetEndDate())
	}
	if !t.GetNotices() {
		text += ", gets no service notices"
	}
	return text
}

// People prints who is or was what to a vehicle, and what has become of it.
// Whoever is no longer tied to it is named without their addresses.
func (c *Console) People(ctx context.Context, serial string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	ties, err := c.ties(ctx, parent)
	if err != nil {
		return err
	}
	standing, err := c.Owners.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: parent + "/standing"})
	if err != nil {
		return err
	}
	people := map[string]*ownerv1.Person{}
	for _, t := range ties {
		if t.GetEndDate() != nil || people[t.GetPerson()] != nil {
			continue
		}
		if people[t.GetPerson()], err = c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: t.GetPerson()}); err != nil {
			return err
		}
	}
	slices.SortStableFunc(ties, presentFirst)
	return printAll(c, ties, func(s *sheet) {
		s.line("%s, %s", serialOf(name), standingWords(standing))
		for _, t := range ties {
			s.line("%s", tieWords(t, idOf(t.GetPerson())))
			if p := people[t.GetPerson()]; p != nil && t.GetEndDate() == nil {
				contact(s, p)
			}
		}
		if len(ties) == 0 {
			s.line("Nobody is or was tied to it.")
		}
	})
}

// presentFirst orders what lasts before what is over, and owners before others.
func presentFirst(a, b *ownerv1.Tie) int {
	over := func(t *ownerv1.Tie) int {
		if t.GetEndDate() != nil {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(over(a), over(b)), cmp.Compare(a.GetRole(), b.GetRole()))
}

// contact prints how to reach a person.
func contact(s *sheet, p *ownerv1.Person) {
	s.line("    %s", p.GetFullName())
	if p.GetDeceasedDate() != nil {
		s.line("    died on %s", day(p.GetDeceasedDate()))
	}
	if p.GetPhone() != "" {
		s.line("    telephone %s", p.GetPhone())
	}
	if p.GetEmail() != "" {
		s.line("    mail %s", p.GetEmail())
	}
	if lines := p.GetPostalLines(); len(lines) > 0 {
		s.line("    post %s", strings.Join(lines, ", "))
	}
	for _, u := range p.GetUndeliverable() {
		s.text("    ", fmt.Sprintf("what is sent%s comes back, as noted%s: %s", byWay[u.GetWay()], onTime(u.GetMarkTime()), u.GetReason()))
	}
}

// Person prints all that the owner's record has of a person.
func (c *Console) Person(ctx context.Context, id string) error {
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: personName(id)})
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) { personSheet(s, p) })
}

// personName takes an identifier or a resource name.
func personName(id string) string { return "people/" + strings.TrimPrefix(id, "people/") }

func personSheet(s *sheet, p *ownerv1.Person) {
	s.line("%s", idOf(p.GetName()))
	contact(s, p)
	var ways []string
	for _, w := range p.GetContactWays() {
		ways = append(ways, strings.TrimPrefix(byWay[w], " by "))
	}
	if len(ways) == 0 {
		ways = []string{"mail", "letter"}
	}
	s.line("    reached by %s", strings.Join(ways, ", then "))
	from, until := p.GetContactFromHour(), p.GetContactUntilHour()
	if from == 0 && until == 0 {
		from, until = 9, 18
	}
	habit := ""
	if f := p.GetFormatLocale(); f != "" {
		habit = ", dates and numbers as in " + spoken(f)
	}
	s.line("    in %s, distances in %s%s", spoken(cmp.Or(p.GetLanguage(), "en")), unitWords[p.GetDistanceUnit()], habit)
	s.line("    messages between %d and %d o'clock in %s", from, until, p.GetTimeZone())
	if hold := p.GetRetentionHold(); hold != "" {
		s.text("    ", "kept beyond its time: "+hold)
	}
	if n := p.GetMostMessages(); n > 0 {
		s.line("    at most %s in 30 days", plural(int(n), "service message", "service messages"))
	}
	for _, consent := range p.GetConsents() {
		s.text("    ", consentWords(consent))
	}
}

func consentWords(c *ownerv1.Consent) string {
	said := "refused"
	if c.GetGiven() {
		said = "agreed to"
	}
	text := said + " " + purposeWords[c.GetPurpose()] + byWay[c.GetWay()] + onTime(c.GetConsentTime()) + sourceWords[c.GetSource()]
	if c.GetWording() != "" {
		text += ": “" + c.GetWording() + "”"
	}
	return text
}

// PersonChange is what is to be different about a person; nil and empty leave
// a field as it is, and "-" empties it.
type PersonChange struct {
	Name, Email, Phone, Language, Formats, Unit, Zone string
	Postal                                            []string // "-" alone empties it
	Ways                                              []string // mail, text, letter
	Hours                                             string   // "8-20"
	Most                                              *int
	Hold                                              string // why the record is kept beyond its time
	Died                                              vehicle.Date
}

// ChangePerson changes some of what is known of a person.
func (c *Console) ChangePerson(ctx context.Context, id string, change PersonChange) error {
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: personName(id)})
	if err != nil {
		return err
	}
	if err := change.onto(p); err != nil {
		return err
	}
	p, err = c.Owners.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: p, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) { personSheet(s, p) })
}

func (change PersonChange) onto(p *ownerv1.Person) error {
	for field, text := range map[*string]string{
		&p.FullName: change.Name, &p.Email: change.Email, &p.Phone: change.Phone, &p.Language: change.Language,
		&p.FormatLocale: change.Formats, &p.DistanceUnit: change.Unit, &p.TimeZone: change.Zone,
		&p.RetentionHold: change.Hold,
	} {
		switch text {
		case "":
		case "-":
			*field = ""
		default:
			*field = text
		}
	}
	switch {
	case len(change.Postal) == 1 && change.Postal[0] == "-":
		p.PostalLines = nil
	case len(change.Postal) > 0:
		p.PostalLines = change.Postal
	}
	if len(change.Ways) > 0 {
		p.ContactWays = nil
		for _, text := range change.Ways {
			way, err := contactWay(text)
			if err != nil {
				return err
			}
			p.ContactWays = append(p.ContactWays, way)
		}
	}
	if change.Hours != "" {
		if n, err := fmt.Sscanf(change.Hours, "%d-%d", &p.ContactFromHour, &p.ContactUntilHour); n != 2 || err != nil {
			return fault.InvalidField("hours", change.Hours, "two hours of the day: 8-20")
		}
	}
	if change.Most != nil {
		p.MostMessages = int32(*change.Most)
	}
	if !change.Died.IsZero() {
		p.DeceasedDate = vehiclewire.DateProto(change.Died)
	}
	return nil
}

func contactWay(text string) (ownerv1.ContactWay, error) {
	value, ok := enumOf(ownerv1.ContactWay_value, "CONTACT_WAY_", text)
	if !ok {
		return 0, fault.InvalidField("way", text, kinds(ownerv1.ContactWay_name, "CONTACT_WAY_"))
	}
	return ownerv1.ContactWay(value), nil
}

// purposeOf reads what for somebody is written to, where they have a say.
func purposeOf(text string) (ownerv1.Purpose, error) {
	value, ok := enumOf(ownerv1.Purpose_value, "PURPOSE_", text)
	if of := ownerv1.Purpose(value); ok && of != ownerv1.Purpose_PURPOSE_SAFETY && of != ownerv1.Purpose_PURPOSE_HANDBOOK {
		return of, nil
	}
	return 0, fault.InvalidField("purpose", text, "service or year-letter; safety campaigns need no consent and are never stopped")
}

// ConsentGiven is what somebody said about being written to, as typed.
type ConsentGiven struct {
	Purpose, Way, Wording, Language, Source string
	Given                                   bool
}

// RecordConsent keeps what a person said about being written to.
func (c *Console) RecordConsent(ctx context.Context, id string, said ConsentGiven) error {
	consent := &ownerv1.Consent{Given: said.Given, Wording: said.Wording, Language: said.Language}
	purpose, err := purposeOf(said.Purpose)
	if err != nil {
		return err
	}
	source, ok := enumOf(ownerv1.ConsentSource_value, "CONSENT_SOURCE_", said.Source)
	if !ok {
		return fault.InvalidField("source", said.Source, kinds(ownerv1.ConsentSource_name, "CONSENT_SOURCE_"))
	}
	consent.Purpose, consent.Source = purpose, ownerv1.ConsentSource(source)
	if said.Way != "" {
		way, err := contactWay(said.Way)
		if err != nil {
			return err
		}
		consent.Way = way
	}
	made, err := c.Owners.RecordConsent(ctx, &ownerv1.RecordConsentRequest{Parent: personName(id), Consent: consent, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { s.text("", idOf(personName(id))+" "+consentWords(made)) })
}

// Consents prints all that a person ever said about being written to.
func (c *Console) Consents(ctx context.Context, id string) error {
	consents, err := c.consents(ctx, personName(id))
	if err != nil {
		return err
	}
	return printAll(c, consents, func(s *sheet) {
		for _, consent := range consents {
			s.text("", consentWords(consent))
		}
		if len(consents) == 0 {
			s.line("Nothing was said about being written to.")
		}
	})
}

func (c *Console) consents(ctx context.Context, person string) ([]*ownerv1.Consent, error) {
	return page.All(func(token string) ([]*ownerv1.Consent, string, error) {
		r, err := c.Owners.ListConsents(ctx, &ownerv1.ListConsentsRequest{Parent: person, PageSize: 500, PageToken: token})
		return r.GetConsents(), r.GetNextPageToken(), err
	})
}

// Erase makes everything that is held about a person unreadable.
func (c *Console) Erase(ctx context.Context, id, ground string, endTies bool) error {
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: personName(id)})
	if err != nil {
		return err
	}
	e, err := c.Owners.ErasePerson(ctx, &ownerv1.ErasePersonRequest{
		Name: p.GetName(), Etag: p.GetEtag(), Ground: ground, EndTies: endTies, RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(e, func(s *sheet) {
		s.text("", fmt.Sprintf("%s was erased%s. The master key %s was destroyed and %s took its place.",
			idOf(p.GetName()), onTime(e.GetCreateTime()), e.GetDestroyedMasterKey(), e.GetNewMasterKey()))
		s.text("", "Do now by hand: destroy every copy of the old master key, and put copies of the secrets directory as it is now where "+
			"the old ones were. What was printed, exported or imported from files about the person is theirs to ask for as well: "+
			"those files are not kept here.")
	})
}

// Erasures prints who was erased when, by identifier.
func (c *Console) Erasures(ctx context.Context) error {
	erasures, err := page.All(func(token string) ([]*ownerv1.Erasure, string, error) {
		r, err := c.Owners.ListErasures(ctx, &ownerv1.ListErasuresRequest{PageSize: 500, PageToken: token})
		return r.GetErasures(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, erasures, func(s *sheet) {
		for _, e := range erasures {
			s.text("", fmt.Sprintf("%s was erased%s by %s: %s", idOf(e.GetName()), onTime(e.GetCreateTime()), e.GetRecordedBy(), e.GetGround()))
		}
		if len(erasures) == 0 {
			s.line("Nobody was erased.")
		}
	})
}
