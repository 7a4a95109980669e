package schedulerpc

import (
	"fmt"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// fitsVehicle checks of an entry what the vehicle alone can tell: that it had
// been built by the day, and where on it something was measured or shimmed.
// What is imported is not held against that, for its files may bring the build
// records later.
func (s *Service) fitsVehicle(known *known, m *schedulev1.ServiceEntry, on vehicle.Date, find itemFinder) error {
	record, _, err := known.state.Read()
	if err != nil {
		return err
	}
	if on.Before(record.Built) {
		return fault.InvalidField("service_date", on.String(), record.Built.String()+", the day on which it was built, or later")
	}
	if err := s.shimPositions(known, m, on); err != nil {
		return err
	}
	return s.measuredPositions(known, m, on, find)
}

// measuredPositions checks that each measured value says where it was measured,
// where its item looks at several positions, and that the item looks there.
func (s *Service) measuredPositions(known *known, m *schedulev1.ServiceEntry, on vehicle.Date, find itemFinder) error {
	if !slices.ContainsFunc(m.GetItems(), func(d *schedulev1.ItemDone) bool { return len(d.GetMeasured()) > 0 }) {
		return nil
	}
	positions, err := s.positionsOf(known, on)
	if err != nil {
		return err
	}
	var c checker
	for i, done := range m.GetItems() {
		item := find(done.GetItemId())
		if item == nil || item.Position == "" {
			continue
		}
		several := beginWith(positions, item)
		for k, v := range done.GetMeasured() {
			at, position := fmt.Sprintf("items[%d].measured[%d].position", i, k), v.GetPosition()
			switch {
			case position == "" || position == item.Position:
				c.must(len(several) < 2, at, position, "which of those that "+item.ID+" looks at: "+strings.Join(several, ", "))
			case len(several) > 0:
				// A place on a component is called by that component first.
				c.must(slices.ContainsFunc(several, func(p string) bool { return covers(p, position) }), at, position,
					"where "+item.ID+" looks: "+strings.Join(several, ", "))
			default:
				c.must(looksAt(item, position), at, position, "where "+item.ID+" looks: "+item.Position)
			}
		}
	}
	return c.err()
}

// beginWith gives the positions that an item looks at together, where it looks
// at the beginning that several share and nothing stands at that alone.
func beginWith(positions []string, item *schedule.Item) []string {
	if slices.Contains(positions, item.Position) {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(positions), func(p string) bool { return !item.Covers(p) })
}
