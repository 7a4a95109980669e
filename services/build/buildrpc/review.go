package buildrpc

import (
	"fmt"
	"maps"
	"slices"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// review is the last look at an import as a whole, before it takes effect. It
// keeps the imported records as bytes, which takes a tenth of the memory.
type review struct {
	store    *buildstore.Store
	today    vehicle.Date
	releases build.ReleaseSet // stored, and imported so far
	vehicles map[vehicle.Serial]*arrival
	names    map[string]bool
	wrong    []fault.Field

	deliveries []delivery // of vehicles that come with the import

	written, unchanged int32
}

// arrival is what an import brings for one vehicle.
type arrival struct {
	record  []byte // nil: the vehicle is stored
	changes [][]byte
}

// delivery is the day on which a vehicle left the works.
type delivery struct {
	serial vehicle.Serial
	on     vehicle.Date
}

func newReview(store *buildstore.Store, today vehicle.Date) *review {
	return &review{
		store: store, today: today, releases: maps.Clone(store.Releases()),
		vehicles: map[vehicle.Serial]*arrival{}, names: map[string]bool{},
	}
}

// refuse notes what is wrong with a row.
func (v *review) refuse(row string, fields ...fault.Field) {
	v.wrong = append(v.wrong, fault.FieldsUnder("rows["+row+"]", fields)...)
}

func (v *review) chunk(chunk []byte) error {
	rows, _, err := readChunk(chunk)
	if err != nil {
		return err
	}
	for _, row := range rows {
		if err := v.row(row); err != nil {
			return err
		}
	}
	return nil
}

// row takes in one row. What is stored already must be the same; what refers
// to something must come after it.
func (v *review) row(row buildstore.Row) error {
	name := row.Name()
	if v.names[name] {
		v.refuse(name, fault.Field{Got: "twice", Want: "one row for each record"})
		return nil
	}
	v.names[name] = true
	exists, same, err := v.store.Stands(row)
	switch {
	case err != nil:
		return err
	case same:
		v.unchanged++
		return nil
	case exists:
		v.refuse(name, fault.Field{Got: "another record", Want: "the record as it stands: what is recorded is amended, never imported over"})
		return nil
	}
	v.written++
	return v.arrive(row)
}

func (v *review) arrive(row buildstore.Row) error {
	switch {
	case row.Release != nil:
		v.releases[row.Release.ID] = row.Release
	case row.Record != nil:
		if d := row.Record.Delivered; !d.IsZero() {
			v.deliveries = append(v.deliveries, delivery{row.Record.Serial, d})
		}
		bytes, err := proto.Marshal(buildwire.RecordProto(*row.Record))
		v.vehicles[row.Record.Serial] = &arrival{record: bytes}
		if v.releases[row.Record.Release] == nil {
			v.refuse(row.Name(), fault.Field{Name: "release", Got: build.ReleaseName(row.Record.Release), Want: "a release that exists, or stands before it in the import"})
			delete(v.vehicles, row.Record.Serial)
		}
		return err
	case row.Change != nil:
		a := v.of(row.Name(), row.Change.Serial)
		if a == nil {
			return nil
		}
		bytes, err := proto.Marshal(buildwire.ChangeProto(*row.Change))
		a.changes = append(a.changes, bytes)
		return err
	case row.Amendment != nil:
		v.of(row.Name(), row.Amendment.Serial)
	}
	return nil
}

// of finds the vehicle that a row is about, and refuses the row when there is
// none.
func (v *review) of(row string, serial vehicle.Serial) *arrival {
	a := v.vehicles[serial]
	if a == nil && v.store.Exists(serial) {
		a = &arrival{}
		v.vehicles[serial] = a
	}
	if a == nil && !v.names[build.Name(serial)] { // a refused record is refused once
		v.refuse(row, fault.Field{Name: "name", Got: build.Name(serial), Want: "a vehicle that exists, or stands before it in the import"})
	}
	return a
}

// verdict refuses the import for every row that does not fit what is stored
// and what else is imported.
func (v *review) verdict() error {
	var mine []build.Holding
	for _, serial := range slices.Sorted(maps.Keys(v.vehicles)) {
		now, err := v.vehicle(serial, v.vehicles[serial])
		if err != nil {
			return err
		}
		held, err := now.Holdings(v.releases)
		if err != nil {
			return err
		}
		mine = append(mine, held...)
	}
	others, err := v.others()
	if err != nil {
		return err
	}
	for _, c := range build.Conflicts(mine, others) {
		v.refuse(build.Name(c.Holding.Vehicle), buildstore.ConflictField(c))
	}
	return fault.InvalidFields(v.wrong)
}

// vehicle checks one vehicle as it will be.
func (v *review) vehicle(serial vehicle.Serial, a *arrival) (now buildstore.Vehicle, err error) {
	if a.record == nil {
		now, err = v.store.Vehicle(serial)
	} else {
		var p buildv1.Build
		if err = proto.Unmarshal(a.record, &p); err == nil {
			now.Record, err = buildwire.Record(&p)
		}
		v.refuse(build.Name(serial), build.CheckRecord(&now.Record, v.releases)...)
	}
	if err != nil {
		return now, fmt.Errorf("review %s: %w", serial, err)
	}
	for _, bytes := range a.changes {
		var p buildv1.Change
		if err := proto.Unmarshal(bytes, &p); err != nil {
			return now, fmt.Errorf("review %s: %w", serial, err)
		}
		c, err := buildwire.Change(&p)
		if err != nil {
			return now, fmt.Errorf("review %s: %w", serial, err)
		}
		v.refuse(c.Name(), build.CheckImported(&c, &now.Record, v.releases, v.today)...)
		now.Changes = append(now.Changes, c)
	}
	v.refuse(build.Name(serial), build.CheckCount(len(now.Changes)-1)...)
	return now, nil
}

// others gives where the components of all vehicles are that the import does
// not touch.
func (v *review) others() ([]build.Holding, error) {
	if len(v.vehicles) == 0 {
		return nil, nil
	}
	var all []build.Holding
	for _, serial := range v.store.Serials() {
		if v.vehicles[serial] != nil {
			continue
		}
		other, err := v.store.Vehicle(serial)
		if err != nil {
			return nil, err
		}
		held, err := other.Holdings(v.releases)
		if err != nil {
			return nil, err
		}
		all = append(all, held...)
	}
	return all, nil
}
