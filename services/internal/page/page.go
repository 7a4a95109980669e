// Package page gives lists their pages (AIP-158): an opaque token holds the
// last key given and is bound to the request it came from.
package page

import (
	"crypto/sha256"
	"encoding/base64"
	"strconv"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
)

// Size gives the number of entries to return: the standard for 0, the most for
// more than that. A negative size is refused.
func Size(asked int32, standard, most int) (int, error) {
	switch {
	case asked < 0:
		return 0, fault.InvalidField("page_size", strconv.Itoa(int(asked)), "0 or more")
	case asked == 0:
		return standard, nil
	case int(asked) > most:
		return most, nil
	}
	return int(asked), nil
}

// fingerprintSize is how much of the request's digest a token carries: enough
// that a token is not taken for another list's by mistake. It is no secret.
const fingerprintSize = 8

// Token makes the token for the entries after lastKey.
func Token(request proto.Message, lastKey string) string {
	return base64.RawURLEncoding.EncodeToString(append(fingerprint(request), lastKey...))
}

// After reads a token: the key after which the page begins, empty for the
// first page. A token of another request is refused.
func After(request proto.Message, token string) (string, error) {
	if token == "" {
		return "", nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(token)
	if err != nil || len(raw) <= fingerprintSize || string(raw[:fingerprintSize]) != string(fingerprint(request)) {
		return "", fault.InvalidField("page_token", token, "the next_page_token of the same request")
	}
	return string(raw[fingerprintSize:]), nil
}

// fingerprint is a digest of the request without its page fields: a caller may
// ask for another size on the way, but not for another list.
func fingerprint(request proto.Message) []byte {
	bare := proto.Clone(request)
	m := bare.ProtoReflect()
	for _, name := range []protoreflect.Name{"page_size", "page_token"} {
		if field := m.Descriptor().Fields().ByName(name); field != nil {
			m.Clear(field)
		}
	}
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(bare)
	if err != nil {
		raw = nil // a request that arrived by gRPC can be marshalled
	}
	sum := sha256.Sum256(append([]byte(m.Descriptor().FullName()), raw...))
	return sum[:fingerprintSize]
}

// Cut gives the page of what was found, of which one more than the page holds
// was asked for, and the token for the next page: "" when there is none. key
// names an entry, for After to give back.
func Cut[T any](request proto.Message, found []T, size int, key func(T) string) ([]T, string) {
	if len(found) <= size {
		return found, ""
	}
	found = found[:size]
	return found, Token(request, key(found[size-1]))
}
