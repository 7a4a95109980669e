package schedulerpc

import (
	"context"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ListMeasuredSeries implements the ScheduleService.
func (s *Service) ListMeasuredSeries(ctx context.Context, r *schedulev1.ListMeasuredSeriesRequest) (*schedulev1.ListMeasuredSeriesResponse, error) {
	on, err := s.dayFor(ctx, "on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	if r.GetNearLimitOnly() {
		return s.listNear(ctx, r, on)
	}
	serial, every, err := s.allSeries(ctx, r.GetParent(), on)
	if err != nil {
		return nil, err
	}
	var all []*schedulev1.MeasuredSeries
	for _, p := range every {
		if asked(r, p.GetPosition(), p.GetCharacteristic()) {
			all = append(all, p)
		}
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, &schedulev1.ListMeasuredSeriesResponse{MeasuredSeries: few, NextPageToken: next}), nil
}

// allSeries works out all that was measured on a vehicle, or finds that kept; as
// for nearLimits.
func (s *Service) allSeries(ctx context.Context, parent string, on vehicle.Date) (vehicle.Serial, []*schedulev1.MeasuredSeries, error) {
	return s.keptSeries(ctx, parent, on, &s.measured, func(g *gauge) (all []*schedulev1.MeasuredSeries) {
		for _, q := range g.inOrder() {
			if len(q.Values) > 0 {
				t := q.Trend(g.on, g.evaluated.Reach)
				all = append(all, g.proto(q, &t))
			}
		}
		return all
	})
}

// asked says whether a series is of what a request asks for.
func asked(r *schedulev1.ListMeasuredSeriesRequest, position, characteristic string) bool {
	wantPosition, wantCharacteristic := hyphened(r.GetPosition()), hyphened(r.GetCharacteristic())
	return (wantCharacteristic == "" || characteristic == wantCharacteristic) &&
		(wantPosition == "" || covers(wantPosition, position))
}

// proto writes a series with its trend.
func (g *gauge) proto(q *quantity, t *trend.Trend) *schedulev1.MeasuredSeries {
	p := schedulewire.SeriesProto(g.nameOf(q), &q.Series, t)
	p.Sample = q.Limit != nil && g.evaluated.plan.programme.Sample
	if q.item != nil {
		p.ItemId = q.item.ID
	}
	return p
}

// JudgeMeasurement implements the ScheduleService.
func (s *Service) JudgeMeasurement(ctx context.Context, r *schedulev1.JudgeMeasurementRequest) (*schedulev1.MeasurementJudgement, error) {
	on, err := s.dayFor(ctx, "measured_date", r.GetMeasuredDate())
	if err != nil {
		return nil, err
	}
	if on.After(s.today().AddDays(1)) {
		return nil, fault.InvalidField("measured_date", on.String(), "a day that has come: today is "+s.today().String())
	}
	value, err := vehiclewire.Quantity(r.GetValue())
	if err != nil {
		return nil, fault.InvalidField("value", r.GetValue().GetValue()+" "+r.GetValue().GetUnit(), "a number and its unit, as in 0.18 mm")
	}
	if value.Unit == "" {
		return nil, fault.InvalidField("value", r.GetValue().GetValue(), "a number and its unit, as in 0.18 mm")
	}
	g, err := s.gauge(ctx, r.GetParent(), on)
	if err != nil {
		return nil, err
	}
	meant, unknown, err := g.meant(value, wanted{hyphened(r.GetPosition()), hyphened(r.GetCharacteristic()), r.GetItemId(), r.GetWords()})
	if err != nil {
		return nil, err
	}
	if len(meant) > 1 || len(unknown) > 0 {
		return vehiclewire.Alone(ctx, g.serial, g.askBack(value, meant, unknown)), nil
	}
	return vehiclewire.Alone(ctx, g.serial, g.judge(value, meant[0])), nil
}

// judge says what a value of one quantity means.
func (g *gauge) judge(value vehicle.Quantity, m candidate) *schedulev1.MeasurementJudgement {
	series := m.quantity.Series
	series.Limit = m.limit
	// Where the vehicle stands today is not read but reckoned; for the slope of a
	// trend that is near enough, and without it a tread could not be held against
	// the miles.
	j := series.Judge(trend.Question{
		Quantity: value, Date: g.on, Distance: g.evaluated.Distance, Known: true, Item: m.item, Reach: g.evaluated.Reach,
	})
	answer := schedulewire.JudgementProto(&series, value, &j)
	answer.Quantity = m.proto()
	answer.Sample = m.limit != nil && g.evaluated.plan.programme.Sample
	if m.item != nil {
		answer.Caution = m.item.Caution
	}
	return answer
}

// askBack asks which of several quantities was measured, or whether the one
// that does not go by all that was said.
func (g *gauge) askBack(value vehicle.Quantity, meant []candidate, unknown []string) *schedulev1.MeasurementJudgement {
	answer := &schedulev1.MeasurementJudgement{Value: vehiclewire.QuantityProto(value)}
	answer.Question = value.String() + " may be any of " + count(len(meant)) + " quantities of " + string(g.serial) + ": which was measured?"
	if len(unknown) > 0 {
		was := "Was it this?"
		if len(meant) > 1 {
			was = "Was it one of these?"
		}
		answer.Question = "Nothing that is measured on " + string(g.serial) + " in a unit like " + value.Unit + " goes by \"" + strings.Join(unknown, " ") + "\" with the other words. " + was
	}
	for _, m := range meant {
		answer.Candidates = append(answer.Candidates, m.proto())
	}
	return answer
}

// proto writes what could have been measured.
func (m *candidate) proto() *schedulev1.MeasuredQuantity {
	p := &schedulev1.MeasuredQuantity{
		Position: m.quantity.Position, Characteristic: m.quantity.Characteristic, Limit: schedulewire.LimitProto(m.limit),
	}
	if m.item != nil {
		p.ItemId, p.Title = m.item.ID, m.item.Title
	}
	return p
}

// limitOf is what an item says of a characteristic; nil when it does not
// measure it.
func limitOf(item *schedule.Item, characteristic string) *schedule.MeasuredLimit {
	if item == nil {
		return nil
	}
	for i := range item.Measured {
		if item.Measured[i].Characteristic == characteristic {
			return &item.Measured[i]
		}
	}
	return nil
}
