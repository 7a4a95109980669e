package exchangerun

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/exchange"
	"halfshaft/services/exchange/exchangefile"
	"halfshaft/services/vehicle"
)

// Options says how to import.
type Options struct {
	DryRun   bool         // only check and report
	Today    vehicle.Date // the last day that a change may have
	Progress func(stage string, done, total int)
}

// Import reads the files, checks all of them together with what the services
// have, and, when nothing at all is wrong, sends what is new. Every service has
// all of its records staged before the first of them commits. Interrupted, it
// is continued by importing the same files again.
func Import(ctx context.Context, clients Clients, paths []string, o Options) (*Report, error) {
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	r := &importRun{clients: clients, options: o, collection: exchange.NewCollection(), report: &Report{DryRun: o.DryRun}}
	if err := r.read(paths); err != nil {
		return nil, err
	}
	r.paths = paths
	if err := r.leaveHistory(ctx, paths); err != nil {
		return nil, fmt.Errorf("look at the history beside the files: %w", err)
	}
	if err := r.meet(ctx); err != nil {
		return nil, fmt.Errorf("ask what is there already: %w", err)
	}
	r.collection.Check(o.Today)
	r.count()
	if r.refused() || o.DryRun {
		return r.report, nil
	}
	return r.report, r.send(ctx)
}

// importRun is one import under way.
type importRun struct {
	clients    Clients
	options    Options
	collection *exchange.Collection
	report     *Report
	paths      []string // beside which the files of handbooks lie
}

func (r *importRun) read(paths []string) error {
	files, err := exchangefile.Files(paths)
	if err != nil {
		return err
	}
	r.report.Files = len(files)
	if len(files) == 0 {
		r.collection.Faults.Add(exchange.Fault{File: strings.Join(paths, ", "), Want: "files ending in .csv, .xlsx, .yaml or .yml"})
	}
	for i, file := range files {
		r.options.Progress("read", i, len(files))
		if err := exchangefile.Read(file, r.collection); err != nil {
			return err
		}
	}
	r.options.Progress("read", len(files), len(files))
	r.collection.Join()
	return nil
}

// meet tells the collection what the services have.
func (r *importRun) meet(ctx context.Context) error {
	met := func(m proto.Message) error { r.collection.Met(m); return nil }
	there := map[string]*buildv1.Build{}
	people := map[string]bool{}
	steps := []func() error{
		func() error {
			return r.clients.releases(ctx, func(m *buildv1.Release) error { return met(m) })
		},
		func() error {
			return r.clients.builds(ctx, func(m *buildv1.Build) error { there[serialOf(m.GetName())] = m; return met(m) })
		},
		func() error { return forward(ctx, r.clients.parts, met) },
		func() error { return forward(ctx, r.clients.supersessions, met) },
		func() error { return forward(ctx, r.clients.positions, met) },
		func() error { return forward(ctx, r.clients.applications, met) },
		func() error { return forward(ctx, r.clients.settings, met) },
		func() error { return forward(ctx, r.clients.capacities, met) },
		func() error { return forward(ctx, r.clients.programmes, met) },
		func() error {
			return r.clients.people(ctx, func(m *ownerv1.Person) error { people[m.GetName()] = true; return met(m) })
		},
		func() error { return forward(ctx, r.clients.erasures, met) },
		func() error { return forward(ctx, r.clients.ties, met) },
		func() error { return forward(ctx, r.clients.standings, met) },
		func() error { return r.meetConsents(ctx, people, met) },
		func() error { return forward(ctx, r.clients.followUps, met) },
		func() error { return forward(ctx, r.clients.bulletins, met) },
		func() error { return forward(ctx, r.clients.terms, met) },
		func() error { return forward(ctx, r.clients.claims, met) },
		func() error { return r.meetEnquiries(ctx, met) },
		func() error { return r.meetHandbooks(ctx, met) },
		func() error { return r.meetVehicles(ctx, there, met) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// forward hands the entries of one list on as plain messages.
func forward[T proto.Message](ctx context.Context, list func(context.Context, func(T) error) error, take func(proto.Message) error) error {
	return list(ctx, func(m T) error { return take(m) })
}

// meetConsents asks for the consents of the people of whose consents the import
// speaks and whom the service knows.
func (r *importRun) meetConsents(ctx context.Context, people map[string]bool, met func(proto.Message) error) error {
	asked := map[string]bool{}
	for _, d := range r.collection.Drafts(exchange.TableNamed("consents")) {
		person := serialOf(d.Name) // the identifier between the first two slashes
		if asked[person] || !people["people/"+person] {
			continue
		}
		asked[person] = true
		if err := ignoreMissing(r.clients.consents(ctx, person, func(m *ownerv1.Consent) error { return met(m) })); err != nil {
			return err
		}
	}
	return nil
}

// meetEnquiries asks for enquiries and notes where the import speaks of any: they
// are many, and nothing refers to them.
func (r *importRun) meetEnquiries(ctx context.Context, met func(proto.Message) error) error {
	if len(r.collection.Drafts(exchange.TableNamed("enquiries"))) > 0 {
		if err := forward(ctx, r.clients.enquiries, met); err != nil {
			return err
		}
	}
	if len(r.collection.Drafts(exchange.TableNamed("answer notes"))) == 0 {
		return nil
	}
	return forward(ctx, r.clients.notes, met)
}

// meetVehicles asks for what belongs to the vehicles that the import speaks of
// and the services know.
func (r *importRun) meetVehicles(ctx context.Context, there map[string]*buildv1.Build, met func(proto.Message) error) error {
	touched := map[string]bool{}
	changed := map[string]bool{}
	stood := map[string]bool{}
	for _, t := range exchange.Tables() {
		if t.IsLine() {
			continue
		}
		for _, d := range r.collection.Drafts(t) {
			serial := serialOf(d.Name)
			if there[serial] == nil {
				continue
			}
			switch t.Service {
			case exchange.Build:
				changed[serial] = true
			case exchange.Schedule:
				touched[serial] = true
			case exchange.Warranty:
				stood[serial] = true
			}
		}
	}
	for _, d := range slices.Concat(r.collection.Drafts(&exchange.Claims.Table), r.collection.Drafts(&exchange.FollowUps.Table)) {
		if serial := serialOf(d.Name); there[serial] != nil { // whose service entries and changes they name
			touched[serial], changed[serial] = true, true
		}
	}
	for _, d := range r.collection.Drafts(&exchange.Amendments.Table) {
		if there[serialOf(d.Name)] != nil {
			changed[serialOf(d.Name)] = true
		}
	}
	all := slices.Sorted(maps.Keys(changed))
	for i, serial := range all {
		r.options.Progress("compare builds", i, len(all))
		if err := r.meetBuild(ctx, serial, there[serial], met); err != nil {
			return err
		}
	}
	all = slices.Sorted(maps.Keys(touched))
	for i, serial := range all {
		r.options.Progress("compare history", i, len(all))
		if err := ignoreMissing(r.clients.history(ctx, serial, met)); err != nil {
			return err
		}
	}
	for _, serial := range slices.Sorted(maps.Keys(stood)) {
		if err := ignoreMissing(r.clients.daysOut(ctx, serial, met)); err != nil {
			return err
		}
	}
	return nil
}

func (r *importRun) meetBuild(ctx context.Context, serial string, b *buildv1.Build, met func(proto.Message) error) error {
	var changes []*buildv1.Change
	err := r.clients.changes(ctx, serial, func(m *buildv1.Change) error {
		changes = append(changes, m)
		return met(m)
	})
	if err != nil {
		return err
	}
	r.collection.Standing(vehicle.Serial(serial), b, changes)
	return r.clients.amendments(ctx, serial, func(m *buildv1.Amendment) error { return met(m) })
}

// count notes what was read.
func (r *importRun) count() {
	for _, d := range exchange.Documents() {
		if n := r.collection.Rows(&d.Table); n > 0 {
			r.report.Tables = append(r.report.Tables, Count{d.Name, n})
		}
	}
	for _, t := range exchange.Tables() {
		if n := r.collection.Rows(t); n > 0 {
			r.report.Tables = append(r.report.Tables, Count{t.Name, n})
		}
	}
	total, pending := 0, 0
	for _, s := range exchange.Services() {
		pending += len(r.collection.Pending(s))
	}
	for _, d := range exchange.Documents() {
		total += len(r.collection.Drafts(&d.Table))
	}
	for _, t := range exchange.Tables() {
		total += len(r.collection.Drafts(t))
	}
	r.report.New, r.report.Unchanged = pending, total-pending
}

// refused notes the faults found so far and says whether there are any.
func (r *importRun) refused() bool {
	r.report.Faults = r.collection.Faults.Sorted()
	r.report.NotLooked = r.collection.NotLooked()
	r.report.Total = len(r.report.Faults) + r.collection.Faults.Dropped()
	return r.report.Total > 0
}
