package console

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ofVehicle gives the parent for one vehicle, or for all for "-".
func (c *Console) ofVehicle(ctx context.Context, serial string) (string, error) {
	if serial == "-" {
		return "vehicles/-", nil
	}
	name, err := c.open(ctx, serial)
	return "vehicles/" + serialOf(name), err
}

// Pending prints what comes up and what becomes of it for every person, with
// the reasons.
func (c *Console) Pending(ctx context.Context, serial string, on vehicle.Date) error {
	parent, err := c.ofVehicle(ctx, serial)
	if err != nil {
		return err
	}
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := c.Reminders.ListPending(ctx, &reminderv1.ListPendingRequest{
			Parent: parent, OnDate: vehiclewire.DateProto(on), PageSize: 500, PageToken: token,
		})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, lines, func(s *sheet) {
		if serial == "-" {
			pendingBriefly(s, lines)
		} else {
			pendingLines(s, lines)
		}
	})
}

// Preview prints what somebody would be told about a vehicle on a day. A
// letter is handed to save, since it is a PDF.
func (c *Console) Preview(ctx context.Context, serial, person, channel, purpose string, on vehicle.Date, save func(pdf []byte) (string, error)) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	request := &reminderv1.PreviewNoticeRequest{Parent: "vehicles/" + serialOf(name), OnDate: vehiclewire.DateProto(on)}
	if person != "" {
		request.Person = personName(person)
	}
	if channel != "" {
		value, ok := enumOf(reminderv1.Channel_value, "CHANNEL_", channel)
		if !ok {
			return fault.InvalidField("by", channel, kinds(reminderv1.Channel_name, "CHANNEL_"))
		}
		request.Channel = reminderv1.Channel(value)
	}
	if request.Purpose, err = purposeOf(purpose); err != nil {
		return err
	}
	p, err := c.Reminders.PreviewNotice(ctx, request)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return c.print(p, nil)
	}
	message, err := previewed(p, save)
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) {
		switch {
		case p.GetWouldGo():
			s.line("This would go out%s.", byChannel[p.GetNotice().GetChannel()])
		case message == "" && request.Purpose == ownerv1.Purpose_PURPOSE_YEAR_LETTER:
			s.line("The letter of a year goes out from 27 December on: name such a day with --on.")
		case message == "":
			s.line("There is nothing to send on that day.")
		default:
			s.line("This would not go out:")
		}
		if len(p.GetLines()) > 0 {
			pendingBriefly(s, p.GetLines())
		}
		if message != "" {
			s.line("\n%s", message)
		}
	})
}

// previewed gives the message of a preview to read: of a mail its head and its
// text, a text message as it is, of a letter where it was saved; "" for none.
func previewed(p *reminderv1.PreviewNoticeResponse, save func(pdf []byte) (string, error)) (string, error) {
	if len(p.GetMessage()) == 0 {
		return "", nil
	}
	switch p.GetNotice().GetChannel() {
	case reminderv1.Channel_CHANNEL_LETTER:
		path, err := save(p.GetMessage())
		return "The letter is in " + path + ".", err
	case reminderv1.Channel_CHANNEL_TEXT:
		return string(p.GetMessage()), nil
	}
	return mailText(p.GetMessage())
}

// PrintLetters hands the letters that wait to save as one PDF.
func (c *Console) PrintLetters(ctx context.Context, most int, save func(pdf []byte) (string, error)) error {
	r, err := c.Reminders.PrintLetters(ctx, &reminderv1.PrintLettersRequest{PageSize: int32(most)})
	if err != nil {
		return err
	}
	if len(r.GetNotices()) == 0 {
		return c.print(r, func(s *sheet) { s.line("No letter waits to be printed.") })
	}
	path, err := save(r.GetPdf())
	if err != nil {
		return err
	}
	return c.print(&reminderv1.PrintLettersResponse{Notices: r.GetNotices(), Waiting: r.GetWaiting()}, func(s *sheet) {
		s.line("%s in %s:", plural(len(r.GetNotices()), "letter", "letters"), path)
		for _, n := range r.GetNotices() {
			s.line("  %s to %s (%s)", idOf(n.GetVehicle()), idOf(n.GetPerson()), n.GetName())
		}
		if r.GetWaiting() > 0 {
			s.line("%d more wait.", r.GetWaiting())
		}
		s.text("", "When they are in the post, say so with \"halfshaft letters posted\" and their names, or with --all: until then they may be printed again.")
	})
}

// MarkPosted says that letters were posted; without names, all that were
// printed and wait for it.
func (c *Console) MarkPosted(ctx context.Context, names []string, on vehicle.Date) error {
	if len(names) == 0 {
		waiting, err := c.lettersWaiting(ctx)
		if err != nil {
			return err
		}
		names = waiting
	}
	if len(names) == 0 {
		return c.print(&reminderv1.MarkPostedResponse{}, func(s *sheet) { s.line("No letter waits to be posted.") })
	}
	const most = 100
	all := &reminderv1.MarkPostedResponse{}
	for len(names) > 0 {
		n := min(most, len(names))
		r, err := c.Reminders.MarkPosted(ctx, &reminderv1.MarkPostedRequest{
			Notices: names[:n], PostedDate: vehiclewire.DateProto(on), RequestId: uuid.NewString(),
		})
		if err != nil {
			return err
		}
		all.Notices, names = append(all.Notices, r.GetNotices()...), names[n:]
	}
	return c.print(all, func(s *sheet) {
		for _, n := range all.GetNotices() {
			if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
				s.text("", fmt.Sprintf("The letter about %s to %s did not wait to be posted: it is %s, and stays so. (%s)",
					idOf(n.GetVehicle()), idOf(n.GetPerson()), stateWords(n), n.GetName()))
				continue
			}
			s.text("", fmt.Sprintf("The letter about %s to %s is in the post%s. (%s)", idOf(n.GetVehicle()), idOf(n.GetPerson()), posted(n), n.GetName()))
		}
	})
}

// posted says since which day a letter is in the post.
func posted(n *reminderv1.Notice) string {
	if n.GetSendTime() == nil {
		return ""
	}
	return " since " + n.GetSendTime().AsTime().Format("2 January 2006")
}

// lettersWaiting gives the letters that were printed and are not posted.
func (c *Console) lettersWaiting(ctx context.Context) ([]string, error) {
	notices, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{
			Parent: "vehicles/-", State: reminderv1.NoticeState_NOTICE_STATE_CLAIMED, PageSize: 500, PageToken: token,
		})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	var names []string
	for _, n := range notices {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER && n.GetPrintTime() != nil {
			names = append(names, n.GetName())
		}
	}
	return names, err
}

// Answer is what somebody told the works about work, as typed.
type Answer struct {
	Kind     string // booked, snoozed, done
	Day      vehicle.Date
	Items    []string // "E01": the rounds these are in now; none: all that come up
	Person   string   // who said so; empty: the works
	Workshop string
	Note     string
}

// RecordAnswer records that work is booked, put off, or said to be done.
func (c *Console) RecordAnswer(ctx context.Context, serial string, a Answer) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	kind, ok := enumOf(reminderv1.AnswerKind_value, "ANSWER_KIND_", a.Kind)
	if !ok {
		return fault.InvalidField("kind", a.Kind, kinds(reminderv1.AnswerKind_name, "ANSWER_KIND_"))
	}
	cycles, err := c.roundsOf(ctx, parent, a.Items)
	if err != nil {
		return err
	}
	answer := &reminderv1.Answer{Kind: reminderv1.AnswerKind(kind), Cycles: cycles, AnswerDate: vehiclewire.DateProto(a.Day), Workshop: a.Workshop, Note: a.Note}
	if a.Person != "" {
		answer.Person = personName(a.Person)
	}
	made, err := c.Reminders.CreateAnswer(ctx, &reminderv1.CreateAnswerRequest{Parent: parent, Answer: answer, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { answerLine(s, made) })
}

// roundsOf gives the rounds that items are in now.
func (c *Console) roundsOf(ctx context.Context, parent string, items []string) ([]string, error) {
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := c.Reminders.ListPending(ctx, &reminderv1.ListPendingRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	var cycles, known []string
	seen, wanted := map[string]bool{}, map[string]bool{}
	for _, item := range items {
		wanted[item] = true
	}
	for _, l := range lines {
		if seen[l.GetCycle()] {
			continue
		}
		seen[l.GetCycle()] = true
		known = append(known, l.GetItemId())
		if len(items) == 0 || wanted[l.GetItemId()] {
			cycles = append(cycles, l.GetCycle())
			delete(wanted, l.GetItemId())
		}
	}
	for item := range wanted {
		return nil, fault.InvalidField("items", item, "an item that comes up: "+strings.Join(known, ", "))
	}
	return cycles, nil
}

func answerLine(s *sheet, a *reminderv1.Answer) {
	said := map[reminderv1.AnswerKind]string{
		reminderv1.AnswerKind_ANSWER_KIND_BOOKED:  "booked for ",
		reminderv1.AnswerKind_ANSWER_KIND_SNOOZED: "not before ",
		reminderv1.AnswerKind_ANSWER_KIND_DONE:    "said to be done on ",
	}[a.GetKind()] + day(a.GetAnswerDate())
	if a.GetWorkshop() != "" {
		said += " by " + a.GetWorkshop()
	}
	if a.GetPerson() != "" {
		said += ", says " + idOf(a.GetPerson())
	}
	if a.GetNote() != "" {
		said += fmt.Sprintf(" (%q)", a.GetNote())
	}
	if a.GetWithdrawTime() != nil {
		said += "; taken back" + onTime(a.GetWithdrawTime())
	}
	s.text("", fmt.Sprintf("%s  %s: %s (%s)", serialOf(a.GetName()), strings.Join(itemsOf(a.GetCycles()), ", "), said, a.GetName()))
}

// itemsOf gives the items that rounds are of: "E01" of "E01.2026-05-01".
func itemsOf(cycles []string) []string {
	items := make([]string, len(cycles))
	for i, cycle := range cycles {
		items[i], _, _ = strings.Cut(cycle, ".")
	}
	return items
}

// Answers prints what was said about a vehicle's work.
func (c *Console) Answers(ctx context.Context, serial string) error {
	parent, err := c.ofVehicle(ctx, serial)
	if err != nil {
		return err
	}
	answers, err := page.All(func(token string) ([]*reminderv1.Answer, string, error) {
		r, err := c.Reminders.ListAnswers(ctx, &reminderv1.ListAnswersRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetAnswers(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, answers, func(s *sheet) {
		for _, a := range answers {
			answerLine(s, a)
		}
		if len(answers) == 0 {
			s.line("Nothing was said about its work.")
		}
	})
}

// WithdrawAnswer takes an answer back.
func (c *Console) WithdrawAnswer(ctx context.Context, name string) error {
	a, err := c.Reminders.WithdrawAnswer(ctx, &reminderv1.WithdrawAnswerRequest{Name: name, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(a, func(s *sheet) { answerLine(s, a) })
}

// Stop records that somebody wants no more messages about a vehicle for a
// purpose, or with end that they want them again.
func (c *Console) Stop(ctx context.Context, serial, person, purpose string, end bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	of, err := purposeOf(purpose)
	if err != nil {
		return err
	}
	o := &reminderv1.OptOut{Vehicle: "vehicles/" + serialOf(name), Person: personName(person), Way: "staff", Purpose: of}
	if !end {
		if err := c.mustBeTied(ctx, o.Vehicle, o.Person); err != nil {
			return err
		}
		made, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{OptOut: o, RequestId: uuid.NewString()})
		if err != nil {
			return err
		}
		return c.print(made, func(s *sheet) {
			s.line("%s no longer gets %s about %s. Safety campaigns still go out.", idOf(o.Person), purposeWords[of], serialOf(name))
		})
	}
	o.Name = "optOuts/" + serialOf(name) + "." + idOf(o.Person)
	if o.Purpose != ownerv1.Purpose_PURPOSE_SERVICE {
		o.Name += "." + purpose
	}
	if _, err := c.Reminders.EndOptOut(ctx, &reminderv1.EndOptOutRequest{Name: o.Name, RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(o, func(s *sheet) { s.line("%s gets %s about %s again.", idOf(o.Person), purposeWords[of], serialOf(name)) })
}

// mustBeTied refuses a person who neither is nor was anything to the vehicle:
// a slip at the desk, which would let the one who was meant be written to.
func (c *Console) mustBeTied(ctx context.Context, vehicle, person string) error {
	ties, err := page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: vehicle, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	})
	if err != nil || slices.ContainsFunc(ties, func(t *ownerv1.Tie) bool { return t.GetPerson() == person }) {
		return err
	}
	var known []string
	for _, t := range ties {
		known = append(known, idOf(t.GetPerson()))
	}
	return fault.InvalidField("person", idOf(person), "somebody who is or was something to the vehicle: "+strings.Join(slices.Compact(known), ", "))
}

// Cadences prints how each class of items is reminded of.
func (c *Console) Cadences(ctx context.Context) error {
	cadences, err := page.All(func(token string) ([]*reminderv1.Cadence, string, error) {
		r, err := c.Reminders.ListCadences(ctx, &reminderv1.ListCadencesRequest{PageToken: token})
		return r.GetCadences(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, cadences, func(s *sheet) { cadenceTable(s, cadences...) })
}

func cadenceTable(s *sheet, cadences ...*reminderv1.Cadence) {
	rows := [][]string{{"class", "first told", "overdue", "overdue again", "works told", "apart"}}
	for _, d := range cadences {
		rows = append(rows, cadenceRow(d))
	}
	s.table("", rows)
}

func cadenceRow(d *reminderv1.Cadence) []string {
	second := "never"
	if d.GetSecondOverdueDays() > 0 {
		second = plural(int(d.GetSecondOverdueDays()), "day", "days") + " later"
	}
	return []string{
		idOf(d.GetName()), plural(int(d.GetEarlyDays()), "day", "days") + " before", plural(int(d.GetOverdueDays()), "day", "days") + " after",
		second, plural(int(d.GetWorksDays()), "day", "days") + " later", plural(int(d.GetApartDays()), "day", "days"),
	}
}

// CadenceChange is what is to be different about a cadence; nil leaves a
// number as it is.
type CadenceChange struct{ Early, Overdue, SecondOverdue, Works, Apart *int }

// ChangeCadence changes how one class of items is reminded of.
func (c *Console) ChangeCadence(ctx context.Context, class string, change CadenceChange) error {
	d, err := c.Reminders.GetCadence(ctx, &reminderv1.GetCadenceRequest{Name: "cadences/" + class})
	if err != nil {
		return err
	}
	for to, from := range map[*int32]*int{
		&d.EarlyDays: change.Early, &d.OverdueDays: change.Overdue, &d.SecondOverdueDays: change.SecondOverdue,
		&d.WorksDays: change.Works, &d.ApartDays: change.Apart,
	} {
		if from != nil {
			*to = int32(*from)
		}
	}
	d, err = c.Reminders.UpdateCadence(ctx, &reminderv1.UpdateCadenceRequest{Cadence: d, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(d, func(s *sheet) { cadenceTable(s, d) })
}

// Calendar makes the secret address of a person's calendar of a vehicle, or
// with end makes it dead.
func (c *Console) Calendar(ctx context.Context, serial, person string, end bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	if end {
		r, err := c.Reminders.EndCalendarFeed(ctx, &reminderv1.EndCalendarFeedRequest{
			Name: parent + "/calendarFeeds/" + idOf(personName(person)), RequestId: uuid.NewString(),
		})
		if err != nil {
			return err
		}
		return c.print(r, func(s *sheet) { s.line("The calendar's address is dead.") })
	}
	made, err := c.Reminders.CreateCalendarFeed(ctx, &reminderv1.CreateCalendarFeedRequest{
		Parent: parent, Person: personName(person), RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		address := made.GetAddress()
		if address == "" {
			address = "calendar/" + made.GetSecret() + ".ics"
			s.text("", "Below the address of the works' pages, which this process does not know (serve --public-url):")
		}
		s.line("%s", address)
		s.text("", "This address is shown this once, and an earlier one is dead from now on. Whoever has it sees when the vehicle is due: it is for "+
			idOf(personName(person))+" alone.")
	})
}

// WithdrawLinks makes every link dead that was sent to a person so far.
func (c *Console) WithdrawLinks(ctx context.Context, person string) error {
	if _, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: personName(person)}); err != nil {
		return err
	}
	r, err := c.Reminders.WithdrawLinks(ctx, &reminderv1.WithdrawLinksRequest{Person: personName(person), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) { s.line("Every link that was sent to %s is dead.", idOf(personName(person))) })
}

// TakeReturn takes in a message that came back to the works.
func (c *Console) TakeReturn(ctx context.Context, recipients []string, message []byte) error {
	r, err := c.Reminders.TakeReturn(ctx, &reminderv1.TakeReturnRequest{Recipients: recipients, Message: message})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) {
		if r.GetNotice() == "" {
			s.line("It belongs to no notice of ours.")
			return
		}
		s.line("Of %s: %s.", r.GetNotice(), returnWords[r.GetKind()])
	})
}

// PassDays prints what the passes of past days came to.
func (c *Console) PassDays(ctx context.Context, most int) error {
	r, err := c.Reminders.ListPassDays(ctx, &reminderv1.ListPassDaysRequest{PageSize: int32(most)})
	if err != nil {
		return err
	}
	return printAll(c, r.GetPassDays(), func(s *sheet) {
		for _, d := range r.GetPassDays() {
			s.text("", passDay(d)+": "+countsText(d.GetCounts())+".")
		}
		if len(r.GetPassDays()) == 0 {
			s.line("No pass has run yet.")
		}
	})
}

// passDay is the day of passes, as people write it.
func passDay(d *reminderv1.PassDay) string {
	civil, err := vehicle.ParseDate(idOf(d.GetName()))
	if err != nil {
		return idOf(d.GetName())
	}
	return civil.Long()
}

// countsText says what passes came to: "3 notices (1 early, 2 due; 2 by mail, 1
// by letter), 2 sent, 1 task for the works".
func countsText(n *reminderv1.PassCounts) string {
	text := plural(int(n.GetClaimed()), "notice", "notices")
	var stages, channels []string
	for _, stage := range []struct{ key, text string }{
		{"early", "early"}, {"due", "due"}, {"overdue", "overdue"}, {"second-overdue", "overdue again"},
	} {
		if k := n.GetByStage()[stage.key]; k > 0 {
			stages = append(stages, fmt.Sprintf("%d %s", k, stage.text))
		}
	}
	for _, channel := range []struct{ key, text string }{{"mail", "by mail"}, {"text", "by text message"}, {"letter", "by letter"}} {
		if k := n.GetByChannel()[channel.key]; k > 0 {
			channels = append(channels, fmt.Sprintf("%d %s", k, channel.text))
		}
	}
	if len(stages) > 0 {
		text += " (" + strings.Join(stages, ", ")
		if len(channels) > 0 {
			text += "; " + strings.Join(channels, ", ")
		}
		text += ")"
	}
	for _, more := range []struct {
		n    int32
		what string
	}{{n.GetSent(), "sent"}, {n.GetParked(), "parked"}, {n.GetSilenced(), "silenced"}, {n.GetReturned(), "came back"}} {
		if more.n > 0 {
			text += fmt.Sprintf(", %d %s", more.n, more.what)
		}
	}
	if n.GetTasks() > 0 {
		text += ", " + plural(int(n.GetTasks()), "task", "tasks") + " for the works"
	}
	return text
}

// Document hands a photograph to save.
func (c *Console) Document(ctx context.Context, name string, save func(content []byte) (string, error)) error {
	r, err := c.Owners.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: name})
	if err != nil {
		return err
	}
	path, err := save(r.GetContent())
	if err != nil {
		return err
	}
	return c.print(r.GetDocument(), func(s *sheet) {
		s.line("%s, %s, is in %s.", r.GetDocument().GetTitle(), idOf(r.GetDocument().GetVehicle()), path)
	})
}
