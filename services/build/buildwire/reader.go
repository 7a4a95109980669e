// Package buildwire converts build records, changes, amendments, releases and
// configurations between services/build and its protos, for the build service
// and for those that follow it.
//
// Towards the domain it reads everything, and its error, a fault of kind
// Invalid, lists every field whose form is wrong by its path in the message.
// Whether the values make sense together is for services/build to check; with
// an error the value returned holds what could be read, so that both lists can
// be given at once.
package buildwire

import (
	"errors"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/types/known/timestamppb"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader collects what is wrong while a message is read.
type reader struct {
	errs   []error
	fields []fault.Field
}

// refuse notes an error about the field at the path. The parts of the shared
// values name themselves; here the path of the message's field is what counts.
func (r *reader) refuse(path string, err error) {
	if err == nil {
		return
	}
	r.errs = append(r.errs, err)
	for _, f := range fault.FieldsOf("", err) {
		r.fields = append(r.fields, fault.Field{Name: path, Got: f.Got, Want: f.Want})
	}
}

// err is all that was refused. A single refusal keeps its reason.
func (r *reader) err() error {
	if len(r.errs) == 1 {
		var only *fault.Error
		if errors.As(r.errs[0], &only) {
			under := *only
			under.Fields = r.fields
			return &under
		}
	}
	return fault.InvalidFields(r.fields)
}

func (r *reader) date(path string, d *date.Date) vehicle.Date {
	v, err := vehiclewire.Date(d)
	r.refuse(path, err)
	return v
}

func (r *reader) decimal(path, text string) vehicle.Decimal {
	if text == "" {
		return vehicle.Decimal{}
	}
	v, err := vehicle.ParseDecimal(text)
	r.refuse(path, err)
	return v
}

func (r *reader) quantity(path string, q *vehiclev1.Quantity) vehicle.Quantity {
	v, err := vehiclewire.Quantity(q)
	r.refuse(path+".value", err)
	return v
}

func (r *reader) entered(path string, d *vehiclev1.Distance) vehicle.Entered {
	v, err := vehiclewire.Entered(d)
	if err != nil {
		for _, part := range []string{"entered_value", "entered_unit", "millimetres"} {
			if fields := fault.FieldsOf("", err); len(fields) > 0 && strings.HasPrefix(fields[0].Name, part) {
				path += "." + part
			}
		}
	}
	r.refuse(path, err)
	return v
}

// id reads the identifier out of a name of one segment: "releases/R3".
func (r *reader) id(path, pattern, name string) string {
	if name == "" {
		return ""
	}
	ids, err := resname.Match(path, pattern, name)
	if err != nil {
		r.refuse(path, err)
		return ""
	}
	return ids[0]
}

// child reads serial and identifier out of "builds/AM0147P/changes/0192f0". An
// empty name is left to the service to give.
func (r *reader) child(pattern, name string) (vehicle.Serial, string) {
	if name == "" {
		return "", ""
	}
	serial, ids, err := resname.Serial("name", pattern, name)
	if err != nil {
		r.refuse("name", err)
		return "", ""
	}
	return serial, ids[0]
}

func (r *reader) moment(path string, t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	if err := t.CheckValid(); err != nil {
		r.refuse(path, fault.InvalidField(path, t.String(), "a moment between the years 1 and 9999"))
		return time.Time{}
	}
	return t.AsTime()
}

func decimalText(d vehicle.Decimal) string {
	if d == (vehicle.Decimal{}) {
		return ""
	}
	return d.String()
}
