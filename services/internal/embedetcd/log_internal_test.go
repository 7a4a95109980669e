package embedetcd

import "testing"

// A start that still applied its log panicked with "error scanning unapplied
// entries: requested index is unavailable due to compaction" when an election
// fell due meanwhile: on a slow disk, with 50 entries kept and 270 to apply.
func TestTheLogInMemoryHoldsAllThatAStartMayApply(t *testing.T) {
	s := &Server{dir: t.TempDir()}
	c := s.config()
	if c.SnapshotCatchUpEntries < c.SnapshotCount+100 {
		t.Errorf("%d entries are kept in memory, and a start may have to apply more than %d", c.SnapshotCatchUpEntries, c.SnapshotCount)
	}
}
