package vehiclewire

import (
	"fmt"

	"google.golang.org/genproto/googleapis/type/date"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Reader reads a message of another service and collects what is wrong with it
// by the paths of its fields. What it could not read is a zero value.
type Reader struct{ wrong []fault.Field }

// Refuse notes an error about the field at the path. The parts of shared values
// name themselves; here the path of the message's field is what counts.
func (r *Reader) Refuse(path string, err error) {
	for _, f := range fault.FieldsOf("", err) {
		r.Bad(path, f.Got, f.Want)
	}
}

// Bad notes that the field at the path is not what is wanted.
func (r *Reader) Bad(path, got, want string) {
	r.wrong = append(r.wrong, fault.Field{Name: path, Got: got, Want: want})
}

// Err is all that was refused, of kind Invalid; nil for nothing.
func (r *Reader) Err() error { return fault.InvalidFields(r.wrong) }

// Date reads a civil date.
func (r *Reader) Date(path string, d *date.Date) vehicle.Date {
	v, err := Date(d)
	r.Refuse(path, err)
	return v
}

// Entered reads a distance as a person entered it.
func (r *Reader) Entered(path string, d *vehiclev1.Distance) vehicle.Entered {
	v, err := Entered(d)
	r.Refuse(path, err)
	return v
}

// Distance reads a distance in millimetres.
func (r *Reader) Distance(path string, d *vehiclev1.Distance) vehicle.Distance {
	v, err := Distance(d)
	r.Refuse(path, err)
	return v
}

// At is the path of a field of one of a list.
func At(list string, i int, field string) string { return fmt.Sprintf("%s[%d].%s", list, i, field) }

// Enum narrows a number of the API; one that the domain cannot hold becomes one
// that it refuses.
func Enum[T ~uint8, E ~int32](e E) T {
	if e < 0 || e > 255 {
		return 255
	}
	return T(e)
}
