package reminderreturn

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"runtime/debug"

	"github.com/emersion/go-smtp"

	"halfshaft/services/fault"
)

// Data takes one message. The answer is "250" only once Take has kept it; until
// then it is the other server's, and it sends it again (RFC 5321 section
// 4.2.5).
func (s *session) Data(r io.Reader) error {
	message, err := io.ReadAll(r)
	var tooMuch *smtp.SMTPError
	switch {
	case errors.As(err, &tooMuch):
		return tooMuch
	case err != nil:
		return later
	}
	// RFC 5321 section 4.4: whoever delivers for good says from where.
	message = append([]byte("Return-Path: <"+s.from+">\r\n"), message...)
	s.listener.taking.RLock()
	defer s.listener.taking.RUnlock()
	return s.listener.take(s, message)
}

var (
	later = &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "not kept, try again later"}
	never = &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 6, 0}, Message: "this is no message"}
)

// take answers for whatever happens to one message, so that the next is taken
// all the same.
func (l *Listener) take(s *session, message []byte) (answer error) {
	defer func() {
		if cause := recover(); cause != nil {
			// The cause may hold the message; the stack does not.
			l.config.Logger.Error("taking a returned message failed", "error", fmt.Sprintf("panic of type %T", cause), "stack", string(debug.Stack()))
			answer = later
		}
	}()
	err := l.config.Take(s.ctx, s.recipients, message)
	if err == nil {
		return nil
	}
	l.config.Logger.Warn("a returned message was not taken", "error", err)
	if fault.Is(err, fault.Invalid) {
		return never
	}
	return later
}

// smtpLog hands what the server says to the log.
type smtpLog struct{ *slog.Logger }

// Printf implements smtp.Logger.
func (l smtpLog) Printf(format string, args ...any) {
	l.Warn("returned mail: " + fmt.Sprintf(format, args...))
}

// Println implements smtp.Logger.
func (l smtpLog) Println(args ...any) { l.Warn("returned mail: " + fmt.Sprint(args...)) }
