package buildstore

import (
	"context"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Row is one record of an import; exactly one of its fields is set.
type Row struct {
	Release   *build.Release
	Record    *build.Record
	Change    *build.Change
	Amendment *build.Amendment
}

// Name is the resource name of the row's record.
func (r Row) Name() string {
	switch {
	case r.Release != nil:
		return build.ReleaseName(r.Release.ID)
	case r.Record != nil:
		return build.Name(r.Record.Serial)
	case r.Change != nil:
		return r.Change.Name()
	}
	return r.Amendment.Name()
}

// serial is the vehicle that the row is about; empty for a release.
func (r Row) serial() vehicle.Serial {
	switch {
	case r.Record != nil:
		return r.Record.Serial
	case r.Change != nil:
		return r.Change.Serial
	case r.Amendment != nil:
		return r.Amendment.Serial
	}
	return ""
}

// Stands tells whether there is a record of the row's name, and whether it
// says the same. What the row leaves to the service is taken as the same.
func (s *Store) Stands(r Row) (exists, same bool, err error) {
	switch {
	case r.Release != nil:
		old := s.Releases()[r.Release.ID]
		if old == nil {
			return false, false, nil
		}
		row := *r.Release
		row.Created = madeAt(row.Created, old.Created)
		return true, proto.Equal(buildwire.ReleaseProto(row), buildwire.ReleaseProto(*old)), nil
	case r.Record != nil:
		v, err := s.Vehicle(r.Record.Serial)
		if fault.Is(err, fault.NotFound) {
			return false, false, nil
		}
		row := *r.Record
		row.Created = madeAt(row.Created, v.Record.Created)
		return true, proto.Equal(buildwire.RecordProto(row), buildwire.RecordProto(v.Record)), err
	case r.Change != nil:
		return s.changeStands(*r.Change)
	}
	return s.amendmentStands(*r.Amendment)
}

func madeAt(row, stored time.Time) time.Time {
	if row.IsZero() {
		return stored
	}
	return row
}

func (s *Store) changeStands(row build.Change) (exists, same bool, err error) {
	var p buildv1.Change
	found, err := s.child(row.Serial, row.ID, &p, func(e *entry) []stored { return e.changes })
	if !found || err != nil {
		return false, false, err
	}
	old, err := buildwire.Change(&p)
	row.Created = madeAt(row.Created, old.Created)
	if row.RecordedBy == "" {
		row.RecordedBy = old.RecordedBy
	}
	return true, proto.Equal(buildwire.ChangeProto(row), buildwire.ChangeProto(old)), err
}

func (s *Store) amendmentStands(row build.Amendment) (exists, same bool, err error) {
	var p buildv1.Amendment
	found, err := s.child(row.Serial, row.ID, &p, func(e *entry) []stored { return e.amendments })
	if !found || err != nil {
		return false, false, err
	}
	old, err := buildwire.Amendment(&p)
	row.Created = madeAt(row.Created, old.Created)
	row.Before.Created = madeAt(row.Before.Created, old.Before.Created)
	return true, proto.Equal(buildwire.AmendmentProto(row), buildwire.AmendmentProto(old)), err
}

// child reads a change or an amendment of a vehicle.
func (s *Store) child(serial vehicle.Serial, id string, m proto.Message, of func(*entry) []stored) (bool, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return false, nil
	}
	for _, c := range of(e) {
		if c.id == id {
			return true, proto.Unmarshal(c.value, m)
		}
	}
	return false, nil
}

// What one transaction of an import holds: parts of at most so many rows, as
// long as all operations stay below the store's limit.
const (
	partRows = 8
	maxOps   = kv.MaxOps - 8
)

// Put writes the rows that are not there yet, in their order, in as few
// transactions as that takes. Doing it twice is the same as once. The rows
// were checked as a whole before, so components are claimed unseen. made is
// the moment for rows that name none, each a microsecond after the one before;
// by is who recorded those that do not say.
func (s *Store) Put(ctx context.Context, rows []Row, made time.Time, by string) error {
	if err := s.CatchUp(ctx); err != nil {
		return err
	}
	for i := range rows {
		rows[i].stamp(made.Add(time.Duration(i)*time.Microsecond), by)
	}
	for len(rows) > 0 {
		n, err := s.putSome(ctx, rows)
		switch {
		case err == nil:
			rows = rows[n:]
		case fault.Is(err, fault.Aborted), fault.Is(err, fault.AlreadyExists):
			if err := s.CatchUp(ctx); err != nil {
				return err
			}
		default:
			return err
		}
	}
	return nil
}

// stamp fills in what a row leaves to the service.
func (r Row) stamp(made time.Time, by string) {
	switch {
	case r.Release != nil:
		r.Release.Created = madeAt(r.Release.Created, made)
	case r.Record != nil:
		r.Record.Created = madeAt(r.Record.Created, made)
	case r.Change != nil:
		r.Change.Created = madeAt(r.Change.Created, made)
		if r.Change.RecordedBy == "" {
			r.Change.RecordedBy = by
		}
	case r.Amendment != nil:
		r.Amendment.Created = madeAt(r.Amendment.Created, made)
	}
}

// putSome writes the first rows in one transaction and gives their number.
func (s *Store) putSome(ctx context.Context, rows []Row) (int, error) {
	t, done := kv.NewTxn(), map[string]bool{}
	taken := 0
	for taken < len(rows) {
		n, ok, err := s.putPart(t, done, rows[taken:])
		if err != nil {
			return 0, err
		}
		if !ok {
			break
		}
		taken += n
		if rows[taken-1].Release != nil {
			break // what comes next may need it in memory
		}
	}
	if t.Len() == 0 {
		return taken, nil
	}
	result, err := s.kv.Commit(ctx, t)
	if err != nil {
		return 0, err
	}
	return taken, s.Wait(ctx, result.Revision)
}

// putPart adds the first rows to the transaction: a release, a record, or the
// changes and amendments of one vehicle that stand together. It reports false
// when the transaction has no room for them.
func (s *Store) putPart(t *kv.Txn, done map[string]bool, rows []Row) (n int, ok bool, err error) {
	first := rows[0]
	exists, _, err := s.Stands(first)
	if err != nil || exists {
		return 1, err == nil, err
	}
	if first.Release != nil {
		key := releaseKey(first.Release.ID)
		t.Absent(key).Put(key, buildwire.ReleaseProto(*first.Release))
		return 1, true, nil
	}
	serial := first.serial()
	if done[vehicleKey(serial)] {
		return 0, false, nil
	}
	w := Write{Record: first.Record}
	if n = 1; first.Record == nil {
		v, err := s.Vehicle(serial)
		if err != nil {
			return 0, false, err
		}
		w.Was = &v
		if n, err = s.gather(&w, rows); err != nil {
			return 0, false, err
		}
	}
	_, keys, err := s.moves([]Write{w})
	if err != nil {
		return 0, false, err
	}
	// A component on its way from one vehicle to another may come twice, and
	// one transaction writes a key once.
	if t.Len()+n+1+len(keys) > maxOps || slices.ContainsFunc(keys, func(k string) bool { return done[claimKey(k)] }) {
		if t.Len() == 0 {
			return 0, false, fault.New(fault.Internal, "TRANSACTION_TOO_LARGE", "%s moves %d components at once", first.Name(), len(keys))
		}
		return 0, false, nil
	}
	done[vehicleKey(serial)] = true
	s.add(t, &w, "import")
	for _, k := range keys {
		done[claimKey(k)] = true
		t.PutBytes(claimKey(k), about([]Write{w}))
	}
	return n, true, nil
}

// gather takes the changes and amendments of one vehicle that begin the rows.
func (s *Store) gather(w *Write, rows []Row) (n int, err error) {
	for n < len(rows) && n < partRows && rows[n].Record == nil && rows[n].serial() == w.serial() {
		exists, _, err := s.Stands(rows[n])
		if err != nil {
			return 0, err
		}
		switch r := rows[n]; {
		case exists:
		case r.Change != nil:
			w.Changes = append(w.Changes, *r.Change)
		default:
			w.Amendments = append(w.Amendments, *r.Amendment)
		}
		n++
	}
	return n, nil
}
