package owner

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Person is somebody the works may write to. All but ID and Created is
// personal, and ID says nothing of the person.
type Person struct {
	ID          string
	FullName    string
	Email       string // RFC 5321 mailbox, or empty
	Phone       string // E.164, or empty
	PostalLines []string
	Language    string       // BCP 47 tag; empty is English
	Unit        vehicle.Unit // empty is miles
	TimeZone    string       // IANA name
	FromHour    int          // mail may arrive from this hour, local time
	UntilHour   int          // and from this hour no more; both 0 is 9 to 18
	Created     time.Time

	Ways          []Way        // how to reach the person, the most wanted first; empty is mail, then letter
	Formats       string       // BCP 47 tag for dates and numbers; empty is Language
	MostMessages  int          // service messages in any 30 days; 0 is the works' usual number
	Deceased      vehicle.Date // zero while the person lives, as far as is known
	Undeliverable []Undeliverable
	Hold          string // why the record is kept beyond its time; empty for no hold
}

// The hours in which mail may arrive when a person has not said otherwise.
const (
	usualFromHour  = 9
	usualUntilHour = 18
)

// Hours gives the hours from and until which mail may arrive, local time.
func (p Person) Hours() (from, until int) {
	if p.FromHour == 0 && p.UntilHour == 0 {
		return usualFromHour, usualUntilHour
	}
	return p.FromHour, p.UntilHour
}

// Same reports whether two records say the same of a person, whenever they
// were made and whatever came back.
func (p Person) Same(other Person) bool {
	return slices.Equal(p.PostalLines, other.PostalLines) && p.ID == other.ID && p.FullName == other.FullName && p.Email == other.Email &&
		p.Phone == other.Phone && p.Language == other.Language && p.Unit == other.Unit &&
		p.TimeZone == other.TimeZone && p.FromHour == other.FromHour && p.UntilHour == other.UntilHour &&
		slices.Equal(p.Ways, other.Ways) && p.Formats == other.Formats && p.MostMessages == other.MostMessages && p.Deceased == other.Deceased
}

// Replaced gives the mail address and the number that the person has no more in
// the record of after; "" for what stays or was not there.
func (p Person) Replaced(after Person) (email, phone string) {
	if p.Email != after.Email {
		email = p.Email
	}
	if p.Phone != after.Phone {
		phone = p.Phone
	}
	return email, phone
}

// How long things may be: long enough for anybody, short enough for a window
// envelope and a record.
const (
	maxName  = 200 // characters
	maxLines = 10
	maxLine  = 120 // characters

	mostMessages = 100 // in 30 days: three a day is no reminder any more
)

// Faults says what is wrong with the record as far as it can be told from the
// text alone: control characters, lengths, hours. Whether an address, a number,
// a language or a zone exists is for the edge to ask. What was got is never
// quoted for personal fields, since refusals are logged.
func (p Person) Faults() []fault.Field {
	var out []fault.Field
	wrong := func(name, got, want string) { out = append(out, fault.Field{Name: name, Got: got, Want: want}) }
	if p.FullName == "" || !oneLine(p.FullName, maxName) {
		wrong("full_name", Described(p.FullName), "a name on one line, 1 to "+fault.Characters(maxName)+", without spaces around it")
	}
	if len(p.PostalLines) > maxLines {
		wrong("postal_lines", strconv.Itoa(len(p.PostalLines))+" lines", fmt.Sprintf("at most %d", maxLines))
	}
	for i, line := range p.PostalLines {
		if line == "" || !oneLine(line, maxLine) {
			wrong(fmt.Sprintf("postal_lines[%d]", i), Described(line), "one line of 1 to "+fault.Characters(maxLine)+", without spaces around it")
		}
	}
	if p.Unit != "" && p.Unit != vehicle.Miles && p.Unit != vehicle.Kilometres {
		wrong("distance_unit", string(p.Unit), "mi, km or nothing")
	}
	if p.TimeZone == "" {
		wrong("time_zone", "", "an IANA time zone, as in America/New_York: notices go out by its clock")
	}
	if p.FromHour != 0 || p.UntilHour != 0 {
		if p.FromHour < 0 || p.FromHour > 23 {
			wrong("contact_from_hour", strconv.Itoa(p.FromHour), "0 to 23")
		}
		if p.UntilHour < 1 || p.UntilHour > 24 || p.UntilHour <= p.FromHour {
			wrong("contact_until_hour", strconv.Itoa(p.UntilHour), "1 to 24, later than contact_from_hour")
		}
	}
	for i, w := range p.Ways {
		if !w.known() || slices.Contains(p.Ways[:i], w) {
			wrong(fmt.Sprintf("contact_ways[%d]", i), w.String(), "mail, text or letter, each once")
		}
	}
	out = append(out, holdFaults(p.Hold)...)
	if p.MostMessages < 0 || p.MostMessages > mostMessages {
		wrong("most_messages", strconv.Itoa(p.MostMessages), fmt.Sprintf("0 to %d", mostMessages))
	}
	return out
}

// FaultsOn is Faults together with what is wrong as of a day, which is today
// where the person lives.
func (p Person) FaultsOn(today vehicle.Date) []fault.Field {
	out := p.Faults()
	if p.Deceased.After(today) {
		out = append(out, fault.Field{Name: "deceased_date", Got: p.Deceased.String(), Want: "today, " + today.String() + ", or earlier"})
	}
	return out
}

// Described says how much there was without saying what, for faults in
// personal fields.
func Described(personal string) string {
	if personal == "" {
		return ""
	}
	return fault.Length(personal)
}

// oneLine reports whether the text is printable text without line breaks or
// other controls, and without spaces around it. A line break in a name or an
// address could forge a header of a mail.
func oneLine(s string, most int) bool {
	return !fault.Longer(s, most) && utf8.ValidString(s) && strings.TrimSpace(s) == s &&
		!strings.ContainsFunc(s, func(r rune) bool {
			return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == utf8.RuneError
		})
}

// ValidID reports whether the text can identify a person or a tie: 1 to 64
// letters, digits, dots, hyphens and underscores, the first a letter or digit.
func ValidID(id string) bool {
	for i, c := range []byte(id) {
		alphanumeric := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9'
		if !alphanumeric && (i == 0 || c != '.' && c != '-' && c != '_') {
			return false
		}
	}
	return id != "" && len(id) <= 64
}
