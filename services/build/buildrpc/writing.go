package buildrpc

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// once gives the first answer of a request that was seen before, and lets act
// decide and write otherwise. When somebody else wrote about the same vehicles
// meanwhile, act is called again on what they wrote.
func once[A proto.Message](
	ctx context.Context, s *Service, id string, payload proto.Message, empty A,
	act func(made time.Time) (A, kv.Result, error),
) (A, kv.Result, error) {
	if err := kv.CheckRequestID(id); err != nil {
		return empty, kv.Result{}, err
	}
	s.importing.RLock()
	defer s.importing.RUnlock()
	if first, found, err := s.store.Lookup(ctx, id, payload); err != nil {
		return empty, kv.Result{}, err
	} else if found {
		answer, err := buildstore.Answer(first, empty)
		return answer, first, err
	}
	for range attempts {
		answer, result, err := act(s.now())
		if kv.IsConflict(err) {
			if err := s.store.CatchUp(ctx); err != nil {
				return empty, kv.Result{}, err
			}
			continue
		}
		if err != nil {
			return empty, kv.Result{}, err
		}
		if result.Replayed {
			if answer, err = buildstore.Answer(result, empty); err != nil {
				return empty, kv.Result{}, err
			}
		}
		return answer, result, s.group.Wait(ctx, buildstore.Service, result.Revision)
	}
	return empty, kv.Result{}, fault.New(fault.Aborted, "CONFLICT", "others are writing about the same vehicle; try again")
}

// attempts is how often a write decides again: each time somebody else's write
// went through, so as a whole the vehicle moves on.
const attempts = 20

// refuse joins what a conversion and a check found wrong under one path. Of a
// field that could not be read the check's opinion is left out.
func refuse(path string, read error, checked []fault.Field) error {
	if read == nil {
		return fault.InvalidFields(fault.FieldsUnder(path, checked))
	}
	var unread *fault.Error
	if !errors.As(read, &unread) {
		return read
	}
	fields := unread.Fields
	for _, f := range checked {
		if !names(unread.Fields, f.Name) {
			fields = append(fields, f)
		}
	}
	if len(fields) == len(unread.Fields) {
		return fault.Under(path, read)
	}
	return fault.InvalidFields(fault.FieldsUnder(path, fields))
}

func names(fields []fault.Field, name string) bool {
	for _, f := range fields {
		if f.Name == name {
			return true
		}
	}
	return false
}

// maxRecordBytes keeps a record, and an amendment with the record before it,
// well within what the store and a message hold.
const maxRecordBytes = 100 << 10

func tooLarge(name string, m proto.Message) []fault.Field {
	if n := proto.Size(m); n > maxRecordBytes {
		return []fault.Field{{Name: name, Got: fmt.Sprintf("%d bytes", n), Want: fmt.Sprintf("at most %d bytes", maxRecordBytes)}}
	}
	return nil
}

// recordedAfter is the moment of a new change: now, and later than that of
// every change before it, for the moments are the order in which changes of
// one day take effect.
func recordedAfter(changes []build.Change, now time.Time) time.Time {
	for _, c := range changes {
		if !c.Created.Before(now) {
			now = c.Created.Add(time.Microsecond)
		}
	}
	return now
}
