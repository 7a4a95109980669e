// Package bulletinstore keeps bulletins and the lists of campaigns in etcd, and
// all of them in memory for reading.
package bulletinstore

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys stand and writes are waited for.
const Service = "bulletin"

// The keys:
//
//	/halfshaft/v1/bulletin/versions/<bulletin>/<version, four digits>  Bulletin; of one that was issued only its end is added
//	/halfshaft/v1/bulletin/follow-ups/<serial>/<bulletin>              FollowUp, made once; steps are added
//	/halfshaft/v1/bulletin/issuing/<bulletin>/<version, four digits>   Issuing, while a long list is written
//
// Computed fields and etags are never stored. A vehicle is on the list of a
// campaign once, whatever its versions, because its key is made with a compare
// that there is none. While the version that put it there is a draft, it is not
// on the list yet: the version becomes issued in the last of the transactions
// that write the list.
var (
	prefix         = kv.Prefix(Service)
	versionsPrefix = prefix + "versions/"
	followPrefix   = prefix + "follow-ups/"
	issuingPrefix  = prefix + "issuing/"
)

func versionKey(id string, version int) string {
	return fmt.Sprintf("%s%s/%04d", versionsPrefix, id, version)
}

func issuingKey(id string, version int) string {
	return fmt.Sprintf("%s%s/%04d", issuingPrefix, id, version)
}

func followKey(serial vehicle.Serial, id string) string {
	return followPrefix + string(serial) + "/" + id
}

// numbered takes the rest of a key apart: "C-2026-02/0001".
func numbered(rest string) (id string, version int, ok bool) {
	id, number, found := strings.Cut(rest, "/")
	version, err := strconv.Atoi(number)
	return id, version, found && err == nil
}
