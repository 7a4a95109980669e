package reminderreturn

import (
	"context"
	"io"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// FuzzConversation says anything at all to the listener, as LMTP and as SMTP:
// it answers, ends with whoever called, and hands over nothing that is for
// somebody else.
func FuzzConversation(f *testing.F) {
	to := path.Address(theirs)
	for _, lines := range []string{
		"EHLO a\r\nMAIL FROM:<>\r\nRCPT TO:<" + to + ">\r\nDATA\r\nSubject: x\r\n\r\n550 no\r\n.\r\nQUIT\r\n",
		"LHLO a\r\nMAIL FROM:<a@b.example>\r\nRCPT TO:<" + to + ">\r\nRCPT TO:<x@y.example>\r\nDATA\r\n.\r\n",
		"EHLO a\r\nMAIL FROM:<> SIZE=99999999999\r\nBDAT 99 LAST\r\nx", "HELO\r\nRSET\r\nVRFY x\r\nSTARTTLS\r\n", "EHLO a\r\nAUTH PLAIN AAAA\r\n",
		"MAIL FROM:<" + strings.Repeat("a", 3000) + "\r\n", "\x16\x03\x01\x00\xa5\x01", "\r\n\r\n\x00\r\n",
	} {
		f.Add(lines, true)
		f.Add(lines, false)
	}
	f.Fuzz(func(t *testing.T, lines string, lmtp bool) {
		protocol := SMTP
		if lmtp {
			protocol = LMTP
		}
		var mu sync.Mutex
		var strangers []string
		take := func(_ context.Context, recipients []string, _ []byte) error {
			mu.Lock()
			defer mu.Unlock()
			for _, r := range recipients {
				if _, _, ours := path.Read(r); !ours {
					strangers = append(strangers, r)
				}
			}
			return nil
		}
		ours, theirs := net.Pipe()
		l := &Listener{listener: newOneConn(theirs), config: ListenerConfig{
			Protocol: protocol, Path: path, Take: take, Name: "a.example", Timeout: 5 * time.Second, Logger: slog.New(slog.DiscardHandler),
		}}
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() { ended <- l.Serve(ctx) }()
		heard := make(chan bool)
		go func() {
			_, _ = io.Copy(io.Discard, ours)
			close(heard)
		}()
		_, _ = io.WriteString(ours, lines)
		ours.Close()
		<-heard
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		mu.Lock()
		defer mu.Unlock()
		if len(strangers) > 0 {
			t.Errorf("taken for %q", strangers)
		}
	})
}

// oneConn is a listener with one connection, which then waits for its end.
type oneConn struct {
	conn   chan net.Conn
	closed chan bool
	once   sync.Once
}

func newOneConn(c net.Conn) *oneConn {
	l := &oneConn{conn: make(chan net.Conn, 1), closed: make(chan bool)}
	l.conn <- c
	return l
}

func (l *oneConn) Accept() (net.Conn, error) {
	select {
	case c := <-l.conn:
		return c, nil
	case <-l.closed:
		return nil, net.ErrClosed
	}
}

func (l *oneConn) Close() error {
	l.once.Do(func() { close(l.closed) })
	return nil
}

func (l *oneConn) Addr() net.Addr { return &net.UnixAddr{Name: "pipe", Net: "unix"} }
