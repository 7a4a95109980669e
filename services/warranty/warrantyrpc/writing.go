package warrantyrpc

import (
	"cmp"
	"context"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/warranty/warrantystore"
)

// What people may write.
const (
	maxNote       = 2_000 // characters
	maxPerVehicle = 2_000 // records of one kind of a vehicle
)

// once lets act decide and writes, or gives the first answer of a request that
// was seen before: it decides first and lets the transaction find out whether
// the request is a repeated one, and only when the decision is a refusal it
// asks, for a repeated request may be refused for what it did itself. The answer
// is as it was stored, and the revision that of the first write.
func once[A named](ctx context.Context, s *Service, id string, payload proto.Message, empty A,
	act func() (A, warrantystore.Record, error),
) (A, kv.Result, error) {
	if err := kv.CheckRequestID(id); err != nil {
		return empty, kv.Result{}, err
	}
	answer, record, refusal := act()
	var result kv.Result
	if refusal == nil {
		var err error
		making := audit.Making(ctx, answer.GetName())
		result, err = s.store.Commit(making, warrantystore.Request{ID: id, Payload: payload, Answer: answer}, record)
		if err != nil {
			return empty, kv.Result{}, kv.Conflict(err)
		}
	} else {
		first, found, err := s.store.Lookup(ctx, id, payload)
		if err != nil || !found {
			return empty, kv.Result{}, cmp.Or(err, refusal)
		}
		result = first
	}
	if result.Replayed {
		answer = empty
		if err := result.Read(answer); err != nil {
			return empty, kv.Result{}, err
		}
	}
	return answer, result, s.config.Group.Wait(ctx, warrantystore.Service, result.Revision)
}

// named is a record with a name.
type named interface {
	proto.Message
	GetName() string
}

// by is who the caller is in records: their account, so that one person with two
// keys is one; for a program the bearer of its key.
func by(ctx context.Context) string {
	caller := access.CallerFrom(ctx)
	return cmp.Or(caller.Account, caller.Bearer)
}

// dealerIn gives the organisation for which a call is made, empty for none.
func dealerIn(ctx context.Context) string {
	if caller := access.CallerFrom(ctx); caller.Role == access.Dealer {
		return caller.Organisation
	}
	return ""
}

// checker collects what is wrong with a request.
type checker struct{ wrong []fault.Field }

func (c *checker) must(ok bool, name, got, want string) {
	if !ok {
		c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (c *checker) add(fields []fault.Field) { c.wrong = append(c.wrong, fields...) }

func (c *checker) err() error { return fault.InvalidFields(c.wrong) }

func (c *checker) note(name, text string) {
	c.must(!fault.Longer(text, maxNote), name, text, fault.AtMost(maxNote))
}
