package warrantyrpc

import (
	"context"
	"log/slog"
	"maps"
	"slices"
	"sync"

	"google.golang.org/grpc"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// ties is who had each vehicle from when until when: identifiers and days, and
// nothing else of anybody.
type ties struct {
	*feed.Follower

	mu  sync.RWMutex
	now tiesOf

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming tiesOf // nil once the stream has caught up
}

// tiesOf holds lists that are replaced and never changed.
type tiesOf map[vehicle.Serial][]owner.Tie

func followTies(ctx context.Context, owners Owners, logger *slog.Logger) *ties {
	t := &ties{now: tiesOf{}}
	t.Follower = feed.Follow(ctx, "warranty from owner", func(ctx context.Context) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
		t.begun = false
		return owners.WatchTies(ctx, &ownerv1.WatchTiesRequest{})
	}, t.apply, logger)
	return t
}

// apply takes in one answer of the stream.
func (t *ties) apply(resp *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	if !t.begun {
		t.begun, reset, t.incoming = true, true, tiesOf{}
	}
	if t.incoming != nil {
		if err := t.incoming.put(resp.GetTies()); err != nil {
			return 0, false, reset, err
		}
		if !resp.GetSynced() {
			return resp.GetRevision(), false, reset, nil
		}
		t.mu.Lock()
		t.now, t.incoming = t.incoming, nil
		t.mu.Unlock()
		return resp.GetRevision(), true, reset, nil
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	next := maps.Clone(t.now)
	if err := next.put(resp.GetTies()); err != nil {
		return 0, false, reset, err
	}
	t.now = next
	return resp.GetRevision(), true, reset, nil
}

// put replaces ties.
func (known tiesOf) put(news []*ownerv1.Tie) error {
	for _, m := range news {
		tie, wrong := ownerwire.Tie(m)
		if err := fault.InvalidFields(wrong); err != nil {
			return err
		}
		var err error
		if tie.Serial, tie.ID, err = ownerwire.TieID("name", m.GetName()); err != nil {
			return err
		}
		list := slices.DeleteFunc(slices.Clone(known[tie.Serial]), func(old owner.Tie) bool { return old.ID == tie.ID })
		known[tie.Serial] = append(list, tie)
	}
	return nil
}

// of gives the ties of a vehicle; not to be changed.
func (t *ties) of(serial vehicle.Serial) []owner.Tie {
	t.mu.RLock()
	defer t.mu.RUnlock()
	return t.now[serial]
}

// ownerOn gives the identifier of who owns a vehicle on a day, of several the
// first by identifier; empty for nobody.
func ownerOn(ties []owner.Tie, on vehicle.Date) string {
	person := ""
	for _, t := range ties {
		if t.Role == owner.Owner && t.Lasts(on) && (person == "" || t.Person < person) {
			person = t.Person
		}
	}
	return person
}
