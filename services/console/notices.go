package console

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Find prints the vehicles that a serial, a frame-number fragment, a
// component's serial or lot, or a plate leads to, and the people who go by the
// words with their vehicles.
func (c *Console) Find(ctx context.Context, query string) error {
	found, err := c.Builds.FindBuilds(ctx, &buildv1.FindBuildsRequest{Query: query, PageSize: 100})
	if err != nil {
		return err
	}
	people, err := c.findPeople(ctx, query)
	if err != nil {
		return err
	}
	if len(found.GetMatches())+len(people) == 0 {
		return c.refuse(query, found)
	}
	if c.JSON && len(people) > 0 {
		if err := c.print(&ownerv1.FindPeopleResponse{People: people}, nil); err != nil {
			return err
		}
	}
	return c.print(found, func(s *sheet) {
		foundPeople(s, people)
		var rows [][]string
		for _, m := range found.GetMatches() {
			former := ""
			if m.GetFormer() {
				former = "formerly"
			}
			rows = append(rows, []string{serialOf(m.GetBuild()), m.GetMatchedBy(), m.GetMatchedText(), former})
		}
		s.table("", rows)
		if found.GetNextPageToken() != "" {
			s.line("More than %d go by it: say more of it.", len(found.GetMatches()))
		}
	})
}

// Notices prints the notices about a vehicle, or about all for "-".
func (c *Console) Notices(ctx context.Context, serial string) error {
	parent := "vehicles/-"
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		parent = "vehicles/" + serialOf(name)
	}
	notices, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, notices, func(s *sheet) { noticeTable(s, notices) })
}

func noticeTable(s *sheet, notices []*reminderv1.Notice) {
	if len(notices) == 0 {
		s.line("No notice.")
	}
	for _, n := range notices {
		s.line("%s  %s, to %s%s: %s%s", idOf(n.GetVehicle()), aboutWords(n), idOf(n.GetPerson()), byChannel[n.GetChannel()],
			stateWords(n), onTime(n.GetSendTime()))
		if n.GetServerAnswer() != "" && n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
			s.text("    ", "the server said: "+n.GetServerAnswer())
		}
		for _, r := range n.GetReturns() {
			said := ""
			if r.GetText() != "" {
				said = ": " + r.GetText()
			}
			s.text("    ", returnWords[r.GetKind()]+", as came back"+onTime(r.GetCreateTime())+said)
		}
		for _, l := range n.GetLines() {
			s.text("    ", fmt.Sprintf("%s by %s: %s", l.GetItemId(), day(l.GetActByDate()), l.GetSentence()))
		}
	}
}

// aboutWords says how far a notice goes, or that it is the letter of a year or a
// handbook.
func aboutWords(n *reminderv1.Notice) string {
	if n.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
		return "letter of the year"
	}
	if n.GetPurpose() == ownerv1.Purpose_PURPOSE_HANDBOOK {
		return "handbook"
	}
	return word(n.GetStage(), "STAGE_")
}

// stateWords says where a notice stands.
func stateWords(n *reminderv1.Notice) string {
	letter := n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER
	switch n.GetState() {
	case reminderv1.NoticeState_NOTICE_STATE_CLAIMED:
		if letter {
			return "waits to be printed and posted"
		}
		return "waits to be sent"
	case reminderv1.NoticeState_NOTICE_STATE_WAITING:
		return "waits to be tried again"
	case reminderv1.NoticeState_NOTICE_STATE_SENT:
		if letter {
			return "posted"
		}
	case reminderv1.NoticeState_NOTICE_STATE_REROUTED:
		return "failed, told another way"
	}
	return word(n.GetState(), "NOTICE_STATE_")
}

func at(t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return " " + t.AsTime().Format("2 January 2006 15:04 UTC")
}

// Notice prints one message as it went out, of a letter its text.
func (c *Console) Notice(ctx context.Context, name string) error {
	n, err := c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: name})
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(n, nil)
	}
	message := n.GetMessage()
	if n.GetNotice().GetChannel() == reminderv1.Channel_CHANNEL_LETTER {
		text, err := letterText(message)
		if err != nil {
			return err
		}
		message = []byte(text)
	}
	_, err = c.Out.Write(message)
	return err
}

// Retry takes a parked notice up again.
func (c *Console) Retry(ctx context.Context, name string) error {
	found, err := c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: name})
	if err != nil {
		return err
	}
	n, err := c.Reminders.RetryNotice(ctx, &reminderv1.RetryNoticeRequest{
		Name: name, Etag: found.GetNotice().GetEtag(), RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(n, func(s *sheet) { noticeTable(s, []*reminderv1.Notice{n}) })
}

// Pass runs a reminder pass now, or tells what it would send: now, or on a day.
func (c *Console) Pass(ctx context.Context, dryRun bool, on vehicle.Date) error {
	r, err := c.Reminders.RunPass(ctx, &reminderv1.RunPassRequest{DryRun: dryRun, OnDate: vehiclewire.DateProto(on)})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) { passText(s, r, dryRun) })
}

func passText(s *sheet, r *reminderv1.PassReport, dryRun bool) {
	held := ""
	if n := r.GetHeldForHours(); n > 0 {
		held = fmt.Sprintf("; %d held until the recipient's day begins", n)
	}
	if dryRun {
		s.text("", "It would make "+countsText(r.GetCounts())+held+".")
	} else {
		s.text("", fmt.Sprintf("%s sent, %d to try again, %d parked, %d silenced, %s for the works%s.",
			plural(int(r.GetSent()), "notice", "notices"), r.GetWaiting(), r.GetParked(), r.GetSilenced(),
			plural(int(r.GetTasks()), "task", "tasks"), held))
	}
	for _, alarm := range r.GetAlarms() {
		s.text("ALARM: ", alarm)
	}
	notices := slices.SortedFunc(slices.Values(r.GetNotices()), func(a, b *reminderv1.Notice) int { return cmp.Compare(a.GetName(), b.GetName()) })
	for _, n := range notices {
		state := ""
		if !dryRun {
			state = ", " + stateWords(n)
		}
		s.text("  ", fmt.Sprintf("%s %s, to %s%s%s: %s", idOf(n.GetVehicle()), aboutWords(n), idOf(n.GetPerson()), byChannel[n.GetChannel()],
			state, strings.Join(lineItems(n), ", ")))
	}
	if more := int(r.GetClaimed()) - len(notices); more > 0 {
		s.text("  ", fmt.Sprintf("and %s more", plural(more, "notice", "notices")))
	}
	if dryRun {
		sinceDayBefore(s, r)
	}
	if len(r.GetHeld()) > 0 {
		s.heading("Held back")
		pendingBriefly(s, r.GetHeld())
	}
	if more := int(r.GetHeldLines()) - len(r.GetHeld()); more > 0 {
		s.text("", fmt.Sprintf("and %s more: see pending", plural(more, "line", "lines")))
	}
}

// lineItems are the items that a notice is about.
func lineItems(n *reminderv1.Notice) []string {
	items := make([]string, len(n.GetLines()))
	for i, l := range n.GetLines() {
		items[i] = l.GetItemId()
	}
	return items
}

// sinceDayBefore prints how a dry run differs from the day before.
func sinceDayBefore(s *sheet, r *reminderv1.PassReport) {
	d := r.GetDayBefore()
	if d == nil {
		return
	}
	s.WriteByte('\n')
	s.text("", fmt.Sprintf("The day before, %s, came to %s.", passDay(d), countsText(d.GetCounts())))
	for _, difference := range r.GetDifferences() {
		s.text("  ", strings.ReplaceAll(difference, " people/", " "))
	}
}

// Tasks prints what the works must look into.
func (c *Console) Tasks(ctx context.Context, all bool) error {
	tasks, err := c.tasks(ctx, all)
	if err != nil {
		return err
	}
	return printAll(c, tasks, func(s *sheet) {
		if len(tasks) == 0 {
			s.line("Nothing to look into.")
		}
		for _, t := range tasks {
			s.text(idOf(t.GetVehicle())+"  ", t.GetText()+" ("+t.GetName()+")")
			if t.GetOutcome() != "" {
				s.text("    ", "done"+at(t.GetCompleteTime())+": "+t.GetOutcome())
			}
		}
	})
}

// tasks lists what the works must look into, and with all what it did.
func (c *Console) tasks(ctx context.Context, all bool) ([]*reminderv1.Task, error) {
	return page.All(func(token string) ([]*reminderv1.Task, string, error) {
		r, err := c.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{IncludeCompleted: all, PageSize: 500, PageToken: token})
		return r.GetTasks(), r.GetNextPageToken(), err
	})
}

// CompleteTask closes a task.
func (c *Console) CompleteTask(ctx context.Context, name, outcome string) error {
	tasks, err := c.tasks(ctx, true)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(tasks, func(t *reminderv1.Task) bool { return t.GetName() == name })
	if i < 0 {
		return fault.InvalidField("done", name, "the name of a task, as \"halfshaft tasks\" prints it")
	}
	t, err := c.Reminders.CompleteTask(ctx, &reminderv1.CompleteTaskRequest{
		Name: name, Outcome: outcome, Etag: tasks[i].GetEtag(), RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(t, func(s *sheet) { s.line("%s is done.", t.GetName()) })
}

// WriteNotices prints a line for each notice: to whom, how far it has gone, and
// about what.
func WriteNotices(w io.Writer, notices []*reminderv1.Notice) {
	s := &sheet{}
	for _, n := range notices {
		items := lineItems(n)
		line := fmt.Sprintf("%s  %s  %-7s  %s to %s: ", n.GetClaimTime().AsTime().Format("15:04 UTC"), idOf(n.GetVehicle()),
			word(n.GetStage(), "STAGE_"), word(n.GetState(), "NOTICE_STATE_"), idOf(n.GetPerson()))
		s.text(line, n.GetLines()[0].GetTitle()+more(items[1:]))
	}
	io.WriteString(w, s.String())
}

// more names what else a notice is about.
func more(items []string) string {
	if len(items) == 0 {
		return ""
	}
	return ", with " + strings.Join(items, ", ")
}
