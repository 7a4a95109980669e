// Package schedulewire converts programmes, histories and schedules between
// services/schedule and their protos, for the schedule service and for those
// that read what it says.
//
// Towards the domain an error is a fault of kind Invalid that lists every field
// whose form is wrong by its path in the message. With an error the value holds
// what could be read, so that the domain's own check can be added.
package schedulewire

import (
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader reads messages and collects what is wrong with them.
type reader struct{ vehiclewire.Reader }

func (r *reader) quantity(path string, q *vehiclev1.Quantity) vehicle.Quantity {
	v, err := vehiclewire.Quantity(q)
	r.Refuse(path, err)
	return v
}

func (r *reader) decimal(path, text string) vehicle.Decimal {
	if text == "" {
		return vehicle.Decimal{}
	}
	v, err := vehicle.ParseDecimal(text)
	r.Refuse(path, err)
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
