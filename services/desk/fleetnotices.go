package desk

import (
	"net/http"
	"net/url"
	"strconv"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"

	"halfshaft/services/wording"
)

// mostNotices is how many notices and tasks a page shows: each with a form.
const mostNotices = 30

// showNotices lists what the reminder service left for people.
func (v *visit) showNotices() { v.noticesPage(http.StatusOK, nil) }

// noticesPage shows tasks and parked notices. sent is the form that was refused,
// if one was.
func (v *visit) noticesPage(status int, sent *form) {
	q := v.r.URL.Query()
	tasks, err := v.d.Reminders.ListTasks(v.as(), &reminderv1.ListTasksRequest{PageSize: mostNotices, PageToken: q.Get("tasks")})
	if err != nil {
		v.refuse(err)
		return
	}
	parked, err := v.d.Reminders.ListNotices(v.as(), &reminderv1.ListNoticesRequest{Parent: "vehicles/-",
		State: reminderv1.NoticeState_NOTICE_STATE_PARKED, PageSize: mostNotices, PageToken: q.Get("notices")})
	if err != nil {
		v.refuse(err)
		return
	}
	v.fleetPage(status, "Parked notices and tasks",
		block{Heading: "Tasks", Text: []string{"What could not go on by itself. Say what came of each, and it is off the list."},
			Table: tasksTable(tasks.GetTasks(), sent), Links: more("/fleet/notices?tasks=", url.QueryEscape(tasks.GetNextPageToken()))},
		block{Heading: "Parked notices", Text: []string{"These were refused, or tried long enough. Put the address right with the person first, then take the notice up again."},
			Table: parkedTable(parked.GetNotices()), Links: more("/fleet/notices?notices=", url.QueryEscape(parked.GetNextPageToken()))})
}

// taskWords head the kinds of tasks.
var taskWords = map[string]string{
	"OWNER_SILENT": "The owner is silent", "NOTICE_PARKED": "A notice is parked", "NO_CONTACT": "Nobody can be reached",
	"ADDRESS_DEAD": "An address is dead", "COMPLAINT": "A complaint", "SAID_DONE": "Said to be done", "TRANSFERRED": "Changed hands",
	"REPLY": "An answer came", "STANDSTILL": "Something stands still", "LETTER_INCOMPLETE": "A letter lacks an address", "FIND_OWNER": "Find the owner",
}

func tasksTable(tasks []*reminderv1.Task, sent *form) *table {
	t := &table{Caption: "Tasks", Heads: []string{"What", "Vehicle", "Since", ""}, Empty: "No task is open."}
	for n, x := range tasks {
		serial := serialIn(x.GetVehicle())
		f := &form{ID: "task-" + strconv.Itoa(n+1), Action: "/fleet/notices/task", Submit: "Done", Fields: []field{
			{Name: "name", Type: "hidden", Value: x.GetName()}, {Name: "etag", Type: "hidden", Value: x.GetEtag()},
			{Name: "outcome", Label: "What came of it, " + orWorks(serial), Type: "text", Autocomplete: "off", Required: true}, requestField(),
		}}
		if sent != nil && sent.field("name").Value == x.GetName() {
			f.Fields[2].Value, f.Fields[2].Error, f.Error = sent.Fields[2].Value, sent.Fields[2].Error, sent.Error
		}
		what := taskWords[x.GetKind()]
		if what == "" {
			what = x.GetKind()
		}
		t.Rows = append(t.Rows, []cell{{Text: what, Sub: x.GetText()}, vehicleCell(serial), {Text: day(x.GetCreateTime()), Tight: true}, {Form: f}})
	}
	return t
}

func parkedTable(notices []*reminderv1.Notice) *table {
	t := &table{Caption: "Parked notices", Heads: []string{"Vehicle", "What about", "What stands", ""}, Empty: "No notice is parked."}
	for n, x := range notices {
		serial := serialIn(x.GetVehicle())
		about := cell{Text: word(x.GetStage(), "STAGE_") + " by " + word(x.GetChannel(), "CHANNEL_")}
		if len(x.GetLines()) > 0 {
			about = cell{Text: x.GetLines()[0].GetTitle(), Sub: about.Text}
		}
		why := cell{Text: "tried " + wording.Count(int(x.GetAttempts()), "time"), Sub: x.GetServerAnswer()}
		f := &form{ID: "retry-" + strconv.Itoa(n+1), Action: "/fleet/notices/retry", Submit: "Take up again for " + serial, Fields: []field{
			{Name: "name", Type: "hidden", Value: x.GetName()}, {Name: "etag", Type: "hidden", Value: x.GetEtag()}, requestField(),
		}}
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, about, why, {Form: f}})
	}
	return t
}

func (v *visit) retryNotice() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Reminders.RetryNotice(v.as(), &reminderv1.RetryNoticeRequest{Name: v.value("name"), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, "/fleet/notices?done=retried")
}

func (v *visit) completeTask() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Reminders.CompleteTask(v.as(), &reminderv1.CompleteTaskRequest{Name: v.value("name"), Outcome: v.value("outcome"), Etag: v.value("etag"), RequestId: v.request()})
	if err != nil {
		f := &form{ID: "task", Fields: []field{{Name: "name", Type: "hidden"}, {Name: "etag", Type: "hidden"}, {Name: "outcome", Type: "text"}}}
		f.filled(v)
		v.again(err, f, func(status int) { v.noticesPage(status, f) })
		return
	}
	v.goTo("/fleet/notices?done=task")
}

// vehicleCell leads to a vehicle; tasks of the works itself are about none.
func vehicleCell(serial string) cell {
	if serial == "" {
		return cell{Text: "none"}
	}
	return cell{Text: serial, Path: vehiclePath(serial), Mono: true}
}

func orWorks(serial string) string {
	if serial == "" {
		return "for the works"
	}
	return serial
}
