package partsstore

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/parts"
)

// Rows is what an import brings, converted.
type Rows struct{ list []loaded }

// loaded is one row, of any kind.
type loaded interface {
	name() string
	put(c *parts.Catalogue)
	same(now *parts.Catalogue) bool
	write(now *parts.Catalogue, txn *kv.Txn, at time.Time)
}

// Row reads one row of an import into the rest. Its faults are those of the
// row by itself, named from inside the record.
func (r *Rows) Row(row *partsv1.PartRow) (record string, faults []fault.Field) {
	switch m := row.GetRow().(type) {
	case *partsv1.PartRow_Part:
		return m.Part.GetName(), load(r, &partKind, m.Part)
	case *partsv1.PartRow_Supersession:
		return m.Supersession.GetName(), load(r, &supersessionKind, m.Supersession)
	case *partsv1.PartRow_Position:
		return m.Position.GetName(), load(r, &positionKind, m.Position)
	case *partsv1.PartRow_Application:
		return m.Application.GetName(), load(r, &applicationKind, m.Application)
	case *partsv1.PartRow_Setting:
		return m.Setting.GetName(), load(r, &settingKind, m.Setting)
	case *partsv1.PartRow_Capacity:
		return m.Capacity.GetName(), load(r, &capacityKind, m.Capacity)
	}
	return "", []fault.Field{{Name: "row", Want: "a record of the catalogue"}}
}

func load[R any, P record[R], M proto.Message](rows *Rows, k *kind[R, P, M], m M) []fault.Field {
	r, err := k.read(m)
	if err != nil {
		return fault.FieldsOf("", err)
	}
	rows.list = append(rows.list, &one[R, P, M]{k, r})
	if P(&r).Stamped().Withdrawn {
		return nil // only its name is looked at
	}
	return P(&r).Validate()
}

// Len gives the number of rows.
func (r *Rows) Len() int { return len(r.list) }

// one is a row of one kind.
type one[R any, P record[R], M proto.Message] struct {
	kind  *kind[R, P, M]
	value R
}

func (o *one[R, P, M]) name() string { return o.kind.collection + "/" + P(&o.value).Key() }

func (o *one[R, P, M]) put(c *parts.Catalogue) {
	if P(&o.value).Stamped().Withdrawn {
		o.kind.remove(c, P(&o.value).Key())
		return
	}
	o.kind.put(c, o.value)
}

// same compares contents: a row without the moment it was made means any. A
// record that is taken out is the same when it is not there.
func (o *one[R, P, M]) same(now *parts.Catalogue) bool {
	before, withdrawn := o.kind.get(now, P(&o.value).Key()), P(&o.value).Stamped().Withdrawn
	if before == nil || withdrawn {
		return before == nil && withdrawn
	}
	then := *before
	if P(&o.value).Stamped().Created.IsZero() {
		P(&then).Stamped().Created = time.Time{}
	}
	return proto.Equal(o.kind.write(&then), o.kind.write(&o.value))
}

// write puts the row under its key, unless the same is there. The moment a
// record was first made is kept, unless the row brings another; a new record
// without one was made at the given one.
func (o *one[R, P, M]) write(now *parts.Catalogue, txn *kv.Txn, at time.Time) {
	if o.same(now) {
		return
	}
	r := P(&o.value)
	if r.Stamped().Withdrawn {
		txn.Delete(o.kind.prefix + r.Key())
		return
	}
	if stamp := r.Stamped(); stamp.Created.IsZero() {
		stamp.Created = at
		if before := o.kind.get(now, r.Key()); before != nil {
			stamp.Created = before.Stamped().Created
		}
	}
	m := o.kind.write(r)
	setText(m, "name", "")
	txn.Put(o.kind.prefix+r.Key(), m)
}

// Examine tells what committing the rows would do: everything wrong with the
// catalogue as it would then be, against the releases, and how many rows would
// change something.
func (s *Store) Examine(r *Rows, releases build.ReleaseSet) (written int, faults []fault.Field) {
	merged := s.blank()
	s.Read(func(now *parts.Catalogue) {
		for _, k := range kinds {
			k.copy(now, merged)
		}
		for _, row := range r.list {
			if !row.same(now) {
				written++
			}
		}
	})
	seen := map[string]bool{}
	for _, row := range r.list {
		name := row.name()
		if seen[name] {
			faults = append(faults, fault.Field{Name: "rows[" + name + "].name", Got: name, Want: "each record once in an import"})
		}
		seen[name] = true
		row.put(merged)
	}
	return written, append(faults, merged.Check(releases)...)
}

// Write puts rows under their keys, in one transaction, leaving those that
// are there with the same content as they are. Doing it twice is as once.
func (s *Store) Write(ctx context.Context, r *Rows, at time.Time) (revision int64, err error) {
	txn := kv.NewTxn()
	s.Read(func(now *parts.Catalogue) {
		for _, row := range r.list {
			row.write(now, txn, at)
		}
	})
	if txn.Len() == 0 {
		return 0, nil
	}
	result, err := s.kv.Commit(ctx, txn)
	return result.Revision, err
}
