package ownerpages

import (
	"slices"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

// campaignView is a campaign of the works that is open for the vehicle.
type campaignView struct {
	Stop  bool // it is not to be driven
	Title string
	Lines []string
	Mark  string // the word before a caution
	Risk  string // what can hurt; "" for nothing
}

// campaigns gives the campaigns that are open, one that forbids driving first:
// the letter about it leads to this page, which must not say less.
func (v *visit) campaigns() ([]campaignView, error) {
	var all []campaignView
	ask := &bulletinv1.ListVehicleBulletinsRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Bulletins.ListVehicleBulletins(v.owner(), ask)
		if err != nil {
			return nil, err
		}
		for _, x := range page.GetVehicleBulletins() {
			if f := x.GetFollowUp(); f != nil && !over(f.GetState()) {
				all = append(all, v.campaign(x.GetBulletin(), f))
			}
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			slices.SortStableFunc(all, func(a, b campaignView) int { return order(a.Stop) - order(b.Stop) })
			return all, nil
		}
	}
}

func order(first bool) int {
	if first {
		return 0
	}
	return 1
}

// over says whether nothing is left to do for a vehicle of a campaign.
func over(state bulletinv1.FollowUpState) bool {
	switch state {
	case bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOT_NEEDED,
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_CALLED_OFF, bulletinv1.FollowUpState_FOLLOW_UP_STATE_SCRAPPED:
		return true
	}
	return false
}

// campaign says what is wrong, what can happen and what to do until it is put
// right.
func (v *visit) campaign(b *bulletinv1.Bulletin, f *bulletinv1.FollowUp) campaignView {
	view := campaignView{Stop: f.GetStopUse(), Title: v.item("", "title", b.GetTitle()), Mark: v.say("schedule.caution"), Risk: v.item("", "caution", b.GetCaution())}
	for _, part := range []struct{ key, text string }{
		{"campaign.fault", b.GetFault()}, {"campaign.consequence", b.GetConsequence()}, {"campaign.meanwhile", b.GetMeanwhile()},
	} {
		if part.text != "" {
			view.Lines = append(view.Lines, v.say(part.key, "text", v.item("", "campaign", part.text)))
		}
	}
	if on := dayIn(f.GetBookedDate()); !on.IsZero() {
		view.Lines = append(view.Lines, v.say("campaign.booked", "date", v.habit.Date(on)))
	}
	view.Lines = append(view.Lines, v.say("campaign.free"))
	if b.GetSample() {
		view.Lines = append(view.Lines, v.say("campaign.sample"))
	}
	return view
}
