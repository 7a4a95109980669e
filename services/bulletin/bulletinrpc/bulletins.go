package bulletinrpc

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access/audit"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	usualPage = 50
	mostPage  = 500
)

// maxDraftBytes keeps a version below what one record and one part of an import
// hold, with room for why it is taken back. A list of 20,000 serials fits.
const maxDraftBytes = 180 << 10

// draft reads a bulletin that somebody hands in: what the service decides is not
// theirs to say.
func (s *Service) draft(p *bulletinv1.Bulletin) (bulletin.Bulletin, error) {
	b, err := bulletinwire.Bulletin(p)
	b.State, b.Issued, b.WithdrawReason, b.SupersededBy = bulletin.Draft, vehicle.Date{}, "", ""
	if n := proto.Size(p); n > maxDraftBytes {
		return b, fault.InvalidField("bulletin", fmt.Sprintf("%d KiB", (n+1023)>>10), fmt.Sprintf("at most %d KiB", maxDraftBytes>>10))
	}
	return b, fault.Under("bulletin", both(err, b.Check(s.Job.Compiler())))
}

// both is all that is wrong: what could not be read, and what is wrong with the
// rest. What could not be read is not complained of a second time.
func both(unread, checked error) error {
	if unread == nil || fault.KindOf(unread) != fault.Invalid {
		return cmp.Or(unread, checked)
	}
	wrong := fault.FieldsOf("", unread)
	read := len(wrong)
	for _, f := range fault.FieldsOf("", checked) {
		if !slices.ContainsFunc(wrong[:read], func(u fault.Field) bool {
			return strings.HasPrefix(u.Name, f.Name) || strings.HasPrefix(f.Name, u.Name)
		}) {
			wrong = append(wrong, f)
		}
	}
	return fault.InvalidFields(wrong)
}

// CreateBulletin implements the BulletinService.
func (s *Service) CreateBulletin(ctx context.Context, r *bulletinv1.CreateBulletinRequest) (*bulletinv1.Bulletin, error) {
	b, err := s.draft(r.GetBulletin())
	if err != nil {
		return nil, err
	}
	ctx = audit.Making(ctx, b.Name())
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &bulletinv1.Bulletin{}, func() (*bulletinv1.Bulletin, kv.Result, error) {
		if err := s.follows(&b); err != nil {
			return nil, kv.Result{}, err
		}
		v := &bulletinstore.Version{Bulletin: b, Created: s.now()}
		p := versionProto(v)
		result, err := s.Store.PutVersions(ctx, bulletinstore.Request{ID: r.GetRequestId(), Payload: r, Answer: p}, v)
		return p, result, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// follows checks that a new version is the next one, of the same kind.
func (s *Service) follows(b *bulletin.Bulletin) error {
	versions := s.Store.Versions(b.ID)
	if next := len(versions) + 1; b.Version != next {
		if b.Version < next {
			return fault.New(fault.AlreadyExists, "BULLETIN_EXISTS", "There is a version %d of %s already: the next is %d.", b.Version, b.ID, next)
		}
		return fault.InvalidField("bulletin.name", b.Name(), bulletin.Name(b.ID)+"/versions/"+strconv.Itoa(next)+", the next")
	}
	if b.Version == 1 {
		return nil
	}
	last := versions[len(versions)-1]
	switch {
	case last.Bulletin.State == bulletin.Draft:
		return fault.New(fault.FailedPrecondition, "DRAFT_OPEN", "Version %d of %s is a draft: change that one.", last.Bulletin.Version, b.ID)
	case last.Bulletin.Kind != b.Kind:
		return fault.InvalidField("bulletin.kind", strconv.Itoa(int(b.Kind)), strconv.Itoa(int(last.Bulletin.Kind))+", as the version before")
	}
	return nil
}

// UpdateBulletin implements the BulletinService.
func (s *Service) UpdateBulletin(ctx context.Context, r *bulletinv1.UpdateBulletinRequest) (*bulletinv1.Bulletin, error) {
	b, err := s.draft(r.GetBulletin())
	if err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &bulletinv1.Bulletin{}, func() (*bulletinv1.Bulletin, kv.Result, error) {
		old, err := s.basedOn("bulletin.etag", b.ID, b.Version, r.GetBulletin().GetEtag())
		if err != nil {
			return nil, kv.Result{}, err
		}
		if old.Bulletin.State != bulletin.Draft {
			return nil, kv.Result{}, fault.New(fault.FailedPrecondition, "NOT_A_DRAFT", "%s was issued and stays as it is: make a new version.", b.Name())
		}
		if old.Bulletin.Kind != b.Kind && b.Version > 1 {
			return nil, kv.Result{}, fault.InvalidField("bulletin.kind", strconv.Itoa(int(b.Kind)), strconv.Itoa(int(old.Bulletin.Kind))+", as the version before")
		}
		v := &bulletinstore.Version{Bulletin: b, Created: old.Created, Revision: old.Revision}
		p := versionProto(v)
		p.Etag = ""
		result, err := s.Store.PutVersions(ctx, bulletinstore.Request{ID: r.GetRequestId(), Payload: r, Answer: p}, v)
		return p, result, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// basedOn gives the version that a change names, if it is still as the change
// was based on.
func (s *Service) basedOn(field, id string, number int, etag string) (*bulletinstore.Version, error) {
	v := s.Store.Version(id, number)
	if v == nil {
		return nil, noVersion(id, number)
	}
	return v, kv.Matches(field, etag, v.Revision)
}

func noVersion(id string, number int) error {
	if number == 0 {
		return fault.New(fault.NotFound, "BULLETIN_NOT_FOUND", "There is no bulletin %s here.", id)
	}
	return fault.New(fault.NotFound, "BULLETIN_NOT_FOUND", "There is no version %d of a bulletin %s here.", number, id)
}

// version gives the version of a name; that of "-" is the one that holds, or
// else the latest.
func (s *Service) version(field, name string) (*bulletinstore.Version, error) {
	id, number, err := bulletinwire.VersionName(field, name)
	if err != nil {
		return nil, err
	}
	v := s.Store.Version(id, number)
	if number == 0 {
		if v = s.Store.Holding(id); v == nil {
			if versions := s.Store.Versions(id); len(versions) > 0 {
				v = versions[len(versions)-1]
			}
		}
	}
	if v == nil {
		return nil, noVersion(id, number)
	}
	return v, nil
}

// GetBulletin implements the BulletinService.
func (s *Service) GetBulletin(_ context.Context, r *bulletinv1.GetBulletinRequest) (*bulletinv1.Bulletin, error) {
	v, err := s.version("name", r.GetName())
	if err != nil {
		return nil, err
	}
	return s.held(v), nil
}

// held writes a stored version with the day since which it holds delivery back.
func (s *Service) held(v *bulletinstore.Version) *bulletinv1.Bulletin {
	p := versionProto(v)
	if v.Bulletin.State == bulletin.Issued {
		p.HoldFromDate = vehiclewire.DateProto(bulletin.HoldFrom(s.Store.Issued(v.Bulletin.ID)))
	}
	return p
}

// ListBulletins implements the BulletinService.
func (s *Service) ListBulletins(_ context.Context, r *bulletinv1.ListBulletinsRequest) (*bulletinv1.ListBulletinsResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	var found []*bulletinv1.Bulletin
	for _, id := range s.Store.IDs() {
		for _, v := range s.Store.Versions(id) {
			if sortKey(v) > after && among(bulletinv1.BulletinState(v.Bulletin.State), r.GetStates()) && len(found) <= size {
				found = append(found, s.held(v))
			}
		}
	}
	out := &bulletinv1.ListBulletinsResponse{}
	out.Bulletins, out.NextPageToken = page.Cut(r, found, size, func(p *bulletinv1.Bulletin) string {
		id, number, _ := bulletinwire.VersionName("name", p.GetName()) // as it was written
		return listKey(id, number)
	})
	return out, nil
}

func sortKey(v *bulletinstore.Version) string { return listKey(v.Bulletin.ID, v.Bulletin.Version) }

// listKey orders versions by bulletin, then by number. No identifier has a
// character before "/", so that none is the beginning of another's key.
func listKey(id string, number int) string { return id + "\x00" + strconv.Itoa(100000+number) }

// among reports whether one of a choice is meant; no choice is all.
func among[T comparable](one T, choice []T) bool {
	if len(choice) == 0 {
		return true
	}
	for _, c := range choice {
		if c == one {
			return true
		}
	}
	return false
}

// IssueBulletin implements the BulletinService. Vehicles that are on the list
// already are told of a new version, and taken back on a list that was called
// off, by the pass.
func (s *Service) IssueBulletin(ctx context.Context, r *bulletinv1.IssueBulletinRequest) (*bulletinv1.Bulletin, error) {
	id, number, err := bulletinwire.VersionName("name", r.GetName())
	if err != nil {
		return nil, err
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &bulletinv1.Bulletin{}, func() (*bulletinv1.Bulletin, kv.Result, error) {
		draft, err := s.basedOn("etag", id, number, r.GetEtag())
		if err != nil {
			return nil, kv.Result{}, err
		}
		result, err := s.Job.Issue(ctx, draft, r)
		if err != nil || result.Replayed {
			return nil, result, err
		}
		v := s.Store.Version(id, number)
		if v == nil {
			return nil, kv.Result{}, noVersion(id, number)
		}
		return versionProto(v), result, nil
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	s.Job.Wake()
	return answer, nil
}

// maxReason is the longest reason, in characters.
const maxReason = 2_000

// WithdrawBulletin implements the BulletinService. Those on the list of a
// campaign are called off with it, by the pass at the latest.
func (s *Service) WithdrawBulletin(ctx context.Context, r *bulletinv1.WithdrawBulletinRequest) (*bulletinv1.Bulletin, error) {
	id, number, err := bulletinwire.VersionName("name", r.GetName())
	if err != nil {
		return nil, err
	}
	if r.GetReason() == "" || fault.Longer(r.GetReason(), maxReason) {
		return nil, fault.InvalidField("reason", r.GetReason(), "why it is taken back, "+fault.AtMost(maxReason))
	}
	by := ""
	if r.GetSupersededBy() != "" {
		if by, err = bulletinwire.BulletinID("superseded_by", r.GetSupersededBy()); err != nil {
			return nil, err
		}
		if by == id || s.Store.Holding(by) == nil {
			return nil, fault.InvalidField("superseded_by", r.GetSupersededBy(), "another bulletin that is issued")
		}
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &bulletinv1.Bulletin{}, func() (*bulletinv1.Bulletin, kv.Result, error) {
		old, err := s.basedOn("etag", id, number, r.GetEtag())
		if err != nil {
			return nil, kv.Result{}, err
		}
		b, err := old.Bulletin.Withdraw(r.GetReason(), by)
		if err != nil {
			return nil, kv.Result{}, err
		}
		v := &bulletinstore.Version{Bulletin: b, Created: old.Created, Revision: old.Revision}
		p := bulletinwire.BulletinProto(&b)
		p.CreateTime = vehiclewire.MomentProto(old.Created)
		result, err := s.Store.PutVersions(ctx, bulletinstore.Request{ID: r.GetRequestId(), Payload: r, Answer: p}, v)
		return p, result, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	s.Job.Wake()
	return answer, nil
}
