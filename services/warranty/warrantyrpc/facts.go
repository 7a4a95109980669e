package warrantyrpc

import (
	"context"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

// moment is the day that is asked about. at is zero where only the day is known.
type moment struct {
	on vehicle.Date
	at time.Time
}

// gathered is what all services have on record about a vehicle, as far as cover
// asks for one day.
type gathered struct {
	serial  vehicle.Serial
	when    moment
	record  build.Record
	changes []build.Change
	conf    build.Configuration
	life    build.Timeline
	marks   []warranty.Mark
	pace    warranty.Pace
	entries []*schedulev1.ServiceEntry
	facts   warranty.Facts
	terms   []warranty.Term
	zone    *time.Location // the owner's; nil where only the day is known
	kept    *warrantystore.Vehicle
}

// gather asks for all that cover rests on.
func (s *Service) gather(ctx context.Context, serial vehicle.Serial, when moment) (*gathered, error) {
	g := &gathered{serial: serial, when: when, kept: s.store.Vehicle(serial)}
	if err := s.readBuild(ctx, g); err != nil {
		return nil, err
	}
	ties := s.ties.of(serial)
	asking, within := errgroup.WithContext(ctx)
	asking.Go(func() error { return s.readDistances(within, g) })
	asking.Go(func() (err error) { g.entries, err = s.entries(within, serial); return err })
	if !when.at.IsZero() {
		asking.Go(func() error { g.zone = s.zones.of(within, ownerOn(ties, when.on)); return nil })
	}
	if err := asking.Wait(); err != nil {
		return nil, err
	}
	for _, v := range s.store.Terms() {
		g.terms = append(g.terms, v.Term)
	}
	f := &g.facts
	f.Serial, f.Release, f.AtWorks, f.Delivered, f.Built = serial, g.record.Release, g.record.Delivered.IsZero(), g.record.Delivered, g.record.Built
	if !f.Delivered.IsZero() {
		f.DeliveredAt = warranty.True(0) // where the ledger begins
		f.OwnerChanges, f.OwnersUnknown = warranty.OwnerChanges(ties, f.Delivered, when.on)
	}
	if f.Built == f.Delivered {
		f.BuiltAt = f.DeliveredAt
	}
	g.readSpans()
	g.readRepairs(s.config.Zone)
	g.readServiced()
	return g, nil
}

// readBuild takes what the vehicle is and was from the build service's feed.
func (s *Service) readBuild(ctx context.Context, g *gathered) error {
	if err := s.heard(ctx); err != nil {
		return err
	}
	state, releases := s.fleet.find(g.serial)
	if state == nil {
		return access.NoVehicle(g.serial)
	}
	l, err := s.fleet.life(g.serial, state, releases)
	if err != nil {
		return err
	}
	g.record, g.changes, g.life = l.record, l.changes, l.timeline
	on := g.when.on
	if on.Before(g.record.Built) {
		on = g.record.Built
	}
	g.conf, err = build.Configure(g.record, g.changes, releases, on)
	return err
}

// readDistances takes the readings that count, and where the day lies after the
// last of them the pace of the vehicle. A doubtful reading is no mark.
func (s *Service) readDistances(ctx context.Context, g *gathered) error {
	if !g.record.Delivered.IsZero() {
		g.marks = append(g.marks, warranty.Mark{On: g.record.Delivered})
	}
	r := &schedulev1.ListReadingsRequest{Parent: "vehicles/" + string(g.serial), PageSize: 500}
	for {
		answer, err := s.config.Schedules.ListReadings(ctx, r)
		if err != nil {
			return passed(err)
		}
		for _, m := range answer.GetReadings() {
			on, err := vehiclewire.Date(m.GetReadingDate())
			if err != nil {
				return err
			}
			if m.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED && m.GetLifeDistance() != nil {
				g.marks = append(g.marks, warranty.Mark{On: on, Distance: vehicle.Distance(m.GetLifeDistance().GetMillimetres())})
			}
		}
		if r.PageToken = answer.GetNextPageToken(); r.PageToken == "" {
			break
		}
	}
	if n := len(g.marks); n == 0 || !g.marks[n-1].On.Before(g.when.on) {
		return nil
	}
	sched, err := s.config.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{
		Name: "vehicles/" + string(g.serial) + "/schedule", View: schedulev1.ScheduleView_SCHEDULE_VIEW_SUMMARY})
	if fault.Is(passed(err), fault.FailedPrecondition) {
		return nil // a vehicle without a programme has no pace, and its distance is not known
	}
	if err != nil {
		return passed(err)
	}
	g.pace = warranty.Pace{
		Likely: vehicle.Distance(sched.GetPace().GetPerYear().GetMillimetres()), High: vehicle.Distance(sched.GetPace().GetHighPerYear().GetMillimetres()),
	}
	return nil
}

// passed gives what another service refused as the refusal of this one.
func passed(err error) error {
	if err == nil {
		return nil
	}
	if f := rpcerr.FromStatus(err); f != nil {
		return f
	}
	return err
}

// entries gives the service entries of a vehicle that stand.
func (s *Service) entries(ctx context.Context, serial vehicle.Serial) ([]*schedulev1.ServiceEntry, error) {
	var all []*schedulev1.ServiceEntry
	r := &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/" + string(serial), PageSize: 500, WithoutItems: true}
	for {
		answer, err := s.config.Schedules.ListServiceEntries(ctx, r)
		if err != nil {
			return nil, passed(err)
		}
		for _, e := range answer.GetServiceEntries() {
			if e.GetVoidReason() == "" {
				all = append(all, e)
			}
		}
		if r.PageToken = answer.GetNextPageToken(); r.PageToken == "" {
			return all, nil
		}
	}
}

// reach is how far the vehicle had gone on a day.
func (g *gathered) reach(on vehicle.Date) warranty.Reach {
	return warranty.ReachOn(g.marks, g.pace, on)
}

func (g *gathered) readSpans() {
	for _, s := range g.kept.Spans {
		if span, err := warrantywire.Span(s.Message); err == nil {
			g.facts.Spans = append(g.facts.Spans, span)
		}
	}
}

// readServiced finds the latest work since delivery that is on record because an
// owner said so: it was done by others than the works and its dealers.
func (g *gathered) readServiced() {
	for _, e := range g.entries {
		on, err := vehiclewire.Date(e.GetServiceDate())
		if err == nil && e.GetOwnerStatement() && on.After(g.record.Delivered) {
			g.facts.Serviced = warranty.Serviced{Elsewhere: true, Record: e.GetName()} // the list is in order of days
		}
	}
}

// readRepairs finds what was repaired or replaced: what claims paid for, and
// what the build record says was overhauled or fitted at whoever's cost.
func (g *gathered) readRepairs(works *time.Location) {
	for _, c := range g.kept.Claims {
		g.facts.Repairs = append(g.facts.Repairs, g.paidFor(c.Message, works)...)
	}
	for i := range g.changes {
		c := &g.changes[i]
		replaced := c.Kind == build.Fit && c.Counterpart == "" && c.Source != build.SourceOwner
		if c.Kind == build.Overhaul || replaced {
			g.facts.Repairs = append(g.facts.Repairs, warranty.Repair{
				Position: c.Component.Position, Date: c.Date, At: g.reach(c.Date).True(), Record: c.Name(),
			})
		}
	}
}

// paidFor is the repair that a claim paid for, by the decision that holds: once
// for each term that covered it or may have, for each gives what it repaired a
// time of its own. Its day is that of the service entry that it names; without
// one that of the first decision that paid, which is later and so in the
// customer's favour.
func (g *gathered) paidFor(m *warrantyv1.Claim, works *time.Location) []warranty.Repair {
	c, err := warrantywire.Claim(m)
	if err != nil || c.Last() == nil || c.Last().Outcome == warranty.Decline || c.State == warranty.Withdrawn {
		return nil
	}
	paying := slices.IndexFunc(c.Decisions, func(d warranty.Decision) bool { return d.Outcome != warranty.Decline })
	r := warranty.Repair{Position: c.Position, Date: vehicle.DateOf(c.Decisions[paying].Time.In(works)), Record: c.Name()}
	i := slices.IndexFunc(g.entries, func(e *schedulev1.ServiceEntry) bool { return e.GetName() == c.ServiceEntry })
	if i >= 0 {
		if on, err := vehiclewire.Date(g.entries[i].GetServiceDate()); err == nil {
			r.Date = on
		}
	}
	r.At = g.reach(r.Date).True()
	var all []warranty.Repair
	for _, t := range m.GetCover().GetTerms() {
		if c.Last().Outcome != warranty.AcceptGoodwill && t.GetState() == m.GetCover().GetState() && t.GetState() != warrantyv1.CoverState_COVER_STATE_NOT_COVERED {
			r.Term = t.GetTerm()
			all = append(all, r)
		}
	}
	if all == nil {
		all = []warranty.Repair{r}
	}
	return all
}

// question asks about one position; empty for the vehicle as a whole.
func (s *Service) question(ctx context.Context, g *gathered, position string) (*warranty.Question, error) {
	q := &warranty.Question{
		Facts: g.facts, Terms: g.terms, Position: position, On: g.when.on, At: g.when.at,
		WorksZone: s.config.Zone, OwnerZone: g.zone, Goodwill: s.config.Goodwill, Print: g.conf.Dial.Unit,
	}
	if position == "" {
		return q, nil
	}
	stands := g.conf.At(position)
	if stands == nil {
		q.Bare = true
		return q, nil
	}
	unit, err := s.unit(ctx, g, stands)
	q.Unit = &unit
	return q, err
}

// ranBefore is what a moved unit had run before it came here, as the schedule
// service knows it from the readings of the vehicles where it stood.
func (s *Service) ranBefore(ctx context.Context, g *gathered, position string) (warranty.TrueDistance, error) {
	r := &schedulev1.ListComponentDistancesRequest{
		Parent: "vehicles/" + string(g.serial), OnDate: vehiclewire.DateProto(g.when.on), PageSize: 500}
	for {
		answer, err := s.config.Schedules.ListComponentDistances(ctx, r)
		if err = passed(err); fault.Is(err, fault.Invalid) || fault.Is(err, fault.FailedPrecondition) {
			return warranty.TrueDistance{}, nil // a day on which nobody knows distances
		}
		if err != nil {
			return warranty.TrueDistance{}, err
		}
		for _, c := range answer.GetComponentDistances() {
			if c.GetPosition() == position && c.GetPriorDistance() != nil {
				return warranty.True(vehicle.Distance(c.GetPriorDistance().GetMillimetres())), nil
			}
		}
		if r.PageToken = answer.GetNextPageToken(); r.PageToken == "" {
			return warranty.TrueDistance{}, nil
		}
	}
}
