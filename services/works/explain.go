package works

import (
	"errors"
	"fmt"
	"strconv"
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
		lines = append(lines, unreached(f.Message))
	}
	if f.Reason == "KEY_MISSING" {
		lines = append(lines, "On the command line it is given by --api-key, or by HALFSHAFT_KEY in the environment.")
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

// unreached takes what the library wraps around it off the reason why a server
// could not be reached. Other messages stay as they are.
func unreached(message string) string {
	inner, ok := strings.CutPrefix(message, "connection error: desc = ")
	if !ok {
		return message
	}
	if plain, err := strconv.Unquote(inner); err == nil {
		inner = plain
	}
	for _, wrapping := range []string{"transport: ", "Error while dialing: ", "error reading server preface: ", "authentication handshake failed: ", "tls: failed to verify certificate: "} {
		inner = strings.TrimPrefix(inner, wrapping)
	}
	return "The server could not be reached: " + inner
}
