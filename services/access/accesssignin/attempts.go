package accesssignin

import (
	"context"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/signin"
	"halfshaft/services/vehicle/vehiclewire"
)

// attempt is one that was counted and may go on.
type attempt struct {
	account []byte // under which the account's failures stand; nil when they do not count
	network []byte
}

// attempt counts one, of an account and of a network, before it is looked at.
// An empty account does not count: passkeys cannot be guessed.
func (s *Service) attempt(ctx context.Context, account, network string) (attempt, error) {
	a := attempt{network: s.Key.Digest("network", network)}
	if account != "" {
		a.account = s.Key.Digest("account", account)
	}
	return a, again(func() error {
		txn := s.Store.Begin()
		for _, c := range []struct {
			of    []byte
			limit signin.Limit
		}{{a.account, signin.OfAccount}, {a.network, signin.OfNetwork}} {
			if c.of == nil {
				continue
			}
			before, revision, err := s.Store.Attempts(ctx, c.of)
			if err != nil {
				return err
			}
			after, err := attempts(before).Begin(c.limit, s.now())
			if err != nil {
				return err
			}
			txn.PutAttempts(c.of, record(after), revision)
		}
		_, err := s.Store.Commit(aside(ctx), txn)
		return err
	})
}

// succeeded forgets the account's failures in the transaction that lets it in.
func (a attempt) succeeded(t *accessstore.SignInTxn) *accessstore.SignInTxn {
	if a.account != nil {
		t.ForgetAttempts(a.account)
	}
	return t
}

// noFailure takes this attempt, and not those before it, off the network:
// otherwise one account of one's own would wash all guesses at others away.
func (s *Service) noFailure(ctx context.Context, a attempt) {
	err := again(func() error {
		before, revision, err := s.Store.Attempts(ctx, a.network)
		if err != nil || revision == 0 {
			return err
		}
		_, err = s.Store.Commit(aside(ctx), s.Store.Begin().PutAttempts(a.network, record(attempts(before).Undo()), revision))
		return err
	})
	if err != nil {
		s.Logger.Warn("a success still counts as a failure of its network", "error", err)
	}
}

func attempts(r *accessv1.AttemptsRecord) signin.Attempts {
	return signin.Attempts{Failures: int(r.GetFailures()), Open: vehiclewire.Moment(r.GetOpenTime()), Last: vehiclewire.Moment(r.GetLastTime())}
}

func record(a signin.Attempts) *accessv1.AttemptsRecord {
	return &accessv1.AttemptsRecord{Failures: int32(a.Failures), OpenTime: vehiclewire.MomentProto(a.Open), LastTime: vehiclewire.MomentProto(a.Last)}
}
