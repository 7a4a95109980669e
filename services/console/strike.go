package console

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// StrikeService strikes out work that was recorded wrongly: on another vehicle, or
// twice. It stays readable, and counts as if it had never been.
func (c *Console) StrikeService(ctx context.Context, name, reason string) error {
	parent, _, ok := strings.Cut(name, "/serviceEntries/")
	if !ok {
		return fault.InvalidField("entry", name, "the name of a service entry: vehicles/AM0147P/serviceEntries/0192f0")
	}
	var found *schedulev1.ServiceEntry
	err := page.Each(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: parent, PageSize: 500, PageToken: token, WithoutItems: true})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	}, func(e *schedulev1.ServiceEntry) error {
		if e.GetName() == name {
			found = e
		}
		return nil
	})
	if err != nil {
		return err
	}
	if found == nil {
		return fault.New(fault.NotFound, "SERVICE_ENTRY_NOT_FOUND", "There is no such service entry of %s.", strings.TrimPrefix(parent, "vehicles/"))
	}
	struck, err := c.Schedules.VoidServiceEntry(ctx, &schedulev1.VoidServiceEntryRequest{Name: name, Reason: reason, Etag: found.GetEtag(), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(struck, nil)
	}
	done, err := c.followUps(ctx, parent, bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE)
	return c.print(struck, func(s *sheet) {
		s.line("%s is struck out: %s", name, struck.GetVoidReason())
		if err != nil { // it is struck out all the same
			s.text("", "Whether a campaign counts this work as its remedy could not be asked; see:")
			s.line("  halfshaft campaign list %s", serialOf(name))
		}
		stillRemedied(s, name, done)
	})
}

// stillRemedied says which campaigns rest on work that was struck out, and what
// takes them up again.
func stillRemedied(s *sheet, entry string, all []*bulletinv1.FollowUp) {
	for _, f := range all {
		if remediedBy(f, entry) {
			id := idOf(f.GetName())
			s.text("", "Campaign "+id+" counts this work as its remedy, and stays done until it is recorded that it was found wrong:")
			s.line("  halfshaft campaign record %s %s wrong", serialOf(entry), id)
		}
	}
}

// remediedBy reports whether a campaign is done by an entry, as the desk does: one
// that was found wrong and done anew is done by what was done last.
func remediedBy(f *bulletinv1.FollowUp, entry string) bool {
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
		return false
	}
	for _, s := range slices.Backward(f.GetSteps()) {
		if s.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE {
			return s.GetEvidence() == entry
		}
	}
	return false
}
