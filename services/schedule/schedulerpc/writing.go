package schedulerpc

import (
	"cmp"
	"context"
	"strconv"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// once lets act decide and writes, or gives the first answer of a request that
// was seen before. It decides first and lets the transaction find out whether
// the request is a repeated one, which costs nothing; only when the decision is
// a refusal it asks, for a repeated request may be refused for what it did
// itself. The answer is as it was stored, without what is computed, and the
// revision is that of the first write.
func once[A proto.Message](ctx context.Context, s *Service, id string, payload proto.Message, empty A,
	act func() (A, []schedulestore.Record, error),
) (A, kv.Result, error) {
	if err := kv.CheckRequestID(id); err != nil {
		return empty, kv.Result{}, err
	}
	s.importing.RLock()
	defer s.importing.RUnlock()
	answer, records, refusal := act()
	var result kv.Result
	if refusal == nil {
		var err error
		result, err = s.store.Commit(making(ctx, answer), schedulestore.Request{ID: id, Payload: payload, Answer: answer}, records...)
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
	return answer, result, s.group.Wait(ctx, schedulestore.Service, result.Revision)
}

// making tells the audit what is recorded, where that has a name.
func making(ctx context.Context, answer proto.Message) context.Context {
	if named, ok := answer.(interface{ GetName() string }); ok && named.GetName() != "" {
		return audit.Making(ctx, named.GetName())
	}
	return ctx
}

// What people may write.
const (
	maxNote       = 2_000 // characters
	maxName       = 200   // characters
	maxPerVehicle = 5_000 // records of one kind of a vehicle
	maxDial       = 9_999_999
)

// checker collects what is wrong with a request.
type checker struct{ wrong []fault.Field }

func (c *checker) must(ok bool, name, got, want string) {
	if !ok {
		c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (c *checker) err() error { return fault.InvalidFields(c.wrong) }

func (c *checker) note(name, text string) {
	c.must(!fault.Longer(text, maxNote), name, text, fault.AtMost(maxNote))
}

// called checks what somebody calls something or somebody.
func (c *checker) called(name, text string) {
	c.must(!fault.Longer(text, maxName), name, text, fault.AtMost(maxName))
}

func (c *checker) date(name string, d vehicle.Date) {
	c.must(!d.IsZero(), name, "", "a day of the calendar")
}

// dial checks what somebody says a dial showed.
func (c *checker) dial(name string, e vehicle.Entered) {
	if e.IsZero() {
		return
	}
	most := vehicle.Decimal{Coefficient: maxDial}
	c.must(e.Value.Sign() >= 0 && e.Value.Cmp(most) <= 0 && e.Value.Scale <= 3, name+".entered_value", e.Value.String(),
		"0 to 9999999, with at most three digits after the point")
}

func (c *checker) room(name string, have int) {
	c.must(have < maxPerVehicle, name, strconv.Itoa(have)+" records", "fewer than 5,000 for one vehicle")
}
