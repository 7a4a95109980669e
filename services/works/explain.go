package works

import (
	"errors"
	"fmt"
	"strings"

	"google.golang.org/grpc/status"

	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// Explain tells a person at a terminal what went wrong: one line for the whole
// and, for a request with wrong fields, one line for each.
func Explain(err error) string {
	var f *fault.Error
	if !errors.As(err, &f) {
		// Not status.FromError: of a wrapped error it gives the whole text, codes
		// and all.
		var answered interface{ GRPCStatus() *status.Status }
		if !errors.As(err, &answered) {
			return err.Error()
		}
		f = rpcerr.FromStatus(answered.GRPCStatus().Err())
	}
	var lines []string
	if f.Message != "" {
		lines = append(lines, f.Message)
	}
	for _, field := range f.Fields {
		lines = append(lines, field.String())
	}
	if len(lines) == 0 {
		return status.Convert(err).Message()
	}
	if f.RetryAfter > 0 {
		lines = append(lines, fmt.Sprintf("Try again in %s.", f.RetryAfter))
	}
	return strings.Join(lines, "\n")
}
