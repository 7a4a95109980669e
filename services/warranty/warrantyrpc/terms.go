package warrantyrpc

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

// maxTermBytes keeps a version well below what one key holds.
const maxTermBytes = 64 << 10

// CreateWarrantyTerm implements the WarrantyService.
func (s *Service) CreateWarrantyTerm(ctx context.Context, r *warrantyv1.CreateWarrantyTermRequest) (*warrantyv1.WarrantyTerm, error) {
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &warrantyv1.WarrantyTerm{}, func() (*warrantyv1.WarrantyTerm, warrantystore.Record, error) {
		if r.GetWarrantyTerm() == nil {
			return nil, warrantystore.Record{}, fault.InvalidField("warranty_term", "", "a version of a term")
		}
		m := proto.CloneOf(r.GetWarrantyTerm())
		m.CreateTime, m.Etag = timestamppb.New(s.now()), ""
		t, err := warrantywire.Term(m)
		c := &checker{}
		c.add(fault.FieldsOf("", err))
		if err == nil {
			c.add(t.Faults())
		}
		c.must(proto.Size(m) <= maxTermBytes, "", fmt.Sprintf("%d bytes", proto.Size(m)), "at most 65,536 bytes")
		if err := c.err(); err != nil {
			return nil, warrantystore.Record{}, fault.Under("warranty_term", err)
		}
		var beside []warranty.Term
		for _, v := range s.store.Terms() {
			beside = append(beside, v.Term)
		}
		if err := warranty.Admit(beside, t); err != nil {
			return nil, warrantystore.Record{}, fault.Under("warranty_term", err)
		}
		warrantywire.Settled(m)
		return m, warrantystore.Record{Key: warrantystore.TermKey(t.ID, t.Version), Message: m}, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// GetWarrantyTerm implements the WarrantyService.
func (s *Service) GetWarrantyTerm(_ context.Context, r *warrantyv1.GetWarrantyTermRequest) (*warrantyv1.WarrantyTerm, error) {
	id, version, err := warrantywire.TermID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	var found *warrantystore.Version
	for _, v := range s.store.Terms() {
		if v.Term.ID == id && (version == 0 || v.Term.Version == version) {
			found = &v // of all, the last one stays
		}
	}
	if found == nil {
		return nil, fault.New(fault.NotFound, "WARRANTY_TERM_NOT_FOUND", "There is no %s here.", r.GetName())
	}
	return termAnswer(*found), nil
}

// termAnswer is a version as it is answered; the stored message is shared.
func termAnswer(v warrantystore.Version) *warrantyv1.WarrantyTerm {
	m := proto.CloneOf(v.Message)
	m.Etag = kv.Etag(v.Revision)
	return m
}

// term finds a version by its name.
func (s *Service) term(name string) (warranty.Term, bool) {
	for _, v := range s.store.Terms() {
		if v.Term.Name() == name {
			return v.Term, true
		}
	}
	return warranty.Term{}, false
}

// ListWarrantyTerms implements the WarrantyService.
func (s *Service) ListWarrantyTerms(_ context.Context, r *warrantyv1.ListWarrantyTermsRequest) (*warrantyv1.ListWarrantyTermsResponse, error) {
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	answer := &warrantyv1.ListWarrantyTermsResponse{}
	last := ""
	for _, v := range s.store.Terms() {
		key := fmt.Sprintf("%s\x00%04d", v.Term.ID, v.Term.Version) // in the order of warranty.OrderTerms
		if after != "" && key <= after {
			continue
		}
		if len(answer.WarrantyTerms) == size {
			answer.NextPageToken = page.Token(r, last)
			break
		}
		answer.WarrantyTerms, last = append(answer.WarrantyTerms, termAnswer(v)), key
	}
	return answer, nil
}
