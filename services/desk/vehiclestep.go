package desk

import (
	"net/http"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"

	"halfshaft/services/wording"
)

// choices offers the values of an enumeration by their words, the first being
// none.
func choices(names map[int32]string, prefix string, skip ...string) []option {
	var out []option
next:
	for n := int32(1); names[n] != ""; n++ {
		value := names[n][len(prefix):]
		for _, s := range skip {
			if s == value {
				continue next
			}
		}
		out = append(out, option{Value: value, Label: place(lower(value))})
	}
	return out
}

func (v *visit) followUp() (*bulletinv1.FollowUp, error) {
	return v.d.Bulletins.GetFollowUp(v.as(), &bulletinv1.GetFollowUpRequest{Name: v.vehicle() + "/followUps/" + v.r.PathValue("campaign")})
}

// stepForm asks what happened. Work that shows it is chosen from what is on
// record.
func (v *visit) stepForm(x *bulletinv1.FollowUp, remedy []*bulletinv1.RemedyItem) *form {
	f := &form{ID: "step", Action: v.at("/campaigns/" + v.r.PathValue("campaign")), Submit: "Record the step", Fields: []field{
		{Name: "step.kind", Label: "What happened", Options: choices(bulletinv1.FollowUpStepKind_name, "FOLLOW_UP_STEP_KIND_", "ENTERED")},
		{Name: "step.step_date", Label: "On", Type: "date", Hint: "Of a booking, the day agreed."},
		{Name: "step.evidence", Label: "The work that shows it", Options: v.workOptions(), Hint: "For done and not needed. Work that is missing here is recorded first."},
		{Name: "step.text", Label: "In words, without names", Type: "text", Autocomplete: "off"},
	}}
	parts := remedyAsks(remedy)
	if len(parts) > 0 {
		parts[0].Legend = "Where the remedy was carried out"
	}
	f.Fields = append(append(f.Fields, parts...), field{Name: "etag", Type: "hidden", Value: x.GetEtag()}, requestField())
	return f
}

// remedyOf is what the campaign asks for on this vehicle.
func (v *visit) remedyOf(x *bulletinv1.FollowUp) ([]*bulletinv1.RemedyItem, error) {
	all, err := v.d.Bulletins.ListVehicleBulletins(v.as(), &bulletinv1.ListVehicleBulletinsRequest{Parent: v.vehicle(), PageSize: 500})
	if err != nil {
		return nil, err
	}
	for _, b := range all.GetVehicleBulletins() {
		if b.GetFollowUp().GetName() == x.GetName() {
			return b.GetBulletin().GetRemedy(), nil
		}
	}
	return nil, nil
}

// workOptions offers the latest work on the vehicle, and none.
func (v *visit) workOptions() []option {
	out := []option{{Label: "none"}}
	const most = 30
	list, err := v.d.Schedules.ListServiceEntries(v.as(), &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle(), LatestFirst: true, PageSize: most})
	if err != nil {
		return out // the step can be recorded without
	}
	for _, e := range list.GetServiceEntries() {
		if e.GetVoidReason() != "" {
			continue
		}
		text := civil(e.GetServiceDate()) + ", " + wording.Count(len(e.GetItems()), "item")
		if e.GetDoneBy() != "" {
			text += ", by " + e.GetDoneBy()
		}
		if e.GetNote() != "" {
			text += ": " + e.GetNote()
		}
		out = append(out, option{Value: bare(e.GetName()), Label: text})
	}
	return out
}

func (v *visit) showStep() {
	x, err := v.followUp()
	if err != nil {
		v.refuse(err)
		return
	}
	remedy, err := v.remedyOf(x)
	if err != nil {
		v.refuse(err)
		return
	}
	v.stepPage(http.StatusOK, x, v.stepForm(x, remedy))
}

func (v *visit) stepPage(status int, x *bulletinv1.FollowUp, f *form) {
	b := block{Text: []string{wording.Ended(x.GetTitle()) + " " + x.GetSentence()}}
	for _, s := range x.GetSteps() {
		b.List = append(b.List, entry{Term: civil(s.GetStepDate()), Text: word(s.GetKind(), "FOLLOW_UP_STEP_KIND_"), Sub: s.GetText()})
	}
	v.formPage(status, "Campaign "+bare(x.GetName()), f, b)
}

func (v *visit) recordStep() {
	if !v.readForm() {
		return
	}
	x, err := v.followUp()
	if err != nil {
		v.refuse(err)
		return
	}
	remedy, err := v.remedyOf(x)
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	s := &bulletinv1.FollowUpStep{StepDate: t.date("step.step_date"), Text: v.value("step.text"),
		Kind: bulletinv1.FollowUpStepKind(bulletinv1.FollowUpStepKind_value["FOLLOW_UP_STEP_KIND_"+v.value("step.kind")])}
	if id := v.value("step.evidence"); id != "" {
		s.Evidence = v.vehicle() + "/serviceEntries/" + bare(id)
	}
	t.carriedOut(s, remedy)
	if err = t.err(); err == nil {
		_, err = v.d.Bulletins.RecordFollowUpStep(v.as(), &bulletinv1.RecordFollowUpStepRequest{Name: x.GetName(), Step: s, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.stepForm(x, remedy).filled(v)
		v.againPointed(err, f, v.stepField(remedy), func(status int) { v.stepPage(status, x, f) })
		return
	}
	v.goTo(v.at("?done=step"))
}

func (v *visit) standing() (*ownerv1.Standing, error) {
	return v.d.Owners.GetStanding(v.as(), &ownerv1.GetStandingRequest{Name: v.vehicle() + "/standing"})
}

func (v *visit) standingForm(s *ownerv1.Standing) *form {
	f := &form{ID: "standing", Action: v.at("/standing"), Submit: "Record it", Fields: []field{
		{Name: "standing.state", Label: "It is now", Options: choices(ownerv1.StandingState_name, "STANDING_STATE_")},
		{Name: "standing.since_date", Label: "Since", Type: "date", Value: iso(s.GetSinceDate())},
		{Name: "standing.note", Label: "How that is known, without names", Type: "text", Value: s.GetNote(), Autocomplete: "off"},
		{Name: "etag", Type: "hidden", Value: s.GetEtag()}, requestField(),
	}}
	for i := range f.Fields[0].Options {
		o := &f.Fields[0].Options[i]
		o.Chosen = "STANDING_STATE_"+o.Value == s.GetState().String()
	}
	return f
}

func (v *visit) showStanding() {
	s, err := v.standing()
	if err != nil {
		v.refuse(err)
		return
	}
	v.formPage(http.StatusOK, "What became of "+v.r.PathValue("serial"), v.standingForm(s))
}

func (v *visit) setStanding() {
	if !v.readForm() {
		return
	}
	t := &typed{visit: v}
	s := &ownerv1.Standing{Name: v.vehicle() + "/standing", SinceDate: t.date("standing.since_date"), Note: v.value("standing.note"), Etag: v.value("etag"),
		State: ownerv1.StandingState(ownerv1.StandingState_value["STANDING_STATE_"+v.value("standing.state")])}
	err := t.err()
	if err == nil {
		_, err = v.d.Owners.UpdateStanding(v.as(), &ownerv1.UpdateStandingRequest{Standing: s, RequestId: v.request()})
	}
	if err != nil {
		f := v.standingForm(s).filled(v)
		v.again(err, f, func(status int) { v.formPage(status, "What became of "+v.r.PathValue("serial"), f) })
		return
	}
	v.goTo(v.at("?done=standing"))
}
