package kv

import "context"

// Witness is a record that must not be missing where something was changed: a
// line of the audit. It goes into the first transaction that is committed
// under its context, so that no crash leaves the one without the other. A
// Witness is safe for concurrent use: until it is written, commits under its
// context go one after the other.
type Witness struct {
	key   string
	value string

	turn     chan struct{} // held by the commit that may be the first
	written  bool          // under turn
	doubtful bool          // under turn
}

// NewWitness makes a witness that nothing has written yet. The key must be
// nobody else's, and the value within MaxValueBytes.
func NewWitness(key string, value []byte) *Witness {
	return &Witness{key: key, value: string(value), turn: make(chan struct{}, 1)}
}

// Written reports whether a transaction carried the witness for certain.
func (w *Witness) Written() bool {
	w.turn <- struct{}{}
	defer func() { <-w.turn }()
	return w.written
}

// Doubtful reports whether a transaction that carried the witness got no
// answer, and no later one carried it for certain: it stands in the store, or
// nothing was changed. The next commit under the context carries it again,
// since that of the first may not have happened; where it had, there are two
// such records.
func (w *Witness) Doubtful() bool {
	w.turn <- struct{}{}
	defer func() { <-w.turn }()
	return w.doubtful && !w.written
}

type witnessKey struct{}

// WithWitness gives a context whose first commit carries the witness.
func WithWitness(ctx context.Context, w *Witness) context.Context {
	return context.WithValue(ctx, witnessKey{}, w)
}

// attend gives the witness that a commit under the context must carry, or nil,
// and waits while another commit may be its first. leave tells how the commit
// ended; it must be called.
func attend(ctx context.Context) (w *Witness, leave func(Result, error), err error) {
	w, _ = ctx.Value(witnessKey{}).(*Witness)
	if w == nil {
		return nil, func(Result, error) {}, nil
	}
	select {
	case w.turn <- struct{}{}:
	case <-ctx.Done():
		return nil, nil, notSent(ctx.Err())
	}
	if w.written {
		<-w.turn
		return nil, func(Result, error) {}, nil
	}
	return w, w.leave, nil
}

// leave takes in how the commit that carried the witness ended.
func (w *Witness) leave(r Result, err error) {
	switch {
	case err == nil && !r.Replayed:
		w.written = true
	case err != nil && isUnknown(err):
		w.doubtful = true
	}
	<-w.turn
}
