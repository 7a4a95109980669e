package works_test

import (
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/console"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// withBook enters the demo's handbook.
func withBook(t *testing.T, ctx context.Context, c works.Clients) {
	t.Helper()
	books, err := aldermoor.Books()
	if err != nil {
		t.Fatal(err)
	}
	k := &console.Console{Access: c.Access, Handbooks: c.Handbooks, Out: io.Discard}
	for _, text := range books {
		if err := k.ImportBook(ctx, text); err != nil {
			t.Fatal(err)
		}
	}
}

// mailedOwner is somebody who owns a vehicle and takes mail, with their address.
func mailedOwner(t *testing.T, ctx context.Context, c works.Clients, addresses map[string]string, serial string) (person, address string) {
	t.Helper()
	ties, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + serial, PageSize: 50})
	if err != nil {
		t.Fatal(err)
	}
	for _, tie := range ties.GetTies() {
		if tie.GetEndDate() == nil && tie.GetRole() == ownerv1.Role_ROLE_OWNER && addresses[tie.GetPerson()] != "" {
			return tie.GetPerson(), addresses[tie.GetPerson()]
		}
	}
	t.Fatalf("nobody who owns %s takes mail", serial)
	return "", ""
}

// tellsOf has a mail server take everything and tell of each recipient that it was
// offered.
func tellsOf(f *fickleServer) chan string {
	offered := make(chan string, 1000)
	f.behave(func(to string) behaviour { offered <- to; return takes })
	return offered
}

// A handbook that somebody asked for goes out without a pass, issued first where it
// would be another by now, and once for each request.
func TestAHandbookIsIssuedAndSentOnceForEachRequest(t *testing.T) {
	server := newFickleServer(t)
	offered := tellsOf(server)
	ctx, c, _, addresses := reminding(t, server)
	withBook(t, ctx, c)
	const serial = "AM0147P"
	person, address := mailedOwner(t, ctx, c, addresses, serial)
	ask := &reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Person: person, Text: "asked for by telephone", RequestId: uuid.NewString()}
	first, err := c.Reminders.SendHandbook(ctx, ask)
	if err != nil {
		t.Fatal(err)
	}
	if !first.GetIssued() || first.GetIssue() != "vehicles/"+serial+"/handbookIssues/1" || len(first.GetNotices()) != 1 || first.GetNotices()[0].GetPurpose() != ownerv1.Purpose_PURPOSE_HANDBOOK {
		t.Fatalf("got %v", first)
	}
	select { // no pass was run
	case <-offered:
	case <-time.After(time.Minute):
		t.Fatal("nothing was handed over without a pass")
	}
	again, err := c.Reminders.SendHandbook(ctx, ask)
	if err != nil || !proto.Equal(again, first) {
		t.Errorf("the same request again: %v, %v", again, err)
	}
	pass(t, ctx, c) // what is under way is finished by then, and nothing more goes out
	if n := notice(t, ctx, c, first.GetNotices()[0].GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
		t.Errorf("it is %v: %s", n.GetState(), n.GetServerAnswer())
	}
	if n := handbookMails(server, address); n != 1 {
		t.Errorf("%d mails came of one request", n)
	}

	// Another request sends again; nothing has changed, and nothing is issued.
	ask = proto.CloneOf(ask)
	ask.RequestId = uuid.NewString()
	second, err := c.Reminders.SendHandbook(ctx, ask)
	if err != nil || second.GetIssued() || second.GetIssue() != first.GetIssue() {
		t.Errorf("got %v, %v", second, err)
	}
	pass(t, ctx, c)
	if n := handbookMails(server, address); n != 2 {
		t.Errorf("%d mails came of two requests", n)
	}

	// The same request for something else is refused.
	ask = proto.CloneOf(ask)
	ask.Text = "another reason"
	if _, err := c.Reminders.SendHandbook(ctx, ask); rpcerr.FromStatus(err).Kind != fault.Invalid {
		t.Errorf("got %v", err)
	}

	// An opt-out is of reminders: what is asked for still comes.
	if _, err := c.Reminders.CreateOptOut(ctx, &reminderv1.CreateOptOutRequest{OptOut: &reminderv1.OptOut{Vehicle: "vehicles/" + serial, Person: person, Way: "staff"}}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Reminders.SendHandbook(ctx, &reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Person: person, Issue: first.GetIssue(), RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	pass(t, ctx, c)
	if n := handbookMails(server, address); n != 3 {
		t.Errorf("%d mails came of three requests", n)
	}
}

// handbookMails counts the mails about handbooks to an address.
func handbookMails(f *fickleServer, to string) int {
	n := 0
	for _, raw := range f.copies(to) {
		if strings.Contains(string(raw), "handbook of your vehicle") || strings.Contains(string(raw), "Handbuch Ihres Fahrzeugs") {
			n++
		}
	}
	return n
}

// Nothing is issued for somebody who cannot be written to, and the refusal says
// why.
func TestAHandbookThatReachesNobodyIsNotIssued(t *testing.T) {
	server := newFickleServer(t)
	tellsOf(server)
	ctx, c, _, addresses := reminding(t, server)
	withBook(t, ctx, c)
	const serial = "AM0147P"
	person, _ := mailedOwner(t, ctx, c, addresses, serial)
	for name, a := range map[string]struct {
		ask  *reminderv1.SendHandbookRequest
		want string
	}{
		"by a letter, where none are printed":  {&reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Person: person, Channel: reminderv1.Channel_CHANNEL_LETTER}, "A letter cannot reach"},
		"by a text message, without a gateway": {&reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Person: person, Channel: reminderv1.Channel_CHANNEL_TEXT}, "A text message cannot reach"},
		"to somebody else":                     {&reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Person: "people/nobody"}, "neither owns"},
	} {
		if _, err := c.Reminders.SendHandbook(ctx, a.ask); rpcerr.FromStatus(err).Kind != fault.FailedPrecondition || !strings.Contains(err.Error(), a.want) {
			t.Errorf("%s: got %v", name, err)
		}
	}
	wrong := &reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Issue: "vehicles/AM0102E/handbookIssues/1", Text: "a\nb", Channel: 9}
	if _, err := c.Reminders.SendHandbook(ctx, wrong); len(rpcerr.FromStatus(err).Fields) != 3 {
		t.Errorf("everything wrong is said at once: got %v", rpcerr.FromStatus(err).Fields)
	}
	if _, err := c.Reminders.SendHandbook(ctx, &reminderv1.SendHandbookRequest{Parent: "vehicles/" + serial, Issue: "vehicles/" + serial + "/handbookIssues/7"}); rpcerr.FromStatus(err).Kind != fault.NotFound {
		t.Errorf("an issue that is not there: got %v", err)
	}
	issues, err := c.Handbooks.ListHandbookIssues(ctx, &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/" + serial})
	if err != nil || len(issues.GetHandbookIssues()) != 0 {
		t.Errorf("got %v, %v", issues.GetHandbookIssues(), err)
	}
}
