package resname

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// FuzzMatch holds to what is promised of any name: its segments, in which no
// key of a store can be broken out of, or a refusal.
func FuzzMatch(f *testing.F) {
	for _, name := range []string{"people/p0031", "people/", "people/a/b", "vehicles/AM0147P/readings/r1", "people/..", "people/\x00", "people/\u2028", "people/" + strings.Repeat("x", 200)} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		for _, pattern := range []string{"people/{person}", "vehicles/{vehicle}/readings/{reading}"} {
			ids, err := Match("name", pattern, name)
			if err != nil {
				if ids != nil || !fault.Is(err, fault.Invalid) {
					t.Errorf("%q: got %q, %v", name, ids, err)
				}
				continue
			}
			for _, id := range ids {
				if id == "" || len(id) > MaxSegment || strings.ContainsAny(id, "/ \n\x00") {
					t.Errorf("%q: the segment %q", name, id)
				}
			}
		}
	})
}

// FuzzSerial holds to it that a name of a vehicle has a serial that is one.
func FuzzSerial(f *testing.F) {
	for _, name := range []string{"vehicles/AM0147P", "vehicles/am-0147-p", "vehicles/am0147p/readings/r1", "vehicles//", "builds/AM0147P"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		serial, ids, err := Serial("name", "vehicles/{vehicle}/readings/{reading}", name)
		if err != nil {
			if serial != "" || ids != nil {
				t.Errorf("%q: got %q, %q beside %v", name, serial, ids, err)
			}
			return
		}
		if !serial.Valid() || len(ids) != 1 {
			t.Errorf("%q: got %q, %q", name, serial, ids)
		}
		// Its canonical name means the same.
		again, _, err := Serial("name", "vehicles/{vehicle}/readings/{reading}", "vehicles/"+string(serial)+"/readings/"+ids[0])
		if err != nil || again != serial {
			t.Errorf("%q again: %q, %v", name, again, err)
		}
	})
}
