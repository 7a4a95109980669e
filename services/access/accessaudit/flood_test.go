package accessaudit

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// Whoever is refused chooses what they say, and how much of it.
func TestWordsOfWhoIsRefusedMakeNeitherLinesNorMemory(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, _ := still(t, store)
	for i := range 50 {
		r.Note(audit.Line{
			Time: march, Actor: "hal", Role: access.Dealer, Party: "organisations/ferncombe", Credential: "keys/0badcafe",
			Method: "/halfshaft.access.v1.AccessService/EndAssignment", Objects: []string{"vehicles/AM0147P/assignments/1"},
			Outcome: audit.Refused, ErrorReason: "INVALID", Because: fmt.Sprintf("%d %s", i, strings.Repeat("x", 500<<10)),
		})
	}
	held := 0
	for like, n := range r.notes {
		held += len(like.because) + len(n.line.Because)
	}
	for like := range r.quiet {
		held += len(like.because)
	}
	if len(r.notes) != 1 || held > 4<<10 {
		t.Errorf("%d notes hold %d bytes of their words", len(r.notes), held)
	}
}

// An IPv6 network of one household has 65,536 parts of which each counts as an
// address: their refusals must not fill the store.
func TestStrangersOfVeryManyAddressesMakeFewLines(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, passes := still(t, store)
	const calls = 3_000
	for i := range calls {
		r.Note(refusal(fmt.Sprintf("2001:db8:1:%x::/64", i), "builds/AM0147P"))
		if i%100 == 99 {
			passes(hold / 10)
			r.flush(t.Context(), false)
		}
	}
	r.flush(t.Context(), true)
	lines := waiting(t, store)
	if len(lines) > strangersBurst+2*strangersEvery || counts(lines) != calls {
		t.Errorf("got %d lines for %d calls of %d", len(lines), counts(lines), calls)
	}
	// Of those who are known each has their own, however many strangers come.
	known := refusal("192.0.2.17", "builds/AM0147P")
	known.Actor, known.Role, known.Credential = "bench 2", access.Engineer, "keys/0badcafe"
	r.Note(known)
	r.flush(t.Context(), true)
	if last := waiting(t, store); last[len(last)-1].Network != "192.0.2.17" {
		t.Errorf("got %+v", last[len(last)-1])
	}
	passes(time.Minute) // and strangers have theirs again
	r.Note(refusal("192.0.2.18", "builds/AM0147P"))
	r.flush(t.Context(), true)
	if last := waiting(t, store); last[len(last)-1].Network != "192.0.2.18" {
		t.Errorf("got %+v", last[len(last)-1])
	}
}
