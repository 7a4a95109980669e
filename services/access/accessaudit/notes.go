package accessaudit

import (
	"context"
	"slices"
	"strings"
	"time"

	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
)

// likeness is what two notes have in common that become one line: everything
// but when they came and, for refusals, about what and with what words: whoever
// is refused may choose both, and must not get a line for each.
type likeness struct {
	who, method, objects, reason, because, network string
	outcome                                        audit.Outcome
}

func likenessOf(l audit.Line) likeness {
	like := likeness{
		who:    strings.Join([]string{l.Actor, l.Role.String(), l.Credential, l.Party, l.Through}, "\x00"),
		method: l.Method, reason: l.ErrorReason, network: l.Network, outcome: l.Outcome,
	}
	if l.Outcome != audit.Refused {
		like.objects, like.because = strings.Join(l.Objects, "\x00"), l.Because
	}
	return like
}

// coarse is the likeness of notes that come faster than they can be written.
func (l likeness) coarse() likeness {
	l.objects, l.because, l.network = "", "", ""
	return l
}

// note is a line that waits to be written.
type note struct {
	line  audit.Line
	count int
	due   time.Time
}

// add folds another line like it in. It tells the first objects that it was
// about.
func (n *note) add(l audit.Line) {
	n.count += max(1, l.Count)
	if room := audit.MaxObjects - len(n.line.Objects); room > 0 && l.Outcome == audit.Refused {
		objects := slices.Clone(n.line.Objects) // the caller's own may still be read
		for _, o := range l.Objects[:min(room, len(l.Objects))] {
			if !slices.Contains(objects, o) {
				objects = append(objects, o)
			}
		}
		n.line.Objects = objects
	}
}

// quiet is how long refusals of a likeness are held by now.
type quiet struct {
	hold  time.Duration
	until time.Time // when the last one was due
}

// due says when a new note is to be written. Held notes were due within a
// tenth of a second the first time; a refusal that comes again within its hold
// is held twice as long. Called under mu.
func (r *Recorder) due(like likeness) time.Time {
	now := r.now()
	if like.outcome != audit.Refused {
		return now.Add(r.every)
	}
	q := r.quiet[like]
	if q == nil || now.After(q.until.Add(2*q.hold)) {
		if len(r.quiet) > mostNotes {
			clear(r.quiet) // they are held a tenth of a second again
		}
		q = &quiet{hold: r.every}
		r.quiet[like] = q
	} else {
		q.hold = min(2*q.hold, longHold)
	}
	q.until = now.Add(q.hold)
	return q.until
}

// writing is a note that is being written. Its key and its text are the same
// for each attempt, so that one whose outcome is not known is not written
// twice.
type writing struct{ key, text string }

// flush writes the notes that are due, or all, after those that could not be
// written before. Only the writer calls it.
func (r *Recorder) flush(ctx context.Context, all bool) {
	for {
		if len(r.stuck) == 0 {
			r.stuck = r.take(all)
		}
		if len(r.stuck) == 0 {
			return
		}
		txn := kv.NewTxn()
		for _, w := range r.stuck {
			txn.PutBytes(w.key, []byte(w.text))
		}
		if _, err := r.store.Commit(ctx, txn); err != nil {
			r.logger.Error("lines of the audit wait to be written", "lines", len(r.stuck), "error", err)
			return
		}
		r.stuck = nil
	}
}

// take gives the notes that are due, at most a transaction full, and holds
// them no longer.
func (r *Recorder) take(all bool) []writing {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.dropped > 0 {
		r.logger.Error("more came than can be held: lines of the audit were lost", "lines", r.dropped)
		r.dropped = 0
	}
	now, bytes := r.now(), 0
	var batch []writing
	var rest []likeness
	for _, like := range r.order {
		n := r.notes[like]
		if !all && n.due.After(now) || len(batch) == kv.MaxOps || bytes > batchBytes {
			rest = append(rest, like)
			continue
		}
		n.line.Count = n.count
		w := writing{newPendingKey(), n.line.Text()}
		bytes += len(w.text)
		batch = append(batch, w)
		delete(r.notes, like)
	}
	r.order = rest
	return batch
}
