// Package warrantystore keeps terms, times out of service and claims in etcd,
// and all of them in memory for reading.
package warrantystore

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys stand and writes are waited for.
const Service = "warranty"

// The keys:
//
//	/halfshaft/v1/warranty/terms/<term>/<version, four digits>  WarrantyTerm, written once
//	/halfshaft/v1/warranty/spans/<serial>/<span>                OutOfServiceSpan
//	/halfshaft/v1/warranty/claims/<serial>/<claim>              Claim
//
// Etags, sums and names are never stored: a name is its key. A claim keeps the
// cover that was found when it was handed in, with the names of the versions it
// rests on, which never change.
var prefix = kv.Prefix(Service)

// Kind is a sort of record of a vehicle.
type Kind int

// The kinds.
const (
	Spans Kind = iota
	Claims
	kinds
)

var kindSegments = [kinds]string{"spans", "claims"}

// Key is where a record of a vehicle stands.
func (k Kind) Key(serial vehicle.Serial, id string) string {
	return prefix + kindSegments[k] + "/" + string(serial) + "/" + id
}

// TermKey is where a version of a term stands.
func TermKey(id string, version int) string {
	return prefix + "terms/" + id + "/" + fmt.Sprintf("%04d", version)
}

// parse takes a key apart; ok is false for a key of no kind known here.
func parse(key string) (kind Kind, of, id string, term, ok bool) {
	segment, rest, _ := strings.Cut(strings.TrimPrefix(key, prefix), "/")
	of, id, _ = strings.Cut(rest, "/")
	if segment == "terms" {
		return 0, of, id, true, true
	}
	for k, s := range kindSegments {
		if s == segment {
			return Kind(k), of, id, false, true
		}
	}
	return 0, "", "", false, false
}
