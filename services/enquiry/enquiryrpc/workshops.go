package enquiryrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// workshopGap is the part of an answer that organisations are.
const workshopGap = "Who can do the work"

// workshops are the organisations on record and those that a vehicle is assigned
// to now, as far as the caller may know of them.
type workshops struct {
	all      []enquiry.Workshop
	contacts map[string]*accessv1.OrganisationContact // by the name of the organisation
	towns    []*accessv1.Organisation
	assigned []enquiry.Assigned
}

// readWorkshops reads them. Which organisations there are is asked as this
// service; what they have to do with the vehicle, as the caller.
func (s *Service) readWorkshops(ctx context.Context, name string) (*workshops, error) {
	w := &workshops{contacts: map[string]*accessv1.OrganisationContact{}}
	var asking errgroup.Group
	asking.Go(func() error {
		return page.Each(func(token string) ([]*accessv1.Organisation, string, error) {
			r, err := s.Access.ListOrganisations(asService(ctx), &accessv1.ListOrganisationsRequest{PageSize: 500, PageToken: token})
			return r.GetOrganisations(), r.GetNextPageToken(), err
		}, func(o *accessv1.Organisation) error {
			w.all = append(w.all, enquirywire.Workshop(o))
			w.towns, w.contacts[o.GetName()] = append(w.towns, o), o.GetContact()
			return nil
		})
	})
	asking.Go(func() error {
		return page.Each(func(token string) ([]*accessv1.Assignment, string, error) {
			r, err := s.Access.ListAssignments(ctx, &accessv1.ListAssignmentsRequest{Parent: name, Open: true, PageSize: 500, PageToken: token})
			return r.GetAssignments(), r.GetNextPageToken(), err
		}, func(a *accessv1.Assignment) error {
			w.assigned = append(w.assigned, enquiry.Assigned{Record: a.GetName(), Organisation: a.GetOrganisation(), Last: dayOf(a.GetLastDate())})
			return nil
		})
	})
	return w, asking.Wait()
}

// told gives the workshops that a caller is told of: owners and dealers of those
// that publish how they are reached.
func (w *workshops) told(to access.Caller) []enquiry.Workshop {
	if !to.Role.Limited() {
		return w.all
	}
	return slices.DeleteFunc(slices.Clone(w.all), func(of enquiry.Workshop) bool { return w.contacts[of.Organisation] == nil })
}

// town finds where a town is, by an open organisation that is in it. A post code
// behind the name need not be said.
func (w *workshops) town(asked string) (enquiry.Place, string, error) {
	words := strings.ToLower(strings.Join(strings.Fields(asked), " "))
	for i, o := range w.towns {
		town := strings.ToLower(strings.Join(strings.Fields(o.GetContact().GetTown()), " "))
		if of := w.all[i]; of.Place != nil && !of.Closed && words != "" && (town == words || strings.HasPrefix(town, words+" ")) {
			return *of.Place, strings.Join(strings.Fields(asked), " "), nil
		}
	}
	return enquiry.Place{}, "", fault.InvalidField("near_town", "", "the town of an open organisation whose place is on record; otherwise say a latitude and a longitude")
}

// SearchWorkshops implements the EnquiryService.
func (s *Service) SearchWorkshops(ctx context.Context, r *enquiryv1.SearchWorkshopsRequest) (*enquiryv1.SearchWorkshopsResponse, error) {
	serial, _, err := resname.Serial("parent", enquirywire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	seeking, err := readSeeking(r)
	if err != nil {
		return nil, err
	}
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	name := enquirywire.VehicleName(serial)
	if _, err := s.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + string(serial)}); err != nil {
		return nil, err
	}
	g, w, err := s.gatherForWorkshops(ctx, name)
	if err != nil {
		return nil, err
	}
	if r.GetNearTown() != "" {
		at, called, err := w.town(r.GetNearTown())
		if err != nil {
			return nil, err
		}
		seeking.Near, seeking.NearName = &at, called
	}
	seeking.Works = s.Works
	g.seek(&seeking, w)
	candidates := seeking.Candidates(w.told(access.CallerFrom(ctx)))
	out := &enquiryv1.SearchWorkshopsResponse{Notes: append(seeking.Notes(w.all), g.gaps()...)}
	if ask, yes := seeking.Question(candidates); yes {
		out.Question = &enquiryv1.DossierQuestion{Text: ask.Text, Reason: vehiclewire.ReasonProto(ask.Why)}
	}
	if after != "" {
		at := slices.IndexFunc(candidates, func(c enquiry.Candidate) bool { return c.Organisation == after })
		if at < 0 {
			return nil, fault.InvalidField("page_token", r.GetPageToken(), "one of this list as it stands: ask anew")
		}
		candidates = candidates[at+1:]
	}
	candidates, out.NextPageToken = page.Cut(r, candidates, size, func(c enquiry.Candidate) string { return c.Organisation })
	out.Workshops = w.protos(candidates, seeking.Unit)
	return out, nil
}

// readSeeking reads where the caller is, and the unit to answer in.
func readSeeking(r *enquiryv1.SearchWorkshopsRequest) (enquiry.Seeking, error) {
	var seeking enquiry.Seeking
	var faults []fault.Field
	if at := r.GetNear(); at != nil {
		place := enquiry.Place{Latitude: at.GetLatitude(), Longitude: at.GetLongitude()}
		if !place.Valid() {
			faults = append(faults, fault.Field{Name: "near", Got: fmt.Sprintf("%g, %g", place.Latitude, place.Longitude),
				Want: "a latitude from -90 to 90 and a longitude from -180 to 180, in degrees"})
		}
		seeking.Near = &place
	}
	if r.GetNear() != nil && r.GetNearTown() != "" {
		faults = append(faults, fault.Field{Name: "near_town", Want: "nothing beside near"})
	}
	if text := r.GetDistanceUnit(); text != "" {
		unit, err := vehicle.ParseUnit(text)
		if err != nil {
			faults = append(faults, fault.Field{Name: "distance_unit", Got: text, Want: "mi or km"})
		}
		seeking.Unit = unit
	}
	return seeking, fault.InvalidFields(faults)
}

// gatherForWorkshops asks what the answer rests on, for the caller, at the same
// time. Without the organisations there is no answer; another part that cannot
// be read is a gap.
func (s *Service) gatherForWorkshops(ctx context.Context, name string) (*gathered, *workshops, error) {
	g, today := &gathered{}, s.today()
	var w *workshops
	var asking errgroup.Group
	asking.Go(func() (err error) {
		w, err = s.readWorkshops(ctx, name)
		return err
	})
	asking.Go(func() (err error) {
		if g.visits, err = s.readVisits(ctx, name, vehiclewire.DateProto(today)); err != nil {
			g.gap("The last visits", err)
		}
		return nil
	})
	asking.Go(func() error {
		switch caller := access.CallerFrom(ctx); {
		case readsPeople(caller):
			if err := g.readContacts(ctx, s, name, today); err != nil {
				g.gap("Who is tied to it", err)
			}
		case caller.Role == access.Owner:
			p, err := s.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: caller.Person})
			if err != nil {
				g.gap("Where you live", err)
				return nil
			}
			g.contacts = []*enquiryv1.DossierContact{{Tie: &ownerv1.Tie{Role: ownerv1.Role_ROLE_OWNER}, Person: p}}
		}
		return nil
	})
	err := asking.Wait()
	return g, w, err
}

// seek completes what the answer rests on with what was gathered.
func (g *gathered) seek(seeking *enquiry.Seeking, w *workshops) {
	people := map[ownerv1.Role][]*ownerv1.Person{}
	for _, c := range g.contacts {
		if c.GetPerson() != nil {
			people[c.GetTie().GetRole()] = append(people[c.GetTie().GetRole()], c.GetPerson())
		}
	}
	country, unit := habits(people)
	if seeking.Country = country; country != "" {
		seeking.Abroad = countryName(country)
	}
	if seeking.Unit == "" {
		seeking.Unit = unit
	}
	seeking.Visits, seeking.Assigned = workedOf(g.visits), w.assigned
}

// workedOf reads who did the work of visits.
func workedOf(visits []*schedulev1.ServiceEntry) []enquiry.Worked {
	out := make([]enquiry.Worked, len(visits))
	for i, e := range visits {
		out[i] = enquiry.Worked{Record: e.GetName(), Organisation: e.GetOrganisation(), DoneBy: e.GetDoneBy(), Day: dayOf(e.GetServiceDate())}
	}
	return out
}

func (w *workshops) protos(candidates []enquiry.Candidate, unit vehicle.Unit) []*enquiryv1.Workshop {
	out := make([]*enquiryv1.Workshop, len(candidates))
	for i, c := range candidates {
		out[i] = enquirywire.CandidateProto(c, w.contacts[c.Organisation], unit)
	}
	return out
}

// mostWorkshops is how many workshops are on the page for the telephone.
const mostWorkshops = 3

// workshopsOnto puts who can do the work onto the page, as it is for a caller who
// did not say where they are.
func (g *gathered) workshopsOnto(d *enquiryv1.Dossier, works string, scrapped bool) {
	if g.workshops == nil || scrapped {
		return // a gap says so, or nobody will
	}
	seeking := enquiry.Seeking{Works: works}
	g.seek(&seeking, g.workshops)
	candidates := seeking.Candidates(g.workshops.all)
	d.Workshops = g.workshops.protos(first(candidates, mostWorkshops), seeking.Unit)
	d.WorkshopNotes = seeking.Notes(g.workshops.all)
	if ask, yes := seeking.Question(candidates); yes && g.knowsVisits {
		d.Questions = append(d.Questions, &enquiryv1.DossierQuestion{Text: ask.Text, Reason: vehiclewire.ReasonProto(ask.Why)})
	}
}
