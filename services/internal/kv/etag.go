package kv

import (
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
