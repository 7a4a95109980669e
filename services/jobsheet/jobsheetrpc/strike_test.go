package jobsheetrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

func desk(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Support, Bearer: "june", Account: "accounts/june", Credential: "sessions/2"})
}

// A dealer gives the vehicle back while their sheet is being put on record. It is
// carried out, or undone, to its end all the same: it was theirs when they sent it
// in, and no sheet stays half done for ever.
func TestASheetOfADealerWhoGaveTheVehicleBackMeanwhileComesToItsEnd(t *testing.T) {
	for _, c := range []struct {
		away    string
		after   bool
		refused string
		state   jobsheetv1.JobSheetState
		effects []string
	}{
		{"entry", false, "", jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED, []string{"entry", "changes", "step"}},
		{"entry", true, "", jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED, []string{"entry", "changes", "step"}},
		{"changes", false, "", jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED, []string{"entry", "changes", "step"}},
		{"void", false, "changes", jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN, []string{"entry", "void"}},
		{"void", true, "changes", jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN, []string{"entry", "void"}},
	} {
		t.Run(fmt.Sprintf("%s away, effect before %v", c.away, c.after), func(t *testing.T) {
			w := work(t)
			w.others.away, w.others.after, w.others.refused = c.away, c.after, c.refused
			if m, err := w.ReturnJobSheet(dealer(t.Context()), w.request()); err != nil || m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
				t.Fatalf("got %v, %v", m.GetState(), err)
			}
			w.others.back = true
			w.carryAllOn(t.Context(), nil)
			if now := w.now(t); now.GetState() != c.state || !slices.Equal(w.others.effects, c.effects) {
				t.Errorf("the sheet is %v, with the effects %v", now.GetState(), w.others.effects)
			}
			if e := w.others.entry; e.GetOrganisation() != "organisations/ferncombe" || e.GetJobSheet() != "vehicles/AM0147P/jobSheets/1" {
				t.Errorf("the entry is of %q, from sheet %q", e.GetOrganisation(), e.GetJobSheet())
			}
		})
	}
}

// What came back is struck out as a whole, wherever that stops, and stays readable.
func TestWhatCameBackOnASheetIsStruckOutAsAWhole(t *testing.T) {
	for _, away := range []string{"", "void before", "void after", "reopen before", "reopen after"} {
		t.Run("away: "+away, func(t *testing.T) {
			w := work(t)
			r := w.request()
			r.JobReturn.Changes = nil
			back, err := w.ReturnJobSheet(dealer(t.Context()), r)
			if err != nil || back.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED {
				t.Fatalf("got %v, %v", back.GetState(), err)
			}
			w.others.away, w.others.after = strings.TrimSuffix(strings.TrimSuffix(away, " before"), " after"), strings.HasSuffix(away, "after")
			q := &jobsheetv1.VoidJobReturnRequest{Name: back.GetName(), Reason: "of another vehicle", Etag: back.GetEtag(), RequestId: uuid.NewString()}
			m, err := w.VoidJobReturn(desk(t.Context()), q)
			if want := (away == ""); err != nil || (m.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT) != want {
				t.Errorf("got %v, %v", m.GetState(), err)
			}
			w.carryAllOn(t.Context(), nil)
			now := w.now(t)
			if now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT || now.GetStrike().GetReason() != "of another vehicle" || now.GetStrike().GetStruckBy() != "june" || len(now.GetJobReturn().GetRecords()) != 2 {
				t.Errorf("the sheet is %v: %v, %v", now.GetState(), now.GetStrike(), now.GetJobReturn().GetRecords())
			}
			if want := []string{"entry", "step", "void", "reopen"}; !slices.Equal(w.others.effects, want) || w.others.voided != "of another vehicle" {
				t.Errorf("the effects are %v, want %v; the entry is struck out because %q", w.others.effects, want, w.others.voided)
			}
			again, err := w.VoidJobReturn(desk(t.Context()), q)
			if err != nil || !proto.Equal(again, now) || len(w.others.effects) != 4 {
				t.Errorf("asked again: %v, %v, effects %v", again.GetState(), err, w.others.effects)
			}
			q.RequestId, q.Etag = uuid.NewString(), now.GetEtag()
			if _, err := w.VoidJobReturn(desk(t.Context()), q); !fault.Is(err, fault.FailedPrecondition) {
				t.Errorf("struck out twice: %v", err)
			}
		})
	}
}

// Changes of the vehicle are not struck out: then nothing is.
func TestASheetThatChangedTheVehicleIsNotStruckOut(t *testing.T) {
	w := work(t)
	back, err := w.ReturnJobSheet(dealer(t.Context()), w.request())
	if err != nil {
		t.Fatal(err)
	}
	_, err = w.VoidJobReturn(desk(t.Context()), &jobsheetv1.VoidJobReturnRequest{Name: back.GetName(), Reason: "of another vehicle", Etag: back.GetEtag()})
	if !fault.Is(err, fault.FailedPrecondition) || !strings.Contains(err.Error(), "changed the vehicle too") {
		t.Errorf("got %v", err)
	}
	for n, want := range map[int]string{2000: "changed the vehicle too", 2001: "at most 2,000 characters"} {
		_, err := w.VoidJobReturn(desk(t.Context()), &jobsheetv1.VoidJobReturnRequest{Name: back.GetName(), Reason: strings.Repeat("ü", n), Etag: back.GetEtag()})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%d characters: %v", n, err)
		}
	}
	for what, q := range map[string]*jobsheetv1.VoidJobReturnRequest{
		"no reason":    {Name: back.GetName(), Etag: back.GetEtag()},
		"an old sheet": {Name: back.GetName(), Etag: "1", Reason: "x"},
	} {
		if _, err := w.VoidJobReturn(desk(t.Context()), q); err == nil {
			t.Errorf("%s is taken", what)
		}
	}
	if now := w.now(t); now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED || slices.Contains(w.others.effects, "void") {
		t.Errorf("the sheet is %v, with the effects %v", now.GetState(), w.others.effects)
	}
}
