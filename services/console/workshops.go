package console

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/type/latlng"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/fault"
)

// Workshops prints who can do the work on a vehicle: near a place, which is a
// latitude and a longitude or the town of an organisation, where one is given;
// with distances in a unit, the owner's unless said.
func (c *Console) Workshops(ctx context.Context, serial, near, unit string) error {
	r := &enquiryv1.SearchWorkshopsRequest{DistanceUnit: unit, PageSize: 20}
	if at, ok, err := ParseLocation(near); err != nil {
		return err
	} else if ok {
		r.Near = at
	} else {
		r.NearTown = near
	}
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	r.Parent = "vehicles/" + serialOf(name)
	answer, err := c.Enquiries.SearchWorkshops(ctx, r)
	if err != nil {
		return err
	}
	return c.print(answer, func(s *sheet) {
		s.line("Who can do the work on %s", serialOf(name))
		for _, w := range answer.GetWorkshops() {
			workshopText(s, w)
		}
		if answer.GetNextPageToken() != "" {
			s.line("  and others, farther down the list")
		}
		for _, note := range answer.GetNotes() {
			s.text("  ", note)
		}
		if q := answer.GetQuestion(); q != nil {
			s.text("  ? ", q.GetText())
			s.text("    ", q.GetReason().GetSentence())
		}
	})
}

// ParseLocation reads "LAT,LONG" in degrees; false for what is no two numbers,
// which may be the name of a town.
func ParseLocation(text string) (*latlng.LatLng, bool, error) {
	north, east, two := strings.Cut(text, ",")
	lat, errLat := strconv.ParseFloat(strings.TrimSpace(north), 64)
	long, errLong := strconv.ParseFloat(strings.TrimSpace(east), 64)
	if !two || errLat != nil && errLong != nil {
		return nil, false, nil
	}
	if errLat != nil || errLong != nil {
		return nil, false, fault.InvalidField("near", text, "a latitude and a longitude in degrees, as in 54.45,-2.45, or the name of a town")
	}
	return &latlng.LatLng{Latitude: lat, Longitude: long}, true, nil
}

// workshopText says who, why, how far, and how they are reached.
func workshopText(s *sheet, w *enquiryv1.Workshop) {
	head := w.GetTitle()
	if w.GetDistanceText() != "" {
		head += ", about " + w.GetDistanceText() + " away as the crow flies"
	}
	s.text("  ", head)
	s.text("    ", w.GetReason().GetSentence())
	contactLines(s, w.GetContact())
}

// contactLines says how an organisation is reached.
func contactLines(s *sheet, c *accessv1.OrganisationContact) {
	if c == nil {
		s.line("    nothing is on record of how they are reached")
		return
	}
	var where []string
	for _, part := range append(append([]string{}, c.GetAddressLines()...), c.GetTown(), c.GetCountryCode()) {
		if part != "" {
			where = append(where, part)
		}
	}
	for _, row := range [][2]string{
		{"telephone", c.GetPhone()}, {"mail", c.GetEmail()}, {"address", strings.Join(where, ", ")}, {"does", c.GetWork()},
	} {
		if row[1] != "" {
			s.text("    "+row[0]+" ", row[1])
		}
	}
}

// OrganisationFields are what is known of an organisation, as typed. Nil leaves
// a field as it is; an empty text takes it away.
type OrganisationFields struct {
	Title, Town, Country, Phone, Email, Location, Work *string
	Address                                            []string // lines; none leaves them, one empty line takes them away
}

// onto puts what was typed onto an organisation.
func (f OrganisationFields) onto(o *accessv1.Organisation) error {
	if f.Title != nil {
		o.Title = *f.Title
	}
	c := o.GetContact()
	if c == nil {
		c = &accessv1.OrganisationContact{}
	}
	for _, set := range []struct {
		from *string
		to   *string
	}{{f.Town, &c.Town}, {f.Country, &c.CountryCode}, {f.Phone, &c.Phone}, {f.Email, &c.Email}, {f.Work, &c.Work}} {
		if set.from != nil {
			*set.to = *set.from
		}
	}
	if len(f.Address) > 0 {
		c.AddressLines = f.Address
		if len(f.Address) == 1 && f.Address[0] == "" {
			c.AddressLines = nil
		}
	}
	if f.Location != nil {
		c.Location = nil
		if *f.Location != "" {
			at, ok, err := ParseLocation(*f.Location)
			if err != nil || !ok {
				return fault.InvalidField("location", *f.Location, "a latitude and a longitude in degrees, as in 54.45,-2.45")
			}
			c.Location = at
		}
	}
	o.Contact = c
	return nil
}

func (f OrganisationFields) empty() bool {
	return f.Title == nil && f.Town == nil && f.Country == nil && f.Phone == nil && f.Email == nil && f.Location == nil && f.Work == nil && len(f.Address) == 0
}

// whereWords is the place of an organisation in a line, with its telephone.
func whereWords(c *accessv1.OrganisationContact) string {
	if c == nil {
		return ""
	}
	text := ""
	if c.GetTown() != "" {
		text += " It is in " + c.GetTown() + ", " + c.GetCountryCode() + "."
	}
	if c.GetPhone() != "" {
		text += " Telephone " + c.GetPhone() + "."
	}
	if c.GetEmail() != "" {
		text += " Mail " + c.GetEmail() + "."
	}
	if l := c.GetLocation(); l != nil {
		text += fmt.Sprintf(" At %g, %g.", l.GetLatitude(), l.GetLongitude())
	}
	return text
}
