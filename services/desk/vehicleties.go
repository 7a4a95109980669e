package desk

import (
	"cmp"
	"slices"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// writesPeople reports whether who is signed in reads and keeps the records of
// people, and writes to them. Nobody else is asked for: each refusal is a line of
// the audit.
func (v *visit) writesPeople() bool {
	return v.signed != nil && slices.Contains(supportRoles, v.signed.Account.GetRole())
}

// holds says whether a tie is in force on a day: up to the day it ended, which
// does not count.
func holds(t *ownerv1.Tie, on vehicle.Date) bool {
	end := onDay(t.GetEndDate())
	return !onDay(t.GetStartDate()).After(on) && (end.IsZero() || end.After(on))
}

// ties are those of a vehicle that hold today.
func (v *visit) ties(serial string) ([]*ownerv1.Tie, error) {
	all, err := page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := v.d.Owners.ListTies(v.as(), &ownerv1.ListTiesRequest{Parent: "vehicles/" + serial, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	})
	return slices.DeleteFunc(all, func(t *ownerv1.Tie) bool { return !holds(t, v.today()) }), err
}

// contacts are who is tied to the vehicle today, and who they are.
func (v *visit) contacts() ([]*enquiryv1.DossierContact, error) {
	ties, err := v.ties(v.r.PathValue("serial"))
	if err != nil {
		return nil, err
	}
	var all []*enquiryv1.DossierContact
	for _, t := range ties {
		who, err := v.person(t)
		if err != nil {
			return nil, err
		}
		all = append(all, &enquiryv1.DossierContact{Tie: t, Person: who})
	}
	return all, nil
}

// person is who is tied; nil for those who may not know, and where their record is
// there no longer.
func (v *visit) person(t *ownerv1.Tie) (*ownerv1.Person, error) {
	if !v.writesPeople() {
		return nil, nil
	}
	p, err := v.d.Owners.GetPerson(v.as(), &ownerv1.GetPersonRequest{Name: t.GetPerson()})
	if status.Code(err) == codes.NotFound {
		return nil, nil
	}
	return p, err
}

// tiedPerson is the person that the address names, who must be something to the
// vehicle: nobody is looked up by their number.
func (v *visit) tiedPerson() (*ownerv1.Person, error) {
	ties, err := v.ties(v.r.PathValue("serial"))
	if err != nil {
		return nil, err
	}
	name := "people/" + v.r.PathValue("person")
	for _, t := range ties {
		if t.GetPerson() == name {
			return v.d.Owners.GetPerson(v.as(), &ownerv1.GetPersonRequest{Name: name})
		}
	}
	return nil, fault.New(fault.NotFound, "NO_PERSON", "there is no such person of this vehicle")
}

// contactWords say who somebody is, and what to the vehicle.
func contactWords(c *enquiryv1.DossierContact) string {
	return cmp.Or(c.GetPerson().GetFullName(), bare(c.GetTie().GetPerson())) + ", " + word(c.GetTie().GetRole(), "ROLE_")
}
