package warrantyrpc

import (
	"context"
	"log/slog"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/owner/ownerwire"
)

// zones knows by whose clock an owner's day ends. It asks with the service's own
// identity and tells nobody: whether the last day of a term is over must not
// hang on who asks, and dealers and engineers may not read where an owner lives.
type zones struct {
	life   context.Context // of the service, and nobody's call
	owners Owners
	logger *slog.Logger
}

// zonePatience is how long an owner's zone is waited for; the works' counts
// then, which is never more than a day off.
const zonePatience = 2 * time.Second

// of gives a person's zone; nil when there is none on record, or the owner
// service gives no answer.
func (z *zones) of(ctx context.Context, person string) *time.Location {
	if person == "" {
		return nil
	}
	asking, done := context.WithTimeout(z.life, zonePatience)
	defer done()
	defer context.AfterFunc(ctx, done)()
	m, err := z.owners.GetPerson(asking, &ownerv1.GetPersonRequest{Name: ownerwire.PersonName(person)})
	if err != nil {
		if ctx.Err() == nil {
			z.logger.Warn("the time zone of an owner is not known, and the works' counts", "error", err)
		}
		return nil
	}
	if m.GetTimeZone() == "" {
		return nil
	}
	zone, err := time.LoadLocation(m.GetTimeZone())
	if err != nil {
		return nil
	}
	return zone
}
