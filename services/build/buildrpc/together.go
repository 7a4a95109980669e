package buildrpc

import (
	"context"
	"fmt"
	"strconv"
	"time"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access/audit"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
)

// maxTogether keeps the changes of one piece of work within a transaction, with
// the claims of their components.
const maxTogether = 40

// RecordChanges implements the BuildService.
func (s *Service) RecordChanges(ctx context.Context, r *buildv1.RecordChangesRequest) (*buildv1.RecordChangesResponse, error) {
	if r.GetValidateOnly() {
		return s.wouldBe(ctx, r)
	}
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &buildv1.RecordChangesResponse{}, func(made time.Time) (*buildv1.RecordChangesResponse, kv.Result, error) {
		was, changes, err := s.readChanges(ctx, r, made)
		if err != nil {
			return nil, kv.Result{}, err
		}
		answer, names := changesProto(changes)
		result, err := s.store.Commit(audit.Changing(ctx, audit.Detail{Objects: names}), buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer},
			buildstore.Write{Was: &was, Changes: changes})
		return answer, result, elsewhere("changes", err)
	})
	return answer, err
}

// wouldBe decides as RecordChanges does, asks where the components stand, and
// writes nothing: what is answered has no names.
func (s *Service) wouldBe(ctx context.Context, r *buildv1.RecordChangesRequest) (*buildv1.RecordChangesResponse, error) {
	s.importing.RLock()
	defer s.importing.RUnlock()
	was, changes, err := s.readChanges(ctx, r, s.now())
	if err != nil {
		return nil, err
	}
	if err := s.store.Check(ctx, buildstore.Write{Was: &was, Changes: changes}); err != nil {
		return nil, elsewhere("changes", err)
	}
	answer, _ := changesProto(changes)
	for _, c := range answer.GetChanges() {
		c.Name, c.CreateTime = "", nil
	}
	return answer, nil
}

// readChanges reads changes, each over those before it, and refuses them with
// all that is wrong.
func (s *Service) readChanges(ctx context.Context, r *buildv1.RecordChangesRequest, made time.Time) (buildstore.Vehicle, []build.Change, error) {
	serial, _, err := resname.Serial("parent", buildPattern, r.GetParent())
	if err != nil {
		return buildstore.Vehicle{}, nil, err
	}
	if n := len(r.GetChanges()); n == 0 || n > maxTogether {
		return buildstore.Vehicle{}, nil, fault.InvalidField("changes", strconv.Itoa(n)+" changes", "1 to 40")
	}
	was, err := s.store.Vehicle(serial)
	if err != nil {
		return was, nil, err
	}
	after, wrong := was, []fault.Field(nil)
	var changes []build.Change
	for i, p := range r.GetChanges() {
		change, err := s.readChange(ctx, p, &after, made)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				return was, nil, err
			}
			fields := fault.FieldsOf("", err)
			for k := range fields { // of a change alone they begin with "change"
				fields[k].Name = fmt.Sprintf("changes[%d]", i) + trimmed(fields[k].Name)
			}
			wrong = append(wrong, fields...)
			continue
		}
		changes = append(changes, change)
		after.Changes = append(after.Changes[:len(after.Changes):len(after.Changes)], change)
	}
	return was, changes, fault.InvalidFields(wrong)
}

// trimmed is the path of a field within a change.
func trimmed(name string) string {
	const head = "change"
	if len(name) > len(head) && name[:len(head)] == head {
		return name[len(head):]
	}
	return "." + name
}

func changesProto(changes []build.Change) (*buildv1.RecordChangesResponse, []string) {
	answer := &buildv1.RecordChangesResponse{}
	var names []string
	for _, c := range changes {
		answer.Changes = append(answer.Changes, buildwire.ChangeProto(c))
		names = append(names, c.Name())
	}
	return answer, names
}
