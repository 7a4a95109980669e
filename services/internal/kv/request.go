package kv

import (
	"fmt"

	"github.com/google/uuid"

	"halfshaft/services/fault"
)

// CheckRequestID refuses what is not a UUID; none at all is allowed.
func CheckRequestID(id string) error {
	if id == "" || len(id) == 36 && uuid.Validate(id) == nil {
		return nil
	}
	return fault.InvalidField("request_id", id, "a UUID, as in 0190c5a2-7f3e-7b1d-9a44-2f6f0e6b8c11")
}

// NewID draws an identifier that says nothing: twelve hexadecimal characters.
func NewID() string {
	id := uuid.New()
	return fmt.Sprintf("%x", id[10:])
}
