package schedulerpc

import (
	"fmt"
	"maps"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
	"halfshaft/services/schedule"
)

// review is the last look at an import as a whole, before it takes effect.
type review struct {
	s        *Service
	names    map[string]bool
	versions map[string][]int           // numbers of the programmes that come
	items    map[string]map[string]bool // of every programme, by programme and item
	entries  []entryLook
	wrong    []fault.Field

	written, unchanged int32
}

// entryLook is an entry whose items are looked for when all programmes are
// known.
type entryLook struct {
	name  string
	items []string
}

func (s *Service) newReview() *review {
	return &review{s: s, names: map[string]bool{}, versions: map[string][]int{}, items: map[string]map[string]bool{}}
}

func (v *review) refuse(row string, field fault.Field) {
	v.wrong = append(v.wrong, fault.FieldsUnder("rows["+row+"]", []fault.Field{field})...)
}

func (v *review) chunk(chunk []byte) error {
	rows, err := v.s.readChunk(chunk)
	if err != nil {
		return err
	}
	for _, r := range rows {
		v.row(r)
	}
	return nil
}

// row takes in one row. What stands already must be the same.
func (v *review) row(r row) {
	if v.names[r.name] {
		v.refuse(r.name, fault.Field{Got: "twice", Want: "one row for each record"})
		return
	}
	v.names[r.name] = true
	switch exists, same := v.s.compare(r); {
	case same:
		v.unchanged++
	case exists:
		v.refuse(r.name, fault.Field{Got: "another record", Want: "the record as it stands: what happened is never imported over"})
	default:
		v.written++
	}
	if r.version != nil {
		v.programme(r.version)
	}
	if len(r.items) > 0 {
		v.entries = append(v.entries, entryLook{r.name, r.items})
	}
}

func (v *review) programme(p *schedule.Programme) {
	v.versions[p.ID] = append(v.versions[p.ID], p.Version)
	v.learn(p)
}

func (v *review) learn(p *schedule.Programme) {
	if v.items[p.ID] == nil {
		v.items[p.ID] = map[string]bool{}
	}
	for i := range p.Items {
		v.items[p.ID][p.Items[i].ID] = true
	}
}

// verdict checks what refers to other records, now that all are known: versions
// without a gap, and items that some programme has.
func (v *review) verdict() error {
	for _, id := range v.s.store.Programmes() {
		versions := v.s.store.Versions(id)
		for n := range versions {
			if ready, err := v.s.plans.at(versions, n); err == nil {
				v.learn(ready.programme)
				v.versions[id] = append(v.versions[id], ready.programme.Version)
			}
		}
	}
	for id, numbers := range v.versions {
		have := map[int]bool{}
		for _, n := range numbers {
			have[n] = true
		}
		for n := 1; n <= len(have); n++ {
			if !have[n] {
				v.refuse("programmes/"+id, fault.Field{Name: "name", Got: "a gap", Want: fmt.Sprintf("version %d among them", n)})
			}
		}
	}
	all := map[string]bool{}
	for _, items := range v.items {
		maps.Copy(all, items)
	}
	for _, e := range v.entries {
		for i, item := range e.items {
			if !all[item] {
				v.refuse(e.name, fault.Field{Name: fmt.Sprintf("service_entry.items[%d].item_id", i), Got: item, Want: "an item of a programme"})
			}
		}
	}
	return fault.InvalidFields(v.wrong)
}

// stands says whether a record of that name is stored.
func (s *Service) stands(r row) bool {
	exists, _ := s.compare(r)
	return exists
}

// compare says whether a record of the row's name is stored, and whether it is
// the same. Who recorded it and when is only compared where the row says so. A
// reading that merely came with an entry does not stand in the way of one that
// says more.
func (s *Service) compare(r row) (exists, same bool) {
	var stored proto.Message
	if r.version != nil {
		v, ok := s.version(r.version.ID, r.version.Version)
		if !ok {
			return false, false
		}
		stored = proto.CloneOf(v.Message)
	} else {
		history := s.store.History(r.serial)
		rec, ok := history.Find(r.kind, r.id)
		if !ok {
			return false, false
		}
		stored = r.message.ProtoReflect().New().Interface()
		if err := history.Read(r.kind, rec, stored); err != nil {
			return true, false
		}
	}
	given := proto.Clone(r.message)
	forget(stored, given)
	return true, proto.Equal(stored, given)
}

// forget takes out of the stored record what the given one does not say of its
// making and striking out, nor the job sheet that it came back on, which is in no
// file.
func forget(stored, given proto.Message) {
	for _, name := range []protoreflect.Name{"recorded_by", "create_time", "voided_by", "void_time", "job_sheet"} {
		f := stored.ProtoReflect().Descriptor().Fields().ByName(name)
		if f != nil && !given.ProtoReflect().Has(f) {
			stored.ProtoReflect().Clear(f)
		}
	}
}
