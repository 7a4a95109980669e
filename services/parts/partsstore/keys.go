// Package partsstore keeps the catalogue in etcd, and in memory as the
// indexed parts.Catalogue that questions are answered from.
//
// Keys, all under /halfshaft/v1/parts/, each with its message of
// halfshaft.parts.v1 without name and etag:
//
//	part/<number>              Part
//	supersession/<id>          Supersession
//	position/<id>              Position
//	application/<id>           Application
//	setting/<id>               Setting
//	capacity/<id>              Capacity
//
// Request ids are not used: an import is the only way in, and staging makes
// it happen once.
package partsstore

import "halfshaft/services/internal/kv"

// Service is the name under which the keys stand and writes are waited for.
const Service = "parts"

var (
	partPrefix         = kv.Prefix(Service) + "part/"
	supersessionPrefix = kv.Prefix(Service) + "supersession/"
	positionPrefix     = kv.Prefix(Service) + "position/"
	applicationPrefix  = kv.Prefix(Service) + "application/"
	settingPrefix      = kv.Prefix(Service) + "setting/"
	capacityPrefix     = kv.Prefix(Service) + "capacity/"
)
