package exchangerun

import (
	"context"
	"errors"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/exchange/exchangefile"
)

// Export writes everything that the services keep into a directory, in the
// formats that Import reads; format is "csv" or "xlsx". Importing it into an
// empty store and exporting that gives the same files, but for the history of
// what was said to owners and heard from them: an import leaves that.
//
// What is written while the export runs may or may not be in it: export a
// quiet store, or compare two exports.
func Export(ctx context.Context, clients Clients, dir, format string, progress func(stage string, done, total int)) (records int, err error) {
	if progress == nil {
		progress = func(string, int, int) {}
	}
	w, err := exchangefile.NewWriter(dir, format)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	write := func(m proto.Message) error { records++; return w.Record(m) }
	var serials, people []string
	steps := []func() error{
		func() error { return forward(ctx, clients.releases, write) },
		func() error { return forward(ctx, clients.programmes, write) },
		func() error {
			return clients.builds(ctx, func(m *buildv1.Build) error {
				serials = append(serials, serialOf(m.GetName()))
				return write(m)
			})
		},
		func() error { return forward(ctx, clients.parts, write) },
		func() error { return forward(ctx, clients.supersessions, write) },
		func() error { return forward(ctx, clients.positions, write) },
		func() error { return forward(ctx, clients.applications, write) },
		func() error { return forward(ctx, clients.settings, write) },
		func() error { return forward(ctx, clients.capacities, write) },
		func() error {
			for i, serial := range serials {
				progress("export", i, len(serials))
				if err := exportVehicle(ctx, clients, serial, write); err != nil {
					return err
				}
			}
			return nil
		},
		func() error {
			return clients.people(ctx, func(m *ownerv1.Person) error {
				people = append(people, strings.TrimPrefix(m.GetName(), "people/"))
				return write(m)
			})
		},
		func() error { return forward(ctx, clients.erasures, write) },
		func() error { return forward(ctx, clients.ties, write) },
		func() error {
			for _, person := range people {
				if err := ignoreMissing(clients.consents(ctx, person, func(m *ownerv1.Consent) error { return write(m) })); err != nil {
					return err
				}
			}
			return nil
		},
		func() error { return forward(ctx, clients.standings, write) },
		func() error { return forward(ctx, clients.followUps, write) },
		func() error { return forward(ctx, clients.bulletins, write) },
		func() error { return forward(ctx, clients.terms, write) },
		func() error { return forward(ctx, clients.claims, write) },
		func() error {
			for _, serial := range serials {
				if err := ignoreMissing(clients.daysOut(ctx, serial, write)); err != nil {
					return err
				}
			}
			return nil
		},
		func() error { return forward(ctx, clients.enquiries, write) },
		func() error { return forward(ctx, clients.notes, write) },
		func() error { return exportHandbooks(ctx, clients, serials, write, w.HandbookFile) },
		func() error {
			return exportHistory(ctx, clients, func(file string, m proto.Message) error { records++; return w.History(file, m) })
		},
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return records, err
		}
	}
	progress("export", len(serials), len(serials))
	return records, nil
}

func exportVehicle(ctx context.Context, clients Clients, serial string, write func(proto.Message) error) error {
	if err := clients.changes(ctx, serial, func(m *buildv1.Change) error { return write(m) }); err != nil {
		return err
	}
	if err := clients.amendments(ctx, serial, func(m *buildv1.Amendment) error { return write(m) }); err != nil {
		return err
	}
	return ignoreMissing(clients.history(ctx, serial, write))
}
