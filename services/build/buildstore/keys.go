// Package buildstore keeps build records, changes, amendments and releases in
// etcd, and all of them in memory for reading.
package buildstore

import (
	"strings"

	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys stand and writes are waited for.
const Service = "build"

// The keys. Everything that is read in bulk stands under one prefix, which the
// projection follows:
//
//	/halfshaft/v1/build/releases/<release>             Release, written once
//	/halfshaft/v1/build/builds/<serial>                Build as it now reads, without etag
//	/halfshaft/v1/build/changes/<serial>/<change>      Change, written once
//	/halfshaft/v1/build/amendments/<serial>/<amendment>  Amendment, written once
//	/halfshaft/v1/build/vehicles/<serial>              guard of the vehicle: every write about it
//	                                                   compares and rewrites this key, so that two
//	                                                   never decide on the same state; the value is
//	                                                   the request that wrote last, for operators
//
// Claims of component serials stand apart, since nobody reads them in bulk and
// a fleet has more of them than of anything else:
//
//	/halfshaft/v1/component/serials/<folded serial>    the vehicles of the write that last changed
//	                                                   where the component stands or stood
//
// Whoever changes where a component stands, or stood, compares and rewrites
// its claim in the same transaction. So two vehicles never get one component,
// even if two callers write at the same moment in two processes. Where the
// component is follows from builds and changes alone.
var (
	prefix           = kv.Prefix(Service)
	releasesPrefix   = prefix + "releases/"
	buildsPrefix     = prefix + "builds/"
	changesPrefix    = prefix + "changes/"
	amendmentsPrefix = prefix + "amendments/"
	vehiclesPrefix   = prefix + "vehicles/"
	claimsPrefix     = kv.Prefix("component") + "serials/"
)

func releaseKey(id string) string             { return releasesPrefix + id }
func buildKey(serial vehicle.Serial) string   { return buildsPrefix + string(serial) }
func vehicleKey(serial vehicle.Serial) string { return vehiclesPrefix + string(serial) }
func claimKey(folded string) string           { return claimsPrefix + folded }

func changeKey(serial vehicle.Serial, id string) string {
	return changesPrefix + string(serial) + "/" + id
}

func amendmentKey(serial vehicle.Serial, id string) string {
	return amendmentsPrefix + string(serial) + "/" + id
}

// parse takes a followed key apart: the kind of record, the vehicle or
// release, and the identifier within it.
func parse(key string) (kind, of, id string) {
	kind, rest, _ := strings.Cut(strings.TrimPrefix(key, prefix), "/")
	of, id, _ = strings.Cut(rest, "/")
	return kind, of, id
}
