package accessstore

import (
	"iter"
	"strings"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/internal/projection"
)

// shares follow the keys of the service as one, so that a write is known here
// when its own event comes, whatever of the service it wrote; each share gets
// what stands below its prefix. What stands below none is another package's,
// and is passed over.
type shares []share

type share struct {
	prefix  string
	handler projection.Handler
}

// Apply implements projection.Handler. A share that nothing is for is told the
// revision.
func (s shares) Apply(events []projection.Event, revision int64) error {
	for _, one := range s {
		var its []projection.Event
		for _, e := range events {
			if strings.HasPrefix(e.Key, one.prefix) {
				its = append(its, e)
			}
		}
		if err := one.handler.Apply(its, revision); err != nil {
			return err
		}
	}
	return nil
}

// Known implements projection.Handler.
func (s shares) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		for _, one := range s {
			for key, revision := range one.handler.Known() {
				if !yield(key, revision) {
					return
				}
			}
		}
	}
}

// put takes what became of one record into a map of such records.
func put[M proto.Message, R any](into map[string]R, id string, e projection.Event, m M, read func(M) R) error {
	if e.Deleted {
		delete(into, id)
		return nil
	}
	if err := proto.Unmarshal(e.Value, m); err != nil {
		return err
	}
	into[id] = read(m)
	return nil
}
