package enquirywire

import (
	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Workshop reads an organisation as one that can do work.
func Workshop(o *accessv1.Organisation) enquiry.Workshop {
	w := enquiry.Workshop{
		Organisation: o.GetName(), Title: o.GetTitle(), Closed: o.GetCloseTime() != nil, Country: o.GetContact().GetCountryCode(),
	}
	if l := o.GetContact().GetLocation(); l != nil {
		w.Place = &enquiry.Place{Latitude: l.GetLatitude(), Longitude: l.GetLongitude()}
	}
	return w
}

// CandidateProto writes a workshop of the answer, with how it is reached, in the
// reader's unit.
func CandidateProto(c enquiry.Candidate, contact *accessv1.OrganisationContact, unit vehicle.Unit) *enquiryv1.Workshop {
	out := &enquiryv1.Workshop{
		Organisation: c.Organisation, Title: c.Title, Ground: enquiryv1.WorkshopGround(c.Ground),
		Reason: vehiclewire.ReasonProto(c.Why), Contact: contact,
	}
	if c.Far {
		mm := int64(c.Distance)
		out.Distance, out.DistanceText = &mm, c.Distance.Text(unit)
	}
	return out
}
