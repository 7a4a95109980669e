package rpcerr

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"pgregory.net/rapid"

	"halfshaft/services/fault"
)

func detail[D any](st *status.Status) (d D, ok bool) {
	for _, x := range st.Details() {
		if d, ok = x.(D); ok {
			return d, true
		}
	}
	return d, false
}

// The codes are those of AIP-193 and google.rpc.Code for each kind's meaning.
func TestEachKindOfRefusalHasItsCode(t *testing.T) {
	for kind, want := range map[fault.Kind]codes.Code{
		fault.Internal: codes.Internal, fault.Invalid: codes.InvalidArgument, fault.NotFound: codes.NotFound,
		fault.AlreadyExists: codes.AlreadyExists, fault.Aborted: codes.Aborted,
		fault.FailedPrecondition: codes.FailedPrecondition, fault.Denied: codes.PermissionDenied,
		fault.Unauthenticated: codes.Unauthenticated, fault.Exhausted: codes.ResourceExhausted,
		fault.Unavailable: codes.Unavailable,
	} {
		st := Status(t.Context(), nil, fmt.Errorf("wrapped: %w", fault.New(kind, "SOME_REASON", "a sentence")))
		if st.Code() != want {
			t.Errorf("kind %d: got %v, want %v", kind, st.Code(), want)
		}
		info, ok := detail[*errdetails.ErrorInfo](st)
		if !ok || info.Domain != "halfshaft" || info.Reason != "SOME_REASON" {
			t.Errorf("kind %d: ErrorInfo %v", kind, info)
		}
	}
	if st := Status(t.Context(), nil, nil); st.Err() != nil {
		t.Errorf("no error became %v", st)
	}
}

func TestARefusedFieldIsNamedWithWhatWasGotAndWanted(t *testing.T) {
	st := Status(t.Context(), nil, fault.InvalidField("reading.value", "-3", "0 or more"))
	br, ok := detail[*errdetails.BadRequest](st)
	if !ok || len(br.FieldViolations) != 1 {
		t.Fatalf("BadRequest %v", br)
	}
	v := br.FieldViolations[0]
	if v.Field != "reading.value" || v.Description != `got "-3", want 0 or more` {
		t.Errorf("got %v", v)
	}
	if want := `reading.value: got "-3", want 0 or more`; st.Message() != want {
		t.Errorf("got the message %s, want %s", st.Message(), want)
	}
}

func TestAPreconditionAndAnAdviceToRetryHaveTheirDetails(t *testing.T) {
	st := Status(t.Context(), nil, fault.New(fault.FailedPrecondition, "LAID_UP", "the vehicle is laid up"))
	if pf, ok := detail[*errdetails.PreconditionFailure](st); !ok || pf.Violations[0].Type != "LAID_UP" || pf.Violations[0].Description != "the vehicle is laid up" {
		t.Errorf("PreconditionFailure %v", pf)
	}
	st = Status(t.Context(), nil, &fault.Error{Kind: fault.Unavailable, Reason: "DOWN", RetryAfter: 1500 * time.Millisecond})
	if ri, ok := detail[*errdetails.RetryInfo](st); !ok || ri.RetryDelay.AsDuration() != 1500*time.Millisecond {
		t.Errorf("RetryInfo %v", ri)
	}
}

func TestWhatIsNoRefusalLeaksNothingAndIsLogged(t *testing.T) {
	const secret = "dial tcp 10.1.2.3: password=hunter2"
	for name, err := range map[string]error{
		"an unknown error":             errors.New(secret),
		"an internal fault":            &fault.Error{Kind: fault.Internal, Reason: "INTERNAL", Message: secret, Cause: errors.New(secret), Meta: map[string]string{"x": secret}},
		"a kind that does not exist":   &fault.Error{Kind: 99, Message: secret},
		"another system's status":      status.Error(codes.FailedPrecondition, secret),
		"an unknown status":            status.Error(codes.Unknown, secret),
		"another system's unavailable": status.Error(codes.Unavailable, secret),
	} {
		t.Run(name, func(t *testing.T) {
			var log bytes.Buffer
			st := Status(t.Context(), slog.New(slog.NewTextHandler(&log, nil)), err)
			if all := fmt.Sprint(st.Proto(), st.Details()); strings.Contains(all, "hunter2") {
				t.Errorf("the caller is told %s", all)
			}
			if st.Code() == codes.Unavailable {
				return // has no id: it is the other system's to log
			}
			info, _ := detail[*errdetails.ErrorInfo](st)
			id := info.GetMetadata()["id"]
			if st.Code() != codes.Internal || id == "" || !strings.Contains(st.Message(), id) {
				t.Errorf("got %v with the id %q", st, id)
			}
			if !strings.Contains(log.String(), id) || !strings.Contains(log.String(), "hunter2") {
				t.Errorf("the log says %s", log.String())
			}
		})
	}
}

func TestACauseIsLoggedAndNotSent(t *testing.T) {
	var log bytes.Buffer
	f := fault.New(fault.Unavailable, "DOWN", "the store gave no answer")
	f.Cause = errors.New("hunter2")
	st := Status(t.Context(), slog.New(slog.NewTextHandler(&log, nil)), f)
	if strings.Contains(fmt.Sprint(st.Proto()), "hunter2") || !strings.Contains(log.String(), "hunter2") {
		t.Errorf("sent %v, logged %s", st, log.String())
	}
}

func TestContextErrorsKeepTheirMeaningBothWays(t *testing.T) {
	for err, want := range map[error]codes.Code{context.Canceled: codes.Canceled, context.DeadlineExceeded: codes.DeadlineExceeded} {
		st := Status(t.Context(), nil, fmt.Errorf("read: %w", err))
		if st.Code() != want {
			t.Errorf("%v became %v", err, st.Code())
		}
		back := FromStatus(st.Err())
		if !errors.Is(back, err) || back.Kind != fault.Unavailable {
			t.Errorf("%v came back as %#v", err, back)
		}
	}
	if got := FromStatus(status.Error(codes.DeadlineExceeded, "x")).Reason; got != "DEADLINE_EXCEEDED" {
		t.Errorf("got the reason %s", got)
	}
}

func TestAStatusOfOursPassesThroughUnchanged(t *testing.T) {
	first := Status(t.Context(), nil, fault.InvalidField("serial", "AM", "a serial"))
	second := Status(t.Context(), nil, fmt.Errorf("ask the build service: %w", first.Err()))
	if diff := cmp.Diff(fmt.Sprint(first.Proto()), fmt.Sprint(second.Proto())); diff != "" {
		t.Error(diff)
	}
}

func TestAHugeReportIsCutAndSaysSo(t *testing.T) {
	var fields []fault.Field
	for i := range 1000 {
		fields = append(fields, fault.Field{Name: fmt.Sprintf("rows[%d].distance", i), Got: strings.Repeat("x", 1000), Want: "a number"})
	}
	st := Status(t.Context(), nil, fault.InvalidFields(fields))
	back := FromStatus(st.Err())
	if len(back.Fields) != maxFields || back.Meta["fields_left_off"] != "950" {
		t.Errorf("%d fields, %v", len(back.Fields), back.Meta)
	}
}

func TestBrokenTextStillMakesAStatusWithDetails(t *testing.T) {
	bad := "caf\xe9"
	st := Status(t.Context(), nil, &fault.Error{
		Kind: fault.Invalid, Reason: bad, Message: bad,
		Fields: []fault.Field{{Name: bad, Got: bad, Want: bad}}, Meta: map[string]string{bad: bad},
	})
	if _, ok := detail[*errdetails.BadRequest](st); !ok {
		t.Errorf("the details are lost: %v", st)
	}
}

func TestARefusalComesBackAsItWasSent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 60, -1)
		sent := &fault.Error{
			Kind:       rapid.SampledFrom([]fault.Kind{fault.Invalid, fault.NotFound, fault.AlreadyExists, fault.Aborted, fault.FailedPrecondition, fault.Denied, fault.Unauthenticated, fault.Exhausted, fault.Unavailable}).Draw(t, "kind"),
			Reason:     rapid.StringMatching(`[A-Z][A-Z0-9_]{2,30}`).Draw(t, "reason"),
			Message:    text.Draw(t, "message"),
			RetryAfter: time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "retry")),
		}
		for range rapid.IntRange(0, 4).Draw(t, "fields") {
			sent.Fields = append(sent.Fields, fault.Field{
				Name: rapid.StringMatching(`[a-z_.]{1,20}`).Draw(t, "name"), Got: rapid.OneOf(text, rapid.SampledFrom([]string{fault.NotRepeated + ")", fault.NotRepeated + ": 12 characters)", fault.NotRepeated + ") and more)"})).Draw(t, "got"), Want: text.Draw(t, "want"),
			})
		}
		if meta := rapid.MapOfN(rapid.StringMatching(`[a-z]{1,6}`), text, 0, 3).Draw(t, "meta"); len(meta) > 0 {
			delete(meta, metaMessage)
			sent.Meta = maps.Clone(meta)
		}
		back := FromStatus(Status(context.Background(), nil, sent).Err())
		back.Cause = nil
		if len(back.Meta) == 0 {
			back.Meta = sent.Meta // nil and empty are one
		}
		if diff := cmp.Diff(sent, back); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestNothingBecomesNothing(t *testing.T) {
	if f := FromStatus(nil); f != nil {
		t.Errorf("got %v", f)
	}
	if f := FromHandler(nil); f != nil {
		t.Errorf("of a handler: got %v", f)
	}
}

func TestAHandlersErrorIsARefusalWhoeverMadeIt(t *testing.T) {
	ours := fault.New(fault.Aborted, "ETAG_MISMATCH", "changed meanwhile")
	for name, c := range map[string]struct {
		err    error
		kind   fault.Kind
		reason string
	}{
		"one of ours":               {fmt.Errorf("decide: %w", ours), fault.Aborted, "ETAG_MISMATCH"},
		"one of ours, a defect":     {fault.New(fault.Internal, "RECORD_DAMAGED", "a defect"), fault.Internal, "RECORD_DAMAGED"},
		"another service's":         {fmt.Errorf("ask: %w", Status(t.Context(), nil, ours).Err()), fault.Aborted, "ETAG_MISMATCH"},
		"a status that is not ours": {status.Error(codes.NotFound, "no such row"), fault.Internal, "INTERNAL"},
		"what nobody classified":    {errors.New("x"), fault.Internal, "INTERNAL"},
	} {
		if f := FromHandler(c.err); f.Kind != c.kind || f.Reason != c.reason {
			t.Errorf("%s: got %v %s, want %v %s", name, f.Kind, f.Reason, c.kind, c.reason)
		}
	}
}

func FuzzFieldDescription(f *testing.F) {
	f.Add(`got "-3", want 0 or more`)
	f.Add(`got nothing, want a serial`)
	f.Add(`got "x"… (100 characters), want less`)
	f.Add(`got "`)
	f.Add(`got (not repeated here: 12 characters), want less`)
	f.Fuzz(func(t *testing.T, s string) {
		got, want := parseDescription(s)
		if got == "" && want == "" && s != "" && !strings.HasPrefix(s, "got ") {
			t.Errorf("%q is lost", s)
		}
	})
}
