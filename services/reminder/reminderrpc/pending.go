package reminderrpc

import (
	"context"
	"strings"
	"sync"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// ListPending implements the ReminderService.
func (s *Service) ListPending(ctx context.Context, r *reminderv1.ListPendingRequest) (*reminderv1.ListPendingResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	day, err := reminderwire.Day("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	lines, err := s.pendingLines(ctx, serial, day, after)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListPendingResponse{}
	for i, p := range lines {
		if pendingKey(p) <= after {
			continue
		}
		if len(out.Lines) == size {
			out.NextPageToken = page.Token(r, pendingKey(lines[i-1]))
			break
		}
		out.Lines = append(out.Lines, reminderwire.PendingProto(p))
	}
	if serial == "" && out.NextPageToken == "" {
		s.listed.forget(day)
	}
	return out, nil
}

// pendingLines gives what comes up: afresh for the first page of a list, and for
// the others what the first was of, as long as that is remembered.
func (s *Service) pendingLines(ctx context.Context, serial vehicle.Serial, day vehicle.Date, after string) ([]reminder.Pending, error) {
	if serial != "" {
		return s.Job.Pending(ctx, serial, day)
	}
	if after != "" {
		if lines, ok := s.listed.of(day, s.now()); ok {
			return lines, nil
		}
	}
	at := s.now()
	lines, err := s.Job.Pending(ctx, serial, day)
	if err == nil {
		s.listed.keep(day, lines, at)
	}
	return lines, err
}

// pendingKey orders lines as they are listed.
func pendingKey(p reminder.Pending) string {
	return strings.Join([]string{string(p.Serial), p.Item.ActBy.String(), p.Item.Cycle, p.Person}, "\x00")
}

// listedFor is how long the lines of a list are remembered for its next page.
const listedFor = 10 * time.Minute

// listed is what the list of all vehicles that was asked for last is of, while
// there are pages left of it: to find out what comes up is to ask about every
// vehicle and many people, which one page more is not worth.
type listed struct {
	mu    sync.Mutex
	day   vehicle.Date
	at    time.Time
	lines []reminder.Pending
}

// of gives the lines of a day; false when they are not remembered.
func (l *listed) of(day vehicle.Date, now time.Time) ([]reminder.Pending, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.lines, l.lines != nil && l.day == day && now.Sub(l.at) < listedFor
}

// keep remembers the lines of a day.
func (l *listed) keep(day vehicle.Date, lines []reminder.Pending, at time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.day, l.at, l.lines = day, at, lines
}

// forget lets go of the lines of a day, whose last page was given.
func (l *listed) forget(day vehicle.Date) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.day == day {
		l.lines = nil
	}
}
