package schedulerpc_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// A vehicle of which nobody has heard is listed though nothing of it is due, and
// leaves the list with the first reading that counts or the first service.
func TestVehiclesOfWhichNothingIsKnownAreListed(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "", 60))
	for serial, delivered := range map[string]string{"AM0148N": "2024-03-01", "AM0149L": "2026-06-01", "AM0150Z": ""} {
		b := built(serial, "2024-03-01")
		if delivered == "" {
			b.DeliveryDate, b.DeliveryReading = nil, nil
		} else {
			b.DeliveryDate = calendar(delivered)
		}
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b}))(t)
	}
	silent := func(since string) string {
		var out []string
		for token := ""; ; {
			r := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{OnDate: calendar("2026-11-25"), NoEvidenceSinceDate: calendar(since), PageSize: 1, PageToken: token}))(t)
			for _, s := range r.GetSchedules() {
				last := "nothing"
				if s.EvidenceDate != nil {
					last = iso(s.GetEvidenceDate())
				}
				out = append(out, strings.TrimSuffix(strings.TrimPrefix(s.GetName(), "vehicles/"), "/schedule")+" "+last)
			}
			if token = r.GetNextPageToken(); token == "" {
				slices.Sort(out)
				return strings.Join(out, ", ")
			}
		}
	}
	want := func(since, text string) {
		t.Helper()
		if got := silent(since); got != text {
			t.Errorf("since %s: got %s, want %s", since, got, text)
		}
	}
	// Which begins with the delivery: what is at the works, or left it later, is
	// not missed.
	want("2026-01-01", "AM0147P 2024-01-01, AM0148N 2024-03-01")
	w.readOf("AM0148N", "2025-12-31", "900")
	want("2026-01-01", "AM0147P 2024-01-01, AM0148N 2025-12-31")
	w.readOf("AM0148N", "2026-01-01", "910")
	want("2026-01-01", "AM0147P 2024-01-01")
	want("2026-01-02", "AM0147P 2024-01-01, AM0148N 2026-01-01")
	e := w.doneOn("AM0147P", "2026-02-01", "", "E01")
	want("2026-01-01", "")
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Reason: "another vehicle", Etag: e.GetEtag()}))(t)
	want("2026-01-01", "AM0147P 2024-01-01")
	// A reading in doubt is no evidence.
	w.read("2026-03-01", "99000")
	want("2026-01-01", "AM0147P 2024-01-01")
	_, err := w.ListDue(t.Context(), &schedulev1.ListDueRequest{NoEvidenceSinceDate: &date.Date{Year: 2026, Month: 13, Day: 1}})
	if err == nil || !strings.Contains(err.Error(), "no_evidence_since_date") {
		t.Errorf("a month 13: got %v", err)
	}
}
