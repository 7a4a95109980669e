package reminderreturn

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/smtp"
	"net/textproto"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	emersion "github.com/emersion/go-smtp"
	"go.uber.org/goleak"

	"halfshaft/services/fault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// desk keeps what a listener hands over.
type desk struct {
	mu    sync.Mutex
	taken []handed
	does  func(message []byte) error // nil keeps everything
	log   bytes.Buffer
}

type handed struct {
	recipients []string
	message    []byte
}

func (d *desk) take(_ context.Context, recipients []string, message []byte) error {
	if d.does != nil {
		if err := d.does(message); err != nil {
			return err
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.taken = append(d.taken, handed{recipients, message})
	return nil
}

func (d *desk) logger() *slog.Logger { return slog.New(slog.NewTextHandler(&d.log, nil)) }

// listens starts a listener until the test ends; the function ends it before.
func (d *desk) listens(t *testing.T, c ListenerConfig) (*Listener, func()) {
	t.Helper()
	c.Path, c.Take, c.Logger = path, d.take, d.logger()
	l, err := NewListener(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- l.Serve(ctx) }()
	end := sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	t.Cleanup(end)
	return l, end
}

func (d *desk) smtp(t *testing.T) (*smtp.Client, *Listener) {
	t.Helper()
	l, _ := d.listens(t, ListenerConfig{Protocol: SMTP, Address: "127.0.0.1:0", Also: []string{"complaints@aldermoor.example"}})
	client, err := smtp.Dial(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { client.Close() })
	return client, l
}

// send sends one message with the standard library's client.
func send(client *smtp.Client, from, to string, message []byte) error {
	if err := client.Mail(from); err != nil {
		return err
	}
	if err := client.Rcpt(to); err != nil {
		return errors.Join(err, client.Reset())
	}
	w, err := client.Data()
	if err != nil {
		return err
	}
	if _, err := w.Write(message); err != nil {
		return err
	}
	return w.Close()
}

func codeOf(err error) int {
	var said *textproto.Error
	if errors.As(err, &said) {
		return said.Code
	}
	return 0
}

func TestAReportIsTakenAsItCame(t *testing.T) {
	message := sample(t, "person") // its Return-Path is a line of the message; ours stands before
	var d desk
	client, _ := d.smtp(t)
	if err := send(client, "", path.Address(theirs), message); err != nil {
		t.Fatal(err)
	}
	if err := send(client, "margaret.hale@harbour.example", strings.ToUpper(path.StopAddress(theirs)), message); err != nil {
		t.Fatal(err)
	}
	if err := send(client, "feedback@bigmail.example", "Complaints@Aldermoor.example", message); err != nil {
		t.Fatal(err)
	}
	want := []handed{
		{[]string{path.Address(theirs)}, append([]byte("Return-Path: <>\r\n"), message...)},
		{[]string{strings.ToUpper(path.StopAddress(theirs))}, append([]byte("Return-Path: <margaret.hale@harbour.example>\r\n"), message...)},
		{[]string{"Complaints@Aldermoor.example"}, append([]byte("Return-Path: <feedback@bigmail.example>\r\n"), message...)},
	}
	if !slices.EqualFunc(d.taken, want, func(a, b handed) bool {
		return slices.Equal(a.recipients, b.recipients) && bytes.Equal(a.message, b.message)
	}) {
		t.Errorf("taken %q", d.taken)
	}
}

func TestAReportIsTakenByLMTP(t *testing.T) {
	var d desk
	socket := filepath.Join(t.TempDir(), "returns.sock")
	l, end := d.listens(t, ListenerConfig{Protocol: LMTP, Address: "unix:" + socket})
	conn, err := net.Dial("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	client := emersion.NewClientLMTP(conn)
	defer client.Close()
	to := []string{path.Address(theirs), path.StopAddress("abc")}
	for range 2 {
		if err := client.SendMail("", to, bytes.NewReader(sample(t, "unknown-user"))); err != nil {
			t.Fatal(err)
		}
	}
	if len(d.taken) != 2 || !slices.Equal(d.taken[1].recipients, to) {
		t.Errorf("taken %q", d.taken)
	}
	if l.Addr().String() != socket {
		t.Errorf("the address is %v", l.Addr())
	}
	end()
	if _, err := os.Stat(socket); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket is left: %v", err)
	}
	if err := client.Noop(); err == nil {
		t.Error("the connection is still open")
	}
}

// TestItRelaysForNobody: RFC 5321 section 4.2.3, 550; RFC 3463 section 3.2,
// X.1.1. Nothing is taken first and sent back later.
func TestItRelaysForNobody(t *testing.T) {
	var d desk
	client, _ := d.smtp(t)
	other := path
	other.Secret = secret(2)
	for _, to := range []string{
		"margaret.hale@harbour.example", "care@aldermoor.example", "returns@aldermoor.example",
		other.Address(theirs), strings.Replace(path.Address(theirs), "aldermoor.example", "else.example", 1),
		"\"" + path.Address("a") + "\"@else.example", path.Address("a") + "@else.example",
	} {
		err := send(client, "", to, sample(t, "person"))
		malformed := strings.Count(to, "@") > 1 && to[0] != '"'
		if err == nil || !malformed && !strings.HasPrefix(err.Error(), "550 \"5.1.1") && !strings.HasPrefix(err.Error(), "550 5.1.1") || codeOf(err)/100 != 5 {
			t.Errorf("%s: %v", to, err)
		}
	}
	if len(d.taken) != 0 {
		t.Errorf("taken %q", d.taken)
	}
}

func TestOneBadMessageStopsNothing(t *testing.T) {
	var d desk
	d.does = func(message []byte) error {
		switch {
		case bytes.Contains(message, []byte("Subject: no room")):
			return errors.New("the store is full")
		case bytes.Contains(message, []byte("Subject: no sense")):
			return fault.InvalidField("message", "", "a message")
		case bytes.Contains(message, []byte("Subject: a trap")):
			panic(string(message))
		}
		return nil
	}
	client, _ := d.smtp(t)
	for _, c := range []struct {
		subject string
		code    int
	}{
		{"no room", 451}, {"no sense", 554}, {"a trap", 451}, {strings.Repeat("a long line\r\n ", MostBytes/10), 552}, {strings.Repeat("x", 3000), 0}, {"good", 0},
	} {
		err := send(client, "", path.Address(theirs), []byte("Subject: "+c.subject+"\r\n\r\nsecret words\r\n"))
		if codeOf(err) != c.code || (err == nil) != (c.code == 0) {
			t.Errorf("%.20s: %v, want %d", c.subject, err, c.code)
		}
	}
	if len(d.taken) != 2 {
		t.Errorf("%d taken", len(d.taken))
	}
	if log := d.log.String(); strings.Contains(log, "secret words") || strings.Contains(log, "aldermoor") || strings.Count(log, "not taken")+strings.Count(log, "failed") != 3 {
		t.Errorf("the log says %s", log)
	}
}

func TestTheAnswerComesAfterTheKeeping(t *testing.T) {
	entered, release := make(chan bool), make(chan bool)
	d := desk{does: func([]byte) error {
		close(entered)
		<-release
		return nil
	}}
	client, _ := d.smtp(t)
	answered := make(chan error, 1)
	go func() { answered <- send(client, "", path.Address(theirs), sample(t, "person")) }()
	<-entered
	select {
	case err := <-answered:
		t.Errorf("answered before it was kept: %v", err)
	default:
	}
	close(release)
	if err := <-answered; err != nil || len(d.taken) != 1 {
		t.Errorf("%v, %d taken", err, len(d.taken))
	}
}

func TestTheEndWaitsForWhatIsBeingTaken(t *testing.T) {
	entered, release := make(chan bool), make(chan bool)
	var d desk
	d.does = func([]byte) error {
		close(entered)
		<-release
		return nil
	}
	l, end := d.listens(t, ListenerConfig{Protocol: SMTP, Address: "127.0.0.1:0"})
	client, err := smtp.Dial(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	lost := make(chan error, 1)
	go func() { lost <- send(client, "", path.Address(theirs), sample(t, "person")) }()
	<-entered
	ended := make(chan bool)
	go func() { end(); close(ended) }()
	if err := <-lost; err == nil { // the connection is closed, so the server sends it again
		t.Error("answered")
	}
	select {
	case <-ended:
		t.Error("ended while a message was being taken")
	default:
	}
	close(release)
	<-ended
	if len(d.taken) != 1 {
		t.Errorf("%d taken", len(d.taken))
	}
}

func TestWhoSaysNothingIsLetGo(t *testing.T) {
	var d desk
	l, _ := d.listens(t, ListenerConfig{Protocol: SMTP, Address: "127.0.0.1:0", Timeout: 100 * time.Millisecond})
	conn, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	heard, err := io.ReadAll(conn)
	if err != nil || !strings.HasPrefix(string(heard), "220 ") || !strings.Contains(string(heard), "\r\n421 ") {
		t.Errorf("heard %q, %v", heard, err)
	}
}

func TestMoreThanSoManyWait(t *testing.T) {
	var d desk
	l, _ := d.listens(t, ListenerConfig{Protocol: SMTP, Address: "127.0.0.1:0", Most: 1})
	first, err := smtp.Dial(l.Addr().String()) // and is greeted
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	second, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	greeting := bufio.NewReader(second)
	if err := second.SetReadDeadline(time.Now().Add(50 * time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	if line, err := greeting.ReadString('\n'); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("the second heard %q, %v, beside the first", line, err)
	}
	first.Close()
	if err := second.SetReadDeadline(time.Time{}); err != nil {
		t.Fatal(err)
	}
	if line, err := greeting.ReadString('\n'); err != nil || !strings.HasPrefix(line, "220 ") {
		t.Errorf("the second heard %q, %v, after the first", line, err)
	}
}

func TestAListenerThatCannotBeIsRefused(t *testing.T) {
	dir := t.TempDir()
	somebodys := filepath.Join(dir, "file")
	if err := os.WriteFile(somebodys, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []ListenerConfig{
		{Protocol: LMTP, Address: "192.0.2.1:24", Path: path}, {Protocol: LMTP, Address: ":24", Path: path},
		{Protocol: "imap", Address: "127.0.0.1:0", Path: path}, {Protocol: SMTP, Address: "nowhere", Path: path},
		{Protocol: SMTP, Address: "unix:" + somebodys, Path: path}, {Protocol: SMTP, Address: "127.0.0.1:0"},
	} {
		if l, err := NewListener(c); err == nil {
			l.listener.Close()
			t.Errorf("%s at %s was opened", c.Protocol, c.Address)
		}
	}
	// A socket that a dead process left is no obstacle.
	socket := filepath.Join(dir, "socket")
	left, err := net.ListenUnix("unix", &net.UnixAddr{Name: socket, Net: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	left.SetUnlinkOnClose(false)
	left.Close()
	l, err := NewListener(ListenerConfig{Protocol: LMTP, Address: "unix:" + socket, Path: path})
	if err != nil {
		t.Fatal(fmt.Errorf("over a socket that was left: %w", err))
	}
	l.listener.Close()
}
