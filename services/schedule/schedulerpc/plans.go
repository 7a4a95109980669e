package schedulerpc

import (
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
)

// plans keeps the stored versions of programmes ready. They are compiled when
// first asked for.
type plans struct {
	compiler *predicate.Compiler
	logger   *slog.Logger

	mu    sync.RWMutex
	ready map[planKey]*plan
}

// planKey tells versions apart, and a version from one stored anew.
type planKey struct {
	name     string
	revision int64
}

// plan is a version made ready, with its messages for answers.
type plan struct {
	*schedule.Plan
	programme *schedule.Programme
	items     []*schedulev1.Item

	mu         sync.RWMutex
	applicable map[string][]uint16 // by configuration: vehicles built alike share it
}

func newPlans(c *predicate.Compiler, logger *slog.Logger) *plans {
	return &plans{compiler: c, logger: logger, ready: map[planKey]*plan{}}
}

// compile checks a programme and makes it ready.
func (p *plans) compile(m *schedulev1.Programme) (*plan, error) {
	programme, err := schedulewire.Programme(m)
	if err != nil {
		return nil, err
	}
	compiled, err := schedule.Compile(&programme, p.compiler)
	if err != nil {
		return nil, err
	}
	ready := &plan{Plan: compiled, programme: &programme, applicable: map[string][]uint16{}}
	for i := range programme.Items {
		ready.items = append(ready.items, schedulewire.ItemProto(&programme.Items[i]))
	}
	return ready, nil
}

// at makes one of the stored versions of a programme ready, and those before
// it.
func (p *plans) at(versions []schedulestore.Version, n int) (*plan, error) {
	v := versions[n]
	key := planKey{v.Message.GetName(), v.Revision}
	p.mu.RLock()
	ready := p.ready[key]
	p.mu.RUnlock()
	if ready != nil {
		return ready, nil
	}
	ready, err := p.compile(v.Message)
	if err != nil {
		return nil, fmt.Errorf("compile %s: %w", v.Message.GetName(), err)
	}
	if n > 0 {
		before, err := p.at(versions, n-1)
		if err != nil {
			return nil, err
		}
		ready.Follow(before.Plan)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if first := p.ready[key]; first != nil {
		return first, nil
	}
	p.ready[key] = ready
	return ready, nil
}

// inForce gives the version of a programme in force on a day: the last whose
// effective date is not after it, or the first for a day before all.
func (p *plans) inForce(versions []schedulestore.Version, programme string, on vehicle.Date) (*plan, error) {
	var chosen *plan
	for n := range versions {
		ready, err := p.at(versions, n)
		if err != nil {
			return nil, err
		}
		if chosen == nil || !ready.programme.Effective.After(on) {
			chosen = ready
		}
	}
	if chosen == nil && programme == "" {
		return nil, fault.New(fault.FailedPrecondition, "RELEASE_WITHOUT_PROGRAMME",
			"The release of this vehicle has no service programme, so nothing says what is due on it or what is measured. The works' engineer gives a release its programme.")
	}
	if chosen == nil {
		return nil, fault.New(fault.FailedPrecondition, "PROGRAMME_NOT_FOUND",
			"The service programme %q of this vehicle's release is not here.", programme)
	}
	return chosen, nil
}

// fits gives the items that apply to a vehicle as it stood on a day.
func (s *Service) fits(ready *plan, known *known, st *standing, on vehicle.Date) ([]schedule.Fit, error) {
	if f := st.fits.Load(); f != nil && f.plan == ready.Plan {
		return f.fits, nil
	}
	setup, err := s.fleet.setup(known, st)
	if err != nil {
		return nil, err
	}
	if st.moved { // what was done to a unit elsewhere is not kept: it may be corrected there
		components, err := s.arrived(known, setup.components, on)
		if err != nil {
			return nil, err
		}
		return ready.Fits(s.plans.apply(ready, setup.seen), components), nil
	}
	f := &fitted{ready.Plan, ready.Fits(s.plans.apply(ready, setup.seen), setup.components)}
	st.fits.Store(f)
	st.setup.Store(nil)
	return f.fits, nil
}

// apply evaluates the predicates, once for all vehicles built alike. An item
// whose predicate fails is shown rather than dropped, and logged.
func (p *plans) apply(ready *plan, c vehicle.Makeup) []uint16 {
	key := fingerprint(c)
	ready.mu.RLock()
	on, ok := ready.applicable[key]
	ready.mu.RUnlock()
	if ok {
		return on
	}
	on, err := ready.Applicable(c)
	if err != nil {
		p.logger.Error("schedule: a predicate failed; the item is shown", "programme", ready.programme.Name(), "error", err)
	}
	ready.mu.Lock()
	defer ready.mu.Unlock()
	ready.applicable[key] = on
	return on
}

// fingerprint is equal for equal configurations. Names hold no control
// characters.
func fingerprint(c vehicle.Makeup) string {
	positions := make([]string, 0, len(c.Fitted))
	for p := range c.Fitted {
		positions = append(positions, p)
	}
	slices.Sort(positions)
	var b strings.Builder
	for _, part := range []string{c.Release, c.Wheelbase, c.Market, c.TyreSize, c.SpeedometerDrive,
		strconv.FormatFloat(c.AxleRatio, 'g', -1, 64), strings.Join(c.Options, "\x01")} {
		b.WriteString(part)
		b.WriteByte(0)
	}
	for _, p := range positions {
		b.WriteString(p)
		for _, trait := range c.Fitted[p] {
			b.WriteByte(1)
			b.WriteString(trait)
		}
		b.WriteByte(0)
	}
	return b.String()
}
