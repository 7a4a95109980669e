package works_test

import (
	"fmt"
	"io"
	"maps"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	gomail "github.com/emersion/go-message/mail"
	"github.com/google/go-cmp/cmp"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle/vehiclewire"
)

// failed says that a notice did not arrive: another may tell the same.
func failed(n *reminderv1.Notice) bool {
	switch n.GetState() {
	case reminderv1.NoticeState_NOTICE_STATE_REROUTED, reminderv1.NoticeState_NOTICE_STATE_PARKED, reminderv1.NoticeState_NOTICE_STATE_SILENCED:
		return true
	}
	return false
}

// usual is how many service messages somebody gets in 30 days unless they said
// otherwise.
const usual = 4

// invariants looks at all notices of the year together. That each came at a
// good hour was seen when it went out.
func (y *year) invariants(notices []*reminderv1.Notice) {
	once := map[string]string{}
	to := map[string][]*reminderv1.Notice{}
	for _, n := range notices {
		serial, person, at := last(n.GetVehicle()), last(n.GetPerson()), n.GetClaimTime().AsTime()
		if gone := y.gone[serial+" "+person]; !gone.IsZero() && n.GetPurpose() == ownerv1.Purpose_PURPOSE_SERVICE && !at.Before(gone) {
			y.t.Errorf("%s went to %s, who was nothing to it since %s", n.GetName(), person, gone)
		}
		for _, l := range n.GetLines() {
			round := serial + " " + l.GetCycle()
			if covered := y.covered[round]; !covered.IsZero() && !at.Before(covered) {
				y.t.Errorf("%s tells of %s, recorded as done at %s", n.GetName(), l.GetCycle(), covered)
			}
			for quiet := range slices.Chunk(y.silent[round], 2) {
				if !at.Before(quiet[0]) && at.Before(quiet[1]) {
					y.t.Errorf("%s tells of %s, of which it was said to be quiet from %s until %s", n.GetName(), l.GetCycle(), quiet[0], quiet[1])
				}
			}
			if failed(n) {
				continue
			}
			key := fmt.Sprint(round, " ", l.GetStage(), " ", person)
			if before := once[key]; before != "" {
				y.t.Errorf("%s and %s tell one stage of one round", before, n.GetName())
			}
			once[key] = n.GetName()
		}
		if n.GetPurpose() == ownerv1.Purpose_PURPOSE_SERVICE && !failed(n) {
			to[person] = append(to[person], n)
		}
	}
	for person, all := range to {
		y.limit(person, all)
	}
}

// limit looks whether somebody got more in 30 days than they are to get. What
// bears on safety, and is due or worse, does not count.
func (y *year) limit(person string, all []*reminderv1.Notice) {
	most := int(y.person(person).GetMostMessages())
	if most == 0 {
		most = usual
	}
	slices.SortFunc(all, func(a, b *reminderv1.Notice) int { return a.GetClaimTime().AsTime().Compare(b.GetClaimTime().AsTime()) })
	for i, n := range all {
		begin := n.GetClaimTime().AsTime().AddDate(0, 0, -29)
		within := 0
		for _, m := range all[:i+1] {
			if m.GetClaimTime().AsTime().After(begin) {
				within++
			}
		}
		if within > most && n.GetStage() == reminderv1.Stage_STAGE_EARLY {
			y.t.Errorf("%s is message %d to %s in 30 days, at most %d are wanted", n.GetName(), within, person, most)
		}
	}
}

// explained are the reasons for which an item whose day has come may be untold.
var explained = map[string]bool{
	"TOLD": true, "MONTHLY_LIMIT": true, "TOO_SOON_AFTER": true, "BOOKED": true, "SNOOZED": true, "SAID_DONE": true, "OPTED_OUT": true,
	"NO_CONSENT": true, "NO_WAY": true, "NOBODY": true, "DECEASED": true, "SCRAPPED": true, "WAITING_TO_SEND": true,
	"LETTER_TO_PRINT": true, "PARKED": true, "WORKS_TOLD": true,
}

// allExplained looks whether every item whose day has come was told, or stands
// there with a reason, for everybody who is to be told.
func (y *year) allExplained() {
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := y.c.Reminders.ListPending(y.ctx, &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	y.must(err, "what comes up")
	if len(lines) == 0 {
		y.t.Error("nothing comes up at all")
	}
	for _, l := range lines {
		day, err := vehiclewire.Date(l.GetActByDate())
		y.must(err, "a line's day")
		if !day.After(y.today()) && !explained[l.GetReason()] {
			y.t.Errorf("%s %s to %s, by %s, was not told: %s %s", l.GetVehicle(), l.GetCycle(), l.GetPerson(), day, l.GetReason(), l.GetSentence())
		}
		if l.GetSentence() == "" {
			y.t.Errorf("%s %s: %s without a sentence", l.GetVehicle(), l.GetCycle(), l.GetReason())
		}
	}
}

// ownMailsOnly looks into the mails that came since it looked last: none holds
// a name or an address of anybody but its recipient.
func (y *year) ownMailsOnly() {
	y.mails.mu.Lock()
	defer y.mails.mu.Unlock()
	for address, copies := range y.mails.taken {
		for _, raw := range copies[y.looked[address]:] {
			text := y.mailText(raw)
			for _, p := range y.people {
				if p.GetEmail() == address || p == nil {
					continue
				}
				if p.GetEmail() != "" && strings.Contains(text, p.GetEmail()) || strings.Contains(text, p.GetFullName()) && !y.namesake(p, address) {
					y.t.Errorf("the mail to %s tells of %s", address, p.GetName())
				}
			}
		}
		y.looked[address] = len(copies)
	}
}

// namesake says whether the one at the address bears the other's name.
func (y *year) namesake(other *ownerv1.Person, address string) bool {
	for _, p := range y.people {
		if p.GetEmail() == address && p.GetFullName() == other.GetFullName() {
			return true
		}
	}
	return false
}

// mailText is the head and every part of a mail, decoded.
func (y *year) mailText(raw []byte) string {
	if _, err := mail.ReadMessage(strings.NewReader(string(raw))); err != nil {
		y.t.Errorf("a mail cannot be read: %v", err)
	}
	r, err := gomail.CreateReader(strings.NewReader(string(raw)))
	y.must(err, "a mail")
	var b strings.Builder
	for fields := r.Header.Fields(); fields.Next(); {
		text, err := fields.Text()
		y.must(err, "a header field")
		b.WriteString(text + "\n")
	}
	for {
		part, err := r.NextPart()
		if err == io.EOF {
			return b.String()
		}
		y.must(err, "a part of a mail")
		body, err := io.ReadAll(part.Body)
		y.must(err, "a part of a mail")
		b.Write(body)
	}
}

func (y *year) heading(serial string) string {
	return serial + ", from " + y.begin.Format(time.DateOnly) + " for a year\n\n"
}

// forTheWorks adds the tasks that came up.
func (y *year) forTheWorks() {
	tasks, err := page.All(func(token string) ([]*reminderv1.Task, string, error) {
		r, err := y.c.Reminders.ListTasks(y.ctx, &reminderv1.ListTasksRequest{IncludeCompleted: true, PageSize: 500, PageToken: token})
		return r.GetTasks(), r.GetNextPageToken(), err
	})
	y.must(err, "the tasks")
	slices.SortStableFunc(tasks, func(a, b *reminderv1.Task) int { return a.GetCreateTime().AsTime().Compare(b.GetCreateTime().AsTime()) })
	for _, task := range tasks {
		serial := last(task.GetVehicle())
		y.lines[serial] = append(y.lines[serial], y.known(fmt.Sprintf("%s UTC  for the works: %s",
			task.GetCreateTime().AsTime().Format("2006-01-02 15:04"), task.GetText())))
	}
}

// why says of every vehicle of which nothing was told why that is.
func (y *year) why() {
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := y.c.Reminders.ListPending(y.ctx, &reminderv1.ListPendingRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	y.must(err, "what comes up")
	silent := map[string]map[string]bool{}
	for _, l := range lines {
		serial := last(l.GetVehicle())
		if silent[serial] == nil && len(y.lines[serial]) == 0 {
			silent[serial] = map[string]bool{}
		}
		if silent[serial] != nil {
			silent[serial][fmt.Sprintf("to %s: %s", last(l.GetPerson()), l.GetSentence())] = true
		}
	}
	for serial, sentences := range silent {
		y.lines[serial] = append(y.lines[serial], "Nothing went out. At the end of the year it stands so:")
		y.lines[serial] = append(y.lines[serial], slices.Sorted(maps.Keys(sentences))...)
	}
}

// transcripts holds what became of each vehicle's people against the golden
// files, one for each vehicle: who got what, when and why, and what they did.
func (y *year) transcripts(notices []*reminderv1.Notice) {
	became := map[string][]string{}
	for _, n := range notices {
		if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
			serial := last(n.GetVehicle())
			became[serial] = append(became[serial], fmt.Sprintf("%s: %s %s", y.known(last(n.GetName())), small(n.GetState().String(), "NOTICE_STATE_"), n.GetServerAnswer()))
		}
	}
	y.forTheWorks()
	y.why()
	dir := filepath.Join("testdata", "year")
	if *update {
		y.must(os.RemoveAll(dir), "clearing the transcripts")
		y.must(os.MkdirAll(dir, 0o755), "making room for the transcripts")
	}
	for _, serial := range slices.Sorted(maps.Keys(y.lines)) {
		text := y.heading(serial) + strings.Join(y.lines[serial], "\n") + "\n"
		if some := became[serial]; len(some) > 0 {
			text += "\nWhat did not arrive as it was meant to:\n" + strings.Join(some, "\n") + "\n"
		}
		path := filepath.Join(dir, serial+".txt")
		if *update {
			y.must(os.WriteFile(path, []byte(text), 0o644), "writing %s", path)
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			y.t.Errorf("%s has no transcript yet: run with -update and read it", serial)
			continue
		}
		if diff := cmp.Diff(string(want), text); diff != "" {
			y.t.Errorf("%s (-want +got):\n%s", serial, diff)
		}
	}
}
