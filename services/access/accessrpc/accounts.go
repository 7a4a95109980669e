package accessrpc

import (
	"context"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle/vehiclewire"
)

// CreateAccount implements the AccessService.
func (s *Service) CreateAccount(ctx context.Context, r *accessv1.CreateAccountRequest) (*accessv1.Account, error) {
	answer := &accessv1.Account{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return s.accountAt(answer, revision), err
	}
	a, faults := access.ProposedAccount(accesswire.Account(r.GetAccount()))
	holds, wrong := s.member(a)
	if err := fault.InvalidFields(fault.FieldsUnder("account", append(faults, wrong...))); err != nil {
		return nil, err
	}
	if _, there := s.store.Account(a.ID); there {
		return nil, fault.New(fault.AlreadyExists, "ACCOUNT_EXISTS", "There is an account %s already.", a.ID)
	}
	// What the service gives is not taken from the caller.
	a.Created, a.Closed = s.now(), time.Time{}
	answer = accesswire.AccountProto(a)
	done, err := s.store.CreateAccount(ctx, a, r.GetRequestId(), r, holds...)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return s.accountAt(answer, done.Revision), nil
}

// member says what is wrong with the organisation of an account, and what must
// still hold of it when the account is written.
func (s *Service) member(a access.Account) ([]accessstore.Condition, []fault.Field) {
	id, ok := access.OrganisationID(a.Organisation)
	if !ok || a.Role != access.Dealer {
		return nil, nil // refused already, or nothing to see
	}
	o, wrong := s.openOrganisation("organisation", id)
	if wrong != nil {
		return nil, []fault.Field{*wrong}
	}
	return []accessstore.Condition{accessstore.OrganisationUnchanged(o)}, nil
}

// GetAccount implements the AccessService.
func (s *Service) GetAccount(_ context.Context, r *accessv1.GetAccountRequest) (*accessv1.Account, error) {
	id, err := accesswire.AccountID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	a, there := s.store.Account(id)
	if !there {
		return nil, access.NoAccount(id)
	}
	return s.accountAt(accesswire.AccountProto(a.Account), a.ModRevision), nil
}

// ListAccounts implements the AccessService.
func (s *Service) ListAccounts(_ context.Context, r *accessv1.ListAccountsRequest) (*accessv1.ListAccountsResponse, error) {
	ids, token, err := pageOf(r, s.store.Accounts())
	if err != nil {
		return nil, err
	}
	out := &accessv1.ListAccountsResponse{NextPageToken: token}
	for _, id := range ids {
		if a, there := s.store.Account(id); there {
			out.Accounts = append(out.Accounts, s.accountAt(accesswire.AccountProto(a.Account), a.ModRevision))
		}
	}
	return out, nil
}

// UpdateAccount implements the AccessService. With another role or organisation
// the keys of the account change in the same step: a key that kept its old
// rights would outlive the decision.
func (s *Service) UpdateAccount(ctx context.Context, r *accessv1.UpdateAccountRequest) (*accessv1.Account, error) {
	answer := &accessv1.Account{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return s.accountAt(answer, revision), err
	}
	changed, faults := access.ProposedAccount(accesswire.Account(r.GetAccount()))
	was, there := s.store.Account(changed.ID)
	var holds []accessstore.Condition
	if changed.Organisation != was.Organisation {
		var wrong []fault.Field
		holds, wrong = s.member(changed)
		faults = append(faults, wrong...)
	}
	if err := fault.InvalidFields(fault.FieldsUnder("account", faults)); err != nil {
		return nil, err
	}
	if !there {
		return nil, access.NoAccount(changed.ID)
	}
	if err := quoted("account", r.GetAccount().GetEtag(), was.ModRevision); err != nil {
		return nil, fault.Under("account", err)
	}
	changed.Created, changed.Closed = was.Created, s.closed(was.Closed, r.GetClosed())
	guards, err := s.keepOneAdministrator(ctx, was.Account, changed)
	if err != nil {
		return nil, err
	}
	its, guard, err := s.keysWith(ctx, was.Account, changed)
	if err != nil {
		return nil, err
	}
	answer = accesswire.AccountProto(changed)
	ctx = audit.Changing(ctx, audit.Detail{Fields: accountFields(was.Account, changed)})
	done, err := s.store.ReplaceAccount(ctx, changed, was.ModRevision, its, r.GetRequestId(), r, append(append(holds, guards...), guard...)...)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return s.accountAt(answer, done.Revision), nil
}

// accountFields names what of an account becomes another, for the audit.
func accountFields(was, becomes access.Account) []string {
	var fields []string
	if was.FullName != becomes.FullName {
		fields = append(fields, "full_name")
	}
	if was.Role != becomes.Role {
		fields = append(fields, "role")
	}
	if was.Organisation != becomes.Organisation {
		fields = append(fields, "organisation")
	}
	return append(fields, opening(was.Closed, becomes.Closed)...)
}

// keepOneAdministrator refuses a change after which no administrator could sign
// in who could before.
func (s *Service) keepOneAdministrator(ctx context.Context, was, becomes access.Account) ([]accessstore.Condition, error) {
	rules := func(a access.Account) bool {
		return a.Open() && a.Role == access.Administrator && len(s.signIns.Ways(a.ID)) > 0
	}
	if !rules(was) || rules(becomes) {
		return nil, nil
	}
	guard, err := s.store.GuardAdministrators(ctx) // before the others are counted
	if err != nil {
		return nil, err
	}
	for _, id := range s.store.Accounts() {
		if a, _ := s.store.Account(id); id != was.ID && rules(a.Account) {
			return []accessstore.Condition{guard}, nil
		}
	}
	return nil, fault.New(fault.FailedPrecondition, "LAST_ADMINISTRATOR",
		"%s is the last administrator who can sign in: let another sign in first.", was.ID)
}

// mostKeys is how many keys of one account change with it in one step.
const mostKeys = 100

// keysWith gives the keys of an account that change with it.
func (s *Service) keysWith(ctx context.Context, was, becomes access.Account) ([]accessstore.Record, []accessstore.Condition, error) {
	if was.Role == becomes.Role && was.Organisation == becomes.Organisation {
		return nil, nil, nil
	}
	guard, err := s.store.GuardKeysOf(ctx, was.ID) // before the keys are read
	if err != nil {
		return nil, nil, err
	}
	var its []accessstore.Record
	for _, k := range s.store.KeysOf(was.Name()) {
		if k.Live(s.now()) {
			k.Key = k.OfAccount(becomes)
			its = append(its, k)
		}
	}
	if len(its) > mostKeys {
		return nil, nil, fault.New(fault.FailedPrecondition, "TOO_MANY_KEYS",
			"The account has %d keys, and at most %d change with it: revoke those that are not needed.", len(its), mostKeys)
	}
	return its, []accessstore.Condition{guard}, nil
}

// accountAt completes an account with its etag and how its holder signs in,
// which other records say.
func (s *Service) accountAt(a *accessv1.Account, revision int64) *accessv1.Account {
	a.Etag = kv.Etag(revision)
	if id, ok := access.AccountID(a.GetName()); ok {
		a.Ways, a.LastSignInTime = s.signIns.Ways(id), vehiclewire.MomentProto(s.signIns.LastSignIn(id))
	}
	return a
}
