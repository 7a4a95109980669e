package works_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"net/mail"
	"net/smtp"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/works"
)

// firstVehicles lays out the demo works' files with its first n vehicles only.
func firstVehicles(t *testing.T, n int) string {
	t.Helper()
	dir := demoFiles(t)
	paths, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	table := func(path string) (rows [][]string, serial int) {
		raw, err := os.ReadFile(path)
		if err == nil {
			rows, err = csv.NewReader(bytes.NewReader(raw)).ReadAll()
		}
		if err != nil || len(rows) == 0 {
			t.Fatal(path, err)
		}
		return rows, slices.Index(rows[0], "serial")
	}
	kept := map[string]bool{"serial": true}
	builds, at := table(filepath.Join(dir, "builds.csv"))
	for _, row := range builds[1 : n+1] {
		kept[row[at]] = true
	}
	for _, path := range paths {
		rows, at := table(path)
		var few bytes.Buffer
		w := csv.NewWriter(&few)
		for _, row := range rows {
			if at < 0 || kept[row[at]] {
				_ = w.Write(row) // into memory
			}
		}
		w.Flush()
		if err := os.WriteFile(path, few.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

const returnsDomain = "back.aldermoor.example"

// TestMailGoesAndComesBackThroughPostfix: one message arrives as it was
// claimed; another bounces, and Postfix's own report takes the notice on to a
// letter and the address out of use.
func TestMailGoesAndComesBackThroughPostfix(t *testing.T) {
	server := newPostfix(t)
	socket := filepath.Join(server.dir, "returns.sock")
	clock := atDemo()
	_, ctx, c := start(t, works.Config{
		Clock: clock.Now,
		Works: works.WorksConfig{
			Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "https://care.aldermoor.example",
			Letters: true, Postal: []string{"Aldermoor Works", "1 Works Lane", "Fictionbury"},
		},
		Mail:    works.MailConfig{Server: fmt.Sprintf("127.0.0.1:%d", server.port), From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
		Returns: works.ReturnsConfig{Path: "returns@" + returnsDomain, LMTP: "unix:" + socket},
	})
	importFiles(t, ctx, c, firstVehicles(t, 12))
	good, bad, addresses := twoToTell(t, ctx, c)
	var mailboxes, domains []string
	for person, address := range addresses {
		if person != bad {
			mailboxes = append(mailboxes, address)
		}
		if _, domain, _ := strings.Cut(address, "@"); !slices.Contains(domains, domain) {
			domains = append(domains, domain)
		}
	}
	server.start(t, "returns@"+returnsDomain, "unix:"+socket, mailboxes, domains)

	sent := map[string]*reminderv1.Notice{} // by person
	for _, n := range pass(t, ctx, c).GetNotices() {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_MAIL {
			sent[n.GetPerson()] = notice(t, ctx, c, n.GetName())
		}
	}
	for _, person := range []string{good, bad} { // the bad one may be back already
		if n := sent[person]; n.GetSendTime() == nil || !strings.HasPrefix(n.GetServerAnswer(), "250 2.0.0") {
			t.Fatalf("%s: %v, %q", n.GetName(), n.GetState(), n.GetServerAnswer())
		}
	}

	server.waitFor(t, "to=<"+addresses[good]+">", "status=sent (delivered to maildir)")
	if n := notice(t, ctx, c, sent[good].GetName()); n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT || len(n.GetReturns()) != 0 {
		t.Errorf("%v with %v came back", n.GetState(), n.GetReturns())
	}
	mailed := server.delivered(t, addresses[good])
	arrived(t, ctx, c, sent[good], addresses[good], mailed)

	server.waitFor(t, "to=<returns+"+sent[bad].GetReturnReference()+".", "status=sent (250 2.0.0")
	bounced(t, ctx, c, sent[bad])

	// And the notice is told by a letter, the mail never again.
	letters := 0
	for range 2 {
		for _, n := range pass(t, ctx, c).GetNotices() {
			if n.GetPerson() == bad && n.GetVehicle() == sent[bad].GetVehicle() {
				if letters++; n.GetChannel() != reminderv1.Channel_CHANNEL_LETTER {
					t.Errorf("told again by %v", n.GetChannel())
				}
			}
		}
	}
	if letters != 1 {
		t.Errorf("%d letters in place of the mail that bounced\n%s", letters, strings.Join(server.log, "\n"))
	}
	stopsByMail(t, ctx, c, server, sent[good], addresses[good], mailed)
}

// stopsByMail answers the List-Unsubscribe of a message by mail, as a mail
// program does (RFC 2369 section 3.2, RFC 6068), and tries an address of its
// own making beside it.
func stopsByMail(t *testing.T, ctx context.Context, c works.Clients, server *postfix, n *reminderv1.Notice, from string, mailed []byte) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(mailed))
	if err != nil {
		t.Fatal(err)
	}
	way := regexp.MustCompile(`<mailto:([^?>]+)`).FindStringSubmatch(m.Header.Get("List-Unsubscribe"))
	if way == nil {
		t.Fatalf("List-Unsubscribe: %s", m.Header.Get("List-Unsubscribe"))
	}
	stop, err := url.PathUnescape(way[1])
	if err != nil {
		t.Fatal(err)
	}
	forged := "returns+" + n.GetReturnReference() + ".aaaaaaaaaaaaaaaaaaaaaaaaaa@" + returnsDomain
	for _, to := range []string{forged, stop} {
		message := "From: " + from + "\r\nTo: " + to + "\r\nSubject: unsubscribe\r\n\r\n\r\n"
		if err := smtp.SendMail(fmt.Sprintf("127.0.0.1:%d", server.port), nil, from, []string{to}, []byte(message)); err != nil {
			t.Fatal(err)
		}
	}
	server.waitFor(t, "to=<"+forged+">", "status=bounced", "said: 550 5.1.1")
	server.waitFor(t, "to=<"+stop+">", "status=sent (250 2.0.0")
	outs, err := c.Reminders.ListOptOuts(ctx, &reminderv1.ListOptOutsRequest{Parent: n.GetVehicle(), PageSize: 10})
	if err != nil || len(outs.GetOptOuts()) != 1 || outs.GetOptOuts()[0].GetPerson() != n.GetPerson() || outs.GetOptOuts()[0].GetWay() != "mail" {
		t.Errorf("opt-outs %v, %v", outs.GetOptOuts(), err)
	}
}

// twoToTell gives two people whom tonight's pass tells by mail, and everybody's
// address.
func twoToTell(t *testing.T, ctx context.Context, c works.Clients) (good, bad string, addresses map[string]string) {
	t.Helper()
	people, err := c.Owners.ListPeople(ctx, &ownerv1.ListPeopleRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	addresses = map[string]string{}
	for _, p := range people.GetPeople() {
		if p.GetEmail() != "" {
			addresses[p.GetName()] = p.GetEmail()
		}
	}
	dry, err := c.Reminders.RunPass(ctx, &reminderv1.RunPassRequest{DryRun: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range dry.GetNotices() {
		switch {
		case n.GetChannel() != reminderv1.Channel_CHANNEL_MAIL || n.GetPerson() == bad:
		case bad == "":
			bad = n.GetPerson()
		default:
			return n.GetPerson(), bad, addresses
		}
	}
	t.Fatalf("the pass tells only %v", dry.GetNotices())
	return
}

// arrived compares what stands in the mailbox with what was claimed: beside the
// trace fields that RFC 5321 section 4.4 asks of servers, and those of Postfix
// for the recipient, everything is as it was.
func arrived(t *testing.T, ctx context.Context, c works.Clients, n *reminderv1.Notice, address string, raw []byte) {
	t.Helper()
	claimed, err := c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: n.GetName()})
	if err != nil {
		t.Fatal(err)
	}
	want := bytes.ReplaceAll(claimed.GetMessage(), []byte("\r\n"), []byte("\n"))
	trace, found := bytes.CutSuffix(raw, want)
	if !found {
		t.Fatalf("the mailbox has\n%s\nand\n%s\nwas claimed", raw, want)
	}
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	if id := m.Header.Get("Message-Id"); id != n.GetMessageId() || bytes.Contains(trace, []byte("Message-ID")) {
		t.Errorf("Message-ID: got %s, want %s", id, n.GetMessageId())
	}
	if to := m.Header.Get("Delivered-To"); to != address {
		t.Errorf("Delivered-To: got %s", to)
	}
	from := "<returns+" + n.GetReturnReference() + "."
	if got := m.Header.Get("Return-Path"); !strings.HasPrefix(got, from) || !strings.HasSuffix(got, "@"+returnsDomain+">") {
		t.Errorf("Return-Path: got %s, want %s…@%s", got, from, returnsDomain)
	}
	if body, err := io.ReadAll(m.Body); err != nil || len(body) == 0 {
		t.Errorf("a body of %d bytes, %v", len(body), err)
	}
}

// bounced checks what became of a notice whose mail came back for good.
func bounced(t *testing.T, ctx context.Context, c works.Clients, before *reminderv1.Notice) {
	t.Helper()
	n := notice(t, ctx, c, before.GetName())
	if len(n.GetReturns()) != 1 || n.GetReturns()[0].GetKind() != reminderv1.ReturnKind_RETURN_KIND_FAILED ||
		!strings.HasPrefix(n.GetReturns()[0].GetText(), "5.1.1 ") || strings.Contains(n.GetReturns()[0].GetText(), "@") {
		t.Errorf("returns %v", n.GetReturns())
	}
	if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_REROUTED {
		t.Errorf("got %v, want REROUTED", n.GetState())
	}
	person, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: n.GetPerson()})
	if err != nil || len(person.GetUndeliverable()) != 1 || person.GetUndeliverable()[0].GetWay() != ownerv1.ContactWay_CONTACT_WAY_MAIL {
		t.Errorf("undeliverable %v, %v", person.GetUndeliverable(), err)
	}
	tasks, err := c.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	found := slices.ContainsFunc(tasks.GetTasks(), func(k *reminderv1.Task) bool {
		return k.GetKind() == "ADDRESS_DEAD" && k.GetNotice() == n.GetName() && !strings.Contains(k.GetText(), "@")
	})
	if !found {
		t.Errorf("no task for the dead address among %v", tasks.GetTasks())
	}
}
