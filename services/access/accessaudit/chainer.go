package accessaudit

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

// election is the name of the chain's election.
const election = "audit-chain"

// The pause after a line came lets those that come with it go into the same
// transaction; and now and then the chainer looks though nothing told it to.
const (
	gather    = 50 * time.Millisecond
	lookAgain = 30 * time.Second
)

// Config is what the chainer needs.
type Config struct {
	Store  *kv.Store
	Clock  func() time.Time
	Logger *slog.Logger
}

// Chain puts pending lines into the chain, in whichever process leads it,
// until ctx is done. A number is given once: each transaction is fenced by the
// election and holds the end of the chain that it was made from.
func Chain(ctx context.Context, c Config) error {
	s := NewStore(c.Store)
	return leader.Run(ctx, c.Store.Client(), leader.Config{Name: election, Logger: c.Logger}, func(ctx context.Context, fence kv.Fence) error {
		return s.chain(ctx, c.Clock, fence)
	})
}

// chain is the work of the leader.
func (s *Store) chain(ctx context.Context, clock func() time.Time, fence kv.Fence) error {
	watching, stop := context.WithCancel(ctx)
	defer stop()
	var came clientv3.WatchChan
	look := time.NewTicker(lookAgain)
	defer look.Stop()
	for {
		st, err := s.sealAll(ctx, clock, fence)
		if err != nil {
			return err
		}
		if came == nil {
			came = s.kv.Client().Watch(watching, pendingPrefix, clientv3.WithPrefix(), clientv3.WithFilterDelete(), clientv3.WithRev(st.Revision+1))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-look.C:
		case r, open := <-came:
			if !open || r.Err() != nil {
				return fmt.Errorf("the watch of pending lines ended: %w", errors.Join(r.Err(), ctx.Err()))
			}
			if !leader.Sleep(ctx, gather) {
				return ctx.Err()
			}
		}
	}
}

// sealAll puts lines into the chain until none waits, and gives where it saw
// that none did.
func (s *Store) sealAll(ctx context.Context, clock func() time.Time, fence kv.Fence) (State, error) {
	for {
		n, _, st, err := s.Seal(ctx, clock(), fence)
		switch {
		case errors.Is(err, kv.ErrNotLeader):
			return st, err
		case fault.Is(err, fault.Aborted):
			// Something that was read has changed since: read it again. A line that
			// never stops changing is not to make a busy loop.
			if !leader.Sleep(ctx, gather) {
				return st, ctx.Err()
			}
		case err != nil:
			return st, err
		case n == 0:
			return st, nil
		}
	}
}
