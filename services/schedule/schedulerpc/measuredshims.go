package schedulerpc

import (
	"slices"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
)

// shimPack is how the build record calls the thickness of a pack.
const shimPack = "shim-pack"

// inShims takes in what a service entry says of its work with shims. It comes
// after all that the entry measured, whichever item that stands at, so that a
// value that is told in both places is taken once.
func (g *gauge) inShims(m *schedulev1.ServiceEntry, done *schedule.Entry) error {
	for _, d := range m.GetItems() {
		if len(d.GetShims()) == 0 {
			continue
		}
		item, err := g.itemThen(d.GetItemId(), done.Date)
		if err != nil {
			return err
		}
		for _, p := range d.GetShims() {
			w, err := shimWorkOf(p)
			if err != nil {
				return err
			}
			begun := g.valueOf(m, done, item)
			begun.Item = d.GetItemId()
			g.shimmed(begun, item, &w)
		}
	}
	return nil
}

// shimWorkOf reads one change of a pack. How thick the new one is follows from
// its shims where it is not written down, as in an import that lists them only.
func shimWorkOf(p *schedulev1.ShimWork) (schedule.ShimWork, error) {
	w, err := schedulewire.ShimWork(p)
	if err == nil && w.Pack == (vehicle.Quantity{}) {
		w.Pack, _ = w.Sum()
	}
	return w, err
}

// shimmed takes in what was measured before and after one change of a pack, and
// the packs; begun is what all these values share.
func (g *gauge) shimmed(begun trend.Value, item *schedule.Item, w *schedule.ShimWork) {
	position := at(w.Position, item)
	for _, one := range []struct {
		characteristic string
		quantity       vehicle.Quantity
		stage          trend.Stage
	}{
		{w.Characteristic, w.Before, trend.AsFound}, {w.Characteristic, w.After, trend.AsLeft},
		{shimPack, w.PackBefore, trend.AsFound}, {shimPack, w.Pack, trend.AsLeft},
	} {
		if one.quantity == (vehicle.Quantity{}) {
			continue
		}
		if q := g.of(position, one.characteristic); !q.stood(begun.Record, one.quantity, one.stage) {
			v := begun
			v.Quantity, v.Stage = one.quantity, one.stage
			g.add(position, one.characteristic, v, item)
		}
	}
}

// stood says whether an entry has a value already that may be the one as found
// or as left, and marks it so: it says with what it was measured, and by whom.
func (q *quantity) stood(record string, value vehicle.Quantity, stage trend.Stage) bool {
	same := slices.IndexFunc(q.Values, func(v trend.Value) bool {
		return v.Record == record && (v.Stage == stage || v.Stage == trend.SomeTime) && sameAmount(v.Quantity, value)
	})
	if same >= 0 {
		q.Values[same].Stage = stage
	}
	return same >= 0
}

// sameAmount says whether two quantities are one, however they are written:
// 0.18 mm and 0.180 mm.
func sameAmount(a, b vehicle.Quantity) bool {
	in, ok := b.In(a.Unit)
	return ok && in.Cmp(a.Value.Rat()) == 0
}

// reshimmed begins a quantity anew with another pack of shims at its position.
// The packs stand beside the quantity that they set, and the first of the day
// is the one that was in before.
func (q *quantity) reshimmed(on vehicle.Date, record string, w *schedule.ShimWork) {
	q.begin(on, record, "the "+trend.Plain(q.Position)+" was re-shimmed")
	if w.Characteristic != q.Characteristic {
		return
	}
	for i := range q.Breaks {
		if b := &q.Breaks[i]; b.Date == on {
			if b.PackBefore.Unit == "" && b.PackAfter.Unit == "" {
				b.PackBefore = w.PackBefore
			}
			b.PackAfter = w.Pack
		}
	}
}
