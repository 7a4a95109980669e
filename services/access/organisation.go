package access

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/fault"
)

// Organisation is a dealer or an independent workshop, with its people.
type Organisation struct {
	ID      string // "ferncombe"
	Title   string // how it is called: "Ferncombe Garage"
	Created time.Time
	Closed  time.Time // zero while it is open
	Contact Contact   // as it publishes it; zero where it publishes nothing
}

// organisations begins the resource name of every organisation.
const organisations = "organisations/"

// Name gives the resource name: "organisations/ferncombe".
func (o Organisation) Name() string { return organisations + o.ID }

// Open reports whether its people may come in.
func (o Organisation) Open() bool { return o.Closed.IsZero() }

// An organisation's identifier is short enough to be typed and long enough to
// be told apart.
const (
	shortestOrganisation = 3
	longestOrganisation  = 40
)

// OrganisationID gives the identifier in "organisations/{organisation}"; false
// when the text cannot be the name of one.
func OrganisationID(name string) (id string, ok bool) {
	id, ok = strings.CutPrefix(name, organisations)
	return id, ok && spelled(id, "-", shortestOrganisation, longestOrganisation)
}

// ProposedOrganisation completes an organisation that is to be made or changed
// and says what is wrong with it. Its fields are those of the API: name, title,
// and what is below contact.
func ProposedOrganisation(o Organisation) (Organisation, []fault.Field) {
	var faults []fault.Field
	if !spelled(o.ID, "-", shortestOrganisation, longestOrganisation) {
		faults = append(faults, fault.Field{Name: "name", Got: o.ID, Want: fmt.Sprintf(
			"organisations/{organisation} with %d to %d of a-z, 0-9 and -, beginning with a letter", shortestOrganisation, longestOrganisation)})
	}
	o.Title = strings.TrimSpace(o.Title)
	if o.Title == "" || !printable(o.Title) {
		faults = append(faults, fault.Field{Name: "title", Got: o.Title, Want: fmt.Sprintf("how it is called, in 1 to %d printable characters", maxText)})
	}
	contact, wrong := ProposedContact(o.Contact)
	o.Contact = contact
	return o, append(faults, fault.FieldsUnder("contact", wrong)...)
}

// spelled reports whether an identifier is of a-z, 0-9 and the marks, begins
// with a letter and is of a length. Capitals are not folded: two spellings of
// one name would be two names in the audit.
func spelled(id, marks string, shortest, longest int) bool {
	if len(id) < shortest || len(id) > longest || id[0] < 'a' || id[0] > 'z' {
		return false
	}
	return !strings.ContainsFunc(id, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9') && !strings.ContainsRune(marks, r)
	})
}
