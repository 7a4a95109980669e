// Package schedulewire converts programmes, histories and schedules between
// services/schedule and their protos, for the schedule service and for those
// that read what it says.
//
// Towards the domain an error is a fault of kind Invalid that lists every field
// whose form is wrong by its path in the message. With an error the value holds
// what could be read, so that the domain's own check can be added.
package schedulewire

import (
	"fmt"

	"google.golang.org/genproto/googleapis/type/date"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader collects what is wrong while a message is read.
type reader struct{ wrong []fault.Field }

func (r *reader) refuse(path string, err error) {
	for _, f := range fault.FieldsOf("", err) {
		r.wrong = append(r.wrong, fault.Field{Name: path, Got: f.Got, Want: f.Want})
	}
}

func (r *reader) err() error { return fault.InvalidFields(r.wrong) }

func (r *reader) date(path string, d *date.Date) vehicle.Date {
	v, err := vehiclewire.Date(d)
	r.refuse(path, err)
	return v
}

func (r *reader) entered(path string, d *vehiclev1.Distance) vehicle.Entered {
	v, err := vehiclewire.Entered(d)
	r.refuse(path, err)
	return v
}

func (r *reader) quantity(path string, q *vehiclev1.Quantity) vehicle.Quantity {
	v, err := vehiclewire.Quantity(q)
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

// bound reads a number that may be absent, which is not the same as 0.
func (r *reader) bound(path, text string) *vehicle.Decimal {
	if text == "" {
		return nil
	}
	v := r.decimal(path, text)
	return &v
}

// enum narrows a number of the API; one that the domain cannot hold becomes one
// that it refuses.
func enum[T ~uint8, E ~int32](e E) T {
	if e < 0 || e > 255 {
		return 255
	}
	return T(e)
}

func at(list string, i int, field string) string { return fmt.Sprintf("%s[%d].%s", list, i, field) }

func decimalText(d vehicle.Decimal) string {
	if d == (vehicle.Decimal{}) {
		return ""
	}
	return d.String()
}

func boundText(d *vehicle.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}
