package works_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"net"
	"net/mail"
	"net/smtp"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/works"
)

// postfix is a mail server of the test's own: its configuration, queue and
// mailboxes stand in one directory, it answers on one port of this machine, and
// no mail leaves the machine.
type postfix struct {
	dir   string
	port  int
	lines chan string // of its log, as they come
	log   []string    // those that came
}

// postfixParts are the daemons that it takes to receive, deliver to mailboxes,
// bounce, and hand over by LMTP (master(5)).
const postfixParts = `127.0.0.1:%d inet n - n - - smtpd
pickup   unix n - n 60 1 pickup
cleanup  unix n - n - 0 cleanup
qmgr     unix n - n 300 1 qmgr
rewrite  unix - - n - - trivial-rewrite
bounce   unix - - n - 0 bounce
defer    unix - - n - 0 bounce
trace    unix - - n - 0 bounce
proxymap unix - - n - - proxymap
lmtp     unix - - n - - lmtp
error    unix - - n - - error
retry    unix - - n - - error
virtual  unix - n n - - virtual
anvil    unix - - n - 1 anvil
scache   unix - - n - 1 scache
postlog  unix-dgram n - n - 1 postlogd
`

// postfixSettings (postconf(5)). It takes mail for a mailbox that does not
// exist, as a server does that only forwards, and so has to bounce it.
const postfixSettings = `compatibility_level = 3.6
queue_directory = %[1]s/queue
data_directory = %[1]s/data
mail_owner = postfix
setgid_group = postdrop
maillog_file = /dev/stdout
myhostname = mx.aldermoor.example
inet_interfaces = loopback-only
inet_protocols = ipv4
mynetworks = 127.0.0.0/8
mydestination =
alias_maps =
alias_database =
fast_flush_domains =
smtpd_relay_restrictions = permit_mynetworks, reject
smtpd_reject_unlisted_recipient = no
smtpd_peername_lookup = no
smtp_dns_support_level = disabled
lmtp_dns_support_level = disabled
default_transport = error:nothing leaves this machine
relay_transport = error:nothing leaves this machine
transport_maps = inline:{ { %[2]s = lmtp:%[3]s } }
virtual_mailbox_domains = %[4]s
virtual_mailbox_maps = inline:{ %[5]s }
virtual_mailbox_base = %[1]s/mail
virtual_uid_maps = static:%[6]d
virtual_gid_maps = static:%[7]d
`

// postfixLasts bounds the life of a server whose test was killed.
const postfixLasts = "120"

// newPostfix chooses a port and makes the directory; the test skips itself
// where Postfix is missing or may not be started.
func newPostfix(t *testing.T) *postfix {
	t.Helper()
	if os.Getuid() != 0 {
		t.Skip("only root starts Postfix, which changes its user for each of its parts")
	}
	if _, err := exec.LookPath("postfix"); err != nil {
		t.Skip("Postfix is not installed: Debian's package is postfix")
	}
	// Not t.TempDir, which only its owner can enter.
	dir, err := os.MkdirTemp("", "halfshaft-postfix-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	return &postfix{dir: dir, port: listener.Addr().(*net.TCPAddr).Port, lines: make(chan string, 10000)}
}

// start delivers to the mailboxes of some people, bounces every other address
// of the same domains, and hands what comes to the domain of returns to the
// socket.
func (p *postfix) start(t *testing.T, returns, socket string, mailboxes, domains []string) {
	t.Helper()
	nobody, err := user.Lookup("nobody")
	if err != nil {
		t.Fatal(err)
	}
	owner, err := user.Lookup("postfix")
	if err != nil {
		t.Fatal(err)
	}
	for sub, who := range map[string]*user.User{"conf": nil, "queue": nil, "data": owner, "mail": nobody} {
		path := filepath.Join(p.dir, sub)
		if err := os.Mkdir(path, 0o755); err != nil {
			t.Fatal(err)
		}
		if who != nil {
			if err := os.Chown(path, number(t, who.Uid), number(t, who.Gid)); err != nil {
				t.Fatal(err)
			}
		}
	}
	var maps []string
	for _, address := range mailboxes {
		maps = append(maps, fmt.Sprintf("{ %s = %s/ }", address, address))
	}
	conf := filepath.Join(p.dir, "conf")
	for name, text := range map[string]string{
		"main.cf": fmt.Sprintf(postfixSettings, p.dir, returns, socket, strings.Join(domains, " "), strings.Join(maps, " "),
			number(t, nobody.Uid), number(t, nobody.Gid)),
		"master.cf": fmt.Sprintf(postfixParts, p.port),
	} {
		if err := os.WriteFile(filepath.Join(conf, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := exec.Command("postfix", "-c", conf, "check").CombinedOutput(); err != nil {
		t.Fatalf("postfix check: %v\n%s", err, out)
	}
	daemons, err := exec.Command("postconf", "-c", conf, "-h", "daemon_directory").Output()
	if err != nil {
		t.Fatal(err)
	}
	// master(8) itself, and not by way of "postfix start": so it is our child.
	master := exec.Command(filepath.Join(strings.TrimSpace(string(daemons)), "master"), "-c", conf, "-s", "-e", postfixLasts)
	out, err := master.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	master.Stderr = master.Stdout
	if err := master.Start(); err != nil {
		t.Fatal(err)
	}
	read := make(chan struct{})
	go func() {
		defer close(read)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			p.lines <- lines.Text()
		}
	}()
	t.Cleanup(func() {
		if err := master.Process.Signal(syscall.SIGTERM); err != nil {
			t.Error(err)
		}
		<-read
		_ = master.Wait() // it ends by the signal
	})
	p.waitFor(t, "daemon started")
}

func number(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// waitFor waits until a line of the log holds all the words.
func (p *postfix) waitFor(t *testing.T, words ...string) {
	t.Helper()
	late := time.NewTimer(30 * time.Second)
	defer late.Stop()
	says := func(line string) bool {
		return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(line, w) })
	}
	for !slices.ContainsFunc(p.log, says) {
		select {
		case line := <-p.lines:
			p.log = append(p.log, line)
		case <-late.C:
			t.Fatalf("Postfix did not say %q:\n%s", words, strings.Join(p.log, "\n"))
		}
	}
}

// delivered reads the one message in a mailbox.
func (p *postfix) delivered(t *testing.T, address string) []byte {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(p.dir, "mail", address, "new", "*"))
	if err != nil || len(files) != 1 {
		t.Fatalf("%d messages for one person, %v\n%s", len(files), err, strings.Join(p.log, "\n"))
	}
	raw, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

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
		Clock: clock.read,
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
	server.start(t, returnsDomain, "unix:"+socket, mailboxes, domains)

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
