package exchange

import (
	"errors"

	"halfshaft/services/fault"
)

// serialWant turns the refusal of a serial into what was wanted.
func serialWant(err error) string {
	var f *fault.Error
	if errors.As(err, &f) && f.Reason == "SERIAL_CHECK" {
		return "a serial with its check character: " + f.Message
	}
	if errors.As(err, &f) && len(f.Fields) > 0 {
		return "a serial: " + f.Fields[0].Want
	}
	return "a serial: " + err.Error()
}
