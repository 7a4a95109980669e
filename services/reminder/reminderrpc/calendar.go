package reminderrpc

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// occasion is what one event of a calendar is about, before it has an
// identifier.
type occasion struct {
	day                  vehicle.Date
	late                 bool     // all the day says is that it is overdue: the first day there is
	booked               bool     // a workshop has it on that day
	rounds               []string // "E01.2026-05-01#1": item, round as the schedule has it, how many ahead
	summary, description string
}

// Judgements of calendars (common practice, no source).
const (
	lateStays = 7   // days for which what is overdue stays where it stood, lest it move every day
	sameWork  = 60  // days within which later work of one item is taken for the same event
	keepGone  = 400 // days for which an event that is no longer shown is remembered
)

// event is an occasion with its identifier and the number of its changes.
type event struct {
	occasion
	uid      string
	sequence int32
	changed  time.Time
}

// following gives the events of a calendar, in order of days, from what it is
// about now and what it held when it was last read; and what it holds from now
// on.
//
// An event keeps its identifier as long as it is about the same work. Its
// number rises by one exactly when what it shows changes, and when it comes
// back after it was gone; otherwise everything about it stays.
func following(kept *reminderv1.KeptCalendar, now []occasion, owner string, today vehicle.Date, at time.Time) ([]event, *reminderv1.KeptCalendar) {
	matched := match(kept.GetEvents(), now)
	uids := map[string]bool{}
	for _, k := range kept.GetEvents() {
		uids[k.GetUid()] = true
	}
	next := &reminderv1.KeptCalendar{}
	shown := map[*reminderv1.KeptEvent]bool{}
	var events []event
	for i, o := range now {
		k := matched[i]
		shown[k] = true
		if k == nil {
			k = &reminderv1.KeptEvent{Uid: freeUID(owner, o, uids), Sequence: -1}
			uids[k.Uid] = true
		} else if stood := dateOf(k.GetEventDate()); o.late && !k.GetGone() && !stood.After(today) && stood.DaysUntil(today) < lateStays {
			o.day = stood
		}
		k = changed(k, o, at)
		next.Events = append(next.Events, k)
		events = append(events, event{o, k.GetUid(), k.GetSequence(), k.GetChangeTime().AsTime()})
	}
	for _, k := range kept.GetEvents() {
		if !shown[k] && dateOf(k.GetEventDate()).DaysUntil(today) < keepGone {
			gone := proto.CloneOf(k)
			gone.Gone = true
			next.Events = append(next.Events, gone)
		}
	}
	slices.SortFunc(next.Events, func(a, b *reminderv1.KeptEvent) int { return cmp.Compare(a.GetUid(), b.GetUid()) })
	slices.SortFunc(events, func(a, b event) int { return cmp.Or(a.day.Compare(b.day), cmp.Compare(a.uid, b.uid)) })
	return events, next
}

// changed gives what is kept of an event that shows the occasion now.
func changed(k *reminderv1.KeptEvent, o occasion, at time.Time) *reminderv1.KeptEvent {
	next := proto.CloneOf(k)
	next.Gone, next.Rounds, next.EventDate = false, o.rounds, vehiclewire.DateProto(o.day)
	digest := o.digest()
	if k.GetGone() || string(k.GetContentSha256()) != string(digest) {
		next.Sequence, next.ContentSha256, next.ChangeTime = k.GetSequence()+1, digest, timestamppb.New(at)
	}
	return next
}

// digest is of everything that an event shows.
func (o occasion) digest() []byte {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%t\n%q\n%q", o.day, o.booked, o.summary, o.description))
	return sum[:]
}

// freeUID makes an identifier for an event that had none. Nothing of the
// vehicle or the person can be read out of it.
func freeUID(owner string, o occasion, taken map[string]bool) string {
	for nth := 0; ; nth++ {
		sum := sha256.Sum256(fmt.Appendf(nil, "halfshaft calendar\n%s\n%s\n%d", owner, strings.Join(o.rounds, "\n"), nth))
		if uid := hex.EncodeToString(sum[:16]); !taken[uid] {
			return uid
		}
	}
}

// match finds, for each occasion, the event that it goes on with; nil for none.
// Those that share most rounds go together first, then those about the same
// items at about the same time, which is what is left when a round was done and
// the next ones are counted anew.
func match(kept []*reminderv1.KeptEvent, now []occasion) []*reminderv1.KeptEvent {
	type pair struct {
		i, k, rounds, items, apart int
		gone                       bool
	}
	var pairs []pair
	for i, o := range now {
		for k, e := range kept {
			p := pair{i: i, k: k, gone: e.GetGone(), apart: dateOf(e.GetEventDate()).DaysUntil(o.day)}
			p.apart = max(p.apart, -p.apart)
			p.rounds, p.items = shared(o.rounds, e.GetRounds())
			if p.rounds > 0 || p.items > 0 && p.apart <= sameWork && !p.gone {
				pairs = append(pairs, p)
			}
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(-cmp.Compare(a.rounds, b.rounds), compareBool(a.gone, b.gone), -cmp.Compare(a.items, b.items),
			cmp.Compare(a.apart, b.apart), cmp.Compare(a.k, b.k), cmp.Compare(a.i, b.i))
	})
	out, used := make([]*reminderv1.KeptEvent, len(now)), map[int]bool{}
	for _, p := range pairs {
		if out[p.i] == nil && !used[p.k] {
			out[p.i], used[p.k] = kept[p.k], true
		}
	}
	return out
}

// shared counts the rounds, and the items, that two events have in common.
func shared(a, b []string) (rounds, items int) {
	for _, x := range a {
		item, _, _ := strings.Cut(x, ".")
		if slices.Contains(b, x) {
			rounds++
		}
		if slices.ContainsFunc(b, func(y string) bool { return strings.HasPrefix(y, item+".") }) {
			items++
		}
	}
	return rounds, items
}

// dateOf reads a day that was written here.
func dateOf(d *date.Date) vehicle.Date {
	day, _ := vehiclewire.Date(d)
	return day
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}
