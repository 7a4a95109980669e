package jobsheetrpc

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// gathered is what the services said of a vehicle.
type gathered struct {
	configuration *buildv1.Configuration
	schedule      *schedulev1.Schedule
	programme     *schedulev1.Programme
	plan          *schedulev1.VisitPlan
	series        []*schedulev1.MeasuredSeries
	entries       []*schedulev1.ServiceEntry
	technical     *partsv1.TechnicalSheet
	bulletins     []*bulletinv1.VehicleBulletin
	gaps          []vehicle.Reason
}

// gather asks the services for the caller. Without what the vehicle is and what
// is due there is no sheet; what else cannot be read becomes a gap on it.
func (s *Service) gather(ctx context.Context, serial vehicle.Serial) (*gathered, error) {
	g := &gathered{}
	name, build := "vehicles/"+string(serial), "builds/"+string(serial)
	var err error
	if g.configuration, err = s.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: build}); err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	g.schedule, err = s.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: name + "/schedule", View: schedulev1.ScheduleView_SCHEDULE_VIEW_FULL})
	if err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	// The programme is asked for by the works' own program: a dealer may not read
	// it whole, and what of it stands on the sheet is for them.
	g.programme, err = s.Schedules.GetProgramme(recorder(ctx, access.CallerFrom(ctx)), &schedulev1.GetProgrammeRequest{Name: g.schedule.GetProgramme()})
	g.gap("The order of the programme", err)
	if g.plan, err = s.Schedules.GetVisitPlan(ctx, &schedulev1.GetVisitPlanRequest{Name: name + "/visitPlan"}); err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	g.series, err = page.All(func(token string) ([]*schedulev1.MeasuredSeries, string, error) {
		r, err := s.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: name, PageSize: 500, PageToken: token})
		return r.GetMeasuredSeries(), r.GetNextPageToken(), err
	})
	g.gap("What was measured before", err)
	g.entries, err = page.All(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := s.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: name, PageSize: 500, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	})
	g.gap("Which shims are in", err)
	g.technical, err = s.Parts.GetTechnicalSheet(ctx, &partsv1.GetTechnicalSheetRequest{Build: build})
	g.gap("Settings and capacities", err)
	g.bulletins, err = page.All(func(token string) ([]*bulletinv1.VehicleBulletin, string, error) {
		r, err := s.Bulletins.ListVehicleBulletins(ctx, &bulletinv1.ListVehicleBulletinsRequest{Parent: name, PageSize: 500, PageToken: token})
		return r.GetVehicleBulletins(), r.GetNextPageToken(), err
	})
	g.gap("Whether a campaign is open", err)
	return g, nil
}

// inProgrammeOrder gives the items of the vehicle in the order of its programme,
// which is that of the sheet; by their names where it could not be read.
func (g *gathered) inProgrammeOrder() []*schedulev1.ItemStatus {
	place := map[string]int{}
	for i, item := range g.programme.GetItems() {
		place[item.GetItemId()] = i + 1
	}
	all := slices.Clone(g.schedule.GetItems())
	slices.SortStableFunc(all, func(a, b *schedulev1.ItemStatus) int {
		return cmp.Or(cmp.Compare(place[a.GetItemId()], place[b.GetItemId()]), strings.Compare(a.GetItemId(), b.GetItemId()))
	})
	return all
}

// gap notes that something could not be read.
func (g *gathered) gap(what string, err error) {
	if err == nil {
		return
	}
	g.gaps = append(g.gaps, vehicle.Reason{Rule: "NOT_READ", Sentence: what + " could not be read: " + strings.TrimSuffix(rpcerr.FromStatus(err).Message, ".") + "."})
}

// parts asks which part goes to each position that items need one for.
func (s *Service) parts(ctx context.Context, f *jobsheet.Facts) {
	f.Parts = map[string][]jobsheet.Part{}
	for _, i := range f.Items {
		for _, n := range i.Needs {
			if _, asked := f.Parts[n.Position]; asked {
				continue
			}
			f.Parts[n.Position] = nil
			a, err := s.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: "builds/" + string(f.Serial), Question: n.Position})
			if err != nil {
				f.Gaps = append(f.Gaps, vehicle.Reason{Rule: "NOT_READ", Sentence: "Which part goes to " + strings.ReplaceAll(n.Position, "-", " ") + " could not be read: " + rpcerr.FromStatus(err).Message})
				continue
			}
			f.Parts[n.Position] = chosen(n.Position, a)
		}
	}
}

// title asks what the parts of remedies are called: a campaign names them by their
// numbers only.
func (s *Service) title(ctx context.Context, f *jobsheet.Facts) {
	ctx = recorder(ctx, access.CallerFrom(ctx))
	for i := range f.Remedies {
		for k := range f.Remedies[i].Items {
			parts := f.Remedies[i].Items[k].Parts
			for n := range parts {
				if p, err := s.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: "parts/" + parts[n].Number}); err == nil {
					parts[n].Title = p.GetTitle()
				}
			}
		}
	}
}

// chosen gives the parts of an answer: the one at the very position where it is
// among them, and all that was found where it is not.
func chosen(position string, a *partsv1.PartAnswer) []jobsheet.Part {
	choices := a.GetChoices()
	if i := slices.IndexFunc(choices, func(c *partsv1.PartChoice) bool { return c.GetPosition() == position }); i >= 0 {
		choices = choices[i : i+1]
	} else {
		choices = slices.DeleteFunc(slices.Clone(choices), func(c *partsv1.PartChoice) bool { return !strings.HasPrefix(c.GetPosition(), position+"-") })
	}
	var out []jobsheet.Part
	for _, c := range choices {
		if c.GetOrder() == nil {
			continue
		}
		p := jobsheet.Part{Number: strings.TrimPrefix(c.GetOrder().GetName(), "parts/"), Title: c.GetOrder().GetTitle(), Quantity: int(c.GetQuantity())}
		if len(c.GetSupersessions()) > 0 && len(c.GetReasons()) > 0 {
			p.Why = c.GetReasons()[0].GetSentence()
		}
		out = append(out, p)
		for _, more := range append(slices.Clone(c.GetRenewWith()), c.GetAlsoOrder()...) {
			out = append(out, jobsheet.Part{Number: strings.TrimPrefix(more.GetPart(), "parts/"), Title: more.GetTitle(), Quantity: int(more.GetQuantity()), Why: "renewed with " + p.Number})
		}
	}
	return out
}

// visit finds the planned visit: the next one, or the one nearest a day, within a
// month of it.
func (g *gathered) visit(on vehicle.Date) (vehicle.Date, []string, error) {
	var best *schedulev1.Visit
	least := 31
	for _, v := range g.plan.GetVisits() {
		if on.IsZero() {
			best = v
			break
		}
		if n := abs(on.DaysUntil(dayOf(v.GetVisitDate()))); n < least {
			best, least = v, n
		}
	}
	if best == nil {
		if on.IsZero() {
			return on, nil, nil
		}
		return on, nil, fault.New(fault.FailedPrecondition, "NO_VISIT", "No visit is planned within a month of %s: name the items.", on)
	}
	var items []string
	for _, t := range best.GetTasks() {
		items = append(items, t.GetItemId())
	}
	if on.IsZero() {
		on = dayOf(best.GetVisitDate())
	}
	return on, items, nil
}

func abs(n int) int { return max(n, -n) }

// dayOf reads a day that another service wrote; zero for none.
func dayOf(d *date.Date) vehicle.Date {
	day, err := vehiclewire.Date(d)
	if err != nil {
		return vehicle.Date{}
	}
	return day
}

// identity says what the vehicle is, in rows.
func (g *gathered) identity() []jobsheet.Fact {
	c := g.configuration
	rows := []jobsheet.Fact{
		{Label: "Release", Value: strings.TrimPrefix(c.GetRelease(), "releases/")}, {Label: "Options", Value: strings.ReplaceAll(strings.Join(c.GetOptions(), ", "), "-", " ")},
		{Label: "Wheelbase", Value: c.GetWheelbase()}, {Label: "Axle ratio", Value: c.GetAxleRatio()},
		{Label: "Tyres", Value: strings.TrimSpace(c.GetTyre().GetSize() + " " + c.GetTyre().GetPattern())},
	}
	return slices.DeleteFunc(rows, func(f jobsheet.Fact) bool { return f.Value == "" })
}
