package schedulestore

import (
	"iter"
	"maps"

	"halfshaft/services/vehicle"
)

// Histories gives the history of every vehicle that has one, in any order, as
// they stand at one moment. A history is replaced when it changes, so whoever
// keeps something of each sees by the pointer which to look at again.
func (s *Store) Histories() iter.Seq2[vehicle.Serial, *History] {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return maps.All(maps.Clone(s.memory.vehicles))
}
