package works_test

import (
	"bufio"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
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

// postfixSettings (postconf(5)), with the lines for what comes back as
// deploy/OPERATIONS.md has them. It takes mail for a mailbox that does not
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
recipient_delimiter = +
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
// of the same domains, and hands what comes to the address for returns to the
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
