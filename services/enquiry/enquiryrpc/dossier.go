package enquiryrpc

import (
	"cmp"
	"context"
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// How much of a long history is on the page.
const (
	mostVisits    = 5
	mostEnquiries = 10
)

// GetDossier implements the EnquiryService. Each part is asked of its service
// for the caller, all at the same time; a part that gives no answer is a gap
// and hides none of the others. Only a vehicle that is not there is refused.
func (s *Service) GetDossier(ctx context.Context, r *enquiryv1.GetDossierRequest) (*enquiryv1.Dossier, error) {
	serial, _, err := resname.Serial("name", enquirywire.DossierForm, r.GetName())
	if err != nil {
		return nil, err
	}
	on, err := vehiclewire.Date(r.GetOnDate())
	if err != nil {
		return nil, fault.InvalidField("on_date", r.GetOnDate().String(), "a day of the calendar")
	}
	if on.IsZero() {
		on = s.today()
	}
	g := s.gather(ctx, serial, on)
	if g.refusal != nil {
		return nil, g.refusal
	}
	d := &enquiryv1.Dossier{
		Name: enquirywire.VehicleName(serial) + "/dossier", OnDate: vehiclewire.DateProto(on),
		Identity: g.identity(serial), Standing: g.standing, Contacts: g.contacts,
		Covers: g.coversToShow(), OpenClaims: g.claims, Schedule: g.scheduleToShow(),
		Visits: g.visits, DoubtfulReadings: g.doubtful(), Bulletins: g.bulletinsToShow(),
		NearLimits: g.near,
	}
	kept := s.enquiriesToShow(serial)
	if d.Enquiries, err = s.shownAll(ctx, kept); err != nil {
		g.gap("What was asked by and answered to people", err)
		for _, k := range kept {
			d.Enquiries = append(d.Enquiries, enquirywire.EnquiryProto(k.Wordless()))
		}
	}
	release := g.release()
	for _, n := range s.store.Notes(func(n enquiry.Note) bool { return n.For(release) }) {
		d.AnswerNotes = append(d.AnswerNotes, noteProto(n))
	}
	c := g.circumstances(serial, on, kept)
	d.Warnings = c.Warnings()
	for _, q := range c.Questions() {
		d.Questions = append(d.Questions, &enquiryv1.DossierQuestion{Text: q.Text, Reason: vehiclewire.ReasonProto(q.Why)})
	}
	g.workshopsOnto(d, s.Works, c.Standing == enquiry.Scrapped)
	d.Gaps = g.gaps()
	return d, nil
}

// enquiriesToShow gives the last enquiries of a vehicle, open ones first.
func (s *Service) enquiriesToShow(serial vehicle.Serial) []enquirystore.Kept {
	all := s.store.Enquiries(serial, func(enquiry.Enquiry) bool { return true })
	slices.SortStableFunc(all, func(a, b enquirystore.Kept) int {
		return cmp.Compare(order(a.Closed), order(b.Closed))
	})
	return first(all, mostEnquiries)
}

// order puts false before true.
func order(b bool) int {
	if b {
		return 1
	}
	return 0
}

// release is the vehicle's on the day; as it left the works where that is all
// that is known.
func (g *gathered) release() string {
	return strings.TrimPrefix(cmp.Or(g.configuration.GetRelease(), g.build.GetRelease()), "releases/")
}

// coversToShow gives the vehicle's cover, and those of positions with terms of
// their own that still run, or of which it cannot be said.
func (g *gathered) coversToShow() []*warrantyv1.Cover {
	var out []*warrantyv1.Cover
	for i, c := range g.covers {
		if i == 0 || c.GetState() != warrantyv1.CoverState_COVER_STATE_NOT_COVERED {
			out = append(out, c)
		}
	}
	return out
}

// scheduleToShow gives the schedule with what falls due, the earliest first. Its
// service leaves out items with nothing to do, and what an owner does without a
// workshop.
func (g *gathered) scheduleToShow() *schedulev1.Schedule {
	slices.SortStableFunc(g.schedule.GetItems(), func(a, b *schedulev1.ItemStatus) int {
		return cmp.Or(dayOf(a.GetDueDate()).Compare(dayOf(b.GetDueDate())), cmp.Compare(a.GetItemId(), b.GetItemId()))
	})
	return g.schedule
}

// doubtful gives the readings that wait for somebody.
func (g *gathered) doubtful() []*schedulev1.Reading {
	var out []*schedulev1.Reading
	for _, r := range g.readings {
		if r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			out = append(out, r)
		}
	}
	return out
}

// bulletinsToShow gives the bulletins that hold, stop-use first, then open
// campaigns, as their service orders them.
func (g *gathered) bulletinsToShow() []*bulletinv1.VehicleBulletin {
	return g.bulletins
}

// reachable counts the ways by which somebody can be reached: an address or
// number that is on record, and from which nothing came back.
func reachable(p *ownerv1.Person) int {
	dead := map[ownerv1.ContactWay]bool{}
	for _, u := range p.GetUndeliverable() {
		dead[u.GetWay()] = true
	}
	n := 0
	if p.GetEmail() != "" && !dead[ownerv1.ContactWay_CONTACT_WAY_MAIL] {
		n++
	}
	if p.GetPhone() != "" {
		n++ // it can be rung, whatever becomes of text messages
	}
	if len(p.GetPostalLines()) > 0 && !dead[ownerv1.ContactWay_CONTACT_WAY_LETTER] {
		n++
	}
	return n
}
