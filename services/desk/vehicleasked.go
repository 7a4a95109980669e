package desk

import (
	"cmp"
	"net/http"
	"strings"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
)

// look is the button that records nothing, and asks what was answered before.
const look = "look"

// askers are who may ask: by name whoever is tied to the vehicle, then the kinds
// of others.
func (v *visit) askers() []option {
	var out []option
	if contacts, err := v.contacts(); err == nil { // it can be recorded without
		for _, c := range contacts {
			if c.GetPerson() != nil {
				out = append(out, option{Value: c.GetTie().GetPerson(), Label: contactWords(c)})
			}
		}
	}
	kinds := choices(enquiryv1.AskerKind_name, "ASKER_KIND_")
	for i := range kinds {
		if k := "ASKER_KIND_" + kinds[i].Value; k == enquiryv1.AskerKind_ASKER_KIND_OWNER.String() {
			kinds[i].Label = "its owner, who is not on record"
		}
	}
	return append(out, kinds...)
}

func (v *visit) enquiryForm() *form {
	return &form{ID: "enquiry", Action: v.at("/enquiries/new"), Submit: "Record the enquiry", Also: []option{{Value: look, Label: "What was answered before?"}}, Fields: []field{
		{Name: "enquiry.asker", Label: "Who asks", Options: v.askers()},
		{Name: "enquiry.channel", Label: "It came by", Options: choices(enquiryv1.EnquiryChannel_name, "ENQUIRY_CHANNEL_")},
		{Name: "enquiry.question", Label: "Question, in their words", Lines: 3},
		{Name: "enquiry.symptom", Label: "What it is about", Type: "text", Autocomplete: "off", Hint: "In the words of the trade and without names, as in weep at the swivel seal."},
		{Name: "answer.text", Label: "Answer, where one was given at once", Lines: 3},
		{Name: "enquiry.follow_up_date", Label: "Call back by", Type: "date", Hint: "Where an answer was promised."}, requestField(),
	}}
}

// similar are earlier enquiries and reviewed answers like a question. It is
// there, empty, before anything is asked: the script puts into it what is like
// the question while it is written.
func (v *visit) similar(question string) block {
	b := block{ID: "similar"}
	if strings.TrimSpace(question) == "" {
		return b
	}
	b.Heading = "Asked and answered before"
	r, err := v.d.Enquiries.SuggestAnswers(v.as(), &enquiryv1.SuggestAnswersRequest{Parent: v.vehicle(), Question: question})
	if err != nil {
		b.Text = []string{sentence(refusal(err))}
		return b
	}
	for _, n := range r.GetAnswerNotes() {
		e := entry{Term: n.GetTitle(), Text: "Reviewed answer.", More: []string{n.GetText()}, MoreLabel: "The answer"}
		if n.GetCaution() != "" {
			e.More = append(e.More, "Caution: "+n.GetCaution())
		}
		b.List = append(b.List, e)
	}
	for _, s := range r.GetEnquiries() {
		q := s.GetEnquiry()
		serial := serialIn(q.GetName())
		e := entry{
			Term: serial + ", " + day(q.GetAskTime()), Path: vehiclePath(serial) + "/enquiries/" + bare(q.GetName()),
			Text: cmp.Or(q.GetQuestion(), q.GetSymptom()), Sub: s.GetSentence(), MoreLabel: "The answer",
		}
		for _, a := range q.GetAnswers() {
			if a.GetText() != "" {
				e.More = append(e.More, a.GetText())
			}
		}
		b.List = append(b.List, e)
	}
	if len(b.List) == 0 {
		b.Text = []string{"Nothing like it was asked before."}
	}
	return b
}

// asked is the question and what it is about, as far as they are written.
func asked(e *enquiryv1.Enquiry) string {
	return strings.TrimSpace(e.GetQuestion() + " " + e.GetSymptom())
}

func (v *visit) showNewEnquiry() {
	f, said := v.enquiryForm(), v.r.URL.Query().Get("question")
	f.field("enquiry.question").Value = said
	v.enquiryFormPage(http.StatusOK, f, said)
}

func (v *visit) enquiryFormPage(status int, f *form, question string) {
	v.formPage(status, "Open an enquiry", f, v.similar(question))
}

func (v *visit) openEnquiry() {
	if !v.readForm() {
		return
	}
	t := &typed{visit: v}
	e := &enquiryv1.Enquiry{
		Channel:  enquiryv1.EnquiryChannel(enquiryv1.EnquiryChannel_value["ENQUIRY_CHANNEL_"+v.value("enquiry.channel")]),
		Question: v.value("enquiry.question"), Symptom: v.value("enquiry.symptom"), FollowUpDate: t.date("enquiry.follow_up_date"),
	}
	if who := v.value("enquiry.asker"); strings.HasPrefix(who, "people/") {
		e.Person, e.AskerKind = who, enquiryv1.AskerKind_ASKER_KIND_OWNER
	} else {
		e.AskerKind = enquiryv1.AskerKind(enquiryv1.AskerKind_value["ASKER_KIND_"+who])
	}
	if v.value("do") == look {
		v.enquiryFormPage(http.StatusOK, v.enquiryForm().filled(v), cmp.Or(asked(e), "?"))
		return
	}
	r := &enquiryv1.CreateEnquiryRequest{Parent: v.vehicle(), RequestId: v.request(), Enquiry: e}
	if text := v.value("answer.text"); text != "" {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: text}
	}
	err := t.err()
	if err == nil {
		_, err = v.d.Enquiries.CreateEnquiry(v.as(), r)
	}
	if err != nil {
		f := v.enquiryForm().filled(v)
		v.again(err, f, func(status int) { v.enquiryFormPage(status, f, asked(e)) })
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
		{Name: "close", Label: "Nothing more is to be done about it", Type: "checkbox", Value: "yes"},
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
	state := "open"
	if e.GetClosed() {
		state = "closed"
	} else if e.GetFollowUpDate() != nil {
		state = "open, to be called back by " + civil(e.GetFollowUpDate())
	}
	b := block{}
	for _, x := range []fact{
		{Label: "Asked on", Value: moment(e.GetAskTime()) + ", by " + word(e.GetChannel(), "ENQUIRY_CHANNEL_")},
		{Label: "By", Value: v.askerName(e)}, {Label: "Question", Value: e.GetQuestion()}, {Label: "About", Value: e.GetSymptom()}, {Label: "State", Value: state},
	} {
		if x.Value != "" {
			b.Facts = append(b.Facts, x)
		}
	}
	for _, a := range e.GetAnswers() {
		b.List = append(b.List, entry{Term: day(a.GetAnswerTime()), Text: a.GetText(), Sub: a.GetAnsweredBy()})
	}
	before := v.similar(asked(e))
	before.List = dropped(before.List, v.at("/enquiries/"+bare(e.GetName())))
	v.formPage(status, "Answer an enquiry", f, b, before)
}

// dropped leaves out what leads to a page: the one that is open.
func dropped(list []entry, path string) (out []entry) {
	for _, e := range list {
		if e.Path != path {
			out = append(out, e)
		}
	}
	return out
}

// askerName is who asked: by name where they are tied to the vehicle.
func (v *visit) askerName(e *enquiryv1.Enquiry) string {
	for _, o := range v.askers() {
		if e.GetPerson() != "" && o.Value == e.GetPerson() {
			return o.Label
		}
	}
	return word(e.GetAskerKind(), "ASKER_KIND_")
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
