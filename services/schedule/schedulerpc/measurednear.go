package schedulerpc

import (
	"cmp"
	"context"
	"slices"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// listNear gives the series that are beyond a limit or near one, the nearest
// first, on one page.
func (s *Service) listNear(ctx context.Context, r *schedulev1.ListMeasuredSeriesRequest, on vehicle.Date) (*schedulev1.ListMeasuredSeriesResponse, error) {
	if r.GetPageToken() != "" {
		return nil, fault.InvalidField("page_token", r.GetPageToken(), "nothing: what is near a limit comes on one page")
	}
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	serial, all, err := s.nearLimits(ctx, r.GetParent(), on)
	if err != nil {
		return nil, err
	}
	answer := &schedulev1.ListMeasuredSeriesResponse{}
	for _, p := range all {
		if asked(r, p.GetPosition(), p.GetCharacteristic()) && len(answer.MeasuredSeries) < size {
			answer.MeasuredSeries = append(answer.MeasuredSeries, p)
		}
	}
	return vehiclewire.Alone(ctx, serial, answer), nil
}

// nearLimits works out which series are near a limit, or finds that kept.
func (s *Service) nearLimits(ctx context.Context, parent string, on vehicle.Date) (vehicle.Serial, []*schedulev1.MeasuredSeries, error) {
	return s.keptSeries(ctx, parent, on, &s.near, (*gauge).near)
}

// near gives the series near a limit, the nearest first.
func (g *gauge) near() []*schedulev1.MeasuredSeries {
	type ranked struct {
		series *schedulev1.MeasuredSeries
		rank   float64
	}
	var found []ranked
	for _, q := range g.inOrder() {
		if q.Limit == nil && !slices.ContainsFunc(q.Values, func(v trend.Value) bool { return v.Limit != nil }) {
			continue // nothing to be near to
		}
		t := q.Trend(g.on, g.evaluated.Reach)
		if near, rank := q.Near(&t, g.on); near {
			found = append(found, ranked{g.proto(q, &t), rank})
		}
	}
	slices.SortStableFunc(found, func(a, b ranked) int { return cmp.Compare(a.rank, b.rank) })
	all := make([]*schedulev1.MeasuredSeries, len(found))
	for i := range found {
		all[i] = found[i].series
	}
	return all
}

// keptSeries works series of a vehicle out, or finds them kept. An owner and a
// dealer are told less, each something else, and for them they are worked out
// every time.
//
// What was measured at the build is read from the build service and not
// followed. Series are kept only where it is of the record that is followed: the
// other may be a moment older.
func (s *Service) keptSeries(
	ctx context.Context, parent string, on vehicle.Date, keep *kept[[]*schedulev1.MeasuredSeries], tell func(*gauge) []*schedulev1.MeasuredSeries,
) (vehicle.Serial, []*schedulev1.MeasuredSeries, error) {
	serial, known, err := s.parent(ctx, parent)
	if err != nil {
		return "", nil, err
	}
	shared := !access.CallerFrom(ctx).Role.Limited()
	key := occasion{serial, known, s.store.History(serial), on, vehicle.Date{}, s.habitsOn(on)}
	if shared {
		if have, ok := keep.get(key, s); ok {
			return serial, have, nil
		}
	}
	g, err := s.gaugeOf(ctx, key)
	if err != nil {
		return "", nil, err
	}
	all := tell(g)
	if shared && g.builtEtag == known.etag {
		keep.put(key, g.evaluated.plan, g.versions, all)
	}
	return serial, all, nil
}
