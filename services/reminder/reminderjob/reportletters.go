package reminderjob

import (
	"context"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reportedMemory spares a pass to ask again for what an earlier one of this process
// found out. A process that has just started asks once.
type reportedMemory struct {
	letters map[letterKey]bool // that the list of their campaign has
	notices map[string]bool    // that never went out, and never will
	ended   map[string]bool    // tasks that are closed
}

// letterKey is a letter about a campaign, to whomever and by whatever way.
type letterKey struct {
	serial vehicle.Serial
	cycle  string
}

func (m *reportedMemory) know(k letterKey) {
	if m.letters == nil {
		m.letters = map[letterKey]bool{}
	}
	m.letters[k] = true
}

func (m *reportedMemory) never(notice string) {
	if m.notices == nil {
		m.notices = map[string]bool{}
	}
	m.notices[notice] = true
}

func (m *reportedMemory) end(task string) {
	if m.ended == nil {
		m.ended = map[string]bool{}
	}
	m.ended[task] = true
}

// fewVehicles is up to how many vehicles are asked for one by one.
const fewVehicles = 20

// reportLetters tells the bulletins which letters about campaigns went out, each
// once: whatever is claimed here and not on the list there. What a process that
// was killed between sending and telling left out is told by the next pass, also
// of a vehicle that was put right meanwhile. What has come back by then is not
// told: nobody was reached.
func (j *Job) reportLetters(ctx context.Context) error {
	untold := j.untold()
	if j.Bulletins == nil || len(untold) == 0 {
		return nil
	}
	parents := []string{"vehicles/-"}
	if len(untold) <= fewVehicles {
		parents = nil
		for _, serial := range slices.Sorted(maps.Keys(untold)) {
			parents = append(parents, reminderwire.VehicleName(serial))
		}
	}
	for _, parent := range parents {
		err := page.Each(func(token string) ([]*bulletinv1.FollowUp, string, error) {
			r, err := j.Bulletins.ListFollowUps(ctx, &bulletinv1.ListFollowUpsRequest{Parent: parent, PageSize: 500, PageToken: token})
			return r.GetFollowUps(), r.GetNextPageToken(), err
		}, func(f *bulletinv1.FollowUp) error { return j.reportLettersOf(ctx, f, untold) })
		if err != nil {
			if stops(ctx, err) {
				return err
			}
			j.Logger.Warn("the bulletin service could not be told which letters went out; the next pass tells it", "error", err)
			return nil
		}
	}
	return nil
}

// untold gives the letters that may have gone out and are not known to be on the
// list of their campaign, by vehicle.
func (j *Job) untold() map[vehicle.Serial][]reminder.Claim {
	out := map[vehicle.Serial][]reminder.Claim{}
	for serial, claims := range j.Store.CampaignClaims() {
		for _, c := range claims {
			finished := c.Task == "" && c.State == 0 && !c.Failed
			if finished && !j.reported.letters[letterKey{serial, c.Cycle}] && !j.reported.notices[c.Notice] {
				out[serial] = append(out[serial], c)
			}
		}
	}
	return out
}

// reportLettersOf tells what the list lacks of one vehicle of a campaign. What
// is refused holds up no other.
func (j *Job) reportLettersOf(ctx context.Context, f *bulletinv1.FollowUp, untold map[vehicle.Serial][]reminder.Claim) error {
	serial, id, err := reminderwire.FollowUpOf(f)
	if err != nil {
		return nil // of which the letters say so
	}
	for _, s := range f.GetSteps() {
		if s.GetLetter() != "" {
			j.reported.know(letterKey{serial, s.GetLetter()})
		}
	}
	for _, c := range untold[serial] {
		key := letterKey{serial, c.Cycle}
		if !strings.HasPrefix(c.Cycle, id+".") || j.reported.letters[key] {
			continue
		}
		first, err := j.firstSent(ctx, untold[serial], c.Cycle)
		if err == nil && first != nil {
			var after *bulletinv1.FollowUp
			if after, err = j.Bulletins.RecordFollowUpStep(ctx, writtenStep(f, *first, c.Cycle)); err == nil {
				f = after
				j.reported.know(key)
			}
		}
		if err != nil {
			if stops(ctx, err) || outOfReach(err) {
				return err
			}
			j.Logger.Error("the list of a campaign was not told that a letter went out; the next pass tells it", "vehicle", serial, "letter", c.Cycle, "error", err)
		}
	}
	return nil
}

// firstSent gives the notice of a letter that was taken first: mail by the
// server, a text message by the gateway, paper by the post; nil for none.
func (j *Job) firstSent(ctx context.Context, claims []reminder.Claim, cycle string) (*reminder.Notice, error) {
	var first *reminder.Notice
	for _, c := range claims {
		if c.Cycle != cycle || j.reported.notices[c.Notice] {
			continue
		}
		k, err := j.Store.Notice(ctx, c.Notice)
		switch {
		case fault.Is(err, fault.NotFound): // past its time
			j.reported.never(c.Notice)
		case err != nil:
			return nil, err
		case k.State == reminder.Silenced && k.Printed.IsZero():
			j.reported.never(c.Notice)
		case k.State == reminder.Sent && (first == nil || k.Sent.Before(first.Sent)):
			first = &k.Notice
		}
	}
	return first, nil
}

// letterSpace is the space of the request ids of letters.
var letterSpace = uuid.MustParse("5b1f3c1e-7a34-4a0e-9a1d-6a3c7c0de2b7")

// writtenStep is that a letter went out. The request has the same id whenever it
// is made, so that two processes that tell the same make one step.
func writtenStep(f *bulletinv1.FollowUp, n reminder.Notice, cycle string) *bulletinv1.RecordFollowUpStepRequest {
	return &bulletinv1.RecordFollowUpStepRequest{
		Name: f.GetName(), Etag: f.GetEtag(), RequestId: uuid.NewSHA1(letterSpace, []byte(f.GetName()+" "+cycle)).String(),
		Step: &bulletinv1.FollowUpStep{
			Kind:     bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_WRITTEN,
			StepDate: vehiclewire.DateProto(vehicle.DateOf(n.Sent.UTC())), Letter: cycle, Text: reminder.LetterWentOut(n.Channel),
		},
	}
}
