package desk

import (
	"net/http"
	"net/url"
	"strings"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
)

// showNotes lists the notes that answers are given from.
func (v *visit) showNotes() {
	q := v.r.URL.Query()
	r, err := v.d.Enquiries.ListAnswerNotes(v.as(), &enquiryv1.ListAnswerNotesRequest{Release: q.Get("release"), PageSize: 100, PageToken: q.Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Notes", Heads: []string{"Question", "For", "Stands"}, Empty: "No note is on record. Write one where the same question comes again and again."}
	for _, n := range r.GetAnswerNotes() {
		t.Rows = append(t.Rows, []cell{{Text: n.GetTitle(), Path: notePath(n.GetName()), Sub: bare(n.GetName())}, {Text: noteSubject(n)}, {Text: noteStands(n)}})
	}
	links := more("/works/notes?release="+url.QueryEscape(q.Get("release"))+"&page=", url.QueryEscape(r.GetNextPageToken()))
	v.worksShow("Answers to frequent questions", block{
		Text:  []string{"The desk is offered a note while it writes down a question like it, once an engineer has reviewed it."},
		Links: []link{{Label: "Write a note", Path: "/works/notes/new"}},
	}, block{Form: &form{ID: "release", Action: "/works/notes", Get: true, Submit: "Show", Fields: []field{
		{Name: "release", Label: "Only for a release", Type: "text", Value: q.Get("release"), Autocomplete: "off", Hint: "As in R3; empty for all."}}}, Table: t, Links: links})
}

func notePath(name string) string { return "/works/notes/" + url.PathEscape(bare(name)) }

func noteSubject(n *enquiryv1.AnswerNote) string {
	out := []string{"every release"}
	if len(n.GetReleases()) > 0 {
		out[0] = "release " + strings.Join(bareAll(n.GetReleases()), ", ")
	}
	if len(n.GetPositions()) > 0 {
		out = append(out, place(strings.Join(n.GetPositions(), ", ")))
	}
	return strings.Join(out, "; ")
}

func noteStands(n *enquiryv1.AnswerNote) string {
	switch {
	case n.GetRetired():
		return "no longer in use"
	case n.GetReviewedBy() == "":
		return "waits for a review" + yes(n.GetSample(), "; a sample")
	}
	return "reviewed by " + n.GetReviewedBy() + " on " + day(n.GetReviewTime()) + yes(n.GetSample(), "; a sample, to be signed by the works' engineer")
}

// noteForm writes a note anew, or changes one.
func noteForm(action string, n *enquiryv1.AnswerNote) *form {
	f := &form{ID: "note", Action: action, Submit: "Keep the note"}
	if n.GetEtag() == "" {
		f.Fields = append(f.Fields, field{Name: "answer_note.name", Label: "Short name", Type: "text", Required: true, Autocomplete: "off", Hint: "In small letters and hyphens, as in drip-at-the-swivel."})
	} else {
		f.Fields = append(f.Fields, field{Name: "etag", Type: "hidden", Value: n.GetEtag()})
	}
	f.Fields = append(f.Fields,
		field{Name: "answer_note.title", Label: "The question, in a line", Type: "text", Value: n.GetTitle(), Required: true, Autocomplete: "off"},
		field{Name: "answer_note.text", Label: "The answer", Value: n.GetText(), Lines: 6, Hint: "As it can be read out on the telephone."},
		field{Name: "answer_note.caution", Label: "What can hurt", Value: n.GetCaution(), Lines: 2, Hint: "And what to do against it; empty for nothing."},
		field{Name: "answer_note.releases", Label: "For releases", Type: "text", Value: strings.Join(n.GetReleases(), ", "), Autocomplete: "off", Hint: "As in R1, R2; empty for all."},
		field{Name: "answer_note.positions", Label: "About positions", Type: "text", Value: place(strings.Join(n.GetPositions(), ", ")), Autocomplete: "off", Hint: "As in front axle differential; empty for the whole vehicle."},
		field{Name: "answer_note.keywords", Label: "Words it is found by, too", Type: "text", Value: strings.Join(n.GetKeywords(), ", "), Autocomplete: "off"},
		field{Name: "answer_note.sample", Label: "It is a sample, to be signed by the works' engineer", Type: "checkbox", Checked: n.GetSample()},
	)
	if n.GetEtag() != "" {
		f.Fields = append(f.Fields, field{Name: "answer_note.retired", Label: "It is no longer in use", Type: "checkbox", Checked: n.GetRetired()})
	}
	f.Fields = append(f.Fields, requestField())
	return f
}

// typedNote is the note that was typed.
func (v *visit) typedNote(name string) *enquiryv1.AnswerNote {
	return &enquiryv1.AnswerNote{
		Name: name, Title: v.value("answer_note.title"), Text: v.value("answer_note.text"), Caution: v.value("answer_note.caution"),
		Releases: v.list("answer_note.releases"), Positions: hyphenedAll(v.list("answer_note.positions")), Keywords: v.list("answer_note.keywords"),
		Sample: v.ticked("answer_note.sample"), Retired: v.ticked("answer_note.retired"), Etag: v.value("etag"),
	}
}

var allNotes = link{Label: "All notes", Path: "/works/notes"}

func (v *visit) showNewNote() {
	v.worksForm(http.StatusOK, "Write a note", noteForm("/works/notes/new", nil), allNotes)
}

func (v *visit) writeNote() {
	if !v.readForm() {
		return
	}
	made, err := v.d.Enquiries.CreateAnswerNote(v.as(), &enquiryv1.CreateAnswerNoteRequest{AnswerNote: v.typedNote("answerNotes/" + bare(v.value("answer_note.name"))), RequestId: v.request()})
	if err != nil {
		f := noteForm("/works/notes/new", nil).filled(v)
		v.againPointed(err, f, nil, func(status int) {
			if short := f.field("answer_note.name"); short.Error != "" { // the collection before it is none of a person's
				short.Error = "Please enter small letters, digits and hyphens, as in drip-at-the-swivel."
			}
			v.worksForm(status, "Write a note", f, allNotes)
		})
		return
	}
	v.goTo(notePath(made.GetName()) + "?done=note")
}

// answerNote is the note of the address.
func (v *visit) answerNote() (*enquiryv1.AnswerNote, error) {
	return v.d.Enquiries.GetAnswerNote(v.as(), &enquiryv1.GetAnswerNoteRequest{Name: "answerNotes/" + v.r.PathValue("note")})
}

func (v *visit) showNote() {
	n, err := v.answerNote()
	if err != nil {
		v.refuse(err)
		return
	}
	v.notePage(http.StatusOK, n, noteForm(notePath(n.GetName()), n))
}

func (v *visit) notePage(status int, n *enquiryv1.AnswerNote, f *form) {
	facts := said(fact{Label: "Short name", Value: bare(n.GetName())}, fact{Label: "Stands", Value: noteStands(n)}, fact{Label: "For", Value: noteSubject(n)}, fact{Label: "Caution", Value: n.GetCaution()})
	blocks := []block{{Text: []string{n.GetText()}, Facts: facts, Links: []link{allNotes}}}
	if v.engineer() && n.GetReviewedBy() == "" && !n.GetRetired() {
		blocks = append(blocks, block{Heading: "Review", Text: []string{"Reviewed, it is offered to the desk as it stands. A later change of its words takes the review away."},
			Form: &form{ID: "review", Action: notePath(n.GetName()) + "/review", Submit: "It is right as it stands", Fields: []field{
				{Name: "etag", Type: "hidden", Value: n.GetEtag()}, requestField()}}})
	}
	v.worksPage(status, n.GetTitle(), append(blocks, block{Heading: "Change", Form: f})...)
}

func (v *visit) changeNote() {
	if !v.readForm() {
		return
	}
	n, err := v.answerNote()
	if err != nil {
		v.refuse(err)
		return
	}
	if _, err := v.d.Enquiries.UpdateAnswerNote(v.as(), &enquiryv1.UpdateAnswerNoteRequest{AnswerNote: v.typedNote(n.GetName()), RequestId: v.request()}); err != nil {
		f := noteForm(notePath(n.GetName()), n).filled(v)
		v.againPointed(err, f, nil, func(status int) { v.notePage(status, n, f) })
		return
	}
	v.goTo(notePath(n.GetName()) + "?done=note")
}

func (v *visit) reviewNote() {
	if !v.readForm() {
		return
	}
	name := "answerNotes/" + v.r.PathValue("note")
	_, err := v.d.Enquiries.ReviewAnswerNote(v.as(), &enquiryv1.ReviewAnswerNoteRequest{Name: name, Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, notePath(name)+"?done=reviewed")
}
