package enquiryrpc

import (
	"context"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// CreateEnquiry implements the EnquiryService.
func (s *Service) CreateEnquiry(ctx context.Context, r *enquiryv1.CreateEnquiryRequest) (*enquiryv1.Enquiry, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, _, err := resname.Serial("parent", enquirywire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayEnquiry(ctx, q); err != nil {
		return nil, err
	} else if found {
		return s.shown(ctx, kept)
	}
	e, faults := enquirywire.Asked(serial, r.GetEnquiry())
	e.ID, e.Created, e.RecordedBy = kv.NewID(), s.now(), access.CallerFrom(ctx).Bearer
	if e.Asked.IsZero() {
		e.Asked = e.Created
	}
	faults = append(fault.FieldsUnder("enquiry", faults), fieldsOf("enquiry", e.Check(s.now()))...)
	if r.GetAnswer() != nil {
		a := enquirywire.Answer(r.GetAnswer())
		a.By, a.At = e.RecordedBy, e.Asked // given at once, whenever it is written down
		faults = append(faults, fieldsOf("answer", a.Check())...)
		e.Answers = []enquiry.Answer{a}
	}
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	if e.Release, err = s.releaseOn(ctx, serial, vehicle.DateOf(e.Asked.In(s.Zone))); err != nil {
		return nil, err
	}
	return s.keep(ctx, q, e, 0)
}

// fieldsOf gives the fields that a check complains of, under a path.
func fieldsOf(path string, err error) []fault.Field {
	if err == nil {
		return nil
	}
	return fault.FieldsOf(path, err)
}

// keep seals and writes an enquiry over what stood at a revision.
func (s *Service) keep(ctx context.Context, q enquirystore.Request, e enquiry.Enquiry, at int64) (*enquiryv1.Enquiry, error) {
	kept, err := s.sealed(ctx, e, at)
	if err != nil {
		return nil, err
	}
	if kept, err = s.store.PutEnquiry(ctx, q, kept); err != nil {
		return nil, err
	}
	return s.shown(ctx, kept)
}

// releaseOn gives the release of a vehicle on a day; as it left the works for a
// day before that. A vehicle that the caller may not see, or that is not there,
// is refused as the build service refuses it.
func (s *Service) releaseOn(ctx context.Context, serial vehicle.Serial, on vehicle.Date) (string, error) {
	name := "builds/" + string(serial)
	c, err := s.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: name, OnDate: vehiclewire.DateProto(on)})
	if kind := fault.KindOf(asError(err)); err != nil && kind != fault.NotFound && kind != fault.Unavailable {
		c, err = s.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: name, AsBuilt: true})
	}
	if err != nil {
		return "", rpcerr.FromStatus(err)
	}
	return strings.TrimPrefix(c.GetRelease(), "releases/"), nil
}

// asError is rpcerr.FromStatus as an error, nil for nil.
func asError(err error) error {
	if err == nil {
		return nil
	}
	return rpcerr.FromStatus(err)
}

// UpdateEnquiry implements the EnquiryService. Whoever may not read people
// changes all but who asked and what they said.
func (s *Service) UpdateEnquiry(ctx context.Context, r *enquiryv1.UpdateEnquiryRequest) (*enquiryv1.Enquiry, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, id, err := enquirywire.EnquiryID("enquiry.name", r.GetEnquiry().GetName())
	if err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayEnquiry(ctx, q); err != nil {
		return nil, err
	} else if found {
		return s.shown(ctx, kept)
	}
	kept, err := s.store.Enquiry(serial, id)
	if err != nil {
		return nil, err
	}
	if err := unchanged("enquiry.etag", r.GetEnquiry().GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	to, faults := enquirywire.Asked(serial, r.GetEnquiry())
	old, err := s.toChange(ctx, kept)
	if err != nil {
		return nil, err
	}
	if old.OnRecord() && !readsPeople(access.CallerFrom(ctx)) {
		to.Person, to.Question = old.Person, old.Question
	}
	e, err := old.Changed(to)
	if err != nil {
		return nil, err
	}
	if err := fault.InvalidFields(fault.FieldsUnder("enquiry", append(faults, fieldsOf("", e.Check(s.now()))...))); err != nil {
		return nil, err
	}
	return s.keep(ctx, q, e, kept.Revision)
}

// toChange opens an enquiry in order to write it again. One whose words are gone
// is changed no more: what is written would hide that they are.
func (s *Service) toChange(ctx context.Context, k enquirystore.Kept) (enquiry.Enquiry, error) {
	e, readable, err := s.opened(ctx, k)
	if err == nil && !readable {
		err = fault.New(fault.FailedPrecondition, "ASKER_ERASED", "Who asked was erased, and their words with them: enter a new enquiry.")
	}
	return e, err
}

// RecordAnswer implements the EnquiryService.
func (s *Service) RecordAnswer(ctx context.Context, r *enquiryv1.RecordAnswerRequest) (*enquiryv1.Enquiry, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, id, err := enquirywire.EnquiryID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayEnquiry(ctx, q); err != nil {
		return nil, err
	} else if found {
		return s.shown(ctx, kept)
	}
	a := enquirywire.Answer(r.GetAnswer())
	a.By, a.At = access.CallerFrom(ctx).Bearer, s.now()
	faults := fieldsOf("answer", a.Check())
	followUp, err := vehiclewire.Date(r.GetFollowUpDate())
	if err != nil {
		faults = append(faults, fault.Field{Name: "follow_up_date", Got: r.GetFollowUpDate().String(), Want: "a day of the calendar"})
	} else if !followUp.IsZero() && followUp.Before(s.today()) {
		faults = append(faults, fault.Field{Name: "follow_up_date", Got: followUp.String(), Want: "today, " + s.today().String() + ", or later"})
	}
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	kept, err := s.store.Enquiry(serial, id)
	if err != nil {
		return nil, err
	}
	if r.GetEtag() != "" {
		if err := unchanged("etag", r.GetEtag(), kept.Revision); err != nil {
			return nil, err
		}
	}
	old, err := s.toChange(ctx, kept)
	if err != nil {
		return nil, err
	}
	e, err := old.Answered(a, r.GetClose(), followUp)
	if err != nil {
		return nil, err
	}
	return s.keep(ctx, q, e, kept.Revision)
}

// GetEnquiry implements the EnquiryService.
func (s *Service) GetEnquiry(ctx context.Context, r *enquiryv1.GetEnquiryRequest) (*enquiryv1.Enquiry, error) {
	serial, id, err := enquirywire.EnquiryID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	kept, err := s.store.Enquiry(serial, id)
	if err != nil {
		return nil, err
	}
	return s.shown(ctx, kept)
}
