package ownerrpc

import (
	"context"
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

// consentFaults says all that is wrong with a consent, its language included.
func (s *Service) consentFaults(c owner.Consent) []fault.Field {
	out := c.Faults(s.now())
	if c.Language != "" && !knownLanguage(c.Language) {
		out = append(out, fault.Field{Name: "language", Got: c.Language, Want: "a language tag, as in en-GB (BCP 47)"})
	}
	return out
}

// newConsent reads a consent that is to be recorded.
func (s *Service) newConsent(ctx context.Context, field, person string, from *ownerv1.Consent) (owner.Consent, error) {
	c, faults := ownerwire.Consent(from)
	c.Person, c.ID = person, kv.NewID()
	c.RecordedBy, c.Created = access.CallerFrom(ctx).Bearer, s.now()
	if c.Said.IsZero() {
		c.Said = c.Created
	}
	return c, fault.InvalidFields(fault.FieldsUnder(field, append(faults, s.consentFaults(c)...)))
}

// RecordConsent implements the OwnerService.
func (s *Service) RecordConsent(ctx context.Context, r *ownerv1.RecordConsentRequest) (*ownerv1.Consent, error) {
	answer := &ownerv1.Consent{}
	if _, found, err := s.answered(ctx, r, answer); err != nil || found {
		return answer, err
	}
	person, err := ownerwire.PersonID("parent", r.GetParent())
	if err != nil {
		return nil, err
	}
	if err := s.store.KnownPerson(person); err != nil {
		return nil, err
	}
	c, err := s.newConsent(ctx, "consent", person, r.GetConsent())
	if err != nil {
		return nil, err
	}
	answer, revision, err := s.store.RecordConsent(ctx, c, r.GetRequestId(), r)
	return answer, s.seen(ctx, revision, err, func() {})
}

// ListConsents implements the OwnerService.
func (s *Service) ListConsents(_ context.Context, r *ownerv1.ListConsentsRequest) (*ownerv1.ListConsentsResponse, error) {
	person, err := ownerwire.PersonID("parent", r.GetParent())
	if err != nil {
		return nil, err
	}
	if err := s.store.KnownPerson(person); err != nil {
		return nil, err
	}
	consents, err := s.store.Consents(person)
	if err != nil {
		return nil, err
	}
	list, next, err := pageOf(r, consents, func(c owner.Consent) string { return c.ID })
	out := &ownerv1.ListConsentsResponse{NextPageToken: next}
	for _, c := range list {
		out.Consents = append(out.Consents, ownerwire.ConsentProto(c))
	}
	return out, err
}

// pageOf gives a page of a list that is in order already: what follows the entry
// that the token names, by the key that tells the entries apart.
func pageOf[T any](r pagedRequest, list []T, key func(T) string) (out []T, next string, err error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, "", err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, "", err
	}
	if after != "" {
		list = list[1+slices.IndexFunc(list, func(t T) bool { return key(t) == after }):]
	}
	if len(list) <= size {
		return list, "", nil
	}
	return list[:size], page.Token(r, key(list[size-1])), nil
}
