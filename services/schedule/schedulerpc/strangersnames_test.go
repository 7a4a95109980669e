package schedulerpc_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
)

// By which name one of a dealer's people signs in is half of what a stranger
// needs to come in as them, and no owner's business.
func TestAnOwnerSeesTheDealerAndNotByWhichNameTheirPeopleSignIn(t *testing.T) {
	w := withFloat(t)
	w.byDealer(ferncombe, "hal-of-ferncombe")
	e := w.serviced("2025-01-01", "1000", "as it should be")
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "a slip"}))(t)
	w.serviced("2025-02-01", "1100", "as it should be")
	see := func() string {
		entries := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t)
		readings := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t)
		if len(entries.GetServiceEntries()) != 2 || len(readings.GetReadings()) != 2 {
			t.Fatalf("got %v and %v", entries, readings)
		}
		return prototext.Format(entries) + prototext.Format(readings)
	}
	if got := see(); !strings.Contains(got, "hal-of-ferncombe") {
		t.Errorf("the dealer does not see who of theirs it was: %s", got)
	}
	w.byOwner()
	if got := see(); strings.Contains(got, "hal-of-ferncombe") || !strings.Contains(got, ferncombe) || !strings.Contains(got, "as it should be") {
		t.Errorf("an owner sees %s", got)
	}
	w.byStaff()
	if got := see(); !strings.Contains(got, "hal-of-ferncombe") {
		t.Errorf("the works does not see who it was: %s", got)
	}
}

func TestAnOwnerEndsWhatTheOneBeforeDeclaredWithoutReadingTheirWords(t *testing.T) {
	w := withFloat(t)
	w.byOwner()
	fact := must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2025-01-01"), Note: "we are in Spain until spring",
	}}))(t)
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p0099"})
	ended := must(w.EndUse(t.Context(), &schedulev1.EndUseRequest{UseFact: &schedulev1.UseFact{
		Name: fact.GetName(), Etag: fact.GetEtag(), EndDate: calendar("2025-03-01"),
	}}))(t)
	if ended.GetNote() != "" || ended.GetRecordedBy() != "" || ended.GetEndDate() == nil {
		t.Errorf("the next owner reads %v", ended)
	}
}
