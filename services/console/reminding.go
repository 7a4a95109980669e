package console

import (
	"context"
	"fmt"
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
	return printAll(c, lines, func(s *sheet) { pendingLines(s, lines) })
}

func pendingLines(s *sheet, lines []*reminderv1.PendingLine) {
	if len(lines) == 0 {
		s.line("Nothing comes up.")
	}
	last := ""
	for _, l := range lines {
		to := "nobody"
		if l.GetPerson() != "" {
			to = idOf(l.GetPerson())
		}
		if head := idOf(l.GetVehicle()) + "  " + to; head != last {
			s.line("%s", head)
			last = head
		}
		s.text("    ", fmt.Sprintf("%s, %s, by %s: %s", l.GetItemId(), l.GetTitle(), day(l.GetActByDate()), l.GetSentence()))
	}
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
		request.Channel = reminderv1.Channel(reminderv1.Channel_value["CHANNEL_"+strings.ToUpper(channel)])
	}
	if purpose != "" {
		request.Purpose = ownerv1.Purpose(ownerv1.Purpose_value["PURPOSE_"+strings.ToUpper(strings.ReplaceAll(purpose, "-", "_"))])
	}
	p, err := c.Reminders.PreviewNotice(ctx, request)
	switch {
	case err != nil:
		return err
	case c.JSON:
		return c.print(p, nil)
	}
	if err := c.print(p, func(s *sheet) {
		if p.GetWouldGo() {
			s.line("This would go out.")
		} else {
			s.line("This would not go out.")
		}
		pendingLines(s, p.GetLines())
	}); err != nil {
		return err
	}
	if len(p.GetMessage()) == 0 {
		return nil
	}
	if p.GetNotice().GetChannel() == reminderv1.Channel_CHANNEL_LETTER {
		path, err := save(p.GetMessage())
		if err == nil {
			_, err = fmt.Fprintf(c.Out, "\nThe letter is in %s.\n", path)
		}
		return err
	}
	_, err = fmt.Fprintf(c.Out, "\n%s\n", p.GetMessage())
	return err
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
			s.line("  %s", n.GetName())
		}
		if r.GetWaiting() > 0 {
			s.line("%d more wait.", r.GetWaiting())
		}
		s.text("", "When they are in the post, say so with \"halfshaft letters posted\" and their names, or with --all: until then they may be printed again.")
	})
}

// MarkPosted says that letters were posted; without names, all that wait.
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
	return c.print(all, func(s *sheet) { noticeTable(s, all.GetNotices()) })
}

func (c *Console) lettersWaiting(ctx context.Context) ([]string, error) {
	notices, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{
			Parent: "vehicles/-", State: reminderv1.NoticeState_NOTICE_STATE_CLAIMED, PageSize: 500, PageToken: token,
		})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	var names []string
	for _, n := range notices {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER {
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
}

// RecordAnswer records that work is booked, put off, or said to be done.
func (c *Console) RecordAnswer(ctx context.Context, serial string, a Answer) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	parent := "vehicles/" + serialOf(name)
	kind, ok := reminderv1.AnswerKind_value["ANSWER_KIND_"+strings.ToUpper(a.Kind)]
	if !ok || kind == 0 {
		return fault.InvalidField("kind", a.Kind, kinds(reminderv1.AnswerKind_name, "ANSWER_KIND_"))
	}
	cycles, err := c.roundsOf(ctx, parent, a.Items)
	if err != nil {
		return err
	}
	answer := &reminderv1.Answer{Kind: reminderv1.AnswerKind(kind), Cycles: cycles, AnswerDate: vehiclewire.DateProto(a.Day), Workshop: a.Workshop}
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
	if a.GetWithdrawTime() != nil {
		said += ", taken back" + at(a.GetWithdrawTime())
	}
	s.text("", fmt.Sprintf("%s  %s: %s (%s)", serialOf(a.GetName()), strings.Join(a.GetCycles(), ", "), said, a.GetName()))
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
	of, ok := ownerv1.Purpose_value["PURPOSE_"+strings.ToUpper(strings.ReplaceAll(purpose, "-", "_"))]
	if !ok {
		return fault.InvalidField("purpose", purpose, "service or year-letter")
	}
	o := &reminderv1.OptOut{
		Vehicle: "vehicles/" + serialOf(name), Person: personName(person), Way: "staff", Purpose: ownerv1.Purpose(of),
	}
	if !end {
		made, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{OptOut: o, RequestId: uuid.NewString()})
		if err != nil {
			return err
		}
		return c.print(made, func(s *sheet) {
			s.line("%s gets no more %s messages about %s. Safety campaigns still go out.", idOf(o.Person), purpose, serialOf(name))
		})
	}
	o.Name = "optOuts/" + serialOf(name) + "." + idOf(o.Person)
	if o.Purpose != ownerv1.Purpose_PURPOSE_SERVICE {
		o.Name += "." + purpose
	}
	if _, err := c.Reminders.EndOptOut(ctx, &reminderv1.EndOptOutRequest{Name: o.Name, RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(o, func(s *sheet) { s.line("%s gets %s messages about %s again.", idOf(o.Person), purpose, serialOf(name)) })
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
	return printAll(c, cadences, func(s *sheet) {
		rows := [][]string{{"class", "first told", "overdue", "overdue again", "works told", "apart"}}
		for _, d := range cadences {
			rows = append(rows, cadenceRow(d))
		}
		s.table("", rows)
	})
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
	return c.print(d, func(s *sheet) { s.table("", [][]string{cadenceRow(d)}) })
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
		s.line("%s", made.GetAddress())
		s.text("", "This address is shown this once, and an earlier one is dead from now on. Whoever has it sees when the vehicle is due: it is for "+
			idOf(personName(person))+" alone.")
	})
}

// WithdrawLinks makes every link dead that was sent to a person so far.
func (c *Console) WithdrawLinks(ctx context.Context, person string) error {
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
		s.line("%s: %s", r.GetNotice(), word(r.GetKind(), "RETURN_KIND_"))
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
			s.line("%s  %s", idOf(d.GetName()), countsText(d.GetCounts()))
		}
		if len(r.GetPassDays()) == 0 {
			s.line("No pass has run yet.")
		}
	})
}

// countsText says what passes came to, in a line.
func countsText(n *reminderv1.PassCounts) string {
	parts := []string{plural(int(n.GetClaimed()), "notice", "notices")}
	for _, stage := range []string{"early", "due", "overdue", "second-overdue"} {
		if k := n.GetByStage()[stage]; k > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", k, strings.ReplaceAll(stage, "-", " ")))
		}
	}
	for _, channel := range []string{"mail", "text", "letter"} {
		if k := n.GetByChannel()[channel]; k > 0 {
			parts = append(parts, fmt.Sprintf("%d by %s", k, channel))
		}
	}
	for _, more := range []struct {
		n    int32
		what string
	}{{n.GetSent(), "sent"}, {n.GetParked(), "parked"}, {n.GetSilenced(), "silenced"}, {n.GetReturned(), "came back"}, {n.GetTasks(), "for the works"}} {
		if more.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", more.n, more.what))
		}
	}
	return strings.Join(parts, ", ")
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
