package upkeep

import (
	"context"
	"fmt"
	"slices"
	"time"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/embedetcd"
)

const (
	lookEvery  = 3 * time.Minute
	sayAgain   = time.Hour // while a trouble lasts
	nearlyFull = 0.8       // share of the quota from which the watch warns
	roomAgain  = 0.9       // share of the quota under which a full store may write again
)

// Watch looks every three minutes, and at once, at how full the store is and
// which alarms it has raised, until ctx is done, and returns ctx's error. From
// 80 % of the quota on it warns, at once and then every hour, and says what to
// do. When the quota of the embedded etcd is used up it recovers the store by
// itself: old request ids go, old revisions are compacted, the free pages given
// back, and the alarm lowered where that made enough room. It runs beside every
// process, leading or not, because a full store elects nobody.
func Watch(ctx context.Context, c Config) error {
	w := &watch{Config: c.normal()}
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		w.look(ctx)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
	}
}

// watch remembers what it has said.
type watch struct {
	Config
	said  level
	at    time.Time // when it was said
	tried time.Time // when a recovery last made too little room
}

// look is one look at the store.
func (w *watch) look(ctx context.Context) {
	s, err := w.state(ctx)
	if err == nil && s.level() == full && w.mayRecover() {
		s, err = w.recover(ctx)
	}
	switch {
	case ctx.Err() != nil:
	case err != nil:
		w.Logger.Error("looking after the store failed; it will be tried again", "error", err)
	default:
		w.say(s)
	}
}

// mayRecover holds a recovery back that made too little room less than an hour
// ago: everybody waits while it works.
func (w *watch) mayRecover() bool {
	return w.Etcd != nil && (w.tried.IsZero() || passed(w.tried, w.Clock(), sayAgain))
}

// recover makes room and looks whether it was enough.
func (w *watch) recover(ctx context.Context) (state, error) {
	w.Logger.Warn("the store is full: making room; reads and writes wait meanwhile")
	if err := w.makeRoom(ctx); err != nil {
		return state{}, err
	}
	s, err := w.state(ctx)
	w.tried = time.Time{}
	if err == nil && s.level() == full {
		w.tried = w.Clock()
	}
	return s, err
}

// say logs a trouble when it comes, when it changes, when it goes, and every
// hour while it lasts.
func (w *watch) say(s state) {
	l, now := s.level(), w.Clock()
	if l == w.said && (l == fine || !passed(w.at, now, sayAgain)) {
		return
	}
	w.said, w.at = l, now
	facts := []any{
		"mib", mib(s.usage.File), "mib_in_use", mib(s.usage.InUse), "mib_quota", mib(s.usage.Quota),
	}
	if do := s.advice(w.Etcd != nil); do != "" {
		facts = append(facts, "do", do)
	}
	switch l {
	case fine:
		w.Logger.Info("the store has room again", facts...)
	case nearly:
		w.Logger.Warn("the store is nearly full", facts...)
	case full:
		w.Logger.Error("the store is full and takes no writes", facts...)
	case corrupt:
		w.Logger.Error("the store says of itself that it is corrupt", facts...)
	}
}

// makeRoom goes in the order of etcd's operations guide (maintenance, space
// quota): delete, compact, defragment, disarm. Where they made too little room
// the alarm stays: disarming would only move the hour of the next.
func (w *watch) makeRoom(ctx context.Context) error {
	if err := w.trim(ctx, w.Clock().Add(-requestsKept)); err != nil {
		return err
	}
	newest, err := w.Client.Get(ctx, "\x00", clientv3.WithKeysOnly())
	if err != nil {
		return fmt.Errorf("read the newest revision: %w", err)
	}
	if err := w.compact(ctx, newest.Header.Revision); err != nil {
		return err
	}
	if err := w.Etcd.Defragment(); err != nil {
		return err
	}
	if w.Etcd.Usage().Full(roomAgain) {
		return nil
	}
	return w.Etcd.Disarm(ctx)
}

// compact drops all revisions before the newest. Somebody else may have been
// faster, which is as good.
func (w *watch) compact(ctx context.Context, revision int64) error {
	_, err := w.Client.Compact(ctx, revision, clientv3.WithCompactPhysical())
	if err != nil && rpctypes.Error(err).Error() != rpctypes.ErrCompacted.Error() {
		return fmt.Errorf("compact: %w", err)
	}
	return nil
}

// level is how the store is, from good to bad.
type level int

const (
	fine level = iota
	nearly
	full
	corrupt
)

// state is what one look sees.
type state struct {
	usage  embedetcd.Usage // of the fullest member
	alarms []string
}

func (s state) level() level {
	switch {
	case slices.Contains(s.alarms, "CORRUPT"):
		return corrupt
	case slices.Contains(s.alarms, "NOSPACE"):
		return full
	case s.usage.Quota > 0 && s.usage.Full(nearlyFull):
		return nearly
	}
	return fine
}

// advice says what a person has to do; embedded, whether the etcd is ours to
// defragment.
func (s state) advice(embedded bool) string {
	// What would be left of the file without its free pages decides.
	outgrown := s.usage.Quota > 0 && float64(s.usage.InUse) >= nearlyFull*float64(s.usage.Quota)
	switch l := s.level(); {
	case l == fine:
		return ""
	case l == corrupt:
		return "stop the service and restore the newest snapshot: 'Restore' in deploy/OPERATIONS.md"
	case !embedded:
		return "compact, then defragment each member in turn, then disarm: 'The store is full' in deploy/OPERATIONS.md"
	case outgrown:
		return "the records themselves fill the quota: 'The store is full' in deploy/OPERATIONS.md"
	case l == full:
		return "nothing yet: making room is tried again within the hour"
	}
	return "nothing: the free pages are given back in the coming night, and at once if the quota is reached before"
}

// state asks every member how full it is, and for the alarms of all.
func (c Config) state(ctx context.Context) (state, error) {
	var s state
	endpoints := c.Client.Endpoints()
	if len(endpoints) == 0 {
		endpoints = []string{""} // the client that calls an embedded etcd directly has no address
	}
	for _, e := range endpoints {
		m, err := c.Client.Status(ctx, e)
		if err != nil {
			return state{}, fmt.Errorf("ask the store for its size: %w", err)
		}
		if m.DbSize >= s.usage.File {
			s.usage = embedetcd.Usage{File: m.DbSize, InUse: m.DbSizeInUse, Quota: m.DbSizeQuota}
		}
	}
	alarms, err := c.Client.AlarmList(ctx)
	if err != nil {
		return state{}, fmt.Errorf("ask the store for its alarms: %w", err)
	}
	for _, a := range alarms.Alarms {
		s.alarms = append(s.alarms, a.Alarm.String())
	}
	return s, nil
}

// passed reports whether a time has gone by, or the clock was set back.
func passed(since, now time.Time, d time.Duration) bool {
	return now.Sub(since) >= d || now.Before(since)
}

func mib(bytes int64) int64 { return bytes >> 20 }
