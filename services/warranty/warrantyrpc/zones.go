package warrantyrpc

import (
	"context"
	"log/slog"
	"sync"
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

	mu   sync.Mutex
	kept map[string]keptZone // by person
}

type keptZone struct {
	zone *time.Location // nil: none that is known
	at   time.Time      // when it was asked, by the machine's monotonic clock
}

// keepZone is how long an owner's zone is believed: somebody who moves is
// answered by their new clock a few minutes later.
const keepZone = 5 * time.Minute

// maxZones bounds what is kept; beyond it all are asked for again.
const maxZones = 10_000

func newZones(life context.Context, owners Owners, logger *slog.Logger) *zones {
	return &zones{life: life, owners: owners, logger: logger, kept: map[string]keptZone{}}
}

// of gives a person's zone; nil when there is none on record or the owner
// service gives no answer, and then the works' counts.
func (z *zones) of(ctx context.Context, person string) *time.Location {
	if person == "" {
		return nil
	}
	z.mu.Lock()
	have, ok := z.kept[person]
	z.mu.Unlock()
	if ok && time.Since(have.at) < keepZone {
		return have.zone
	}
	asking, done := context.WithTimeout(z.life, 2*time.Second)
	defer done()
	defer context.AfterFunc(ctx, done)()
	m, err := z.owners.GetPerson(asking, &ownerv1.GetPersonRequest{Name: ownerwire.PersonName(person)})
	if err != nil {
		z.logger.Warn("the time zone of an owner is not known: the works' counts", "error", err)
		return have.zone
	}
	zone, err := time.LoadLocation(m.GetTimeZone())
	if err != nil || m.GetTimeZone() == "" {
		zone = nil
	}
	z.mu.Lock()
	defer z.mu.Unlock()
	if len(z.kept) >= maxZones {
		clear(z.kept)
	}
	z.kept[person] = keptZone{zone, time.Now()}
	return zone
}
