// Package fault is the vocabulary of refusals: what kind, why, which field,
// what was got and what was wanted. Domain packages return these values; one
// place (services/internal/rpcerr) maps them to gRPC statuses, and the same
// sentence is printed by the command line.
package fault

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Kind says what sort of refusal an error is. The zero value is Internal, so
// an error that nobody classified is never mistaken for the caller's fault.
type Kind int

// The kinds, in the order of the statuses they become.
const (
	Internal           Kind = iota // a defect or a broken machine; details are logged, never sent
	Invalid                        // the request is wrong whatever the state: see Fields
	NotFound                       // no such thing, or not for this caller's eyes
	AlreadyExists                  // a thing of that name is there
	Aborted                        // the record changed since the caller read it (etag)
	FailedPrecondition             // right in form, but not in this state
	Denied                         // the caller is known and may not
	Unauthenticated                // the caller is not known
	Exhausted                      // a limit was met: see RetryAfter
	Unavailable                    // a part is out of reach: trying again may help
)

// Field is one thing wrong with one field of a request or one cell of a file.
type Field struct {
	Name string // path in the words of the field: "reading.value"
	Got  string // what was there, shortened for print
	Want string // what would have been right
}

// NotRepeated begins Got where a personal value was got, which an answer does
// not repeat. Whoever has the value at hand may say it instead.
const NotRepeated = "(not repeated here"

func (f Field) String() string { return f.Name + ": got " + quote(f.Got) + ", want " + f.Want }

// Error is a refusal with its reasons. Reason is UPPER_SNAKE_CASE and stable:
// programs may branch on it. Message is one sentence for a person.
type Error struct {
	Kind       Kind
	Reason     string
	Message    string
	Fields     []Field
	Meta       map[string]string // further facts for programs, never personal data
	RetryAfter time.Duration     // zero: no advice
	Cause      error             // logged, never sent
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Message)
	for i, f := range e.Fields {
		if i > 0 || e.Message != "" {
			b.WriteString("; ")
		}
		b.WriteString(f.String())
	}
	return b.String()
}

// Unwrap gives the cause, for errors.Is and errors.As.
func (e *Error) Unwrap() error { return e.Cause }

// New makes an error of one kind with a stable reason and a formatted message.
func New(kind Kind, reason, format string, args ...any) *Error {
	return &Error{Kind: kind, Reason: reason, Message: fmt.Sprintf(format, args...)}
}

// InvalidField refuses a request for one field.
func InvalidField(name, got, want string) *Error {
	return &Error{Kind: Invalid, Reason: "INVALID_FIELD", Fields: []Field{{name, got, want}}}
}

// InvalidFields refuses a request for all its wrong fields at once; nil when
// there are none.
func InvalidFields(fields []Field) error {
	if len(fields) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Reason: "INVALID_FIELD", Fields: fields}
}

// KindOf gives the kind of err: Internal when err is not of this package.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Is reports whether err is a fault of the kind.
func Is(err error, kind Kind) bool {
	var e *Error
	return errors.As(err, &e) && e.Kind == kind
}

// quote shortens and quotes what a stranger sent, so that it can be printed.
func quote(s string) string {
	if s == "" {
		return "nothing"
	}
	if strings.HasPrefix(s, NotRepeated) && strings.IndexByte(s, ')') == len(s)-1 && len(s) < len(NotRepeated)+40 {
		return s // said of a value, and not the value
	}
	const most = 80
	r := []rune(s)
	if len(r) > most {
		return fmt.Sprintf("%q… (%s)", string(r[:most]), Characters(len(r)))
	}
	return fmt.Sprintf("%q", s)
}

// Under puts a path in front of the fields of a refusal, so that a check that
// knows only its own value can be used anywhere: Under("reading", err) turns
// "value: got …" into "reading.value: got …". Other errors pass unchanged.
func Under(path string, err error) error {
	var e *Error
	if err == nil || path == "" || !errors.As(err, &e) || len(e.Fields) == 0 {
		return err
	}
	under := *e
	under.Fields = FieldsUnder(path, e.Fields)
	return &under
}

// FieldsUnder puts a path in front of each field; an empty one changes nothing.
func FieldsUnder(path string, fields []Field) []Field {
	out := make([]Field, len(fields))
	for i, f := range fields {
		switch {
		case path == "":
		case f.Name == "":
			f.Name = path
		case strings.HasPrefix(f.Name, "["):
			f.Name = path + f.Name
		default:
			f.Name = path + "." + f.Name
		}
		out[i] = f
	}
	return out
}

// FieldsOf gives the fields that err complains of; an error without any
// becomes one field of the given name.
func FieldsOf(name string, err error) []Field {
	var e *Error
	if err == nil {
		return nil
	}
	if errors.As(err, &e) && len(e.Fields) > 0 {
		return FieldsUnder(name, e.Fields)
	}
	return []Field{{Name: name, Want: err.Error()}}
}
