package bulletinstore

import (
	"context"
	"log/slog"
	"slices"
	"time"

	"halfshaft/services/bulletin"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Store reads from memory and writes to etcd. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	memory   *memory
	follower *projection.Follower
}

// Open loads everything and follows it until Close. ctx bounds the following
// too. By the works' zone it is told on which day something was recorded.
func Open(ctx context.Context, store *kv.Store, zone *time.Location, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, memory: newMemory(zone)}
	var err error
	if s.follower, err = projection.Start(ctx, store.Client(), prefix, s.memory, logger); err != nil {
		return nil, err
	}
	return s, nil
}

// Wait returns nil once reads include the revision.
func (s *Store) Wait(ctx context.Context, revision int64) error {
	return s.follower.Wait(ctx, revision)
}

// CatchUp waits until reads include everything written before the call, by
// whatever process.
func (s *Store) CatchUp(ctx context.Context) error {
	now, err := s.kv.Client().Get(ctx, prefix)
	if err != nil {
		return kv.OutOfReach(err)
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// Generation grows whenever a version changes.
func (s *Store) Generation() int64 {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.generation
}

// IDs gives the identifiers of all bulletins in order.
func (s *Store) IDs() []string {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return sorted(s.memory.versions)
}

// Versions gives the versions of a bulletin in order; not to be changed.
func (s *Store) Versions(id string) []*Version {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.versions[id]
}

// Version gives one version; nil for none.
func (s *Store) Version(id string, number int) *Version {
	for _, v := range s.Versions(id) {
		if v.Bulletin.Version == number {
			return v
		}
	}
	return nil
}

// Holding gives the version that is issued; nil for none.
func (s *Store) Holding(id string) *Version { return inState(s.Versions(id), bulletin.Issued) }

func inState(versions []*Version, state bulletin.State) *Version {
	for _, v := range slices.Backward(versions) {
		if v.Bulletin.State == state {
			return v
		}
	}
	return nil
}

// Issued gives the versions of a bulletin that were ever issued, in order; not
// to be changed.
func (s *Store) Issued(id string) []*bulletin.Bulletin {
	var out []*bulletin.Bulletin
	for _, v := range s.Versions(id) {
		if v.Bulletin.State != bulletin.Draft {
			out = append(out, &v.Bulletin)
		}
	}
	return out
}

// Leading gives the version by which a bulletin is to be read: the one that is
// issued, or the last that was, or the latest draft; nil for none.
func (s *Store) Leading(id string) *Version {
	versions := s.Versions(id)
	if v := inState(versions, bulletin.Issued); v != nil {
		return v
	}
	for _, v := range slices.Backward(versions) {
		if v.Bulletin.State != bulletin.Draft {
			return v
		}
	}
	if len(versions) == 0 {
		return nil
	}
	return versions[len(versions)-1]
}

// counts says whether a follow-up is on its list: the version that put it there
// was issued.
func (m *memory) counts(k *Kept) bool {
	for _, v := range m.versions[k.FollowUp.Bulletin] {
		if v.Bulletin.Version == k.FollowUp.Version {
			return v.Bulletin.State != bulletin.Draft
		}
	}
	return false
}

// FollowUp gives a vehicle on the list of a campaign; nil for none.
func (s *Store) FollowUp(serial vehicle.Serial, id string) *Kept {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	k := s.memory.campaigns[id][serial]
	if k == nil || !s.memory.counts(k) {
		return nil
	}
	return k
}

// OfVehicle gives where a vehicle stands in campaigns, in order of campaigns.
func (s *Store) OfVehicle(serial vehicle.Serial) []*Kept {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	var out []*Kept
	for _, k := range s.memory.vehicles[serial] {
		if s.memory.counts(k) {
			out = append(out, k)
		}
	}
	return out
}

// OfCampaign gives the list of a campaign in order of serials.
func (s *Store) OfCampaign(id string) []*Kept {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	var out []*Kept
	for _, serial := range sorted(s.memory.campaigns[id]) {
		if k := s.memory.campaigns[id][serial]; s.memory.counts(k) {
			out = append(out, k)
		}
	}
	return out
}

// Written gives the serials that have a follow-up of a campaign, those of a list
// that is still being written among them, sorted.
func (s *Store) Written(id string) []vehicle.Serial {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return sorted(s.memory.campaigns[id])
}

// Serials gives the vehicles that are on any list, sorted.
func (s *Store) Serials() []vehicle.Serial {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return sorted(s.memory.vehicles)
}

// Begun gives the versions whose lists are being written, or were when a
// process died, in order of bulletins.
func (s *Store) Begun() []*Begun {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	var out []*Begun
	for _, key := range sorted(s.memory.issuing) {
		out = append(out, s.memory.issuing[key])
	}
	return out
}
