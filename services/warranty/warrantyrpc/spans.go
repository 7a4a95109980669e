package warrantyrpc

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

// CreateOutOfServiceSpan implements the WarrantyService.
func (s *Service) CreateOutOfServiceSpan(ctx context.Context, r *warrantyv1.CreateOutOfServiceSpanRequest) (*warrantyv1.OutOfServiceSpan, error) {
	serial, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &warrantyv1.OutOfServiceSpan{}, func() (*warrantyv1.OutOfServiceSpan, warrantystore.Record, error) {
		from, id := r.GetOutOfServiceSpan(), kv.NewID()
		m := &warrantyv1.OutOfServiceSpan{
			Name: warrantywire.SpanName(serial, id), StartDate: from.GetStartDate(), EndDate: from.GetEndDate(), Reason: from.GetReason(),
			Claim: from.GetClaim(), Counts: from.GetCounts(), RecordedBy: by(ctx), CreateTime: timestamppb.New(s.now()),
		}
		if m.StartDate == nil {
			m.StartDate = vehiclewire.DateProto(s.today())
		}
		kept := s.store.Vehicle(serial)
		c := &checker{}
		c.must(len(kept.Spans) < maxPerVehicle, "parent", strconv.Itoa(len(kept.Spans))+" records", "fewer than 2,000 for one vehicle")
		if err := s.checkSpan(c, kept, m); err != nil {
			return nil, warrantystore.Record{}, fault.Under("out_of_service_span", err)
		}
		return m, warrantystore.Record{Key: warrantystore.Spans.Key(serial, id), Message: m}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// parent reads the vehicle of a request, and sees that there is one.
func (s *Service) parent(ctx context.Context, name string) (vehicle.Serial, error) {
	serial, _, err := resname.Serial("parent", vehicleForm, name)
	if err != nil {
		return "", err
	}
	return serial, s.exists(ctx, serial)
}

// exists refuses a vehicle that is not there.
func (s *Service) exists(ctx context.Context, serial vehicle.Serial) error {
	if err := s.heard(ctx); err != nil {
		return err
	}
	if state, _ := s.fleet.find(serial); state == nil {
		return access.NoVehicle(serial)
	}
	return nil
}

// checkSpan says what is wrong with a time out of service.
func (s *Service) checkSpan(c *checker, kept *warrantystore.Vehicle, m *warrantyv1.OutOfServiceSpan) error {
	if err := s.spanFaults(m); err != nil {
		c.add(fault.FieldsOf("", err))
	}
	if m.GetClaim() != "" {
		_, ok := kept.Claim(m.GetClaim())
		c.must(ok, "claim", m.GetClaim(), "a claim of this vehicle, or nothing")
	}
	return c.err()
}

// spanFaults says what is wrong with a time out of service by itself.
func (s *Service) spanFaults(m *warrantyv1.OutOfServiceSpan) error {
	c := &checker{}
	span, err := warrantywire.Span(m)
	c.add(fault.FieldsOf("", err))
	if err == nil {
		c.add(span.Faults())
		c.must(!span.Start.After(s.today().AddDays(1)), "start_date", span.Start.String(), "a day that has come")
		c.must(!span.End.After(s.today().AddDays(1)), "end_date", span.End.String(), "a day that has come, or nothing while it lasts")
	}
	c.must(m.GetReason() != "", "reason", "", "why the vehicle could not be used, without names")
	c.note("reason", m.GetReason())
	return c.err()
}

// UpdateOutOfServiceSpan implements the WarrantyService.
func (s *Service) UpdateOutOfServiceSpan(ctx context.Context, r *warrantyv1.UpdateOutOfServiceSpanRequest) (*warrantyv1.OutOfServiceSpan, error) {
	from := r.GetOutOfServiceSpan()
	serial, ids, err := resname.Serial("out_of_service_span.name", warrantywire.SpanForm, from.GetName())
	if err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &warrantyv1.OutOfServiceSpan{}, func() (*warrantyv1.OutOfServiceSpan, warrantystore.Record, error) {
		kept := s.store.Vehicle(serial)
		stored, ok := kept.Span(warrantywire.SpanName(serial, ids[0]))
		if !ok {
			return nil, warrantystore.Record{}, fault.New(fault.NotFound, "SPAN_NOT_FOUND", "There is no such time out of service of %s.", serial)
		}
		if err := kv.Matches("out_of_service_span.etag", from.GetEtag(), stored.Revision); err != nil {
			return nil, warrantystore.Record{}, err
		}
		m := proto.CloneOf(stored.Message)
		m.StartDate, m.EndDate, m.Reason, m.Claim, m.Counts = from.GetStartDate(), from.GetEndDate(), from.GetReason(), from.GetClaim(), from.GetCounts()
		if err := s.checkSpan(&checker{}, kept, m); err != nil {
			return nil, warrantystore.Record{}, fault.Under("out_of_service_span", err)
		}
		return m, warrantystore.Record{Key: warrantystore.Spans.Key(serial, ids[0]), Message: m, Was: stored.Revision}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// ListOutOfServiceSpans implements the WarrantyService.
func (s *Service) ListOutOfServiceSpans(ctx context.Context, r *warrantyv1.ListOutOfServiceSpansRequest) (*warrantyv1.ListOutOfServiceSpansResponse, error) {
	serial, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	var all []*warrantyv1.OutOfServiceSpan
	for _, stored := range s.store.Vehicle(serial).Spans {
		m := proto.CloneOf(stored.Message)
		m.Etag = kv.Etag(stored.Revision)
		all = append(all, m)
	}
	place := func(m *warrantyv1.OutOfServiceSpan) string {
		on, err := vehiclewire.Date(m.GetStartDate())
		if err != nil {
			on = vehicle.Date{}
		}
		return latestFirst(int64(on.Ordinal()), m.GetName())
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all, place)
	return &warrantyv1.ListOutOfServiceSpansResponse{OutOfServiceSpans: few, NextPageToken: next}, err
}

// latestFirst is where something stands in a list, comparable as text: what is
// later first, and by name among equals.
func latestFirst(when int64, name string) string {
	const most = 1 << 62
	return strconv.FormatInt(most-when, 10) + "/" + name
}

// cut gives one page of a list, by the places of its entries, and the token for
// the next: entries that come or go meanwhile do not matter.
func cut[T any](request proto.Message, asked int32, token string, all []T, place func(T) string) (few []T, next string, err error) {
	size, err := page.Size(asked, standardPage, mostPage)
	if err != nil {
		return nil, "", err
	}
	after, err := page.After(request, token)
	if err != nil {
		return nil, "", err
	}
	slices.SortFunc(all, func(a, b T) int { return cmp.Compare(place(a), place(b)) })
	for _, m := range all {
		if after != "" && place(m) <= after {
			continue
		}
		if few = append(few, m); len(few) > size {
			break
		}
	}
	few, next = page.Cut(request, few, size, place)
	return few, next, nil
}
