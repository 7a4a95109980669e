package warrantyrpc

import (
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
)

// importReview is the last look at an import as a whole, before it takes effect.
type importReview struct {
	s      *Service
	names  map[string]bool
	terms  []warranty.Term // that are new
	claims []importRow     // that are new
	spans  []importRow     // likewise
	wrong  []fault.Field

	written, unchanged int32
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

// row takes in one row. What stands already must be the same: a version never
// changes, and what was done to a claim is never written over.
func (v *importReview) row(r importRow) {
	if v.names[r.name] {
		v.refuse(r.name, fault.Field{Got: "twice", Want: "one row for each record"})
		return
	}
	v.names[r.name] = true
	if kept := v.s.kept(r); kept != nil {
		given := proto.Clone(r.message)
		adopt(given, kept)
		if !warrantystore.Same(kept, given) {
			v.refuse(r.name, fault.Field{Got: "another record", Want: "the record as it stands: it is never imported over"})
			return
		}
		v.unchanged++
		return
	}
	v.written++
	switch {
	case r.term != nil:
		v.terms = append(v.terms, *r.term)
	case r.claim != nil:
		v.claims = append(v.claims, r)
	default:
		v.spans = append(v.spans, r)
	}
}

// adopt takes over who made a record and when, where the given one does not say.
func adopt(given, kept proto.Message) {
	for _, name := range []protoreflect.Name{"recorded_by", "create_time"} {
		f := given.ProtoReflect().Descriptor().Fields().ByName(name)
		if f != nil && !given.ProtoReflect().Has(f) && kept.ProtoReflect().Has(f) {
			given.ProtoReflect().Set(f, kept.ProtoReflect().Get(f))
		}
	}
}

// verdict checks what refers to other records, now that all are known: versions
// that follow each other, and terms and claims that are there.
func (v *importReview) verdict() error {
	var beside []warranty.Term
	for _, kept := range v.s.store.Terms() {
		beside = append(beside, kept.Term)
	}
	slices.SortFunc(v.terms, warranty.OrderTerms)
	for _, t := range v.terms {
		if err := warranty.Admit(beside, t); err != nil {
			v.refuse(t.Name(), fault.FieldsOf("warranty_term", err)...)
		}
		beside = append(beside, t)
	}
	term := func(name string) (warranty.Term, bool) {
		i := slices.IndexFunc(beside, func(t warranty.Term) bool { return t.Name() == name })
		if i < 0 {
			return warranty.Term{}, false
		}
		return beside[i], true
	}
	for _, r := range v.claims {
		v.claim(r, term)
	}
	for _, r := range v.spans {
		if claim := r.span.GetClaim(); claim != "" && !v.names[claim] {
			if _, ok := v.s.store.Vehicle(r.serial).Claim(claim); !ok {
				v.refuse(r.name, fault.Field{Name: "out_of_service_span.claim", Got: claim, Want: "a claim of this vehicle that is there or in the import"})
			}
		}
	}
	return fault.InvalidFields(v.wrong)
}

func (v *importReview) claim(r importRow, term func(string) (warranty.Term, bool)) {
	for i, of := range r.claim.GetCover().GetTerms() {
		if _, ok := term(of.GetTerm()); !ok {
			v.refuse(r.name, fault.Field{Name: fmt.Sprintf("claim.cover.terms[%d].term", i), Got: of.GetTerm(), Want: "a version of a term that is there or in the import"})
		}
	}
	if name := r.claim.GetRecovery().GetTerm(); name != "" {
		if t, ok := term(name); !ok || t.Giver != warranty.Supplier {
			v.refuse(r.name, fault.Field{Name: "claim.recovery.term", Got: name, Want: "a version of a supplier's term that is there or in the import"})
		}
	}
}
