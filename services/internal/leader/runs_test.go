package leader

import (
	"errors"
	"slices"
	"testing"
	"time"

	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestTheLastRunOfEachJobIsTheOneForTheLatestTime(t *testing.T) {
	c := etcdtest.Client(t)
	l := &launches{kv.NewStore(c)}
	fence, ctx := wonFence(t, c), t.Context()
	if none, err := LastRuns(ctx, c); err != nil || len(none) != 0 {
		t.Errorf("before any: %v, %v", none, err)
	}
	at := time.Date(2030, 6, 1, 6, 0, 0, 0, time.UTC)
	later := at.Add(day)
	if err := errors.Join(
		l.begin(ctx, "nightly", later, later, fence), l.begin(ctx, "nightly", later, later, fence), // which failed once
		l.begin(ctx, "daily", at, at, fence), l.finish(ctx, "daily", at, at.Add(time.Second), fence),
		l.begin(ctx, "daily", later, later, fence), l.finish(ctx, "daily", later, later.Add(time.Minute), fence),
	); err != nil {
		t.Fatal(err)
	}
	got, err := LastRuns(ctx, c)
	want := []LastRun{{"daily", later, later, later.Add(time.Minute), 1}, {"nightly", later, later, time.Time{}, 2}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %v, %v; want %v", got, err, want)
	}
}
