package projection

import (
	"context"
	"testing"
	"time"

	"halfshaft/services/internal/etcdtest"
)

// etcd tells how far the watches of one stream are only when all of them are
// there: one that begins after the present revision would keep the others of
// its stream from knowing until somebody writes.
func TestWaitEndsThoughAnotherFollowerBeganAtAQuietStore(t *testing.T) {
	client := etcdtest.Client(t)
	first, err := Start(t.Context(), client, prefix, newState(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	done, err := client.Put(t.Context(), "/elsewhere", "x")
	if err != nil {
		t.Fatal(err)
	}
	// It lists at the revision of that write, and watches from the next, which
	// nobody has made.
	second, err := Start(t.Context(), client, "/halfshaft/v1/parts/", newState(t), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	if err := first.Wait(ctx, done.Header.Revision); err != nil {
		t.Errorf("the first follower does not learn that it is whole up to revision %d: %v", done.Header.Revision, err)
	}
}
