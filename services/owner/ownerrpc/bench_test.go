package ownerrpc_test

import (
	"fmt"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

// BenchmarkFindPeople opens every record of a fleet of 10,000.
func BenchmarkFindPeople(b *testing.B) {
	h := open(b, etcdtest.Client(b), keyFile(b))
	var chunks [][]*ownerv1.OwnerRow
	for n := range 10_000 {
		if n%100 == 0 {
			chunks = append(chunks, nil)
		}
		p := person(fmt.Sprintf("p%05d", n))
		p.FullName = fmt.Sprintf("Person %05d", n)
		chunks[len(chunks)-1] = append(chunks[len(chunks)-1], personRow(p))
	}
	if _, err := h.load(b, "fleet", chunks...); err != nil {
		b.Fatal(err)
	}
	ctx, desk := h.desk()
	for b.Loop() {
		found, err := desk.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: "person 04711"})
		if err != nil || len(found.GetPeople()) != 1 {
			b.Fatal(found, err)
		}
	}
}
