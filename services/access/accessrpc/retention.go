package accessrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// RetentionJob is the nightly pass that removes keys, names and ways of signing
// in of accounts, and contacts of organisations, a year after their end, and the
// keys of people who were erased.
func (s *Service) RetentionJob() leader.Job {
	return leader.Job{
		Name: "retention-access", Spec: "35 4 * * *",
		Pass: func(ctx context.Context, _ time.Time, fence kv.Fence) error { return s.retain(ctx, fence) },
	}
}

// retain makes one pass; what somebody changed meanwhile waits for the next.
func (s *Service) retain(ctx context.Context, fence kv.Fence) error {
	keys := s.pastKeys(ctx)
	for _, k := range keys {
		if err := s.store.DropKey(ctx, fence, k); err != nil && !fault.Is(err, fault.Aborted) {
			return fmt.Errorf("remove a key's record: %w", err)
		}
	}
	accounts, err := s.store.ExpiredAccounts(ctx, s.now())
	if err != nil {
		return err
	}
	for _, a := range accounts {
		if err := s.store.DropName(ctx, fence, a); err != nil && !fault.Is(err, fault.Aborted) {
			return fmt.Errorf("remove the name of an account: %w", err)
		}
	}
	contacts := s.store.ExpiredContacts(s.now())
	for _, o := range contacts {
		if err := s.store.DropContact(ctx, fence, o); err != nil && !fault.Is(err, fault.Aborted) {
			return fmt.Errorf("remove the contact of an organisation: %w", err)
		}
	}
	if len(keys)+len(accounts)+len(contacts) > 0 {
		s.logger.Info("what was past its time was removed", "keys", len(keys), "accounts", len(accounts), "contacts", len(contacts))
	}
	return nil
}

// pastKeys gives the keys whose records are past their time, sorted. Where it is
// not known who is there, because the owner service is out of reach or this
// process has no peer for it, what else is past its time goes all the same.
func (s *Service) pastKeys(ctx context.Context) []accessstore.Record {
	keys := s.store.ExpiredKeys(s.now())
	orphaned, err := s.keysOfNobody(ctx)
	if err != nil {
		s.logger.Warn("it is not known which keys are of people who are not there any more", "error", err)
		return keys
	}
	keys = append(keys, orphaned...)
	slices.SortFunc(keys, func(a, b accessstore.Record) int { return strings.Compare(a.ID, b.ID) })
	return keys
}

// settling is how old a key must be before its owner is missed: a key may be
// made before the person's record is.
const settling = 24 * time.Hour

// keysOfNobody gives the keys of owners who are not there, or not any more: such
// a key opens nothing, and its title may still name somebody who was erased.
func (s *Service) keysOfNobody(ctx context.Context) ([]accessstore.Record, error) {
	now, there := s.now(), map[string]bool{}
	var out []accessstore.Record
	for _, k := range s.store.KeysOfOwners() {
		if k.Expired(now) || now.Sub(k.Created) < settling {
			continue
		}
		known, asked := there[k.Person]
		if !asked {
			_, err := s.owners.GetPerson(access.NewContext(ctx, itself), &ownerv1.GetPersonRequest{Name: k.Person})
			if known = err == nil; err != nil && status.Code(err) != codes.NotFound {
				return nil, err
			}
			there[k.Person] = known
		}
		if !known {
			out = append(out, k)
		}
	}
	return out, nil
}

// ListRetention implements the AccessService: accounts first, then keys,
// then organisations, which is the order of their names.
func (s *Service) ListRetention(ctx context.Context, r *privacyv1.ListRetentionRequest) (*privacyv1.ListRetentionResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	now := s.now()
	accounts, err := s.store.ExpiredAccounts(ctx, now)
	if err != nil {
		return nil, err
	}
	var lines []*privacyv1.RetentionLine
	add := func(name, sentence string, ended time.Time) {
		if name <= after || len(lines) > size {
			return
		}
		day := vehicle.DateOf(ended.UTC())
		due := day.AddMonths(access.KeptMonths)
		if today := vehicle.DateOf(now); due.After(today) { // of somebody who is not there
			due = today
		}
		lines = append(lines, &privacyv1.RetentionLine{
			Name: name, Keep: privacyv1.Keep_KEEP_WITH_ACCESS, Sentence: fmt.Sprintf(sentence, day), DueDate: vehiclewire.DateProto(due),
		})
	}
	for _, a := range accounts {
		add(a.Name(), "The name of its holder, and what they signed in with, are removed: closed on %s.", a.Closed)
	}
	for _, k := range s.pastKeys(ctx) {
		if ended, over := k.Ended(now); over && k.Expired(now) {
			add(k.Name(), "Removed: ended on %s.", ended)
		} else {
			add(k.Name(), "Removed: made on %s for somebody who is not there any more.", k.Created)
		}
	}
	for _, o := range s.store.ExpiredContacts(now) {
		add(o.Name(), "How it was reached is removed: closed on %s.", o.Closed)
	}
	out := &privacyv1.ListRetentionResponse{}
	out.Lines, out.NextPageToken = page.Cut(r, lines, size, func(l *privacyv1.RetentionLine) string { return l.GetName() })
	return out, nil
}
