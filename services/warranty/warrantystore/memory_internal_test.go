package warrantystore

import (
	"maps"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// After a compaction the store is listed anew and held against what is known: a
// key that memory does not own up to would never be forgotten.
func TestMemoryKnowsEachKeyItHoldsWithItsRevision(t *testing.T) {
	version := warranty.StandardTerm(vehicle.MustDate(2020, 1, 1))
	want := map[string]int64{
		TermKey(version.ID, 1): 3, Spans.Key("AM0147P", "s1"): 4, Spans.Key("AM0101G", "s1"): 5, Claims.Key("AM0147P", "c1"): 7, Claims.Key("AM0147P", "c2"): 8,
	}
	values := map[string]proto.Message{TermKey(version.ID, 1): warrantywire.TermProto(version)}
	m := newMemory()
	apply := func(key string, revision int64, gone bool) {
		t.Helper()
		value := values[key]
		if value == nil {
			value = &warrantyv1.Claim{} // an empty message of any kind
		}
		raw, err := proto.Marshal(value)
		if err != nil {
			t.Fatal(err)
		}
		if err := m.Apply([]projection.Event{{Key: key, Value: raw, ModRevision: revision, Deleted: gone}}, revision); err != nil {
			t.Fatal(err)
		}
	}
	apply(Claims.Key("AM0147P", "c1"), 1, false)
	apply(Claims.Key("AM0147P", "c3"), 2, false)
	for key, revision := range want {
		apply(key, revision, false)
	}
	apply(Claims.Key("AM0147P", "c3"), 9, true)
	if diff := cmp.Diff(want, maps.Collect(m.Known())); diff != "" {
		t.Errorf("(-want +known):\n%s", diff)
	}
}
