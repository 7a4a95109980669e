// Package rpcerr is the one place where refusals become gRPC statuses and
// statuses become refusals again. What is not a refusal of services/fault is
// a defect: it is logged with an id, and the caller is told the id only.
package rpcerr

import (
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"
	"google.golang.org/protobuf/types/known/durationpb"

	"halfshaft/services/fault"
)

// Domain is the domain of every ErrorInfo made here (AIP-193).
const Domain = "halfshaft"

// maxFields is how many wrong fields one status names. Statuses travel as
// HTTP/2 headers, for which some clients have room for 8 KiB only.
const maxFields = 50

// codeOf maps kinds to codes, kindOfCode back.
var codeOf = map[fault.Kind]codes.Code{
	fault.Internal:           codes.Internal,
	fault.Invalid:            codes.InvalidArgument,
	fault.NotFound:           codes.NotFound,
	fault.AlreadyExists:      codes.AlreadyExists,
	fault.Aborted:            codes.Aborted,
	fault.FailedPrecondition: codes.FailedPrecondition,
	fault.Denied:             codes.PermissionDenied,
	fault.Unauthenticated:    codes.Unauthenticated,
	fault.Exhausted:          codes.ResourceExhausted,
	fault.Unavailable:        codes.Unavailable,
}

// Status gives the status for an error of a handler: nil for nil. Internal
// errors are logged to logger here and leave without their text.
func Status(ctx context.Context, logger *slog.Logger, err error) *status.Status {
	if err == nil {
		return nil
	}
	var f *fault.Error
	if errors.As(err, &f) {
		if f.Kind == fault.Internal {
			return internal(ctx, logger, f.Reason, err)
		}
		return fromFault(ctx, logger, f)
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return status.New(codes.DeadlineExceeded, "the deadline passed before the answer was ready")
	}
	if errors.Is(err, context.Canceled) {
		return status.New(codes.Canceled, "the caller gave up")
	}
	// Not status.FromError, which puts the wrapping's words into the message.
	var carrier interface{ GRPCStatus() *status.Status }
	if errors.As(err, &carrier) && carrier.GRPCStatus() != nil {
		return passed(ctx, logger, carrier.GRPCStatus(), err)
	}
	return internal(ctx, logger, "INTERNAL", err)
}

// passed handles the status of another service that a handler let through:
// ours goes on as it is, a broken connection is named as such, and anything
// else may say more than the caller should know.
func passed(ctx context.Context, logger *slog.Logger, st *status.Status, err error) *status.Status {
	for _, d := range st.Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok && info.Domain == Domain {
			return st
		}
	}
	switch st.Code() {
	case codes.Canceled, codes.DeadlineExceeded:
		return status.New(st.Code(), "the call was not finished in time")
	case codes.Unavailable:
		return fromFault(ctx, logger, &fault.Error{
			Kind: fault.Unavailable, Reason: "SERVICE_OUT_OF_REACH", Message: "a part of the system is out of reach", RetryAfter: retryAfter,
		})
	case codes.Unimplemented, codes.ResourceExhausted:
		// gRPC's own: no such method, message too large. They say nothing of us.
		return status.New(st.Code(), st.Message())
	}
	return internal(ctx, logger, "INTERNAL", err)
}

// internal logs the error under a fresh id and tells only the id.
func internal(ctx context.Context, logger *slog.Logger, reason string, err error) *status.Status {
	id := rand.Text()[:13] // 65 random bits
	if logger != nil {
		attrs := []slog.Attr{slog.String("id", id), slog.String("reason", reason), slog.Any("error", err)}
		// A refusal does not print its cause, and here the cause is the news.
		var f *fault.Error
		if errors.As(err, &f) && f.Cause != nil {
			attrs = append(attrs, slog.Any("cause", f.Cause))
		}
		logger.LogAttrs(ctx, slog.LevelError, "internal error", attrs...)
	}
	st := status.New(codes.Internal, "internal error; the log knows it as "+id)
	return with(st, &errdetails.ErrorInfo{Reason: reason, Domain: Domain, Metadata: map[string]string{"id": id}})
}

func fromFault(ctx context.Context, logger *slog.Logger, f *fault.Error) *status.Status {
	code, ok := codeOf[f.Kind]
	if !ok {
		return internal(ctx, logger, f.Reason, f)
	}
	if f.Cause != nil && logger != nil {
		logger.LogAttrs(ctx, slog.LevelInfo, "refused", slog.String("reason", f.Reason), slog.Any("cause", f.Cause))
	}
	info := &errdetails.ErrorInfo{Reason: clean(f.Reason), Domain: Domain, Metadata: map[string]string{}}
	for k, v := range f.Meta {
		info.Metadata[clean(k)] = clean(v)
	}
	short := *f
	if len(f.Fields) > maxFields {
		short.Fields = f.Fields[:maxFields]
		info.Metadata["fields_left_off"] = strconv.Itoa(len(f.Fields) - maxFields)
	}
	if f.Message != "" && len(f.Fields) > 0 {
		info.Metadata[metaMessage] = clean(f.Message)
	}
	details := []protoadapt.MessageV1{info}
	if len(short.Fields) > 0 {
		details = append(details, badRequest(short.Fields))
	}
	if f.Kind == fault.FailedPrecondition {
		details = append(details, &errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{{
			Type: info.Reason, Subject: clean(f.Meta["record"]), Description: clean(f.Message),
		}}})
	}
	if f.RetryAfter > 0 {
		details = append(details, &errdetails.RetryInfo{RetryDelay: durationpb.New(f.RetryAfter)})
	}
	return with(status.New(code, clean(short.Error())), details...)
}

// metaMessage keeps the message apart from the fields, which the status's own
// message joins into one sentence.
const metaMessage = "message"

func badRequest(fields []fault.Field) *errdetails.BadRequest {
	br := &errdetails.BadRequest{}
	for _, f := range fields {
		br.FieldViolations = append(br.FieldViolations, &errdetails.BadRequest_FieldViolation{
			Field:       clean(f.Name),
			Description: clean(strings.TrimPrefix(f.String(), f.Name+": ")),
		})
	}
	return br
}

// with adds details. They are ours, hence encodable; a status without them is
// still better than none.
func with(st *status.Status, details ...protoadapt.MessageV1) *status.Status {
	if full, err := st.WithDetails(details...); err == nil {
		return full
	}
	return st
}

// clean makes a string fit for protobuf, which refuses broken UTF-8.
func clean(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }
