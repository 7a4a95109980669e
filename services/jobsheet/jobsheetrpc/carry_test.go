package jobsheetrpc

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/fault"
)

// A return is carried out by steps. Wherever one of them stops, before its effect
// or between its effect and the mark, the leader goes on from there, and each
// effect is there once. What was answered to the caller is that it was taken in.
func TestAReturnThatStopsBetweenItsStepsIsCarriedOnAndEachEffectIsThereOnce(t *testing.T) {
	for _, step := range []string{"entry", "changes", "step"} {
		for _, after := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, effect before %v", step, after), func(t *testing.T) {
				w := work(t)
				w.others.away, w.others.after = step, after
				r := w.request()
				m, err := w.ReturnJobSheet(dealer(t.Context()), r)
				if err != nil || m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
					t.Fatalf("got %v, %v", m.GetState(), err)
				}
				w.carryAllOn(t.Context(), nil)
				if want := []string{"entry", "changes", "step"}; !slices.Equal(w.others.effects, want) {
					t.Errorf("the effects are %v, want %v", w.others.effects, want)
				}
				now := w.now(t)
				want := []string{"vehicles/AM0147P/serviceEntries/e1", "builds/AM0147P/changes/c1", "vehicles/AM0147P/followUps/C-2026-02"}
				if got := now.GetJobReturn().GetRecords(); now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED || !slices.Equal(got, want) {
					t.Errorf("%v with the records %v", now.GetState(), got)
				}
				// The same request again: the same answer, and nothing twice.
				again, err := w.ReturnJobSheet(dealer(t.Context()), r)
				if err != nil || !proto.Equal(again, now) || len(w.others.effects) != 3 {
					t.Errorf("asked again: %v, %v, effects %v", again.GetState(), err, w.others.effects)
				}
			})
		}
	}
}

// Where the vehicle cannot take the changes any more, the entry is struck out, and
// the sheet is open again with what came back on it; also where striking out stops.
func TestAReturnThatIsRefusedInTheMiddleIsUndoneWholly(t *testing.T) {
	for _, away := range []string{"", "void before", "void after"} {
		t.Run("away: "+away, func(t *testing.T) {
			w := work(t)
			w.others.refused = "changes"
			w.others.away, w.others.after = strings.TrimSuffix(strings.TrimSuffix(away, " before"), " after"), strings.HasSuffix(away, "after")
			r := w.request()
			_, err := w.ReturnJobSheet(dealer(t.Context()), r)
			if away == "" && (!fault.Is(err, fault.FailedPrecondition) || !strings.Contains(err.Error(), "none of it is")) {
				t.Errorf("got %v", err)
			}
			w.carryAllOn(t.Context(), nil)
			if want := []string{"entry", "void"}; !slices.Equal(w.others.effects, want) {
				t.Errorf("the effects are %v, want %v", w.others.effects, want)
			}
			now := w.now(t)
			if now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN || now.GetRefusal() == nil || len(now.GetJobReturn().GetRecords()) != 0 || now.GetJobReturn().GetDoneBy() != "Ned" {
				t.Errorf("the sheet is %v, refused %v, with %v", now.GetState(), now.GetRefusal(), now.GetJobReturn())
			}
			// Mended and sent again, all of it is recorded anew: another attempt has
			// request ids of its own.
			w.others.refused, w.others.voided = "", ""
			w.sheet = now
			if m, err := w.ReturnJobSheet(dealer(t.Context()), w.request()); err != nil || m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED || m.GetRefusal() != nil {
				t.Errorf("sent again: %v, %v", m, err)
			}
			if want := []string{"entry", "void", "entry", "changes", "step"}; !slices.Equal(w.others.effects, want) {
				t.Errorf("the effects are %v, want %v", w.others.effects, want)
			}
		})
	}
}

// A remedy that is done asks for its parts, and its campaign is told of them with
// their lots; left out, the campaign stays open.
func TestTheRemedyOnASheetCountsByWhatWentIn(t *testing.T) {
	w := work(t)
	r := w.request()
	r.JobReturn.Parts = nil
	_, err := w.ReturnJobSheet(dealer(t.Context()), r)
	if !fault.Is(err, fault.Invalid) || !strings.Contains(fmt.Sprintf("%+v", fields(err)), "asks for 1 of AP-301016A") {
		t.Errorf("without its part: %v", err)
	}
	r = w.request()
	r.JobReturn.Jobs[0] = &jobsheetv1.JobDone{Number: 1, Note: "no nut of the second pattern here"}
	r.JobReturn.Parts = nil
	m, err := w.ReturnJobSheet(dealer(t.Context()), r)
	if err != nil || slices.Contains(w.others.effects, "step") || len(m.GetJobReturn().GetRecords()) != 2 {
		t.Errorf("left out: %v, %v, effects %v", m.GetJobReturn().GetRecords(), err, w.others.effects)
	}
}

func fields(err error) []fault.Field {
	if f, ok := err.(*fault.Error); ok {
		return f.Fields
	}
	return nil
}

// A dealer's change is done in service: under another authority it is refused.
func TestADealersChangeIsOneOfService(t *testing.T) {
	w := work(t)
	r := w.request()
	r.JobReturn.Changes[0].Source = 3 // campaign
	checked, err := w.CheckJobReturn(dealer(t.Context()), &jobsheetv1.CheckJobReturnRequest{Name: r.GetName(), JobReturn: r.GetJobReturn()})
	if err != nil || len(checked.GetDoubts()) != 1 || checked.GetDoubts()[0].GetReason().GetRule() != "CHANGE_SOURCE" {
		t.Errorf("got %v, %v", checked.GetDoubts(), err)
	}
	if o := checked.GetOutcome(); len(o.GetChanges()) != 1 || len(o.GetFollowUps()) != 1 || o.GetServiceEntry().GetDoneBy() != "Ned" || len(o.GetServiceEntry().GetItems()) != 1 {
		t.Errorf("it would become %v", o)
	}
}
