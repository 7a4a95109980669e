package works

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-message/mail"
	"github.com/emersion/go-smtp"
)

// mailbox is the demo's mail server: a real SMTP server on loopback that keeps
// what it takes as .eml files.
type mailbox struct {
	dir     string
	address string
	server  *smtp.Server

	mu    sync.Mutex
	taken int
}

// maxMailBytes is more than any notice.
const maxMailBytes = 1 << 20

func openMailbox(dir string, logger *slog.Logger) (*mailbox, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the mailbox: %w", err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("open the demo's mail server: %w", err)
	}
	m := &mailbox{dir: dir, address: listener.Addr().String()}
	m.server = smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) {
		return &delivery{box: m}, nil
	}))
	m.server.Domain = "localhost"
	m.server.MaxMessageBytes = maxMailBytes
	m.server.ReadTimeout, m.server.WriteTimeout = time.Minute, time.Minute
	m.server.ErrorLog = smtpLog{logger}
	go m.server.Serve(listener) //nolint:errcheck // it ends with an error when closed
	return m, nil
}

func (m *mailbox) close() error { return m.server.Close() }

func (m *mailbox) count() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.taken
}

// keep writes one message under a running number.
func (m *mailbox) keep(message []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	name := filepath.Join(m.dir, fmt.Sprintf("%03d.eml", m.taken+1))
	if err := os.WriteFile(name, message, 0o600); err != nil {
		return err
	}
	m.taken++
	return nil
}

// shortest gives the text of the shortest mail, and its file's name; nothing
// when there is none.
func (m *mailbox) shortest() (text, name string, err error) {
	files, err := filepath.Glob(filepath.Join(m.dir, "*.eml"))
	if err != nil {
		return "", "", err
	}
	for _, file := range files {
		f, err := os.Open(file)
		if err != nil {
			return "", "", err
		}
		message, err := mail.CreateReader(f)
		if err == nil {
			var part *mail.Part
			if part, err = message.NextPart(); err == nil {
				var body []byte
				if body, err = io.ReadAll(part.Body); err == nil && (text == "" || len(body) < len(text)) {
					subject, _ := message.Header.Subject()
					text, name = "Subject: "+subject+"\n\n"+strings.ReplaceAll(string(body), "\r\n", "\n"), filepath.Base(file)
				}
			}
		}
		if err := errors.Join(err, f.Close()); err != nil {
			return "", "", fmt.Errorf("read %s: %w", file, err)
		}
	}
	return text, name, nil
}

// delivery is one SMTP session.
type delivery struct{ box *mailbox }

// Mail implements smtp.Session.
func (*delivery) Mail(string, *smtp.MailOptions) error { return nil }

// Rcpt implements smtp.Session. Nothing but invented addresses is taken.
func (*delivery) Rcpt(to string, _ *smtp.RcptOptions) error {
	if !strings.HasSuffix(strings.ToLower(to), ".example") {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "the demo takes mail for .example only"}
	}
	return nil
}

// Data implements smtp.Session.
func (d *delivery) Data(r io.Reader) error {
	message, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	return d.box.keep(message)
}

// Reset implements smtp.Session.
func (*delivery) Reset() {}

// Logout implements smtp.Session.
func (*delivery) Logout() error { return nil }

// smtpLog hands what the server says to the log.
type smtpLog struct{ *slog.Logger }

// Printf implements smtp.Logger.
func (l smtpLog) Printf(format string, args ...any) {
	l.Warn("mail server: " + fmt.Sprintf(format, args...))
}

// Println implements smtp.Logger.
func (l smtpLog) Println(args ...any) { l.Warn("mail server: " + fmt.Sprint(args...)) }
