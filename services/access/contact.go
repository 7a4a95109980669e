package access

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// Contact is how an organisation is reached, as it publishes that itself. The
// zero value is nothing published.
type Contact struct {
	Address []string  // street and number, without the town
	Town    string    // with its post code, if there is one
	Country string    // ISO 3166-1 alpha-2: "GB"
	Phone   string    // E.164
	Email   string    // one mailbox
	At      *Location // nil where nobody said
	Work    string    // what it does: "axles, gearboxes, recovery"
}

// Location is a place on the Earth, in degrees of WGS 84.
type Location struct{ Latitude, Longitude float64 }

// IsZero reports whether nothing is published.
func (c Contact) IsZero() bool { return c.Same(Contact{}) }

// Same reports whether two contacts say the same.
func (c Contact) Same(o Contact) bool {
	at := c.At == nil && o.At == nil || c.At != nil && o.At != nil && *c.At == *o.At
	return at && slices.Equal(c.Address, o.Address) && c.Town == o.Town && c.Country == o.Country &&
		c.Phone == o.Phone && c.Email == o.Email && c.Work == o.Work
}

// mostAddressLines bounds an address; with town and country it fits a window
// envelope.
const mostAddressLines = 6

// ProposedContact completes a contact and says what is wrong with it as far as
// the text alone tells: whether a number or a mailbox can be real, and whether
// there is such a country, is for the edge to ask. Its fields are those of the
// API. An address may be that of somebody's home, so that what was got is
// described and not repeated.
func ProposedContact(c Contact) (Contact, []fault.Field) {
	var faults []fault.Field
	wrong := func(name, got, want string) { faults = append(faults, fault.Field{Name: name, Got: got, Want: want}) }
	line := "printable text on one line, of " + fault.AtMost(maxText)
	if len(c.Address) > mostAddressLines {
		wrong("address_lines", strconv.Itoa(len(c.Address))+" lines", fmt.Sprintf("at most %d", mostAddressLines))
	}
	c.Address = slices.Clone(c.Address)
	for i := range c.Address {
		if c.Address[i] = strings.TrimSpace(c.Address[i]); c.Address[i] == "" || !printable(c.Address[i]) {
			wrong(fmt.Sprintf("address_lines[%d]", i), undisclosed(c.Address[i]), line)
		}
	}
	c.Town, c.Work = strings.TrimSpace(c.Town), strings.TrimSpace(c.Work)
	c.Country, c.Phone, c.Email = strings.TrimSpace(c.Country), strings.TrimSpace(c.Phone), strings.TrimSpace(c.Email)
	if !printable(c.Town) {
		wrong("town", undisclosed(c.Town), line)
	}
	if !fits(c.Work, maxPurpose) {
		wrong("work", c.Work, fmt.Sprintf("what it does, in at most %d printable characters", maxPurpose))
	}
	if c.Country != "" && !CountryShaped(c.Country) {
		wrong("country_code", c.Country, "two capital letters by ISO 3166-1, as in GB")
	}
	if c.Country == "" && (c.Town != "" || len(c.Address) > 0) {
		wrong("country_code", "", "the country of the address, by ISO 3166-1, as in GB")
	}
	if c.At != nil && !c.At.Valid() {
		wrong("location", fmt.Sprintf("latitude %g, longitude %g", c.At.Latitude, c.At.Longitude), "a latitude from -90 to 90 and a longitude from -180 to 180, in degrees")
	}
	return c, faults
}

// Valid reports whether there is such a place.
func (l Location) Valid() bool {
	return math.Abs(l.Latitude) <= 90 && math.Abs(l.Longitude) <= 180 // false for what is no number
}

// CountryShaped reports whether a text is two capitals, as codes of countries
// are.
func CountryShaped(s string) bool {
	return len(s) == 2 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'A' && s[1] <= 'Z'
}

// undisclosed says how much there was without saying what.
func undisclosed(s string) string {
	if s == "" {
		return ""
	}
	return fault.Length(s)
}
