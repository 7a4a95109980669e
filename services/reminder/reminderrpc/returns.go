package reminderrpc

import (
	"context"
	"fmt"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
)

// The bounds of a message that came back: what a request of the API may hold
// with room to spare, and more recipients than a return has.
const (
	largestReturn  = 900 << 10
	mostRecipients = 100
)

// TakeReturn implements the ReminderService.
func (s *Service) TakeReturn(ctx context.Context, r *reminderv1.TakeReturnRequest) (*reminderv1.TakeReturnResponse, error) {
	switch n, size := len(r.GetRecipients()), len(r.GetMessage()); {
	case n == 0 || n > mostRecipients:
		return nil, fault.InvalidField("recipients", fmt.Sprintf("%d of them", n), fmt.Sprintf("1 to %d: those of the envelope", mostRecipients))
	case size == 0 || size > largestReturn:
		return nil, fault.InvalidField("message", fmt.Sprintf("%d bytes", size), fmt.Sprintf("1 to %d bytes", largestReturn))
	}
	return s.Job.TakeReturn(ctx, r.GetRecipients(), r.GetMessage())
}

// TakeTextEvent implements the ReminderService.
func (s *Service) TakeTextEvent(ctx context.Context, r *reminderv1.TakeTextEventRequest) (*reminderv1.TakeTextEventResponse, error) {
	return s.Job.TakeText(ctx, r)
}
