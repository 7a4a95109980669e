// Package accessstore keeps who can come to the door: API keys, organisations,
// accounts, and which organisation may see which vehicle.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/access/keys/<key>                          halfshaft.access.v1.Key, with its digest
//	/halfshaft/v1/access/key-uses/<key>                      halfshaft.access.v1.KeyUse: apart, so that a use changes no etag
//	/halfshaft/v1/access/first-administrator                 identifier of the key made at the first start
//	/halfshaft/v1/access/door-organisations/<organisation>   halfshaft.access.v1.Organisation
//	/halfshaft/v1/access/door-accounts/<account>             halfshaft.access.v1.Account, without its ways and sign-ins
//	/halfshaft/v1/access/door-assignments/<serial>/<id>      halfshaft.access.v1.Assignment, without whether it is open
//	/halfshaft/v1/access/guards/administrators               empty; written anew by whatever makes an administrator fewer
//	/halfshaft/v1/access/guards/accounts/<account>           empty; written anew by whatever gives the account a key, or its keys another role
//
// What begins with "door-" goes to the gates in one stream.
package accessstore

import (
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Service is the name under which everything here and its request ids stand.
const Service = "access"

var (
	keysPrefix  = kv.Prefix(Service) + "keys/"
	usesPrefix  = kv.Prefix(Service) + "key-uses/"
	firstKey    = kv.Prefix(Service) + "first-administrator"
	doorPrefix  = kv.Prefix(Service) + "door-"
	guardPrefix = kv.Prefix(Service) + "guards/"
)

// The kinds of what is at the door, as they stand after its prefix.
const (
	organisationKind = "organisations/"
	accountKind      = "accounts/"
	assignmentKind   = "assignments/"
)

func organisationKey(id string) string { return doorPrefix + organisationKind + id }

func accountKey(id string) string { return doorPrefix + accountKind + id }

func assignmentKey(of vehicle.Serial, id string) string {
	return doorPrefix + assignmentKind + string(of) + "/" + id
}
