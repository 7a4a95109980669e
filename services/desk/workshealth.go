package desk

import (
	"cmp"
	"net/http"
	"strconv"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"

	"halfshaft/services/wording"
)

// Health is how the machine's side of the works is, as the process of the desk
// sees it.
type Health struct {
	Store     StoreHealth
	Jobs      []JobRun
	Snapshots SnapshotHealth
	Warnings  []string // certificates about to end, old zone data: a sentence each
	Version   string   // of the program, in lines
}

// StoreHealth is how full the store is.
type StoreHealth struct {
	State  string // "well", "nearly full", "full", "corrupt"
	Do     string // what a person has to do; "" for nothing
	File   int64  // bytes of the file, of the fullest member
	InUse  int64
	Quota  int64 // 0: not known
	Alarms []string
	Wait   time.Duration // how long a question to it took
}

// JobRun is the last run of a job.
type JobRun struct {
	Name      string
	Scheduled time.Time // for when it was; zero where it never ran
	Begun     time.Time
	Finished  time.Time // zero while it runs, or where it failed
	Tries     int
}

// lastRun says for when the last run was.
func (j JobRun) lastRun() string {
	if j.Scheduled.IsZero() {
		return "it has not run yet"
	}
	return moment(timestamppb.New(j.Scheduled))
}

// SnapshotHealth is what the newest proved snapshot is.
type SnapshotHealth struct {
	Taken bool // whether this process takes any
	Last  time.Time
	Bytes int64
	Kept  int
}

// showHealth shows whether all is well: what needs somebody first.
func (v *visit) showHealth() {
	h, err := v.d.Health(v.r.Context())
	if err != nil {
		v.refuse(err)
		return
	}
	queue, err := v.mailQueue()
	if err != nil {
		v.refuse(err)
		return
	}
	audit, err := v.d.Audit.GetAuditCheckpoint(v.as(), &accessv1.GetAuditCheckpointRequest{})
	if err != nil {
		v.refuse(err)
		return
	}
	p := view{Title: "Health", Wide: true, Warnings: v.troubles(h), Blocks: []block{
		storeBlock(h.Store), v.snapshotBlock(h.Snapshots), {Heading: "Jobs", Table: v.jobsTable(h.Jobs)}, queue,
		{Heading: "Audit", Facts: []fact{{Label: "Lines in the chain", Value: wording.Number(audit.GetSequence())}}, Links: []link{{Label: "Check the audit", Path: "/audit"}}},
		{Heading: "Program", Facts: []fact{{Label: "Version", Value: h.Version}}, Links: []link{allOfWorks}},
	}}
	if len(p.Warnings) == 0 {
		p.Note = "All is well."
	}
	v.render(http.StatusOK, p)
}

// oldSnapshot is when a snapshot is missed: one is taken each night.
const oldSnapshot = 49 * time.Hour

// troubles are what somebody has to look after, the gravest first.
func (v *visit) troubles(h Health) []string {
	var out []string
	if h.Store.State != "well" {
		out = append(out, wording.Ended("The store is "+h.Store.State+yes(h.Store.Do != "", ": "+h.Store.Do)))
	}
	now := v.d.Clock()
	if s := h.Snapshots; s.Taken && !s.Last.IsZero() && now.Sub(s.Last) > oldSnapshot {
		out = append(out, "The newest snapshot is of "+s.Last.UTC().Format("2 January 2006")+": the nights since had none. The log of the process says why.")
	}
	for _, j := range h.Jobs {
		if j.Finished.IsZero() && j.Tries > 1 {
			out = append(out, "The job "+j.Name+" has failed "+wording.Count(j.Tries-1, "time")+" and is tried again.")
		}
	}
	for _, w := range h.Warnings {
		out = append(out, wording.Ended(wording.UpperFirst(w)))
	}
	return out
}

func storeBlock(s StoreHealth) block {
	facts := []fact{{Label: "State", Value: s.State}, {Label: "File", Value: bytesText(s.File)}, {Label: "Of that in use", Value: bytesText(s.InUse)}}
	if s.Quota > 0 {
		facts = append(facts, fact{Label: "May grow to", Value: bytesText(s.Quota) + ", of which it fills " + shareText(s.File, s.Quota)})
	}
	facts = append(facts, fact{Label: "It answered in", Value: strconv.FormatFloat(float64(s.Wait.Microseconds())/1000, 'f', 1, 64) + " ms"})
	for _, a := range s.Alarms {
		facts = append(facts, fact{Label: "Alarm", Value: a})
	}
	if s.Do != "" {
		facts = append(facts, fact{Label: "To be done", Value: s.Do})
	}
	return block{Heading: "Store", Facts: facts}
}

// shareText is a share in per cent.
func shareText(part, whole int64) string {
	if n := 100 * part / whole; n > 0 {
		return strconv.FormatInt(n, 10) + " %"
	}
	return "less than 1 %"
}

func (v *visit) snapshotBlock(s SnapshotHealth) block {
	b := block{Heading: "Snapshots"}
	switch {
	case s.Last.IsZero() && !s.Taken:
		b.Text = []string{"This process takes none: a cluster has its own operators, or the process was told so."}
	case s.Last.IsZero():
		b.Text = []string{"None has been taken yet; the next is taken in the coming night, at 03:10 UTC."}
	default:
		b.Facts = []fact{{Label: "The newest", Value: s.Last.UTC().Format("2 January 2006") + ", " + bytesText(s.Bytes) + "; restored and compared before it counted"}, {Label: "Kept", Value: strconv.Itoa(s.Kept)}}
		b.Text = []string{"A snapshot on the disk of the store does not survive that disk: copy them to another building."}
	}
	return b
}

// jobWords are what the jobs do.
var jobWords = map[string]string{
	"trim-requests": "Forgets old request identifiers", "defragment-store": "Gives free pages of the store back", "nightly-snapshot": "Takes a snapshot and proves it",
}

func (v *visit) jobsTable(jobs []JobRun) *table {
	t := &table{Caption: "Jobs", Heads: []string{"Job", "Last run for", "Finished", "Took"}, Empty: "No job has run yet; each runs when its time comes."}
	for _, j := range jobs {
		finished, took := cell{Text: "not yet"}, cell{Text: "–"}
		if !j.Finished.IsZero() {
			finished.Text = moment(timestamppb.New(j.Finished))
			lasted := j.Finished.Sub(j.Begun).Round(time.Millisecond)
			took.Text = strconv.FormatFloat(lasted.Seconds(), 'f', 3, 64) + " s"
		}
		if j.Tries > 1 {
			finished.Sub = "at try " + strconv.Itoa(j.Tries)
		}
		t.Rows = append(t.Rows, []cell{{Text: cmp.Or(jobWords[j.Name], j.Name), Sub: yes(jobWords[j.Name] != "", j.Name)}, {Text: j.lastRun()}, finished, took})
	}
	return t
}

// mailQueue says what waits to be sent, and what the last days brought.
func (v *visit) mailQueue() (block, error) {
	b := block{Heading: "Messages to owners"}
	for _, s := range []struct {
		state reminderv1.NoticeState
		label string
	}{
		{reminderv1.NoticeState_NOTICE_STATE_CLAIMED, "To be sent"}, {reminderv1.NoticeState_NOTICE_STATE_WAITING, "Refused for now, tried again"},
		{reminderv1.NoticeState_NOTICE_STATE_PARKED, "Parked, for somebody to look at"},
	} {
		r, err := v.d.Reminders.ListNotices(v.as(), &reminderv1.ListNoticesRequest{Parent: "vehicles/-", State: s.state, PageSize: 500})
		if err != nil {
			return b, err
		}
		b.Facts = append(b.Facts, fact{Label: s.label, Value: counted(len(r.GetNotices()), r.GetNextPageToken())})
	}
	days, err := v.d.Reminders.ListPassDays(v.as(), &reminderv1.ListPassDaysRequest{PageSize: 7})
	if err != nil {
		return b, err
	}
	b.Table = &table{Caption: "The last days", Heads: []string{"Day, UTC", "Written", "Sent", "Parked", "Came back", "Tasks"}, Empty: "No pass has run on any day yet. Passes run by themselves where a mail server, a gateway or letters are set up."}
	for _, d := range days.GetPassDays() {
		c := d.GetCounts()
		row := []cell{{Text: spelled(bare(d.GetName()))}}
		for _, n := range []int32{c.GetClaimed(), c.GetSent(), c.GetParked(), c.GetReturned(), c.GetTasks()} {
			row = append(row, cell{Text: strconv.Itoa(int(n))})
		}
		b.Table.Rows = append(b.Table.Rows, row)
	}
	b.Links = []link{{Label: "Parked notices and tasks", Path: "/fleet/notices"}}
	return b, nil
}

// bytesText is a size for people.
func bytesText(n int64) string {
	switch {
	case n >= 1<<30:
		return strconv.FormatFloat(float64(n)/(1<<30), 'f', 1, 64) + " GiB"
	case n >= 1<<20:
		return strconv.FormatFloat(float64(n)/(1<<20), 'f', 1, 64) + " MiB"
	}
	return strconv.FormatInt((n+1023)>>10, 10) + " KiB"
}
