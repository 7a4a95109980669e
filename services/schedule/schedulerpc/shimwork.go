package schedulerpc

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const maxShimWork = 20 // changes of packs for one item

// shimWork checks what was done with shims for an item, which is nil where the
// programme is not asked.
func (c *checker) shimWork(at string, done *schedulev1.ItemDone, item *schedule.Item) {
	c.must(len(done.GetShims()) <= maxShimWork, at+".shims", strconv.Itoa(len(done.GetShims())), "at most 20")
	type joint struct{ position, characteristic string }
	seen := map[joint]bool{}
	for k, m := range done.GetShims() {
		at := fmt.Sprintf("%s.shims[%d]", at, k)
		w, err := schedulewire.ShimWork(m)
		c.wrong = append(c.wrong, fault.FieldsUnder(at, fault.FieldsOf("", err))...)
		if err != nil {
			continue
		}
		wrong := w.Validate()
		c.wrong = append(c.wrong, fault.FieldsUnder(at, wrong)...)
		key := joint{w.Position, w.Characteristic}
		c.must(!seen[key], at+".position", w.Position, "each joint once")
		seen[key] = true
		if len(wrong) > 0 {
			continue
		}
		c.againstItem(at, &w, item)
	}
}

// withPacks adds to each change of a pack how thick the pack is, where only its
// shims were given. What it changes is a copy.
func withPacks(items []*schedulev1.ItemDone) []*schedulev1.ItemDone {
	out := slices.Clone(items)
	for i, done := range out {
		for k, m := range done.GetShims() {
			w, err := schedulewire.ShimWork(m)
			if err != nil || m.GetPack() != nil {
				continue
			}
			if sum, ok := w.Sum(); ok {
				if out[i] == items[i] {
					out[i] = proto.CloneOf(items[i])
				}
				out[i].Shims[k].Pack = vehiclewire.QuantityProto(sum)
			}
		}
	}
	return out
}

// againstItem checks that what was measured can be held against the limit of
// the item, where it has one of that name.
func (c *checker) againstItem(at string, w *schedule.ShimWork, item *schedule.Item) {
	limit := limitOf(item, w.Characteristic)
	if limit == nil {
		return
	}
	for _, m := range []struct {
		name string
		q    vehicle.Quantity
	}{{".measured_before", w.Before}, {".measured_after", w.After}} {
		c.must(m.q.Unit == "" || vehicle.Convertible(m.q.Unit, limit.Unit), at+m.name, m.q.String(), "a value in "+limit.Unit+", as "+item.ID+" measures it")
	}
}

// positionsOf gives the positions at which a vehicle had a component on a day.
func (s *Service) positionsOf(known *known, on vehicle.Date) ([]string, error) {
	rec, changes, err := known.state.Read()
	if err != nil {
		return nil, err
	}
	life, err := build.TimelineOf(rec, changes, s.fleet.specified())
	if err != nil {
		return nil, err
	}
	var all []string
	for i := range life.Stays {
		if stay := &life.Stays[i]; !stay.From.After(on) && (stay.Until.IsZero() || !stay.Until.Before(on)) {
			all = append(all, stay.Component.Position)
		}
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// shimPositions checks that the vehicle has each position at which a pack was
// changed: that of a component, or a place on one, which begins with it.
func (s *Service) shimPositions(known *known, m *schedulev1.ServiceEntry, on vehicle.Date) error {
	if !slices.ContainsFunc(m.GetItems(), func(d *schedulev1.ItemDone) bool { return len(d.GetShims()) > 0 }) {
		return nil
	}
	positions, err := s.positionsOf(known, on)
	if err != nil {
		return err
	}
	var c checker
	for i, done := range m.GetItems() {
		for k, w := range done.GetShims() {
			has := slices.ContainsFunc(positions, func(p string) bool {
				rest, ok := strings.CutPrefix(w.GetPosition(), p)
				return ok && (rest == "" || rest[0] == '-')
			})
			c.must(has, fmt.Sprintf("items[%d].shims[%d].position", i, k), w.GetPosition(), "a position of this vehicle, as in "+nearest(positions, w.GetPosition()))
		}
	}
	return c.err()
}

// nearest is the position that shares the longest beginning with another: what
// may have been meant.
func nearest(positions []string, to string) string {
	best, most := "output-shaft-bearing", -1
	for _, p := range positions {
		n := 0
		for n < len(p) && n < len(to) && p[n] == to[n] {
			n++
		}
		if n > most {
			best, most = p, n
		}
	}
	return best
}
