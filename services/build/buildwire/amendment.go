package buildwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle/vehiclewire"
)

// Amendment reads a correction of a record.
func Amendment(a *buildv1.Amendment) (build.Amendment, error) {
	var r reader
	serial, id := r.child("builds/{serial}/amendments/{amendment}", a.GetName())
	amendment := build.Amendment{
		Serial: serial, ID: id, Reason: a.GetReason(), Author: a.GetAuthor(),
		Created: r.moment("create_time", a.GetCreateTime()),
	}
	for _, f := range a.GetFields() {
		amendment.Fields = append(amendment.Fields, build.AmendedField{Path: f.GetPath(), Before: f.GetBefore(), After: f.GetAfter()})
	}
	before, err := Record(a.GetBefore())
	if err != nil {
		r.errs = append(r.errs, err)
		r.fields = append(r.fields, fault.FieldsOf("before", err)...)
	}
	amendment.Before = before
	return amendment, r.err()
}

// AmendmentProto writes a correction of a record.
func AmendmentProto(a build.Amendment) *buildv1.Amendment {
	p := &buildv1.Amendment{
		Name: a.Name(), Reason: a.Reason, Author: a.Author, CreateTime: vehiclewire.MomentProto(a.Created),
		Before: RecordProto(a.Before),
	}
	for _, f := range a.Fields {
		p.Fields = append(p.Fields, &buildv1.AmendedField{Path: f.Path, Before: f.Before, After: f.After})
	}
	return p
}
