// Package partsstore keeps the catalogue in etcd, and in memory as the
// indexed parts.Catalogue that questions are answered from.
//
// Keys, all under /halfshaft/v1/parts/:
//
//	part/<number>              halfshaft.parts.v1.Part, without name and etag
//	supersession/<id>          halfshaft.parts.v1.Supersession, likewise
//
// Request ids are not used: an import is the only way in, and staging makes
// it happen once.
package partsstore

import (
	"strings"

	"halfshaft/services/internal/kv"
)

// Service is the name under which the keys stand and writes are waited for.
const Service = "parts"

var (
	partPrefix         = kv.Prefix(Service) + "part/"
	supersessionPrefix = kv.Prefix(Service) + "supersession/"
)

func partKey(number string) string     { return partPrefix + number }
func supersessionKey(id string) string { return supersessionPrefix + id }

// partNumber gives the number of a part's key.
func partNumber(key string) (string, bool) { return strings.CutPrefix(key, partPrefix) }

// supersessionID gives the identifier of a supersession's key.
func supersessionID(key string) (string, bool) { return strings.CutPrefix(key, supersessionPrefix) }
