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
	faults = append(fault.FieldsUnder("enquiry", faults), fieldsOf("enquiry", e.Check(s.here()))...)
	if r.GetAnswer() != nil {
		a := enquirywire.Answer(r.GetAnswer())
		a.By, a.At = e.RecordedBy, e.Asked // given at once, whenever it is written down
		faults = append(faults, s.answerFaults(ctx, serial, a)...)
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
	return s.put(ctx, q, kept)
}

// put writes an enquiry that is sealed as far as it must be.
func (s *Service) put(ctx context.Context, q enquirystore.Request, k enquirystore.Kept) (*enquiryv1.Enquiry, error) {
	k, err := s.store.PutEnquiry(ctx, q, k)
	if err != nil {
		return nil, err
	}
	return s.shown(ctx, k)
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
// changes all but who on record asked and what they said.
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
	if err := kv.Matches("enquiry.etag", r.GetEnquiry().GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	to, faults := enquirywire.Asked(serial, r.GetEnquiry())
	old, readable, err := s.opened(ctx, kept)
	if err != nil {
		return nil, err
	}
	if caller := access.CallerFrom(ctx); old.OnRecord() && !readsPeople(caller) {
		if to.Person != "" || to.Question != "" { // never shown to them: they would write over what they cannot read
			return nil, fault.New(fault.Denied, "ASKER_MAY_NOT", "The role %s may not change who asked and what they said: leave both out.", caller.Role)
		}
		to.Person, to.Question = old.Person, old.Question
	}
	if !readable && (to.Person != old.Person || to.Question != "") {
		return nil, errErased()
	}
	e, err := old.Changed(to)
	if err != nil {
		return nil, err
	}
	if err := fault.InvalidFields(fault.FieldsUnder("enquiry", append(faults, s.changeFaults(e, readable)...))); err != nil {
		return nil, err
	}
	if !readable { // what is sealed stays as it is: nobody opens it any more
		return s.put(ctx, q, enquirystore.Kept{Enquiry: e, Sealed: kept.Sealed, Revision: kept.Revision})
	}
	return s.keep(ctx, q, e, kept.Revision)
}

// changeFaults says what is wrong with an enquiry as it is to be. One whose words
// are gone needs none.
func (s *Service) changeFaults(e enquiry.Enquiry, readable bool) []fault.Field {
	if !readable {
		e.Question = "gone"
	}
	return fieldsOf("", e.Check(s.here()))
}

// errErased refuses words for an enquiry whose words are gone: they would be put
// into the mouth of somebody who was erased.
func errErased() error {
	return fault.New(fault.FailedPrecondition, "ASKER_ERASED", "Who asked was erased, and their words with them: close it, and enter a new enquiry.")
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
	faults := s.answerFaults(ctx, serial, a)
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
		if err := kv.Matches("etag", r.GetEtag(), kept.Revision); err != nil {
			return nil, err
		}
	}
	old, readable, err := s.opened(ctx, kept)
	if err != nil {
		return nil, err
	}
	if !readable {
		return nil, errErased()
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
