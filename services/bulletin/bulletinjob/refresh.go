package bulletinjob

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// Outcome is what a pass did.
type Outcome struct {
	Entered []*bulletinstore.Kept // that this pass put on a list
	Steps   int                   // that it made for vehicles on a list
}

// Refresh compares every campaign with what is on record today, and carries
// lists that were cut short to their end. fence is that of the job, nil for a
// caller. What two passes find at once is written by one of them.
func (j *Job) Refresh(ctx context.Context, fence *kv.Fence) (Outcome, error) {
	var out Outcome
	if err := j.Store.CatchUp(ctx); err != nil {
		return out, err
	}
	if err := j.finishBegun(ctx, fence); err != nil {
		return out, err
	}
	campaigns := j.campaigns()
	if len(campaigns) == 0 {
		return out, nil
	}
	asksUse := func(v *bulletinstore.Version) bool { return AsksUse(&v.Bulletin.Set) }
	var errs []error
	fleet, err := j.Fleet(ctx, slices.ContainsFunc(campaigns, asksUse))
	if fleet == nil && ctx.Err() == nil { // how vehicles are used cannot be asked: who does not ask is not held up
		errs = append(errs, err)
		campaigns = slices.DeleteFunc(campaigns, asksUse)
		fleet, err = j.Fleet(ctx, false)
	}
	if fleet == nil {
		return out, err
	}
	if err != nil { // one vehicle cannot be told: the others are not held up
		j.Logger.Error("a vehicle cannot be judged by bulletins", "error", err)
	}
	for _, v := range campaigns {
		err := j.refresh(ctx, fence, v, fleet, &out)
		if errors.Is(err, kv.ErrNotLeader) || ctx.Err() != nil {
			return out, errors.Join(err, ctx.Err())
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", v.Bulletin.ID, err))
		}
	}
	slices.SortFunc(out.Entered, func(a, b *bulletinstore.Kept) int {
		return cmp.Or(cmp.Compare(a.FollowUp.Serial, b.FollowUp.Serial), cmp.Compare(a.FollowUp.Bulletin, b.FollowUp.Bulletin))
	})
	return out, errors.Join(errs...)
}

// campaigns gives the version by which each campaign is read that was ever
// issued.
func (j *Job) campaigns() []*bulletinstore.Version {
	var out []*bulletinstore.Version
	for _, id := range j.Store.IDs() {
		if v := j.Store.Leading(id); v != nil && v.Bulletin.Kind == bulletin.Campaign && v.Bulletin.State != bulletin.Draft {
			out = append(out, v)
		}
	}
	return out
}

// refresh compares one campaign.
func (j *Job) refresh(ctx context.Context, fence *kv.Fence, v *bulletinstore.Version, fleet *bulletin.Fleet, out *Outcome) error {
	ready, err := j.Prepared(v)
	if err != nil {
		return err
	}
	holds := v.Bulletin.State == bulletin.Issued
	if holds {
		entered, err := j.enter(ctx, fence, v, ready, fleet)
		out.Entered = append(out.Entered, entered...)
		if err != nil {
			return err
		}
	}
	compared := &compared{ready, fleet, holds, j.Store.Issued(v.Bulletin.ID)}
	for _, k := range j.Store.OfCampaign(v.Bulletin.ID) {
		made, err := j.observe(ctx, fence, k, compared)
		if lostTo(err) {
			continue // somebody recorded something meanwhile: the next pass looks again
		}
		if err != nil {
			return err
		}
		out.Steps += made
	}
	return nil
}

// enter puts the vehicles on the list of a campaign that came into its set. When
// another does so at the same time, each vehicle is entered by one of the two.
func (j *Job) enter(ctx context.Context, fence *kv.Fence, v *bulletinstore.Version, ready *bulletin.Ready, fleet *bulletin.Fleet) ([]*bulletinstore.Kept, error) {
	var entered []*bulletinstore.Kept
	for {
		growth := ready.Grow(j.Store.Written(v.Bulletin.ID), fleet)
		if len(growth.Entered) == 0 {
			return entered, nil
		}
		some := j.followUps(&v.Bulletin, growth.Entered[:min(len(growth.Entered), bulletinstore.Few)])
		err := j.Store.Enter(ctx, fence, v, some)
		if fault.Is(err, fault.AlreadyExists) {
			if err := j.Store.CatchUp(ctx); err != nil {
				return entered, err
			}
			continue
		}
		if err != nil {
			return entered, err
		}
		for i := range some {
			if k := j.Store.FollowUp(some[i].Serial, v.Bulletin.ID); k != nil {
				entered = append(entered, k)
			}
		}
	}
}

// followUps makes the follow-ups of vehicles that come on a list today.
func (j *Job) followUps(b *bulletin.Bulletin, matches []bulletin.Match) []bulletin.FollowUp {
	out := make([]bulletin.FollowUp, len(matches))
	for i, m := range matches {
		out[i] = b.Enter(m, j.today(), j.now().In(j.Zone))
	}
	return out
}

// compared is what each vehicle on a list is compared with.
type compared struct {
	ready    *bulletin.Ready
	fleet    *bulletin.Fleet
	holds    bool                 // a version is issued
	versions []*bulletin.Bulletin // that ever were
}

// observe takes over what other records say of a vehicle on a list, and gives
// how many steps that made.
func (j *Job) observe(ctx context.Context, fence *kv.Fence, k *bulletinstore.Kept, with *compared) (int, error) {
	seen := j.seen(k.FollowUp.Serial)
	seen.CalledOff, seen.Versions = !with.holds, with.versions
	if m, ok := with.ready.Match(with.fleet, k.FollowUp.Serial); ok {
		seen.Match = &m
	}
	steps := k.FollowUp.Observe(seen, j.today(), j.now().In(j.Zone))
	if len(steps) == 0 {
		return 0, nil
	}
	f := k.FollowUp
	f.Steps = slices.Concat(f.Steps, steps)
	_, err := j.Store.PutFollowUp(ctx, fence, bulletinstore.Request{}, &f, k.Revision)
	return len(steps), err
}

// seen is what the owner service says of a vehicle.
func (j *Job) seen(serial vehicle.Serial) bulletin.Seen {
	n, since := j.standings.of(serial, j.today())
	seen := bulletin.Seen{OwnerSince: since}
	switch n.State {
	case owner.OwnerUnknown:
		seen.OwnerUnknown = true
	case owner.Exported:
		seen.Exported = n.Since
	case owner.Scrapped:
		seen.Scrapped = n.Since
	}
	return seen
}
