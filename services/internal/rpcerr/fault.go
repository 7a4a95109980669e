package rpcerr

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"halfshaft/services/fault"
)

// retryAfter is the advice where the server gave none.
const retryAfter = time.Second

// FromHandler gives the refusal that an error of a handler is, nil for nil: one
// of ours as it is, and of anything else what Status makes of it, as of the
// status of another service.
func FromHandler(err error) *fault.Error {
	var f *fault.Error
	if errors.As(err, &f) {
		return f
	}
	return FromStatus(Status(context.Background(), nil, err).Err())
}

// FromStatus is the way back, for clients: the refusal that a status carries,
// nil for nil. A status that Status did not make becomes a refusal of the
// nearest kind with the code's name as its reason. The cause is err itself,
// or the context error a lost deadline stands for.
func FromStatus(err error) *fault.Error {
	if err == nil {
		return nil
	}
	st := status.Convert(err)
	f := &fault.Error{Kind: kindOf(st.Code()), Reason: reasonOf(st.Code()), Message: st.Message(), Cause: err}
	switch st.Code() {
	case codes.OK:
		return nil
	case codes.DeadlineExceeded:
		f.Cause = context.DeadlineExceeded
	case codes.Canceled:
		f.Cause = context.Canceled
	}
	message := ""
	for _, d := range st.Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			f.Reason = d.Reason
			message = d.Metadata[metaMessage]
			for k, v := range d.Metadata {
				if k == metaMessage {
					continue
				}
				if f.Meta == nil {
					f.Meta = map[string]string{}
				}
				f.Meta[k] = v
			}
		case *errdetails.BadRequest:
			for _, v := range d.FieldViolations {
				got, want := parseDescription(v.Description)
				f.Fields = append(f.Fields, fault.Field{Name: v.Field, Got: got, Want: want})
			}
		case *errdetails.RetryInfo:
			f.RetryAfter = d.RetryDelay.AsDuration()
		}
	}
	if len(f.Fields) > 0 {
		f.Message = message // the status's message repeats the fields
	}
	return f
}

func kindOf(c codes.Code) fault.Kind {
	for kind, code := range codeOf {
		if code == c {
			return kind
		}
	}
	switch c {
	case codes.Canceled, codes.DeadlineExceeded:
		return fault.Unavailable
	case codes.OutOfRange:
		return fault.Invalid
	}
	return fault.Internal
}

// reasonOf writes a code as a reason: DeadlineExceeded as DEADLINE_EXCEEDED.
func reasonOf(c codes.Code) string {
	var b strings.Builder
	for i, r := range c.String() {
		if i > 0 && r >= 'A' && r <= 'Z' && c != codes.OK {
			b.WriteByte('_')
		}
		b.WriteString(strings.ToUpper(string(r)))
	}
	return b.String()
}

// parseDescription takes `got "x", want y` apart, as fault.Field writes it.
// Anything else is given whole as what was wanted.
func parseDescription(s string) (got, want string) {
	rest, ok := strings.CutPrefix(s, "got ")
	if !ok {
		return "", s
	}
	if quoted, err := strconv.QuotedPrefix(rest); err == nil {
		got, _ = strconv.Unquote(quoted)
		rest = rest[len(quoted):]
	} else if end := strings.IndexByte(rest, ')'); end >= 0 && strings.HasPrefix(rest, fault.NotRepeated) {
		got, rest = rest[:end+1], rest[end+1:]
	} else if rest, ok = strings.CutPrefix(rest, "nothing"); !ok {
		return "", s
	}
	// What fault.Field shortened stays short, with its mark: "…".
	shortened, want, ok := strings.Cut(rest, ", want ")
	if !ok {
		return "", s
	}
	if strings.HasPrefix(shortened, "…") {
		got += "…"
	}
	return got, want
}
