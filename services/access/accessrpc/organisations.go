package accessrpc

import (
	"context"
	"slices"
	"time"

	"golang.org/x/text/language"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/reach"
)

// The pages of lists.
const (
	usualPage = 50
	mostPage  = 500
)

// CreateOrganisation implements the AccessService.
func (s *Service) CreateOrganisation(ctx context.Context, r *accessv1.CreateOrganisationRequest) (*accessv1.Organisation, error) {
	answer := &accessv1.Organisation{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return organisationAt(answer, revision), err
	}
	o, faults := proposed(r.GetOrganisation())
	if err := fault.InvalidFields(fault.FieldsUnder("organisation", faults)); err != nil {
		return nil, err
	}
	if _, there := s.store.Organisation(o.ID); there {
		return nil, fault.New(fault.AlreadyExists, "ORGANISATION_EXISTS", "There is an organisation %s already.", o.ID)
	}
	// What the service gives is not taken from the caller.
	o.Created, o.Closed = s.now(), time.Time{}
	answer = accesswire.OrganisationProto(o)
	done, err := s.store.CreateOrganisation(ctx, o, r.GetRequestId(), r)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return organisationAt(answer, done.Revision), nil
}

// GetOrganisation implements the AccessService.
func (s *Service) GetOrganisation(_ context.Context, r *accessv1.GetOrganisationRequest) (*accessv1.Organisation, error) {
	id, err := accesswire.OrganisationID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	o, there := s.store.Organisation(id)
	if !there {
		return nil, access.NoOrganisation(id)
	}
	return organisationAt(accesswire.OrganisationProto(o.Organisation), o.ModRevision), nil
}

// ListOrganisations implements the AccessService.
func (s *Service) ListOrganisations(_ context.Context, r *accessv1.ListOrganisationsRequest) (*accessv1.ListOrganisationsResponse, error) {
	ids, token, err := pageOf(r, s.store.Organisations())
	if err != nil {
		return nil, err
	}
	out := &accessv1.ListOrganisationsResponse{NextPageToken: token}
	for _, id := range ids {
		if o, there := s.store.Organisation(id); there {
			out.Organisations = append(out.Organisations, organisationAt(accesswire.OrganisationProto(o.Organisation), o.ModRevision))
		}
	}
	return out, nil
}

// UpdateOrganisation implements the AccessService.
func (s *Service) UpdateOrganisation(ctx context.Context, r *accessv1.UpdateOrganisationRequest) (*accessv1.Organisation, error) {
	answer := &accessv1.Organisation{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return organisationAt(answer, revision), err
	}
	changed, faults := proposed(r.GetOrganisation())
	if err := fault.InvalidFields(fault.FieldsUnder("organisation", faults)); err != nil {
		return nil, err
	}
	o, there := s.store.Organisation(changed.ID)
	if !there {
		return nil, access.NoOrganisation(changed.ID)
	}
	if err := quoted("organisation", r.GetOrganisation().GetEtag(), o.ModRevision); err != nil {
		return nil, fault.Under("organisation", err)
	}
	was := o.Organisation
	o.Title, o.Contact, o.Closed = changed.Title, changed.Contact, s.closed(o.Closed, r.GetClosed())
	fields := opening(was.Closed, o.Closed)
	if was.Title != o.Title {
		fields = append(fields, "title")
	}
	if !was.Contact.Same(o.Contact) {
		fields = append(fields, "contact")
	}
	ctx = audit.Changing(ctx, audit.Detail{Fields: fields})
	answer = accesswire.OrganisationProto(o.Organisation)
	done, err := s.store.ReplaceOrganisation(ctx, o.Organisation, o.ModRevision, r.GetRequestId(), r)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return organisationAt(answer, done.Revision), nil
}

// proposed reads an organisation that is to be made or changed, and says all
// that is wrong with it, the outside facts included: whether there is such a
// country, and whether its number and mailbox can be real.
func proposed(p *accessv1.Organisation) (access.Organisation, []fault.Field) {
	o, faults := access.ProposedOrganisation(accesswire.Organisation(p))
	c := o.Contact
	wrong := func(name, got, want string) {
		faults = append(faults, fault.Field{Name: "contact." + name, Got: got, Want: want})
	}
	if access.CountryShaped(c.Country) && !isCountry(c.Country) {
		wrong("country_code", c.Country, "a country by ISO 3166-1, as in GB")
	}
	if c.Phone != "" && !reach.Phone(c.Phone) {
		wrong("phone", fault.Length(c.Phone), "a possible number with its country code and nothing but digits, as in +441632960983 (E.164)")
	}
	if c.Email != "" && !reach.Mailbox(c.Email) {
		wrong("email", fault.Length(c.Email), "one address, as in workshop@ferncombe.example, without a name beside it")
	}
	return o, faults
}

// isCountry reports whether a code of two capitals is that of a country today:
// not UK, which stands for GB, nor one that there is no more.
func isCountry(code string) bool {
	region, err := language.ParseRegion(code)
	return err == nil && region.IsCountry() && region.Canonicalize().String() == code
}

// opening says for the audit that something is closed now, or open again.
func opening(was, becomes time.Time) []string {
	switch {
	case was.IsZero() == becomes.IsZero():
		return nil
	case becomes.IsZero():
		return []string{"opened"}
	}
	return []string{"closed"}
}

// closed gives when something is closed that is to be so, or open: since
// before, or as of now.
func (s *Service) closed(was time.Time, closed bool) time.Time {
	switch {
	case !closed:
		return time.Time{}
	case was.IsZero():
		return s.now()
	}
	return was
}

// openOrganisation gives an organisation that is open, or what is wrong with
// the field that names it.
func (s *Service) openOrganisation(field, id string) (accessstore.OrganisationRecord, *fault.Field) {
	o, there := s.store.Organisation(id)
	if !there || !o.Open() {
		return o, &fault.Field{Name: field, Got: "organisations/" + id, Want: "an organisation that there is and that is open"}
	}
	return o, nil
}

func organisationAt(o *accessv1.Organisation, revision int64) *accessv1.Organisation {
	o.Etag = kv.Etag(revision)
	return o
}

// paged is a request for a page.
type paged interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

// pageOf gives the page of sorted identifiers that is asked for, and the token
// of the next.
func pageOf(r paged, ids []string) (of []string, token string, err error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, "", err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, "", err
	}
	from, found := slices.BinarySearch(ids, after)
	if found {
		from++
	}
	of, token = page.Cut(r, ids[from:min(from+size+1, len(ids))], size, func(id string) string { return id })
	return of, token, nil
}
