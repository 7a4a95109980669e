package console

import (
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// Enquiry is a question as somebody types it.
type Enquiry struct {
	Channel      string // "telephone"
	Asker        string // "owner"
	Person       string // "p0031", or empty
	Organisation string // "ferncombe", or empty
	Question     string
	Positions    []string
	Symptom      string
	Answer       string // given at once; empty for none
	Links        []string
	FollowUp     vehicle.Date
	Close        bool
}

// AddEnquiry records a question, and the answer where it was given at once.
func (c *Console) AddEnquiry(ctx context.Context, serial string, e Enquiry) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	var bad []fault.Field
	channel, ok := enumOf(enquiryv1.EnquiryChannel_value, "ENQUIRY_CHANNEL_", e.Channel)
	if !ok {
		bad = append(bad, fault.Field{Name: "by", Got: e.Channel, Want: kinds(enquiryv1.EnquiryChannel_name, "ENQUIRY_CHANNEL_")})
	}
	asker, ok := enumOf(enquiryv1.AskerKind_value, "ASKER_KIND_", e.Asker)
	if !ok {
		bad = append(bad, fault.Field{Name: "asker", Got: e.Asker, Want: kinds(enquiryv1.AskerKind_name, "ASKER_KIND_")})
	}
	if e.Answer == "" && len(e.Links) > 0 {
		bad = append(bad, fault.Field{Name: "link", Got: e.Links[0], Want: "none without --answer, which rests on it"})
	}
	if err := fault.InvalidFields(bad); err != nil {
		return err
	}
	p := &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel(channel), AskerKind: enquiryv1.AskerKind(asker),
		Question: e.Question, Positions: hyphenedAll(e.Positions), Symptom: e.Symptom,
		FollowUpDate: vehiclewire.DateProto(e.FollowUp), Closed: e.Close,
	}
	if e.Person != "" {
		p.Person = personName(e.Person)
	}
	if e.Organisation != "" {
		p.Organisation = "organisations/" + strings.TrimPrefix(e.Organisation, "organisations/")
	}
	r := &enquiryv1.CreateEnquiryRequest{Parent: "vehicles/" + serialOf(name), Enquiry: p, RequestId: uuid.NewString()}
	if e.Answer != "" {
		r.Answer = &enquiryv1.EnquiryAnswer{Text: e.Answer, Links: linksOf(e.Links)}
	}
	return c.printEnquiry(c.Enquiries.CreateEnquiry(ctx, r))
}

// linksOf writes the names of records from what was typed: a note is enough by
// its own name.
func linksOf(typed []string) []string {
	out := make([]string, len(typed))
	for i, l := range typed {
		if out[i] = l; !strings.Contains(l, "/") {
			out[i] = noteName(l)
		}
	}
	return out
}

// EnquiryChange is what is to become of an enquiry, beside its answers. What is
// nil or empty stays.
type EnquiryChange struct {
	Question, Symptom *string
	Positions         []string // in place of those there are
	Person            string
	FollowUp          vehicle.Date
	NoFollowUp        bool // nobody comes back to it
	Close, Reopen     bool
}

func (e EnquiryChange) check() error {
	switch {
	case e.Close && e.Reopen:
		return fault.InvalidField("reopen", "--close and --reopen", "one of them")
	case e.NoFollowUp && !e.FollowUp.IsZero():
		return fault.InvalidField("no-follow-up", "--follow-up and --no-follow-up", "one of them")
	case e.Question == nil && e.Symptom == nil && len(e.Positions) == 0 && e.Person == "" && e.FollowUp.IsZero() && !e.NoFollowUp && !e.Close && !e.Reopen:
		return fault.InvalidField("change", "", "something to change: --close, --reopen, --follow-up, --no-follow-up, --symptom, --position, --question or --person")
	}
	return nil
}

// ChangeEnquiry changes what an enquiry says, closes it or opens it again.
func (c *Console) ChangeEnquiry(ctx context.Context, name string, change EnquiryChange) error {
	if err := change.check(); err != nil {
		return err
	}
	e, err := c.Enquiries.GetEnquiry(ctx, &enquiryv1.GetEnquiryRequest{Name: name})
	if err != nil {
		return err
	}
	change.onto(e)
	return c.printEnquiry(c.Enquiries.UpdateEnquiry(ctx, &enquiryv1.UpdateEnquiryRequest{Enquiry: e, RequestId: uuid.NewString()}))
}

func (e EnquiryChange) onto(p *enquiryv1.Enquiry) {
	if e.Question != nil {
		p.Question = *e.Question
	}
	if e.Symptom != nil {
		p.Symptom = *e.Symptom
	}
	if len(e.Positions) > 0 {
		p.Positions = hyphenedAll(e.Positions)
	}
	if e.Person != "" {
		p.Person = personName(e.Person)
	}
	if e.Close || e.NoFollowUp {
		p.FollowUpDate = nil
	}
	if !e.FollowUp.IsZero() {
		p.FollowUpDate = vehiclewire.DateProto(e.FollowUp)
	}
	p.Closed = p.Closed && !e.Reopen || e.Close
}

// hyphenedAll writes positions as they are kept, from how they are said.
func hyphenedAll(said []string) []string {
	out := make([]string, len(said))
	for i, p := range said {
		out[i] = strings.ToLower(strings.Join(strings.Fields(p), "-"))
	}
	return out
}

func (c *Console) printEnquiry(e *enquiryv1.Enquiry, err error) error {
	if err != nil {
		return err
	}
	return c.print(e, func(s *sheet) { enquiryText(s, e) })
}

// AnswerEnquiry records an answer to an enquiry.
func (c *Console) AnswerEnquiry(ctx context.Context, name, text string, links []string, closes bool, followUp vehicle.Date) error {
	return c.printEnquiry(c.Enquiries.RecordAnswer(ctx, &enquiryv1.RecordAnswerRequest{
		Name: name, Answer: &enquiryv1.EnquiryAnswer{Text: text, Links: linksOf(links)}, Close: closes,
		FollowUpDate: vehiclewire.DateProto(followUp), RequestId: uuid.NewString(),
	}))
}

// ListEnquiries prints the enquiries of a vehicle, or with "-" of all.
func (c *Console) ListEnquiries(ctx context.Context, serial string, openOnly bool, followUpBy vehicle.Date) error {
	parent := "vehicles/-"
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		parent = "vehicles/" + serialOf(name)
	}
	all, err := page.All(func(token string) ([]*enquiryv1.Enquiry, string, error) {
		r, err := c.Enquiries.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{
			Parent: parent, OpenOnly: openOnly, FollowUpByDate: vehiclewire.DateProto(followUpBy), PageSize: 500, PageToken: token,
		})
		return r.GetEnquiries(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("No enquiry of that kind is on record.")
		}
		for _, e := range all {
			enquiryText(s, e)
		}
	})
}

// SearchEnquiries prints the enquiries that words, positions and a release find.
func (c *Console) SearchEnquiries(ctx context.Context, query string, positions []string, release string) error {
	r, err := c.Enquiries.SearchEnquiries(ctx, &enquiryv1.SearchEnquiriesRequest{
		Query: query, Positions: hyphenedAll(positions), Release: release, PageSize: 20,
	})
	if err != nil {
		return err
	}
	return printAll(c, r.GetEnquiries(), func(s *sheet) {
		if len(r.GetEnquiries()) == 0 {
			s.line("Nothing like that was asked before.")
		}
		for _, e := range r.GetEnquiries() {
			enquiryText(s, e)
		}
	})
}

// SuggestAnswers prints what was answered to the like of a question before.
func (c *Console) SuggestAnswers(ctx context.Context, serial, question string, positions []string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	r, err := c.Enquiries.SuggestAnswers(ctx, &enquiryv1.SuggestAnswersRequest{
		Parent: "vehicles/" + serialOf(name), Question: question, Positions: hyphenedAll(positions),
	})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) {
		if len(r.GetAnswerNotes()) == 0 && len(r.GetEnquiries()) == 0 {
			s.line("Nothing like that was asked before, and no note is about it.")
		}
		for _, n := range r.GetAnswerNotes() {
			noteText(s, n)
		}
		for _, e := range r.GetEnquiries() {
			enquiryText(s, e.GetEnquiry())
			s.text("    alike: ", e.GetSentence())
		}
	})
}

// enquiryText prints an enquiry with its answers, as far as they are shown.
func enquiryText(s *sheet, e *enquiryv1.Enquiry) {
	state := "open"
	switch {
	case e.GetClosed():
		state = "closed"
	case e.GetFollowUpDate() != nil:
		state = "open, to come back to by " + day(e.GetFollowUpDate())
	}
	who := word(e.GetAskerKind(), "ASKER_KIND_")
	if e.GetPerson() != "" {
		who += " " + idOf(e.GetPerson())
	}
	if e.GetOrganisation() != "" {
		who += " of " + idOf(e.GetOrganisation())
	}
	about := e.GetSymptom()
	if p := e.GetPositions(); len(p) > 0 {
		about = strings.TrimPrefix(about+", "+strings.ReplaceAll(wording.List(p, "and"), "-", " "), ", ")
	}
	s.line("  %s: %s, by %s%s; %s", e.GetName(), who, word(e.GetChannel(), "ENQUIRY_CHANNEL_"), onTime(e.GetAskTime()), state)
	if about != "" {
		s.text("    about:  ", about)
	}
	if e.GetQuestion() != "" {
		s.text("    asked:  ", e.GetQuestion())
	}
	for _, a := range e.GetAnswers() {
		text, links := a.GetText(), strings.Join(a.GetLinks(), ", ")
		switch {
		case links == "":
		case text == "":
			text = "rests on " + links
		default:
			text += " (" + links + ")"
		}
		if text != "" {
			s.text("    answer: ", text)
		}
	}
	if m := e.GetMinutesToAnswer(); m > 0 {
		s.line("    answered within %s", spanWords(int(m)))
	}
}

// spanWords says how long minutes are.
func spanWords(minutes int) string {
	switch {
	case minutes < 120:
		return plural(minutes, "minute", "minutes")
	case minutes < 48*60:
		return fmt.Sprintf("%d hours", minutes/60)
	}
	return fmt.Sprintf("%d days", minutes/60/24)
}
