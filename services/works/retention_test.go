package works_test

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/works"
)

// keptBy says which job carries out each rule that ends; a rule that is not
// here ends nothing by itself.
var keptBy = map[privacyv1.Keep]string{
	privacyv1.Keep_KEEP_WITH_PERSON:   "retention-people",
	privacyv1.Keep_KEEP_WITH_DOCUMENT: "retention-people",
	privacyv1.Keep_KEEP_WITH_NOTICE:   "retention-notices",
	privacyv1.Keep_KEEP_WITH_TASK:     "retention-notices",
	privacyv1.Keep_KEEP_WITH_ACCESS:   "retention-access",
	privacyv1.Keep_KEEP_WITH_AUDIT:    "audit-retention",
}

// endless are the rules that no retention pass here has anything to do with.
var endless = map[privacyv1.Keep]string{
	privacyv1.Keep_KEEP_PASSING:      "it is stored nowhere",
	privacyv1.Keep_KEEP_WITH_VEHICLE: "it is kept for the vehicle's life",
}

func TestEachRuleThatEndsHasAPassThatEndsIt(t *testing.T) {
	p, ctx, _ := start(t, works.Config{})
	jobs, err := works.RetainNow(ctx, p)
	if err != nil {
		t.Fatal(err)
	}
	for number := range privacyv1.Keep_name {
		k := privacyv1.Keep(number)
		switch job := keptBy[k]; {
		case k == privacyv1.Keep_KEEP_UNSPECIFIED:
		case job == "" && endless[k] == "":
			t.Errorf("%v: nobody carries it out, and nobody says why nothing is to be done", k)
		case job != "" && !slices.Contains(jobs, job):
			t.Errorf("%v: there is no job %s among %v", k, job, jobs)
		}
	}
}

// pastTime gives what the next passes remove, by name.
func pastTime(t *testing.T, ctx context.Context, c works.Clients) map[string]*privacyv1.RetentionLine {
	t.Helper()
	out := map[string]*privacyv1.RetentionLine{}
	for _, list := range []func(string) ([]*privacyv1.RetentionLine, string, error){
		func(token string) ([]*privacyv1.RetentionLine, string, error) {
			r, err := c.Owners.ListRetention(ctx, &privacyv1.ListRetentionRequest{PageSize: 3, PageToken: token})
			return r.GetLines(), r.GetNextPageToken(), err
		},
		func(token string) ([]*privacyv1.RetentionLine, string, error) {
			r, err := c.Reminders.ListRetention(ctx, &privacyv1.ListRetentionRequest{PageSize: 3, PageToken: token})
			return r.GetLines(), r.GetNextPageToken(), err
		},
		func(token string) ([]*privacyv1.RetentionLine, string, error) {
			r, err := c.Access.ListRetention(ctx, &privacyv1.ListRetentionRequest{PageSize: 3, PageToken: token})
			return r.GetLines(), r.GetNextPageToken(), err
		},
	} {
		lines, err := page.All(list)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			out[l.GetName()] = l
		}
	}
	return out
}

// TestWhatIsPastItsTimeIsNamedAndThenRemoved lets four years go by.
func TestWhatIsPastItsTimeIsNamedAndThenRemoved(t *testing.T) {
	server := newFickleServer(t)
	server.behave(func(string) behaviour { return takes })
	clock := atDemo()
	p, ctx, c := startDemo(t, works.Config{
		Clock: clock.Now,
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "https://care.aldermoor.example"},
		Mail:  works.MailConfig{Server: server.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
	})
	if pass(t, ctx, c).GetSent() == 0 {
		t.Fatal("nothing was sent")
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}

	// Two who were something once, one of them held, and one who still is.
	former := map[string]*ownerv1.Person{}
	for _, id := range []string{"left", "held", "stays"} {
		person, err := c.Owners.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{
			Name: "people/" + id, FullName: "Somebody", Email: id + "@former.example", TimeZone: "Europe/London",
		}})
		must(err)
		former[id] = person
		tie := &ownerv1.Tie{Person: person.GetName(), Role: ownerv1.Role_ROLE_CARETAKER, StartDate: &date.Date{Year: 2020, Month: 1, Day: 1}}
		made, err := c.Owners.CreateTie(ctx, &ownerv1.CreateTieRequest{Parent: busy, Tie: tie})
		must(err)
		if id != "stays" {
			_, err = c.Owners.EndTie(ctx, &ownerv1.EndTieRequest{Tie: made})
			must(err)
		}
	}
	former["held"].RetentionHold = "file 2026/114"
	_, err := c.Owners.UpdatePerson(ctx, &ownerv1.UpdatePersonRequest{Person: former["held"]})
	must(err)
	var picture bytes.Buffer
	must(png.Encode(&picture, image.NewGray(image.Rect(0, 0, 8, 8))))
	document, err := c.Owners.StoreDocument(ctx, &ownerv1.StoreDocumentRequest{Parent: "people/stays", Content: picture.Bytes(), RequestId: uuid.NewString()})
	must(err)

	key, err := c.Access.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "tablet", Role: accessv1.Role_ROLE_SUPPORT, Bearer: "tablet"}})
	must(err)
	_, err = c.Access.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: key.GetKey().GetName(), Etag: key.GetKey().GetEtag()})
	must(err)
	tasks, err := c.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{})
	must(err)
	if len(tasks.GetTasks()) == 0 {
		t.Fatal("no task to complete")
	}
	task, etag := tasks.GetTasks()[0].GetName(), tasks.GetTasks()[0].GetEtag()
	_, err = c.Reminders.CompleteTask(ctx, &reminderv1.CompleteTaskRequest{Name: task, Outcome: "rung up", Etag: etag})
	must(err)
	notices, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", State: reminderv1.NoticeState_NOTICE_STATE_SENT, PageSize: 500})
	must(err)
	sent := notices.GetNotices()[0]

	// Now nothing of it is past its time, and a pass leaves all of it.
	mine := []string{"people/left", "people/held", document.GetName(), key.GetKey().GetName(), task, sent.GetName()}
	due := pastTime(t, ctx, c)
	for _, name := range mine {
		if due[name] != nil {
			t.Errorf("on the first day: %v", due[name])
		}
	}

	then := clock.Now()
	clock.Set(then.AddDate(4, 0, 0))
	due = pastTime(t, ctx, c)
	for _, name := range mine {
		if l := due[name]; l == nil || l.GetSentence() == "" || l.GetDueDate() == nil || l.GetHeld() != (name == "people/held") {
			t.Errorf("after four years: %s: %v", name, l)
		}
	}
	if due["people/stays"] != nil {
		t.Error("somebody who is tied is to go")
	}
	for range 2 { // the second pass finds nothing to do
		_, err := works.RetainNow(ctx, p)
		must(err)
		left := pastTime(t, ctx, c)
		if names := slices.Sorted(maps.Keys(left)); !slices.Equal(names, []string{"people/held"}) {
			t.Errorf("left after a pass: %v", names)
		}
	}

	_, err = c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/left"})
	if status.Code(err) != codes.NotFound {
		t.Errorf("who left: %v", err)
	}
	for _, id := range []string{"held", "stays"} {
		if _, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: "people/" + id}); err != nil {
			t.Errorf("%s: %v", id, err)
		}
	}
	erasures, err := c.Owners.ListErasures(ctx, &ownerv1.ListErasuresRequest{PageSize: 500})
	must(err)
	found := false
	for _, e := range erasures.GetErasures() {
		found = found || e.GetName() == "erasures/left" && e.GetRecordedBy() == "retention" && strings.Contains(e.GetGround(), "3 years")
	}
	if !found {
		t.Errorf("the erasure is not on record: %v", erasures)
	}
	if _, err := c.Owners.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: document.GetName()}); status.Code(err) != codes.NotFound {
		t.Errorf("the photograph: %v", err)
	}
	// The notice is there without its message, and is not told again.
	_, err = c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: sent.GetName()})
	if status.Code(err) != codes.NotFound {
		t.Errorf("the message: %v", err)
	}
	there, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: sent.GetVehicle(), PageSize: 500})
	must(err)
	after := there.GetNotices()[slices.IndexFunc(there.GetNotices(), func(n *reminderv1.Notice) bool { return n.GetName() == sent.GetName() })]
	if after.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || after.GetServerAnswer() != "" || after.GetMessageId() != "" {
		t.Errorf("the notice: %v", after)
	}
	clock.Set(then.Add(time.Minute))
	if again := pass(t, ctx, c); again.GetClaimed() != 0 {
		t.Errorf("%d notices are told again", again.GetClaimed())
	}
	keys, err := c.Access.ListKeys(ctx, &accessv1.ListKeysRequest{PageSize: 500})
	must(err)
	for _, k := range keys.GetKeys() {
		if k.GetName() == key.GetKey().GetName() {
			t.Error("the key's record is there still")
		}
	}
}
