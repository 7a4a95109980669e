// Package warrantywire converts terms, cover and claims between
// services/warranty and their protos, for the warranty service and for those
// that read what it says.
//
// Towards the domain an error is a fault of kind Invalid that lists every field
// whose form is wrong by its path in the message. With an error the value holds
// what could be read, so that the domain's own check can be added.
package warrantywire

import (
	"strconv"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The forms of names.
const (
	TermForm  = "warrantyTerms/{warranty_term}/versions/{version}"
	CoverForm = "vehicles/{serial}/covers/{position}"
	SpanForm  = "vehicles/{serial}/outOfServiceSpans/{out_of_service_span}"
	ClaimForm = "vehicles/{serial}/claims/{claim}"
	PaperForm = "vehicles/{serial}/warrantyDocument"
)

// WholeVehicle stands for the vehicle as a whole where a name holds a position.
const WholeVehicle = "vehicle"

// CoverName gives the resource name of a position's cover; an empty position is
// the vehicle as a whole.
func CoverName(serial vehicle.Serial, position string) string {
	if position == "" {
		position = WholeVehicle
	}
	return "vehicles/" + string(serial) + "/covers/" + position
}

// SpanName gives the resource name of a time out of service.
func SpanName(serial vehicle.Serial, id string) string {
	return "vehicles/" + string(serial) + "/outOfServiceSpans/" + id
}

// maxVersion is how many versions a term may have: the keys have four digits.
const maxVersion = 9999

// TermID reads a version's name. The version is 0 for "versions/-", the latest.
func TermID(field, name string) (id string, version int, err error) {
	ids, err := resname.Match(field, TermForm, name)
	if err != nil {
		return "", 0, err
	}
	if ids[1] == "-" {
		return ids[0], 0, nil
	}
	n, err := strconv.Atoi(ids[1])
	if err != nil || n < 1 || n > maxVersion || strconv.Itoa(n) != ids[1] {
		return "", 0, fault.InvalidField(field, name, TermForm+", versions counted from 1")
	}
	return ids[0], n, nil
}

// limit writes a distance; 0, which is no limit, is absent.
func limit(d vehicle.Distance) *vehiclev1.Distance {
	if d == 0 {
		return nil
	}
	return vehiclewire.DistanceProto(d)
}

// reasons reads an explanation back.
func reasons(from []*vehiclev1.Reason) []vehicle.Reason {
	var out []vehicle.Reason
	for _, m := range from {
		r := vehicle.Reason{Rule: m.GetRule(), Record: m.GetRecord(), Sentence: m.GetSentence()}
		for _, f := range m.GetFacts() {
			r.Facts = append(r.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
		}
		out = append(out, r)
	}
	return out
}
