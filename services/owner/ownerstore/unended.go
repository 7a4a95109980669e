package ownerstore

import (
	"context"
	"time"
)

// An erasure that was decided is carried to its end even if a step of it fails
// for want of the store or the disk: until then nobody new is taken in. The
// process that failed holds both master keys, so it tries again by itself.

const (
	firstPause = 2 * time.Second // before it is tried again
	mostPause  = time.Minute     // each pause is twice the one before, up to this
	mostPerTry = time.Minute     // whoever wants to write waits meanwhile; a try goes on where the last one ended
)

// noteUnended notes that what was decided may not have ended.
func (s *Store) noteUnended(err error) {
	if err != nil {
		select {
		case s.unended <- struct{}{}:
		default: // it is noted already
		}
	}
}

// goOn tries again what was noted, until it has ended or ctx is done.
func (s *Store) goOn(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.unended:
		}
		for pause := firstPause; ; pause = min(2*pause, mostPause) {
			if err := s.pause(ctx, pause); err != nil {
				return
			}
			try, end := context.WithTimeout(ctx, mostPerTry)
			err := s.finish(try, try)
			end()
			if err == nil {
				break
			}
			s.logger.Error("an erasure is not at its end and is tried again; nobody new is taken in meanwhile", "error", err)
		}
	}
}

// pauseFor waits, or gives the reason why ctx is done.
func pauseFor(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
