// Package resname reads resource names (AIP-122): it matches them against a
// pattern such as "vehicles/{serial}/readings/{reading}".
package resname

import (
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// MaxSegment is the longest identifier in a name, in bytes.
const MaxSegment = 120

// Match gives the identifiers of a name in the order of the pattern's braces.
// field is the request's field, for the refusal.
func Match(field, pattern, name string) ([]string, error) {
	want := strings.Split(pattern, "/")
	got := strings.Split(name, "/")
	refused := fault.InvalidField(field, name, pattern)
	if len(want) != len(got) {
		return nil, refused
	}
	var ids []string
	for i, segment := range want {
		if !strings.HasPrefix(segment, "{") {
			if got[i] != segment {
				return nil, refused
			}
			continue
		}
		if !wellFormed(got[i]) {
			return nil, refused
		}
		ids = append(ids, got[i])
	}
	return ids, nil
}

// wellFormed keeps what could break a key or a log line out of identifiers.
func wellFormed(id string) bool {
	if id == "" || len(id) > MaxSegment {
		return false
	}
	for _, r := range id {
		if r <= ' ' || r == 0x7f || r == '\uFFFD' {
			return false
		}
	}
	return true
}

// Serial reads the serial of a name whose first identifier is one, in any form
// that people write or speak: Serial("name", "builds/{serial}", "builds/am-0147p").
// The serial may hold spaces, which other identifiers may not.
func Serial(field, pattern, name string) (vehicle.Serial, []string, error) {
	head, _, _ := strings.Cut(pattern, "/")
	rest, ok := strings.CutPrefix(name, head+"/")
	if !ok {
		return "", nil, fault.InvalidField(field, name, pattern)
	}
	text, tail, _ := strings.Cut(rest, "/")
	serial, err := vehicle.ParseSerial(text)
	if err != nil {
		return "", nil, fault.Under(field, err)
	}
	canonical := head + "/" + string(serial)
	if tail != "" {
		canonical += "/" + tail
	}
	ids, err := Match(field, pattern, canonical)
	if err != nil {
		return "", nil, fault.InvalidField(field, name, pattern)
	}
	return serial, ids[1:], nil
}
