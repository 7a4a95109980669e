package accessgate

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/vehicle"
)

// objectsOf gives the names of what a request is about, as the audit has them:
// each once, serials in their one form. What is no name is left out, whatever
// it is: nothing else of a request is ever in the audit.
func (r *rule) objectsOf(request proto.Message) []string {
	var out []string
	for _, path := range r.objects {
		if object, ok := objectNamed(read(request, path)); ok && !slices.Contains(out, object) {
			out = append(out, object)
		}
	}
	return out
}

// becauseOf gives why the caller does it, in their words, where the rule says
// that the technical record keeps these too.
func (r *rule) becauseOf(request proto.Message) string {
	if r.because == nil {
		return ""
	}
	return read(request, r.because)
}

// objectNamed reads a resource name: "builds/AM0147P", "keys/0123abcd". The
// serial after "builds" or "vehicles" may be in any form that people write.
func objectNamed(text string) (string, bool) {
	head, rest, _ := strings.Cut(text, "/")
	if head == "builds" || head == "vehicles" {
		written, tail, more := strings.Cut(rest, "/")
		serial, err := vehicle.ParseSerial(written)
		if err != nil {
			return "", false
		}
		rest = string(serial)
		if more && tail != "" {
			rest += "/" + tail
		}
	}
	name := head + "/" + rest
	return name, rest != "" && isName(name)
}

// maxName bounds the name of an object, in bytes.
const maxName = 200

// isName reports whether a text can be a resource name: identifiers with
// slashes between. It holds no address, no number with a plus, no words.
func isName(text string) bool {
	if text == "" || len(text) > maxName {
		return false
	}
	for segment := range strings.SplitSeq(text, "/") {
		if segment == "" {
			return false
		}
	}
	return !strings.ContainsFunc(text, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && !strings.ContainsRune("/-._~", r)
	})
}
