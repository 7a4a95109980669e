package partsstore

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partswire"
)

// Rows is what an import brings, converted.
type Rows struct {
	Parts         []parts.Part
	Supersessions []parts.Supersession
}

// Row reads one row of an import into the rest. Its faults are those of the
// row by itself, named from inside the record.
func (r *Rows) Row(row *partsv1.PartRow) (record string, faults []fault.Field) {
	switch m := row.GetRow().(type) {
	case *partsv1.PartRow_Part:
		p, err := partswire.Part(m.Part)
		if err != nil {
			return m.Part.GetName(), fault.FieldsOf("", err)
		}
		r.Parts = append(r.Parts, p)
		return m.Part.GetName(), p.Validate()
	case *partsv1.PartRow_Supersession:
		s, err := partswire.Supersession(m.Supersession)
		if err != nil {
			return m.Supersession.GetName(), fault.FieldsOf("", err)
		}
		r.Supersessions = append(r.Supersessions, s)
		return m.Supersession.GetName(), s.Validate()
	}
	return "", []fault.Field{{Name: "row", Want: "a part or a supersession"}}
}

// Len gives the number of rows.
func (r *Rows) Len() int { return len(r.Parts) + len(r.Supersessions) }

// Examine tells what committing the rows would do: everything wrong with the
// catalogue as it would then be, and how many rows would change something.
func (s *Store) Examine(r *Rows) (written int, faults []fault.Field) {
	merged := parts.NewCatalogue()
	s.Read(func(now *parts.Catalogue) {
		for _, p := range now.PartsAfter("", now.Len()) {
			merged.Put(*p)
		}
		for _, n := range now.SupersessionsAfter("", now.SupersessionCount()) {
			merged.PutSupersession(*n)
		}
		for i := range r.Parts {
			if before := now.Part(r.Parts[i].Number); before == nil || !samePart(before, &r.Parts[i]) {
				written++
			}
		}
		for i := range r.Supersessions {
			if before := now.Supersession(r.Supersessions[i].ID); before == nil || !sameSupersession(before, &r.Supersessions[i]) {
				written++
			}
		}
	})
	seen := map[string]bool{}
	once := func(record string) {
		if seen[record] {
			faults = append(faults, fault.Field{Name: "rows[" + record + "].name", Got: record, Want: "each record once in an import"})
		}
		seen[record] = true
	}
	for _, p := range r.Parts {
		once(parts.PartName(p.Number))
		merged.Put(p)
	}
	for _, n := range r.Supersessions {
		once(parts.SupersessionName(n.ID))
		merged.PutSupersession(n)
	}
	return written, append(faults, merged.Check()...)
}

// Write puts rows under their keys, in one transaction, leaving those that
// are there with the same content as they are. Doing it twice is as once. The
// moment a record was first made is kept, unless the row brings another; a new
// record without one was made at the given one.
func (s *Store) Write(ctx context.Context, r *Rows, at time.Time) (revision int64, err error) {
	txn := kv.NewTxn()
	s.Read(func(now *parts.Catalogue) {
		for i := range r.Parts {
			p := &r.Parts[i]
			made := at
			if before := now.Part(p.Number); before != nil {
				if samePart(before, p) {
					continue
				}
				made = before.Created
			}
			if p.Created.IsZero() {
				p.Created = made
			}
			m := partswire.PartProto(p)
			m.Name = ""
			txn.Put(partKey(p.Number), m)
		}
		for i := range r.Supersessions {
			n := &r.Supersessions[i]
			made := at
			if before := now.Supersession(n.ID); before != nil {
				if sameSupersession(before, n) {
					continue
				}
				made = before.Created
			}
			if n.Created.IsZero() {
				n.Created = made
			}
			m := partswire.SupersessionProto(n)
			m.Name = ""
			txn.Put(supersessionKey(n.ID), m)
		}
	})
	if txn.Len() == 0 {
		return 0, nil
	}
	result, err := s.kv.Commit(ctx, txn)
	return result.Revision, err
}

// samePart compares contents: a row without the moment it was made means any.
func samePart(before, row *parts.Part) bool {
	a, b := partswire.PartProto(before), partswire.PartProto(row)
	if b.CreateTime == nil {
		a.CreateTime = nil
	}
	return proto.Equal(a, b)
}

func sameSupersession(before, row *parts.Supersession) bool {
	a, b := partswire.SupersessionProto(before), partswire.SupersessionProto(row)
	if b.CreateTime == nil {
		a.CreateTime = nil
	}
	return proto.Equal(a, b)
}
