package kv

import (
	"errors"
	"strconv"

	"halfshaft/services/fault"
)

// Etag gives the tag of a record last written at modRev. Callers of the API
// hand it back unread.
func Etag(modRev int64) string { return strconv.FormatInt(modRev, 36) }

// ParseEtag reads a tag back, for Txn.Unchanged. What Etag never wrote is
// refused as Invalid.
func ParseEtag(tag string) (int64, error) {
	rev, err := strconv.ParseInt(tag, 36, 64)
	if err != nil || rev <= 0 || Etag(rev) != tag {
		return 0, fault.InvalidField("etag", tag, "the etag of the record as last read")
	}
	return rev, nil
}

// Matches refuses an etag that is not the one of a record last written at
// modRev. field is the request's.
func Matches(field, etag string, modRev int64) error {
	quoted, err := ParseEtag(etag)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return fault.InvalidField(field, f.Got, f.Want)
	}
	if quoted != modRev {
		return Changed()
	}
	return nil
}

// Changed is the refusal of a change that is based on a record as it no longer
// is.
func Changed() error {
	return fault.New(fault.Aborted, "ETAG_MISMATCH", "The record changed since it was read: read it again.")
}

// Conflict says of a record that changed under a caller what an etag that does
// not match says. Other errors are as they were.
func Conflict(err error) error {
	if IsConflict(err) {
		return Changed()
	}
	return err
}

// IsConflict says whether a transaction was refused because somebody else wrote
// since its records were read: read them again and decide anew.
func IsConflict(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Kind == fault.Aborted && f.Reason == "CONFLICT"
}
