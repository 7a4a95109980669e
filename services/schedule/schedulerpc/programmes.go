package schedulerpc

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
)

// The pages of programmes, which are large.
const (
	standardProgrammes = 10
	mostProgrammes     = 20
	maxProgrammeBytes  = 180 << 10
)

// GetProgramme implements the ScheduleService.
func (s *Service) GetProgramme(_ context.Context, r *schedulev1.GetProgrammeRequest) (*schedulev1.Programme, error) {
	ids, err := resname.Match("name", "programmes/{programme}", r.GetName())
	if err == nil {
		if versions := s.store.Versions(ids[0]); len(versions) > 0 {
			return answerOf(versions[len(versions)-1]), nil
		}
		return nil, noProgramme(r.GetName())
	}
	id, version, err := schedulewire.ProgrammeName(r.GetName())
	if err != nil {
		return nil, err
	}
	if v, ok := s.version(id, version); ok {
		return answerOf(v), nil
	}
	return nil, noProgramme(r.GetName())
}

func noProgramme(name string) error {
	return fault.New(fault.NotFound, "PROGRAMME_NOT_FOUND", "There is no %s here.", name)
}

// version finds one version.
func (s *Service) version(id string, version int) (schedulestore.Version, bool) {
	for _, v := range s.store.Versions(id) {
		if _, n, err := schedulewire.ProgrammeName(v.Message.GetName()); err == nil && n == version {
			return v, true
		}
	}
	return schedulestore.Version{}, false
}

// answerOf is a version as it is answered; the stored message is shared.
func answerOf(v schedulestore.Version) *schedulev1.Programme {
	p := proto.CloneOf(v.Message)
	p.Etag = kv.Etag(v.Revision)
	return p
}

// ListProgrammes implements the ScheduleService.
func (s *Service) ListProgrammes(_ context.Context, r *schedulev1.ListProgrammesRequest) (*schedulev1.ListProgrammesResponse, error) {
	size, err := page.Size(r.GetPageSize(), standardProgrammes, mostProgrammes)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	answer, bytes, last := &schedulev1.ListProgrammesResponse{}, 0, ""
	for _, id := range s.store.Programmes() {
		for _, v := range s.store.Versions(id) {
			_, number, err := schedulewire.ProgrammeName(v.Message.GetName())
			if err != nil {
				return nil, err
			}
			place := fmt.Sprintf("%s/%04d", id, number)
			if after != "" && place <= after {
				continue
			}
			if len(answer.Programmes) == size || bytes > pageBytes {
				answer.NextPageToken = page.Token(r, last)
				return answer, nil
			}
			p := answerOf(v)
			answer.Programmes = append(answer.Programmes, p)
			bytes += proto.Size(p)
			last = place
		}
	}
	return answer, nil
}

// CreateProgramme implements the ScheduleService.
func (s *Service) CreateProgramme(ctx context.Context, r *schedulev1.CreateProgrammeRequest) (*schedulev1.Programme, error) {
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.Programme{}, func() (*schedulev1.Programme, []schedulestore.Record, error) {
		m := proto.CloneOf(r.GetProgramme())
		if m == nil {
			return nil, nil, fault.InvalidField("programme", "", "a version of a programme")
		}
		m.CreateTime, m.Etag = timestamppb.New(s.now()), ""
		ready, err := s.checkProgramme(m)
		if err != nil {
			return nil, nil, fault.Under("programme", err)
		}
		if err := s.follows(ready); err != nil {
			return nil, nil, err
		}
		return m, []schedulestore.Record{{Key: schedulestore.ProgrammeKey(ready.programme.ID, ready.programme.Version), Message: m}}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = etagOf(result)
	return answer, nil
}

// checkProgramme checks a version by itself, predicates included, and brings
// its distances to the form that is stored.
func (s *Service) checkProgramme(m *schedulev1.Programme) (*plan, error) {
	ready, err := s.plans.compile(m)
	if err != nil {
		return nil, err
	}
	m.Items = ready.items
	if n := proto.Size(m); n > maxProgrammeBytes {
		return nil, fault.InvalidField("items", fmt.Sprintf("%d bytes", n), fmt.Sprintf("at most %d bytes", maxProgrammeBytes))
	}
	return ready, nil
}

// follows says whether a version is the next one, in number and in time.
func (s *Service) follows(ready *plan) error {
	p := ready.programme
	versions := s.store.Versions(p.ID)
	if v, ok := s.version(p.ID, p.Version); ok {
		return fault.New(fault.AlreadyExists, "PROGRAMME_EXISTS", "%s is there already; a revision is the next version.", v.Message.GetName())
	}
	if p.Version != len(versions)+1 {
		return fault.InvalidField("programme.name", p.Name(), fmt.Sprintf("programmes/%s/versions/%d, the next one", p.ID, len(versions)+1))
	}
	if len(versions) > 0 {
		last, err := s.plans.at(versions, len(versions)-1)
		if err != nil {
			return err
		}
		if !p.Effective.After(last.programme.Effective) {
			return fault.InvalidField("programme.effective_date", p.Effective.String(), "after that of the version before, "+last.programme.Effective.String())
		}
	}
	return nil
}
