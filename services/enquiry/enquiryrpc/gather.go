package enquiryrpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"
	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// dayOf reads a day that another service wrote; zero for none.
func dayOf(d *date.Date) vehicle.Date {
	day, err := vehiclewire.Date(d)
	if err != nil {
		return vehicle.Date{}
	}
	return day
}

// gathered is what the services said of a vehicle. What one did not say is nil,
// and has a gap.
type gathered struct {
	build         *buildv1.Build
	configuration *buildv1.Configuration
	plateOf       []string // other vehicles that have its plate today
	standing      *ownerv1.Standing
	contacts      []*enquiryv1.DossierContact
	covers        []*warrantyv1.Cover
	claims        []*warrantyv1.Claim
	schedule      *schedulev1.Schedule
	visits        []*schedulev1.ServiceEntry // the last, the latest first
	readings      []*schedulev1.Reading
	uses          []*schedulev1.UseFact
	near          []*schedulev1.MeasuredSeries // beyond a limit or near one, the nearest first
	bulletins     []*bulletinv1.VehicleBulletin

	workshops *workshops

	knowsTies, knowsReadings, knowsUses, knowsVisits bool

	mu      sync.Mutex
	missing []missing
	refusal error // why there is no page at all
}

// missing is a part of the page that could not be read.
type missing struct {
	part string
	err  *fault.Error
}

// gap notes that a part could not be read.
func (g *gathered) gap(part string, err error) {
	f := rpcerr.FromStatus(err)
	if own := new(fault.Error); errors.As(err, &own) {
		f = own
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.missing = append(g.missing, missing{part, f})
}

// gaps says what could not be read, in sentences.
func (g *gathered) gaps() []string {
	out := make([]string, len(g.missing))
	for i, m := range g.missing {
		switch m.err.Kind {
		case fault.Unavailable:
			out[i] = m.part + " could not be read: the service gives no answer."
		case fault.Internal:
			out[i] = m.part + " could not be read: the service does not run, or is broken."
		case fault.Denied:
			out[i] = m.part + " is not for your role."
		default:
			out[i] = fmt.Sprintf("%s could not be read: %s.", m.part, strings.TrimSuffix(m.err.Message, "."))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// gather asks all services for the caller, at the same time.
func (s *Service) gather(ctx context.Context, serial vehicle.Serial, on vehicle.Date) *gathered {
	g := &gathered{}
	name, build, day := enquirywire.VehicleName(serial), "builds/"+string(serial), vehiclewire.DateProto(on)
	var asking errgroup.Group
	part := func(what string, read func() error) {
		asking.Go(func() error {
			if err := read(); err != nil {
				g.gap(what, err)
			}
			return nil
		})
	}
	asking.Go(func() error { g.readBuild(ctx, s, build); return nil })
	part("What is fitted today", func() error { return g.readConfiguration(ctx, s, build, day) })
	part("What became of it", func() (err error) {
		g.standing, err = s.Owners.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: name + "/standing"})
		return err
	})
	part("Who is tied to it", func() error { return g.readContacts(ctx, s, name, on) })
	part("Whether it is under warranty", func() (err error) {
		g.covers, err = page.All(func(token string) ([]*warrantyv1.Cover, string, error) {
			r, err := s.Warranties.ListCovers(ctx, &warrantyv1.ListCoversRequest{Parent: name, OnDate: day, PageSize: 500, PageToken: token})
			return r.GetCovers(), r.GetNextPageToken(), err
		})
		return err
	})
	part("Its claims", func() (err error) {
		g.claims, err = page.All(func(token string) ([]*warrantyv1.Claim, string, error) {
			r, err := s.Warranties.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: name, States: openClaims, PageSize: 500, PageToken: token})
			return r.GetClaims(), r.GetNextPageToken(), err
		})
		return err
	})
	part("What is due", func() (err error) {
		g.schedule, err = s.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{
			Name: name + "/schedule", OnDate: day, View: schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO,
		})
		return err
	})
	part("Its bulletins", func() (err error) {
		g.bulletins, err = page.All(func(token string) ([]*bulletinv1.VehicleBulletin, string, error) {
			r, err := s.Bulletins.ListVehicleBulletins(ctx, &bulletinv1.ListVehicleBulletinsRequest{Parent: name, PageSize: 500, PageToken: token})
			return r.GetVehicleBulletins(), r.GetNextPageToken(), err
		})
		return err
	})
	part(workshopGap, func() error {
		w, err := s.readWorkshops(ctx, name)
		if err == nil {
			g.workshops = w
		}
		return err
	})
	s.gatherHistory(ctx, g, part, name, day)
	asking.Wait()
	return g
}

// gatherHistory asks the schedule service what happened to a vehicle.
func (s *Service) gatherHistory(ctx context.Context, g *gathered, part func(string, func() error), name string, day *date.Date) {
	part("The last visits", func() (err error) {
		g.visits, err = s.readVisits(ctx, name, day)
		g.knowsVisits = err == nil
		return err
	})
	part("The readings", func() (err error) {
		g.readings, err = page.All(func(token string) ([]*schedulev1.Reading, string, error) {
			r, err := s.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: name, PageSize: 500, PageToken: token})
			return r.GetReadings(), r.GetNextPageToken(), err
		})
		g.knowsReadings = err == nil
		return err
	})
	part("How it is used", func() (err error) {
		g.uses, err = page.All(func(token string) ([]*schedulev1.UseFact, string, error) {
			r, err := s.Schedules.ListUseFacts(ctx, &schedulev1.ListUseFactsRequest{Parent: name, PageSize: 500, PageToken: token})
			return r.GetUseFacts(), r.GetNextPageToken(), err
		})
		g.knowsUses = err == nil
		return err
	})
	part("What was measured", func() error {
		r, err := s.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: name, OnDate: day, NearLimitOnly: true, PageSize: 500})
		g.near = r.GetMeasuredSeries()
		return err
	})
}

// readVisits reads the last work that was done by a day, the latest first. It
// asks for no more of a long history than it shows, unless much was struck out.
func (s *Service) readVisits(ctx context.Context, name string, day *date.Date) ([]*schedulev1.ServiceEntry, error) {
	var visits []*schedulev1.ServiceEntry
	r := &schedulev1.ListServiceEntriesRequest{Parent: name, LatestFirst: true, PageSize: 2 * mostVisits}
	for {
		answer, err := s.Schedules.ListServiceEntries(ctx, r)
		if err != nil {
			return nil, err
		}
		for _, e := range answer.GetServiceEntries() {
			if e.GetVoidReason() == "" && !dayOf(e.GetServiceDate()).After(dayOf(day)) {
				visits = append(visits, e)
			}
		}
		if r.PageToken = answer.GetNextPageToken(); len(visits) >= mostVisits || r.PageToken == "" {
			return first(visits, mostVisits), nil
		}
	}
}

// openClaims are the states of claims that are not done with.
var openClaims = []warrantyv1.ClaimState{
	warrantyv1.ClaimState_CLAIM_STATE_DRAFT, warrantyv1.ClaimState_CLAIM_STATE_SUBMITTED, warrantyv1.ClaimState_CLAIM_STATE_ASKED,
	warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, warrantyv1.ClaimState_CLAIM_STATE_APPEALED,
}

// readBuild reads the build record. A vehicle that is not there has no page; a
// build service that is away leaves a gap.
func (g *gathered) readBuild(ctx context.Context, s *Service, name string) {
	b, err := s.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: name})
	if err == nil {
		g.build = b
		return
	}
	if f := rpcerr.FromStatus(err); f.Kind == fault.NotFound {
		g.refusal = f
		return
	}
	g.gap("The build record", err)
}

// readConfiguration reads what the vehicle is today, and whether another has its
// plate too.
func (g *gathered) readConfiguration(ctx context.Context, s *Service, name string, day *date.Date) error {
	c, err := s.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: name, OnDate: day, WithoutFitted: true})
	if err != nil {
		return err
	}
	g.configuration = c
	if c.GetPlate() == "" {
		return nil
	}
	found, err := s.Builds.FindBuilds(ctx, &buildv1.FindBuildsRequest{Query: c.GetPlate()})
	if err != nil {
		return nil // a plate too short to be looked for
	}
	for _, m := range found.GetMatches() {
		if m.GetBuild() != name && m.GetMatchedBy() == "plate" && !m.GetFormer() && m.GetMatchedText() == c.GetPlate() {
			g.plateOf = append(g.plateOf, strings.TrimPrefix(m.GetBuild(), "builds/"))
		}
	}
	return nil
}

// readContacts reads who is tied to the vehicle on a day, and who they are where
// the caller may read people.
func (g *gathered) readContacts(ctx context.Context, s *Service, name string, on vehicle.Date) error {
	ties, err := page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := s.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: name, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	g.knowsTies = true
	people := readsPeople(access.CallerFrom(ctx))
	for _, t := range ties {
		if end := dayOf(t.GetEndDate()); dayOf(t.GetStartDate()).After(on) || !end.IsZero() && !end.After(on) {
			continue
		}
		contact := &enquiryv1.DossierContact{Tie: t}
		g.contacts = append(g.contacts, contact)
		if !people {
			continue
		}
		p, err := s.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: t.GetPerson()})
		if err != nil {
			g.gap("Somebody who is tied to it", err)
			continue
		}
		contact.Person = p
	}
	return nil
}
