package embedetcd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"

	"go.uber.org/zap"
)

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

// A search that has what it wants stops reading, and "find" at a terminal showed
// an error of etcd's beside the right answer.
func TestAReadThatNobodyWaitsForIsNoErrorInTheLog(t *testing.T) {
	stopped := fmt.Errorf("applyTxn: failed Range: %w", fmt.Errorf("rangeKeys: context cancelled: %w", context.Canceled))
	for _, c := range []struct {
		message string
		err     error
		shown   bool
	}{
		{readFailed, stopped, false},
		{readFailed, fmt.Errorf("rangeKeys: %w", context.DeadlineExceeded), false},
		{readFailed, errors.New("the page is torn"), true},
		{"failed to snapshot", stopped, true},
	} {
		var log bytes.Buffer
		core := &quietCore{logger: slog.New(slog.NewTextHandler(&log, nil))}
		core.zap().Error(c.message, zap.String("member", "m1"), zap.Error(c.err))
		if shown := strings.Contains(log.String(), "level=ERROR"); shown != c.shown {
			t.Errorf("%s: %v: shown %v, want %v: %s", c.message, c.err, shown, c.shown, log.String())
		}
	}
}
