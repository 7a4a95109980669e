package handbookrpc

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookwire"
)

// importReview is the last look at an import as a whole, before it takes effect.
type importReview struct {
	s      *Service
	names  map[string]bool
	books  []*handbook.Book // that are new
	issues []importRow      // likewise
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

// row takes in one row. What stands already must be the same: neither a version
// nor an issue ever changes.
func (v *importReview) row(r importRow) {
	if v.names[r.name] {
		v.refuse(r.name, fault.Field{Got: "twice", Want: "one row for each record"})
		return
	}
	v.names[r.name] = true
	if kept := v.s.kept(r); kept != nil {
		if !proto.Equal(kept, adopted(r.record.Message, kept)) {
			v.refuse(r.name, fault.Field{Got: "another record", Want: "the record as it stands: it is never imported over"})
			return
		}
		v.unchanged++
		return
	}
	v.written++
	if r.book != nil {
		v.books = append(v.books, r.book)
	} else {
		v.issues = append(v.issues, r)
	}
}

// adopted is the given record with the name of the kept one, and with who made it
// and when where it does not say.
func adopted(given, kept proto.Message) proto.Message {
	given = proto.Clone(given)
	for _, name := range []protoreflect.Name{"issued_by", "create_time"} {
		f := given.ProtoReflect().Descriptor().Fields().ByName(name)
		if f != nil && !given.ProtoReflect().Has(f) && kept.ProtoReflect().Has(f) {
			given.ProtoReflect().Set(f, kept.ProtoReflect().Get(f))
		}
	}
	return given
}

// verdict checks what refers to other records, now that all are known: versions
// that follow each other, issues without a gap, and books that are there.
func (v *importReview) verdict() error {
	slices.SortFunc(v.books, func(a, b *handbook.Book) int {
		return cmp.Or(strings.Compare(a.ID, b.ID), cmp.Compare(a.Version, b.Version))
	})
	all := slices.Clone(v.books)
	for _, kept := range v.s.store.Books() {
		all = append(all, kept.Book)
	}
	for _, b := range v.books {
		for _, other := range all {
			if f, ok := b.OutOfOrder(other); ok {
				v.refuse(b.Name(), fault.FieldsUnder("book", []fault.Field{f})...)
			}
		}
	}
	for _, r := range v.issues {
		if !slices.ContainsFunc(all, func(b *handbook.Book) bool { return b.Name() == r.issue.GetBook() }) {
			v.refuse(r.name, fault.Field{Name: "handbook_issue.book", Got: r.issue.GetBook(), Want: "a version that is there or in the import"})
		}
		before := handbookwire.IssueName(r.serial, r.number-1)
		if _, err := v.s.store.Issue(r.serial, r.number-1); r.number > 1 && err != nil && !v.names[before] {
			v.refuse(r.name, fault.Field{Name: "handbook_issue.name", Got: r.name, Want: fmt.Sprintf("issues without a gap: %s is neither there nor in the import", before)})
		}
		v.refuse(r.name, fault.FieldsUnder("handbook_issue", v.s.filesMissing(r.serial, r.issue))...)
	}
	return fault.InvalidFields(v.wrong)
}
