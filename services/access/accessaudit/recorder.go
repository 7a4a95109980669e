package accessaudit

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"
	"golang.org/x/time/rate"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
)

// How long notes are held, so that those of one moment are one transaction. A
// refusal that keeps coming is written less and less often: it must not be able
// to fill the store.
const (
	hold     = 100 * time.Millisecond
	longHold = 10 * time.Second
)

// How much is held while the store does not answer. Beyond the first, notes
// are folded by who did what and no longer tell about which objects; beyond the
// second, they are only counted in the log.
const (
	mostNotes  = 2_000
	mostFolded = 4_000
)

// How many lines a second tell whence strangers came who were refused, and how
// many at once. Beyond that their network is left out, so that they become few
// lines: addresses are cheap, and whoever has very many of them must not be
// able to fill the store.
const (
	strangersEvery = 20
	strangersBurst = 1_000
)

// Recorder takes in lines, in every process that has a door.
type Recorder struct {
	store  *kv.Store
	logger *slog.Logger
	every  time.Duration

	mu      sync.Mutex
	notes   map[likeness]*note
	order   []likeness // of notes, as they came
	quiet   map[likeness]*quiet
	dropped int
	whence  *rate.Limiter
	now     func() time.Time // the machine's: it only says how long notes are held

	stuck []writing // the writer's own: what the store has not taken yet

	wake    chan struct{}
	closing chan struct{}
	ended   chan struct{}
	once    sync.Once
}

// RecorderConfig is what a recorder needs.
type RecorderConfig struct {
	Store  *kv.Store
	Logger *slog.Logger // nil: say nothing
}

// NewRecorder begins to take in lines; Close writes what it still holds.
func NewRecorder(c RecorderConfig) *Recorder {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	r := &Recorder{
		store: c.Store, logger: c.Logger, every: hold, now: time.Now,
		notes: map[likeness]*note{}, quiet: map[likeness]*quiet{}, whence: rate.NewLimiter(strangersEvery, strangersBurst),
		wake: make(chan struct{}, 1), closing: make(chan struct{}), ended: make(chan struct{}),
	}
	go r.run()
	return r
}

// Witness gives the witness of a change: the line is written with the first
// thing that the change writes.
func (r *Recorder) Witness(line audit.Line) *kv.Witness {
	return kv.NewWitness(newPendingKey(), []byte(line.Text()))
}

// newPendingKey draws a key that nothing had before.
func newPendingKey() string { return pendingPrefix + uuid.NewString() }

// Note takes in a line that comes with no change. It never waits; the line is
// written within a tenth of a second, with others like it as one.
func (r *Recorder) Note(line audit.Line) {
	line = line.Bounded()
	r.mu.Lock()
	defer r.mu.Unlock()
	like := likenessOf(line)
	if ofStranger(line) && r.notes[like] == nil && !r.whence.AllowN(r.now(), 1) {
		line.Network, like.network = "", ""
	}
	if r.notes[like] == nil && len(r.notes) >= mostNotes {
		like = like.coarse()
		line.Objects, line.Network, line.Because = nil, "", ""
	}
	if n := r.notes[like]; n != nil {
		n.add(line)
		return
	}
	if len(r.notes) >= mostFolded {
		r.dropped++
		return
	}
	r.notes[like] = &note{line: line, count: max(1, line.Count), due: r.due(like)}
	r.order = append(r.order, like)
	r.ring()
}

// ofStranger reports whether a line is about somebody who was refused and whom
// nobody knows: at the door, or at the pages where people sign in.
func ofStranger(l audit.Line) bool {
	return l.Outcome == audit.Refused && l.Network != "" && (l.Role == access.Nobody || l.Role == access.Service)
}

// ring wakes the writer; it never blocks.
func (r *Recorder) ring() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// run writes notes when they are due.
func (r *Recorder) run() {
	defer close(r.ended)
	tick := time.NewTimer(longHold)
	defer tick.Stop()
	for {
		select {
		case <-r.closing:
			r.last()
			return
		case <-r.wake:
		case <-tick.C:
			ctx, cancel := context.WithTimeout(context.Background(), writeLimit)
			r.flush(ctx, false)
			cancel()
		}
		tick.Reset(r.untilDue())
	}
}

// untilDue is how long to wait for the next note.
func (r *Recorder) untilDue() time.Duration {
	r.mu.Lock()
	defer r.mu.Unlock()
	now, wait := r.now(), longHold
	if len(r.stuck) > 0 {
		return retryAfter
	}
	for _, n := range r.notes {
		wait = min(wait, n.due.Sub(now))
	}
	return max(wait, time.Millisecond)
}

// How long writing may take before it is tried again, and after what pause; and
// at the end before it is given up.
const (
	writeLimit = 5 * time.Second
	retryAfter = 2 * time.Second
	lastLimit  = 3 * time.Second
)

// last writes everything once more.
func (r *Recorder) last() {
	ctx, cancel := context.WithTimeout(context.Background(), lastLimit)
	defer cancel()
	r.flush(ctx, true)
	r.mu.Lock()
	defer r.mu.Unlock()
	if n := len(r.notes) + len(r.stuck); n > 0 {
		r.logger.Error("lines of the audit were not written", "lines", n)
	}
}

// Close writes what is held and ends the recorder.
func (r *Recorder) Close() error {
	r.once.Do(func() { close(r.closing) })
	<-r.ended
	return nil
}
