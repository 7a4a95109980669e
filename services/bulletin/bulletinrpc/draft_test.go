package bulletinrpc_test

import (
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
)

// What cannot be read and what is wrong with the rest are told at once, and
// nothing twice.
func TestAllThatIsWrongWithADraftIsToldAtOnce(t *testing.T) {
	w := start(t)
	b := ofLot("C-1")
	b.Name, b.Title, b.Caution, b.StopUse = "bulletins/c 1/versions/1", "", "", true
	b.DeterminedDate = &date.Date{Year: 2026, Month: 13, Day: 1}
	_, err := w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: b})
	var got []string
	for _, f := range refused(t, err, fault.Invalid, "INVALID_FIELD").Fields {
		got = append(got, f.Name)
	}
	const want = "bulletin.name bulletin.determined_date bulletin.title bulletin.caution"
	if text := strings.Join(got, " "); text != want {
		t.Errorf("got %s, want %s", text, want)
	}
}
