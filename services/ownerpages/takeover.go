package ownerpages

import (
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
)

// takeOverForm is the page on which a new owner takes a vehicle over.
type takeOverForm struct {
	Serial, Code               string
	Name, Email, Phone, Postal string
	Languages, Units           []choice
	Zones                      []zoneGroup
	Elsewhere                  bool   // the country is not among them
	Country, Clock             string // of somebody who lives elsewhere
	Consents                   []consentForm
	Others                     []press // the page in other languages
	Wrong                      string
	Bad                        string // name of the field that is wrong
	Request                    string
	Path                       template.URL // where the form goes: it keeps the language
}

// longestCode is the longest code that is shown again, in bytes.
const longestCode = 40

// consentForm is one question about being written to. Nothing is answered
// beforehand.
type consentForm struct {
	Name, Wording string
	Yes, No       bool
}

// consents are what is asked for, in the order of the page.
var consents = []struct {
	name    string
	purpose ownerv1.Purpose
	way     ownerv1.ContactWay
}{
	{"consent-mail", ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.ContactWay_CONTACT_WAY_MAIL},
	{"consent-text", ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.ContactWay_CONTACT_WAY_TEXT},
	{"consent-year", ownerv1.Purpose_PURPOSE_YEAR_LETTER, ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED},
}

// newcomer gives the habits of somebody who may have chosen a language.
func (p *pages) newcomer(r *http.Request, chosen string) reader {
	for _, tag := range p.offered() {
		if tag == chosen {
			r = r.Clone(r.Context())
			r.Header.Set("Accept-Language", tag)
		}
	}
	return p.stranger(r)
}

// offered are the languages that somebody can choose: the plain ones, whose
// regional habits follow from the country.
func (p *pages) offered() []string {
	var tags []string
	for _, tag := range p.languages {
		if _, region := tag.Region(); region < language.Exact {
			tags = append(tags, tag.String())
		}
	}
	return tags
}

func (p *pages) showTakeOver(w http.ResponseWriter, r *http.Request) {
	p.askTakeOver(w, http.StatusOK, p.newcomer(r, r.URL.Query().Get("language")), form{}, takeOverForm{Request: uuid.NewString()})
}

// askTakeOver prints the form with what was typed.
func (p *pages) askTakeOver(w http.ResponseWriter, status int, who reader, f form, page takeOverForm) {
	page.Path = template.URL("/take-over?language=" + who.words.Tag())
	page.Serial, page.Name, page.Email = f.text("serial"), f.text("name"), f.text("email")
	page.Phone, page.Postal = f.text("phone"), f.text("postal")
	page.Elsewhere, page.Country, page.Clock = f.text("zone") == elsewhere, f.text("country"), f.text("clock")
	if code := f.text("code"); len(code) <= longestCode {
		page.Code = code
	}
	for _, tag := range p.offered() {
		name := display.Self.Name(language.Make(tag))
		own := sameLanguage(tag, who.words.Tag())
		chosen := f.text("language") == tag || f.text("language") == "" && own
		page.Languages = append(page.Languages, choice{tag, name, chosen})
		if !own {
			page.Others = append(page.Others, press{name, template.URL("/take-over?language=" + tag)})
		}
	}
	unit := f.text("unit")
	if unit == "" && !sameLanguage("en", who.words.Tag()) { // only English is read where roads are measured in miles
		unit = string(vehicle.Kilometres)
	}
	page.Units, page.Zones = who.units(unit), who.zones(f.text("zone"))
	for _, c := range consents {
		page.Consents = append(page.Consents, consentForm{c.name, p.wording(who, c.name), f.text(c.name) == "yes", f.text(c.name) == "no"})
	}
	p.render(w, who, sheet{status: status, name: "takeover.html", title: who.say("takeover.title"), content: page})
}

// sameLanguage says whether two tags are of one language, whatever the country.
func sameLanguage(a, b string) bool {
	x, _ := language.Make(a).Base()
	y, _ := language.Make(b).Base()
	return x == y
}

// wording is what somebody agrees to, word for word as it is shown and kept.
func (p *pages) wording(who reader, name string) string {
	works := p.Works
	if works == "" {
		works = who.say("works")
	}
	return who.say("takeover."+name, "works", works)
}

// takeOver takes a vehicle over with a code. Whatever is wrong with serial or
// code, there is one refusal.
func (p *pages) takeOver(w http.ResponseWriter, r *http.Request) {
	who := p.newcomer(r, r.URL.Query().Get("language"))
	f, err := readForm(w, r, false)
	if err != nil {
		p.print(w, who, http.StatusBadRequest, "form-unread", nil)
		return
	}
	page := takeOverForm{Request: f.request()}
	owner, said, bad := p.newOwner(who, f, p.pressed.first(f, p.Clock()))
	var done *ownerv1.AcceptTransferResponse
	serial, err := vehicle.ParseSerial(f.text("serial"))
	switch {
	case bad != "":
	case err != nil || f.text("code") == "" || len(f.text("code")) > 100:
		bad = "code"
	default:
		done, err = p.Owners.AcceptTransfer(p.AsService(r.Context()), &ownerv1.AcceptTransferRequest{
			Parent: "vehicles/" + string(serial), Code: f.text("code"), NewOwner: owner, Consents: said, RequestId: page.Request,
		})
		if bad = badField(err); err != nil && bad == "" {
			p.Logger.Error("a vehicle could not be taken over", "reason", rpcerr.FromStatus(err).Reason)
			p.print(w, who, http.StatusServiceUnavailable, "unavailable", nil)
			return
		}
	}
	if bad != "" {
		page.Bad, page.Wrong = bad, who.say("takeover.wrong-"+bad)
		if home := p.homeOf(who, f); bad == "phone" && f.text("phone") != "" {
			page.Wrong = who.say("takeover.phone-abroad")
			if home.region != "" {
				page.Wrong = who.say("takeover.phone-in", "country", home.country)
			}
		}
		p.askTakeOver(w, http.StatusUnprocessableEntity, who, f, page)
		return
	}
	p.welcome(w, p.readerOf(owner), string(serial), owner, said, done)
}

// badField is the field of the page that a refusal is about; "" for a refusal
// that is about none.
func badField(err error) string {
	f := rpcerr.FromStatus(err)
	if f == nil {
		return ""
	}
	for _, field := range f.Fields {
		for _, known := range []struct{ part, name string }{
			{"email", "email"}, {"phone", "phone"}, {"postal", "postal"}, {"full_name", "name"}, {"time_zone", "zone"},
			{"consents", "consent"}, {"language", "language"},
		} {
			if strings.Contains(field.Name, known.part) {
				return known.name
			}
		}
	}
	switch f.Kind {
	case fault.NotFound, fault.Invalid, fault.FailedPrecondition, fault.Denied, fault.Unauthenticated, fault.AlreadyExists, fault.Aborted, fault.Exhausted:
		return "code"
	}
	return ""
}

// newOwner reads who takes the vehicle over, or names the field that is wrong.
// pressed is when the form was sent.
func (p *pages) newOwner(who reader, f form, pressed time.Time) (owner *ownerv1.Person, said []*ownerv1.Consent, bad string) {
	home := p.homeOf(who, f)
	owner = &ownerv1.Person{
		FullName: f.text("name"), Email: f.text("email"), Language: f.text("language"),
		DistanceUnit: f.text("unit"), TimeZone: home.zone, FormatLocale: home.habits(f.text("language")),
		PostalLines: home.address(f.text("postal")),
	}
	switch {
	case owner.FullName == "" || fault.Longer(owner.FullName, maxName):
		return nil, nil, "name"
	case len(owner.PostalLines) > mostPostal:
		return nil, nil, "postal"
	case home.bad != "":
		return nil, nil, home.bad
	case !slices.Contains(p.offered(), owner.Language):
		return nil, nil, "language"
	case !vehicle.Unit(owner.DistanceUnit).Valid():
		return nil, nil, "unit"
	}
	if text := f.text("phone"); text != "" {
		if owner.Phone = home.telephone(text); owner.Phone == "" {
			return nil, nil, "phone"
		}
	}
	given := map[string]bool{}
	for _, c := range consents {
		answer := f.text(c.name)
		if answer != "yes" && answer != "no" {
			return nil, nil, "consent"
		}
		given[c.name] = answer == "yes"
		said = append(said, &ownerv1.Consent{
			Purpose: c.purpose, Way: c.way, Given: given[c.name], Wording: p.wording(who, c.name), Language: who.words.Tag(),
			ConsentTime: timestamppb.New(pressed), Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAGE,
		})
	}
	switch {
	case given["consent-mail"] && owner.Email == "":
		return nil, nil, "email"
	case given["consent-text"] && owner.Phone == "":
		return nil, nil, "phone"
	}
	if given["consent-text"] {
		owner.ContactWays = []ownerv1.ContactWay{
			ownerv1.ContactWay_CONTACT_WAY_MAIL, ownerv1.ContactWay_CONTACT_WAY_TEXT, ownerv1.ContactWay_CONTACT_WAY_LETTER,
		}
	}
	return owner, said, ""
}

// welcomeLasts is how long the link on the welcome page works.
const welcomeLasts = 24 * time.Hour

// hearsBy says by which way the new owner will hear of us.
func (r reader) hearsBy(owner *ownerv1.Person, said []*ownerv1.Consent) string {
	given := func(way ownerv1.ContactWay) bool {
		return slices.ContainsFunc(said, func(c *ownerv1.Consent) bool { return c.GetGiven() && c.GetWay() == way })
	}
	switch {
	case given(ownerv1.ContactWay_CONTACT_WAY_MAIL):
		return r.say("takeover.next-mail")
	case given(ownerv1.ContactWay_CONTACT_WAY_TEXT):
		return r.say("takeover.next-text")
	case len(owner.GetPostalLines()) > 0:
		return r.say("takeover.next-letter")
	}
	return r.say("takeover.next-none")
}

// welcome greets the new owner and says what happens next.
func (p *pages) welcome(w http.ResponseWriter, who reader, serial string, owner *ownerv1.Person, said []*ownerv1.Consent, done *ownerv1.AcceptTransferResponse) {
	m := message{Text: []string{who.say("takeover.done", "serial", serial), who.hearsBy(owner, said), who.say("takeover.next")}}
	if person, ok := strings.CutPrefix(done.GetTie().GetPerson(), "people/"); ok {
		to := func(purpose links.Purpose) template.URL {
			return p.pathOf(links.Link{Purpose: purpose, Subject: links.Target{Serial: serial, Person: person}.Subject(), Expires: p.Clock().Add(welcomeLasts)})
		}
		m.Press = []press{{who.say("press.schedule"), to(links.Schedule)}, {who.say("press.odometer"), to(links.Odometer)}}
	}
	p.render(w, who, sheet{status: http.StatusOK, name: "message.html", title: who.say("takeover.done-title"), content: m})
}
