package accessaudit

import (
	"context"
	"errors"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/kv"
)

// mortal is a process whose store stops answering at one of its calls: before
// it happens, or after. From then on it is dead.
type mortal struct {
	clientv3.KV
	at, calls int
	after     bool
}

var errKilled = errors.New("killed")

func (m *mortal) call(do func() error) error {
	m.calls++
	switch {
	case m.calls < m.at:
		return do()
	case m.calls == m.at && m.after:
		if err := do(); err != nil {
			return err
		}
	}
	return errKilled
}

func (m *mortal) Get(ctx context.Context, key string, o ...clientv3.OpOption) (resp *clientv3.GetResponse, err error) {
	err = m.call(func() (err error) { resp, err = m.KV.Get(ctx, key, o...); return err })
	if err != nil {
		resp = nil
	}
	return resp, err
}

func (m *mortal) Txn(ctx context.Context) clientv3.Txn { return &mortalTxn{m.KV.Txn(ctx), m} }

type mortalTxn struct {
	clientv3.Txn
	from *mortal
}

func (t *mortalTxn) If(c ...clientv3.Cmp) clientv3.Txn  { t.Txn = t.Txn.If(c...); return t }
func (t *mortalTxn) Then(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Then(o...); return t }
func (t *mortalTxn) Else(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Else(o...); return t }
func (t *mortalTxn) Commit() (resp *clientv3.TxnResponse, err error) {
	err = t.from.call(func() (err error) { resp, err = t.Txn.Commit(); return err })
	if err != nil {
		resp = nil
	}
	return resp, err
}

// mortalStore gives a store that is killed at a call.
func mortalStore(c *clientv3.Client, at int, after bool) (*Store, *mortal) {
	m := &mortal{KV: c.KV, at: at, after: after}
	client := clientv3.NewCtxClient(c.Ctx())
	client.KV, client.Watcher = m, c.Watcher
	return NewStore(kv.NewStore(client)), m
}
