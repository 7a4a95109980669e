package bulletinrpc

import (
	"cmp"
	"maps"
	"slices"

	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
)

// importReview is the last look at an import as a whole, before it takes effect.
type importReview struct {
	s         *Service
	names     map[string]bool
	versions  map[string][]*bulletin.Bulletin // that are new, by identifier
	followUps []*bulletin.FollowUp            // likewise
	wrong     []fault.Field

	written, unchanged int32
}

func (s *Service) newReview() *importReview {
	return &importReview{s: s, names: map[string]bool{}, versions: map[string][]*bulletin.Bulletin{}}
}

func (v *importReview) refuse(row string, fields ...fault.Field) {
	v.wrong = append(v.wrong, fault.FieldsUnder("rows["+row+"]", fields)...)
}

func (v *importReview) chunk(chunk []byte) error {
	rows, err := v.s.readChunk(chunk)
	if err != nil {
		return err
	}
	for _, r := range rows {
		v.row(r)
	}
	return nil
}

// row takes in one row. What stands already must be the same: a vehicle is on a
// list once, and what was done for it is never written over.
func (v *importReview) row(r importRow) {
	if v.names[r.name] {
		v.refuse(r.name, fault.Field{Got: "twice", Want: "one row for each record"})
		return
	}
	v.names[r.name] = true
	kept, there := importRow{}, false
	if r.followUp != nil {
		if k := v.s.Store.Listed(r.followUp.Serial, r.followUp.Bulletin); k != nil {
			kept, there = importRow{followUp: &k.FollowUp}, true
		}
	} else if k := v.s.Store.Version(r.version.Bulletin.ID, r.version.Bulletin.Version); k != nil {
		kept, there = importRow{version: k}, true
	}
	switch {
	case there && same(r, kept):
		v.unchanged++
		return
	case there:
		v.refuse(r.name, fault.Field{Got: "another record", Want: "the record as it stands: it is never imported over"})
		return
	}
	v.written++
	if r.followUp != nil {
		v.followUps = append(v.followUps, r.followUp)
		return
	}
	b := &r.version.Bulletin
	v.versions[b.ID] = append(v.versions[b.ID], b)
}

// all gives the versions that a bulletin will have, in order.
func (v *importReview) all(id string) []*bulletin.Bulletin {
	out := slices.Clone(v.versions[id])
	for _, k := range v.s.Store.Versions(id) {
		out = append(out, &k.Bulletin)
	}
	slices.SortFunc(out, func(a, b *bulletin.Bulletin) int { return cmp.Compare(a.Version, b.Version) })
	return out
}

// verdict checks what refers to other records, now that all are known.
func (v *importReview) verdict() error {
	for _, id := range slices.Sorted(maps.Keys(v.versions)) {
		all := v.all(id)
		if at, wrong, ok := bulletin.Follows(all); !ok {
			v.refuse(all[at].Name(), fault.FieldsUnder("bulletin", []fault.Field{wrong})...)
		}
		for _, b := range v.versions[id] {
			if b.SupersededBy != "" && len(v.all(b.SupersededBy)) == 0 {
				v.refuse(b.Name(), fault.Field{Name: "bulletin.superseded_by", Got: bulletin.Name(b.SupersededBy), Want: "a bulletin that is there or in the import"})
			}
		}
	}
	for _, f := range v.followUps {
		all := v.all(f.Bulletin)
		i := slices.IndexFunc(all, func(b *bulletin.Bulletin) bool { return b.Version == f.Version })
		if i < 0 || all[i].Kind != bulletin.Campaign || all[i].State == bulletin.Draft {
			v.refuse(f.Name(), fault.Field{Name: "follow_up.bulletin", Got: versionName(f), Want: "a version of a campaign that was issued, and is there or in the import"})
		}
	}
	return fault.InvalidFields(v.wrong)
}

// versionName names the version that put a vehicle on its list.
func versionName(f *bulletin.FollowUp) string {
	b := bulletin.Bulletin{ID: f.Bulletin, Version: f.Version}
	return b.Name()
}
