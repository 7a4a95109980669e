package schedulerpc

import (
	"context"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle/vehiclewire"
)

// backDated is how many days back hard use may be declared, or ended: further
// back it would move due dates that are past and were acted on. A lay-up
// shortens nothing and may be told late.
const backDated = 31

// DeclareUse implements the ScheduleService.
func (s *Service) DeclareUse(ctx context.Context, r *schedulev1.DeclareUseRequest) (*schedulev1.UseFact, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.UseFact{}, func() (*schedulev1.UseFact, []schedulestore.Record, error) {
		from, id := r.GetUseFact(), kv.NewID()
		m := &schedulev1.UseFact{
			Name: schedulestore.Uses.Name(serial, id), Kind: from.GetKind(), StartDate: s.orToday(from.GetStartDate()), EndDate: from.GetEndDate(),
			FirstMonth: from.GetFirstMonth(), LastMonth: from.GetLastMonth(),
			Note: from.GetNote(), RecordedBy: access.CallerFrom(ctx).Bearer, CreateTime: timestamppb.New(s.now()),
		}
		c := &checker{}
		c.room("parent", s.store.History(serial).Count(schedulestore.Uses))
		f, err := checkUse(c, m)
		if err == nil && f.Kind.Hard() && f.Start.Before(s.today().AddDays(-backDated)) {
			err = fault.InvalidField("start_date", f.Start.String(),
				"not before "+s.today().AddDays(-backDated).String()+": hard use counts from the day it is declared, so that past due dates stay")
		}
		if err != nil {
			return nil, nil, fault.Under("use_fact", err)
		}
		return m, []schedulestore.Record{{Key: schedulestore.Uses.Key(serial, id), Message: m}}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = etagOf(result)
	return answer, nil
}

// checkUse checks a statement about use by itself.
func checkUse(c *checker, m *schedulev1.UseFact) (schedule.UseFact, error) {
	f, err := schedulewire.UseFact(m)
	c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	if err == nil {
		c.date("start_date", f.Start)
		c.must(f.End.IsZero() || !f.End.Before(f.Start), "end_date", f.End.String(), "not before the first day, "+f.Start.String())
	}
	c.must(f.Kind.Valid(), "kind", strconv.Itoa(int(m.GetKind())), "a kind of use")
	c.month("first_month", f, f.FirstMonth)
	c.month("last_month", f, f.LastMonth)
	c.note("note", m.GetNote())
	return f, c.err()
}

// month checks a month of a season, which seasonal use has and nothing else.
func (c *checker) month(name string, f schedule.UseFact, month int) {
	if f.Kind == schedule.Seasonal {
		c.must(month >= 1 && month <= 12, name, strconv.Itoa(month), "the "+strings.ReplaceAll(name, "_", " ")+" of the season, 1 to 12")
	} else {
		c.must(month == 0, name, strconv.Itoa(month), "none, except for seasonal use")
	}
}

// EndUse implements the ScheduleService. An owner may end what somebody before
// them declared, and does not read their words for it.
func (s *Service) EndUse(ctx context.Context, r *schedulev1.EndUseRequest) (*schedulev1.UseFact, error) {
	serial, ids, err := resname.Serial("use_fact.name", schedulestore.Uses.Pattern("use_fact"), r.GetUseFact().GetName())
	if err != nil {
		return nil, err
	}
	if _, err := s.known(ctx, serial); err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.UseFact{}, func() (*schedulev1.UseFact, []schedulestore.Record, error) {
		history := s.store.History(serial)
		stored, ok := history.Find(schedulestore.Uses, ids[0])
		if !ok {
			return nil, nil, fault.New(fault.NotFound, "USE_FACT_NOT_FOUND", "There is no such statement about %s.", serial)
		}
		if err := kv.Matches("use_fact.etag", r.GetUseFact().GetEtag(), stored.Revision); err != nil {
			return nil, nil, err
		}
		m := &schedulev1.UseFact{}
		if err := history.Read(schedulestore.Uses, stored, m); err != nil {
			return nil, nil, err
		}
		if err := s.endUse(m, r.GetUseFact()); err != nil {
			return nil, nil, err
		}
		return m, []schedulestore.Record{{Key: schedulestore.Uses.Key(serial, ids[0]), Message: m, Was: stored.Revision}}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = etagOf(result)
	if access.CallerFrom(ctx).Role.Limited() {
		answer.Note, answer.RecordedBy = "", ""
	}
	return answer, nil
}

// endUse gives a statement its last day. One whose last day is past has ended and
// stays as it was.
func (s *Service) endUse(m, given *schedulev1.UseFact) error {
	was, err := vehiclewire.Date(m.GetEndDate())
	if err != nil {
		return err
	}
	if !was.IsZero() && was.Before(s.today()) {
		return fault.New(fault.FailedPrecondition, "USE_ENDED", "This statement ended on %s.", was.Long())
	}
	if given.GetEndDate() == nil {
		return fault.InvalidField("use_fact.end_date", "", "the last day")
	}
	m.EndDate = given.GetEndDate()
	f, err := checkUse(&checker{}, m)
	if err != nil {
		return fault.Under("use_fact", err)
	}
	if f.Kind.Hard() && f.End.Before(s.today().AddDays(-backDated)) {
		return fault.InvalidField("use_fact.end_date", f.End.String(),
			"not before "+s.today().AddDays(-backDated).String()+", so that past due dates stay")
	}
	return nil
}

// ListUseFacts implements the ScheduleService.
func (s *Service) ListUseFacts(ctx context.Context, r *schedulev1.ListUseFactsRequest) (*schedulev1.ListUseFactsResponse, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	all, err := messages[schedulev1.UseFact](s.store.History(serial), schedulestore.Uses)
	if err != nil {
		return nil, err
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), discreetUses(access.CallerFrom(ctx), all))
	if err != nil {
		return nil, err
	}
	return &schedulev1.ListUseFactsResponse{UseFacts: few, NextPageToken: next}, nil
}
