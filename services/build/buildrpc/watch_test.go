package buildrpc_test

import (
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
)

func TestAWatchBringsEverythingThenWhatChanges(t *testing.T) {
	w := startWithFleet(t)
	stream := must(w.WatchBuilds(t.Context(), &buildv1.WatchBuildsRequest{}))(t)
	builds, releases := map[string]*buildv1.BuildState{}, map[string]bool{}
	next := func() *buildv1.WatchBuildsResponse {
		t.Helper()
		batch, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range batch.GetReleases() {
			releases[r.GetName()] = true
		}
		for _, b := range batch.GetBuilds() {
			builds[b.GetBuild().GetName()] = b
		}
		return batch
	}
	for !next().GetSynced() {
	}
	if len(builds) != 3 || len(releases) != 3 {
		t.Fatalf("at first %d vehicles and %d releases, want 3 and 3", len(builds), len(releases))
	}
	change := must(w.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0148N", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_PLATE, ChangeDate: on(2020, 1, 1), Plate: "AB 1",
	}}))(t)
	for len(builds["builds/AM0148N"].GetChanges()) == 0 {
		next()
	}
	if !proto.Equal(builds["builds/AM0148N"].GetChanges()[0], change) {
		t.Errorf("got %v, want %v", builds["builds/AM0148N"].GetChanges(), change)
	}
}

func TestAWatchOfALargeFleetComesInBatchesBelowTheLimit(t *testing.T) {
	w := start(t)
	bringAll(t, w, many(t, 300))
	stream := must(w.WatchBuilds(t.Context(), &buildv1.WatchBuildsRequest{}))(t)
	batches, vehicles := 0, 0
	for {
		batch, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		batches++
		vehicles += len(batch.GetBuilds())
		if n := proto.Size(batch); n >= 1<<20 {
			t.Errorf("a batch of %d bytes", n)
		}
		if batch.GetSynced() {
			break
		}
	}
	if vehicles != 300 || batches < 2 {
		t.Errorf("%d vehicles in %d batches", vehicles, batches)
	}
}

func TestAnEmptyServiceSaysAtOnceThatItIsUpToDate(t *testing.T) {
	w := start(t)
	stream := must(w.WatchBuilds(t.Context(), &buildv1.WatchBuildsRequest{}))(t)
	batch, err := stream.Recv()
	if err != nil || !batch.GetSynced() || batch.GetRevision() == 0 {
		t.Errorf("got %v, %v", batch, err)
	}
}
