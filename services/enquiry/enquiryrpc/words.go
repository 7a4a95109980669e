package enquiryrpc

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
)

// sealPurpose names what the words of an enquiry belong to.
func sealPurpose(e enquiry.Enquiry) string { return "enquiry " + string(e.Serial) + "/" + e.ID }

// sealed gives an enquiry as it is kept. What was said by and to a person on
// record is under their key, and goes with it.
func (s *Service) sealed(ctx context.Context, e enquiry.Enquiry, at int64) (enquirystore.Kept, error) {
	k := enquirystore.Kept{Enquiry: e, Revision: at}
	if !e.OnRecord() {
		return k, nil
	}
	plain, err := proto.Marshal(enquirywire.Words(e))
	if err != nil {
		return k, fmt.Errorf("write the words of an enquiry: %w", err)
	}
	r, err := s.Owners.SealForPerson(asService(ctx), &ownerv1.SealForPersonRequest{
		Person: enquirywire.PersonName(e.Person), Plaintext: plain, Purpose: sealPurpose(e),
	})
	if err != nil {
		refusal := rpcerr.FromStatus(err)
		if refusal.Kind == fault.NotFound {
			return k, fault.InvalidField("enquiry.person", enquirywire.PersonName(e.Person), "the identifier of a person who is on record, as in people/p0031; who was erased is not")
		}
		return k, refusal
	}
	bare := e.Wordless()
	bare.Person = e.Person
	k.Enquiry, k.Sealed = bare, r.GetSealed()
	return k, nil
}

// otherKey is why the owner service cannot open what was sealed for a person of
// the same identifier before they were erased and taken in anew.
const otherKey = "NOT_SEALED_HERE"

// opened gives an enquiry with its words. readable is false where the key that
// they were sealed under is gone; they are empty then.
func (s *Service) opened(ctx context.Context, k enquirystore.Kept) (e enquiry.Enquiry, readable bool, err error) {
	if len(k.Sealed) == 0 {
		return k.Enquiry, true, nil
	}
	r, err := s.Owners.OpenForPerson(asService(ctx), &ownerv1.OpenForPersonRequest{
		Person: enquirywire.PersonName(k.Person), Sealed: k.Sealed, Purpose: sealPurpose(k.Enquiry),
	})
	if err != nil {
		refusal := rpcerr.FromStatus(err)
		if refusal.Kind == fault.NotFound || refusal.Reason == otherKey {
			return k.Enquiry, false, nil
		}
		return k.Enquiry, false, refusal
	}
	var words enquiryv1.EnquiryWords
	if err := proto.Unmarshal(r.GetPlaintext(), &words); err != nil {
		return k.Enquiry, false, fault.New(fault.Internal, "ENQUIRY_DAMAGED", "the words of the enquiry %s cannot be read", k.ID)
	}
	return enquirywire.WithWords(k.Enquiry, &words), true, nil
}

// shown writes an enquiry as far as the caller may see it. Whoever may not read
// people is shown neither who on record asked nor what was said by and to them.
func (s *Service) shown(ctx context.Context, k enquirystore.Kept) (*enquiryv1.Enquiry, error) {
	e := k.Enquiry
	switch {
	case !e.OnRecord():
	case !readsPeople(access.CallerFrom(ctx)):
		e = e.Wordless()
	default:
		var err error
		if e, _, err = s.opened(ctx, k); err != nil {
			return nil, err
		}
	}
	p := enquirywire.EnquiryProto(e)
	p.Etag = kv.Etag(k.Revision)
	return p, nil
}

// shownAll is shown of several.
func (s *Service) shownAll(ctx context.Context, kept []enquirystore.Kept) ([]*enquiryv1.Enquiry, error) {
	out := make([]*enquiryv1.Enquiry, len(kept))
	for i, k := range kept {
		var err error
		if out[i], err = s.shown(ctx, k); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// elsewhere writes an enquiry of another vehicle: without who asked and what
// they said. What was answered to somebody on record is theirs too.
func elsewhere(k enquirystore.Kept) *enquiryv1.Enquiry {
	e := k.Wordless()
	if !k.OnRecord() {
		e.Answers = k.Answers
	}
	e.Organisation, e.RecordedBy = "", ""
	return enquirywire.EnquiryProto(e)
}
