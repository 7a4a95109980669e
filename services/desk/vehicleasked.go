package desk

import (
	"net/http"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
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

func (v *visit) enquiryForm() *form {
	return &form{ID: "enquiry", Action: v.at("/enquiries/new"), Submit: "Record the enquiry", Fields: []field{
		{Name: "enquiry.channel", Label: "It came by", Options: choices(enquiryv1.EnquiryChannel_name, "ENQUIRY_CHANNEL_")},
		{Name: "enquiry.asker_kind", Label: "Who asked", Options: choices(enquiryv1.AskerKind_name, "ASKER_KIND_")},
		{Name: "enquiry.question", Label: "Question, in their words", Lines: 3},
		{Name: "enquiry.symptom", Label: "What it is about", Type: "text", Autocomplete: "off", Hint: "In the words of the trade and without names, as in weep at the swivel seal."},
		{Name: "answer.text", Label: "Answer, where one was given at once", Lines: 3},
		{Name: "enquiry.follow_up_date", Label: "Come back to it by", Type: "date"}, requestField(),
	}}
}

func (v *visit) showNewEnquiry() { v.formPage(http.StatusOK, "Open an enquiry", v.enquiryForm()) }

func (v *visit) openEnquiry() {
	if !v.readForm() {
		return
	}
	t := &typed{visit: v}
	r := &enquiryv1.CreateEnquiryRequest{Parent: v.vehicle(), RequestId: v.request(), Enquiry: &enquiryv1.Enquiry{
		Channel:   enquiryv1.EnquiryChannel(enquiryv1.EnquiryChannel_value["ENQUIRY_CHANNEL_"+v.value("enquiry.channel")]),
		AskerKind: enquiryv1.AskerKind(enquiryv1.AskerKind_value["ASKER_KIND_"+v.value("enquiry.asker_kind")]),
		Question:  v.value("enquiry.question"), Symptom: v.value("enquiry.symptom"), FollowUpDate: t.date("enquiry.follow_up_date"),
	}}
	if text := v.value("answer.text"); text != "" {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: text}
	}
	err := t.err()
	if err == nil {
		_, err = v.d.Enquiries.CreateEnquiry(v.as(), r)
	}
	if err != nil {
		f := v.enquiryForm().filled(v)
		v.again(err, f, func(status int) { v.formPage(status, "Open an enquiry", f) })
		return
	}
	v.goTo(v.at("?done=enquiry"))
}

func (v *visit) enquiry() (*enquiryv1.Enquiry, error) {
	return v.d.Enquiries.GetEnquiry(v.as(), &enquiryv1.GetEnquiryRequest{Name: v.vehicle() + "/enquiries/" + v.r.PathValue("enquiry")})
}

func (v *visit) answerForm(e *enquiryv1.Enquiry) *form {
	return &form{ID: "answer", Action: v.at("/enquiries/" + v.r.PathValue("enquiry")), Submit: "Record the answer", Fields: []field{
		{Name: "answer.text", Label: "What was said", Lines: 4},
		{Name: "close", Label: "It is done with", Type: "checkbox", Value: "yes"},
		{Name: "etag", Type: "hidden", Value: e.GetEtag()}, requestField(),
	}}
}

func (v *visit) showEnquiry() {
	e, err := v.enquiry()
	if err != nil {
		v.refuse(err)
		return
	}
	v.enquiryPage(http.StatusOK, e, v.answerForm(e))
}

func (v *visit) enquiryPage(status int, e *enquiryv1.Enquiry, f *form) {
	b := block{Facts: []fact{{Label: "Asked", Value: moment(e.GetAskTime())}, {Label: "Question", Value: e.GetQuestion()}, {Label: "About", Value: e.GetSymptom()}}}
	for _, a := range e.GetAnswers() {
		b.List = append(b.List, entry{Term: day(a.GetAnswerTime()), Text: a.GetText(), Sub: a.GetAnsweredBy()})
	}
	v.formPage(status, "Answer an enquiry", f, b)
}

func (v *visit) answerEnquiry() {
	if !v.readForm() {
		return
	}
	e, err := v.enquiry()
	if err != nil {
		v.refuse(err)
		return
	}
	_, err = v.d.Enquiries.RecordAnswer(v.as(), &enquiryv1.RecordAnswerRequest{
		Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: v.value("answer.text")}, Close: v.value("close") != "", Etag: v.value("etag"), RequestId: v.request(),
	})
	if err != nil {
		f := v.answerForm(e).filled(v)
		v.again(err, f, func(status int) { v.enquiryPage(status, e, f) })
		return
	}
	v.goTo(v.at("?done=answered"))
}

func (v *visit) followUp() (*bulletinv1.FollowUp, error) {
	return v.d.Bulletins.GetFollowUp(v.as(), &bulletinv1.GetFollowUpRequest{Name: v.vehicle() + "/followUps/" + v.r.PathValue("campaign")})
}

func (v *visit) stepForm(x *bulletinv1.FollowUp) *form {
	return &form{ID: "step", Action: v.at("/campaigns/" + v.r.PathValue("campaign")), Submit: "Record the step", Fields: []field{
		{Name: "step.kind", Label: "What happened", Options: choices(bulletinv1.FollowUpStepKind_name, "FOLLOW_UP_STEP_KIND_", "ENTERED")},
		{Name: "step.step_date", Label: "On", Type: "date", Hint: "Of a booking, the day agreed."},
		{Name: "step.evidence", Label: "The work that shows it", Type: "text", Autocomplete: "off", Hint: "For done and not needed: the end of the address of the work's page."},
		{Name: "step.text", Label: "In words, without names", Type: "text", Autocomplete: "off"},
		{Name: "etag", Type: "hidden", Value: x.GetEtag()}, requestField(),
	}}
}

func (v *visit) showStep() {
	x, err := v.followUp()
	if err != nil {
		v.refuse(err)
		return
	}
	v.stepPage(http.StatusOK, x, v.stepForm(x))
}

func (v *visit) stepPage(status int, x *bulletinv1.FollowUp, f *form) {
	b := block{Text: []string{x.GetTitle() + ". " + x.GetSentence()}}
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
	t := &typed{visit: v}
	s := &bulletinv1.FollowUpStep{StepDate: t.date("step.step_date"), Text: v.value("step.text"),
		Kind: bulletinv1.FollowUpStepKind(bulletinv1.FollowUpStepKind_value["FOLLOW_UP_STEP_KIND_"+v.value("step.kind")])}
	if id := v.value("step.evidence"); id != "" {
		s.Evidence = v.vehicle() + "/serviceEntries/" + bare(id)
	}
	if err = t.err(); err == nil {
		_, err = v.d.Bulletins.RecordFollowUpStep(v.as(), &bulletinv1.RecordFollowUpStepRequest{Name: x.GetName(), Step: s, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.stepForm(x).filled(v)
		v.again(err, f, func(status int) { v.stepPage(status, x, f) })
		return
	}
	v.goTo(v.at("?done=step"))
}

func (v *visit) standing() (*ownerv1.Standing, error) {
	return v.d.Owners.GetStanding(v.as(), &ownerv1.GetStandingRequest{Name: v.vehicle() + "/standing"})
}

func (v *visit) standingForm(s *ownerv1.Standing) *form {
	f := &form{ID: "standing", Action: v.at("/standing"), Submit: "Record it", Fields: []field{
		{Name: "standing.state", Label: "What became of it", Options: choices(ownerv1.StandingState_name, "STANDING_STATE_")},
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
	v.formPage(http.StatusOK, "What became of it", v.standingForm(s))
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
		v.again(err, f, func(status int) { v.formPage(status, "What became of it", f) })
		return
	}
	v.goTo(v.at("?done=standing"))
}
