package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// LimitProto writes what is measured and its window; nil for none.
func LimitProto(m *schedule.MeasuredLimit) *schedulev1.MeasuredLimit {
	if m == nil {
		return nil
	}
	return &schedulev1.MeasuredLimit{
		Characteristic: m.Characteristic, Unit: m.Unit, Lower: boundText(m.Lower), Upper: boundText(m.Upper),
		Action: boundText(m.Action), Method: m.Method,
	}
}

// SeriesProto writes a quantity over time; name is its resource name.
func SeriesProto(name string, s *trend.Series, t *trend.Trend) *schedulev1.MeasuredSeries {
	p := &schedulev1.MeasuredSeries{
		Name: name, Position: s.Position, Characteristic: s.Characteristic, Unit: s.Unit(),
		Limit: LimitProto(s.Limit), Trend: TrendProto(s, t),
	}
	for i := range s.Values {
		p.Values = append(p.Values, SeriesValueProto(&s.Values[i]))
	}
	for _, i := range t.Values {
		p.Values[i].InTrend = true
	}
	for _, b := range s.Breaks {
		p.Breaks = append(p.Breaks, &schedulev1.SeriesBreak{
			BreakDate: vehiclewire.DateProto(b.Date), Record: b.Record, Text: b.What,
			PackBefore: vehiclewire.QuantityProto(b.PackBefore), PackAfter: vehiclewire.QuantityProto(b.PackAfter),
		})
	}
	return p
}

// SeriesValueProto writes one value of a series.
func SeriesValueProto(v *trend.Value) *schedulev1.SeriesValue {
	p := &schedulev1.SeriesValue{
		MeasuredDate: vehiclewire.DateProto(v.Date), Value: vehiclewire.QuantityProto(v.Quantity),
		Resolution: &vehiclev1.Quantity{Value: v.Quantity.Value.Resolution().String(), Unit: v.Quantity.Unit},
		Instrument: v.Instrument, MeasuredBy: v.MeasuredBy, Record: v.Record, ItemId: v.Item, Limit: LimitProto(v.Limit),
		Verdict: schedulev1.MeasuredVerdict(trend.Hold(v.Limit, v.Quantity).Verdict), Stage: schedulev1.MeasuredStage(v.Stage),
	}
	if v.Known {
		p.LifeDistance = vehiclewire.DistanceProto(v.Distance)
	}
	return p
}

// TrendProto writes where a quantity is going.
func TrendProto(s *trend.Series, t *trend.Trend) *schedulev1.MeasuredTrend {
	p := &schedulev1.MeasuredTrend{
		Direction: schedulev1.TrendDirection(t.Direction), Basis: schedulev1.TrendBasis(t.Basis), ValueCount: int32(len(t.Values)),
		PerYear: rateProto(t.PerYear, 1), PerThousandMiles: rateProto(t.PerMile, 1000),
		Reason: vehiclewire.ReasonProto(t.Reason), Outlook: vehiclewire.ReasonProto(t.Outlook),
	}
	for _, f := range t.Forecasts {
		p.Forecasts = append(p.Forecasts, &schedulev1.LimitForecast{
			Bound: schedulev1.LimitBound(f.Bound), Value: vehiclewire.QuantityProto(vehicle.Quantity{Value: f.Value, Unit: s.Unit()}),
			EarlyDate: vehiclewire.DateProto(f.Early), LikelyDate: vehiclewire.DateProto(f.Likely), LateDate: vehiclewire.DateProto(f.Late),
		})
	}
	return p
}

func rateProto(r trend.Rate, by float64) *schedulev1.TrendRate {
	if r == (trend.Rate{}) {
		return nil
	}
	return &schedulev1.TrendRate{Rate: r.Middle * by, Low: r.Low * by, High: r.High * by}
}

// JudgementProto writes what a value means. The quantity that was judged and
// what the item says beside it are for the caller to add.
func JudgementProto(s *trend.Series, q vehicle.Quantity, j *trend.Judgement) *schedulev1.MeasurementJudgement {
	p := &schedulev1.MeasurementJudgement{
		Value: vehiclewire.QuantityProto(q), Verdict: schedulev1.MeasuredVerdict(j.Against.Verdict), Advice: schedulev1.MeasuredAdvice(j.Advice),
		Implausible: j.Implausible, SameComponent: j.Same, Trend: TrendProto(s, &j.Trend),
		Reasons: vehiclewire.Reasons([]vehicle.Reason{j.Verdict, j.Compared, j.Trend.Reason, j.Trend.Outlook, j.Doing}),
	}
	if j.Against.Value != nil {
		p.ValueInLimitUnit = decimalOf(j.Against.Value.FloatString(vehicle.MaxScale))
	}
	if j.Previous != nil {
		p.Previous = SeriesValueProto(j.Previous)
	}
	return p
}

// decimalOf takes the zeros off the end of a decimal text.
func decimalOf(text string) string {
	end := len(text)
	for end > 0 && text[end-1] == '0' {
		end--
	}
	if end > 0 && text[end-1] == '.' {
		end--
	}
	return text[:end]
}
