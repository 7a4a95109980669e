package reminderrpc

import (
	"context"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// cadenceProto writes a cadence with its etag, which the usual one lacks.
func cadenceProto(k reminderstore.KeptCadence) *reminderv1.Cadence {
	p := reminderwire.CadenceProto(k.Class, k.Cadence)
	if k.Revision != 0 {
		p.Etag = kv.Etag(k.Revision)
	}
	return p
}

// GetCadence implements the ReminderService.
func (s *Service) GetCadence(ctx context.Context, r *reminderv1.GetCadenceRequest) (*reminderv1.Cadence, error) {
	class, err := reminderwire.CadenceClass("name", r.GetName())
	if err != nil {
		return nil, err
	}
	kept, err := s.Store.Cadence(ctx, class)
	if err != nil {
		return nil, err
	}
	return cadenceProto(kept), nil
}

// ListCadences implements the ReminderService.
func (s *Service) ListCadences(ctx context.Context, r *reminderv1.ListCadencesRequest) (*reminderv1.ListCadencesResponse, error) {
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	out, last := &reminderv1.ListCadencesResponse{}, ""
	for _, class := range reminder.Classes() {
		if string(class) <= after {
			continue
		}
		if len(out.Cadences) == size {
			out.NextPageToken = page.Token(r, last)
			break
		}
		last = string(class)
		kept, err := s.Store.Cadence(ctx, class)
		if err != nil {
			return nil, err
		}
		out.Cadences = append(out.Cadences, cadenceProto(kept))
	}
	return out, nil
}

// UpdateCadence implements the ReminderService.
func (s *Service) UpdateCadence(ctx context.Context, r *reminderv1.UpdateCadenceRequest) (*reminderv1.Cadence, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	class, c, err := reminderwire.Cadence(r.GetCadence())
	if err != nil {
		return nil, fault.Under("cadence", err)
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.Store.ReplayCadence(ctx, q); err != nil || found {
		return cadenceProto(kept), err
	}
	kept, err := s.Store.Cadence(ctx, class)
	if err != nil {
		return nil, err
	}
	if kept.Revision != 0 || r.GetCadence().GetEtag() != "" { // the usual cadence has no etag
		if err := kv.Matches("cadence.etag", r.GetCadence().GetEtag(), kept.Revision); err != nil {
			return nil, fault.Under("cadence", err)
		}
	}
	kept, err = s.Store.PutCadence(ctx, q, class, c, kept.Revision)
	if err != nil {
		return nil, err
	}
	return cadenceProto(kept), nil
}
