package exchangerun_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// Wherever an import breaks off, the same files go on with it, and the works
// ends up as if nothing had happened.
func TestAnImportThatBreaksOffIsContinuedByTheSameFiles(t *testing.T) {
	files := fewVehicles(t)
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, files)
	want := exported(t, ctx, c)
	for _, broken := range []struct {
		name        string
		stage       string
		from        int // the import stops where this many are done
		nothingKept bool
	}{
		{"after the first chunk was staged", "stage", 1, true},
		{"amid the staging", "stage", 1500, true},
		{"between staging and commit", "commit", 0, true},
		{"after one service committed", "commit", 1, false},
		{"before the last service commits", "commit", 3, false},
	} {
		t.Run(broken.name, func(t *testing.T) {
			ctx, c := emptyWorks(t)
			interrupt(t, ctx, c, files, broken.stage, broken.from)
			if broken.nothingKept {
				wantNothingKept(t, ctx, c)
			}
			importFrom(t, ctx, c, files)
			if diff := cmp.Diff(want, exported(t, ctx, c)); diff != "" {
				t.Errorf("continued, the export differs (-at one go +continued):\n%.4000s", diff)
			}
			if again := importFrom(t, ctx, c, files); again.Written != 0 {
				t.Errorf("imported once more, %d were written", again.Written)
			}
		})
	}
}

// interrupt imports until a stage has come so far, and wants an error there.
func interrupt(t *testing.T, ctx context.Context, c exchangerun.Clients, files, stage string, from int) {
	t.Helper()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	_, err := exchangerun.Import(ctx, c, []string{files}, exchangerun.Options{
		Today: aldermoor.Today,
		Progress: func(at string, done, total int) {
			if at == stage && done >= from && done < total {
				cancel()
			}
		},
	})
	if err == nil {
		t.Fatalf("the import did not stop at %s %d", stage, from)
	}
}

// forgetful carries the import out and loses the answer.
type forgetful struct {
	schedulev1.ScheduleServiceClient
}

func (f forgetful) CommitImport(ctx context.Context, r *schedulev1.CommitImportRequest, o ...grpc.CallOption) (*schedulev1.CommitImportResponse, error) {
	if _, err := f.ScheduleServiceClient.CommitImport(ctx, r, o...); err != nil {
		return nil, fmt.Errorf("the real commit: %w", err)
	}
	return nil, status.Error(codes.Unavailable, "the connection broke")
}

func TestACommitWhoseAnswerIsLostIsFoundDone(t *testing.T) {
	ctx, c := emptyWorks(t)
	files := fewVehicles(t)
	lossy := c
	lossy.Schedules = forgetful{c.Schedules}
	_, err := exchangerun.Import(ctx, lossy, []string{files}, exchangerun.Options{Today: aldermoor.Today})
	if status.Code(err) != codes.Unavailable {
		t.Fatalf("got %v", err)
	}
	if n := kept(t, ctx, c)["people"]; n != 0 {
		t.Errorf("%d people were written after the failure", n)
	}
	r := importFrom(t, ctx, c, files)
	if r.Written == 0 || r.Unchanged < r.Written {
		t.Errorf("%d were written and %d unchanged, want only the owners written", r.Written, r.Unchanged)
	}
	if again := importFrom(t, ctx, c, files); again.Written != 0 {
		t.Errorf("imported once more, %d were written", again.Written)
	}
}
