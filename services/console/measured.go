package console

import (
	"context"
	"strconv"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Quantity says which measured quantities are meant; either may be empty.
type Quantity struct{ Position, Characteristic string }

// Measured prints what was measured on a vehicle by a date (today, when on is
// zero): a line for each quantity, or all there is about those that were named.
func (c *Console) Measured(ctx context.Context, serial string, which Quantity, on vehicle.Date) error {
	name, unit, err := c.openWithDial(ctx, serial)
	if err != nil {
		return err
	}
	all, err := page.All(func(token string) ([]*schedulev1.MeasuredSeries, string, error) {
		r, err := c.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{
			Parent: "vehicles/" + serialOf(name), Position: which.Position, Characteristic: which.Characteristic,
			OnDate: vehiclewire.DateProto(on), PageSize: 500, PageToken: token,
		})
		return r.GetMeasuredSeries(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		switch {
		case len(all) == 0 && which == Quantity{}:
			s.line("%s: nothing was measured by that day.", serialOf(name))
		case len(all) == 0:
			s.line("%s: no such quantity was measured by that day. Without a position, all that were are listed.", serialOf(name))
		case which == Quantity{}:
			measuredOverview(s, serialOf(name), all)
		default:
			for _, m := range all {
				seriesText(s, serialOf(name), m, unit)
			}
		}
	})
}

// measuredOverview is a line for each quantity.
func measuredOverview(s *sheet, serial string, all []*schedulev1.MeasuredSeries) {
	s.line("%s: what was measured, the last values", serial)
	if anySample(all) {
		s.line("  values  sample, to be signed by the works' engineer")
	}
	rows := [][]string{{"quantity", "last", "measured on", "window", "", "trend", "meets its limit"}}
	for _, m := range all {
		last := m.GetValues()[len(m.GetValues())-1]
		rows = append(rows, []string{
			quantityName(m.GetPosition(), m.GetCharacteristic()), valueText(last), day(last.GetMeasuredDate()),
			windowText(m.GetLimit()), verdictText(lastAgainst(m, last)), trendWord(m.GetTrend()), whenShort(m.GetTrend()),
		})
	}
	s.table("  ", rows)
	s.text("  ", "All there is about one of them: halfshaft measured "+serial+" POSITION")
}

func anySample(all []*schedulev1.MeasuredSeries) bool {
	for _, m := range all {
		if m.GetSample() {
			return true
		}
	}
	return false
}

// lastAgainst is the verdict on the last value, where the window is still the
// one that held then.
func lastAgainst(m *schedulev1.MeasuredSeries, last *schedulev1.SeriesValue) schedulev1.MeasuredVerdict {
	if m.GetLimit() == nil {
		return schedulev1.MeasuredVerdict_MEASURED_VERDICT_UNSPECIFIED
	}
	return last.GetVerdict()
}

// quantityName is "output-shaft-bearing, end float": the position as it is
// typed.
func quantityName(position, characteristic string) string {
	text := strings.ReplaceAll(characteristic, "-", " ")
	if position == "" {
		return text
	}
	return position + ", " + text
}

// windowText is the window of a limit in words; empty for none.
func windowText(l *schedulev1.MeasuredLimit) string {
	switch {
	case l == nil:
		return ""
	case l.GetLower() == "":
		return "at most " + l.GetUpper() + " " + l.GetUnit()
	case l.GetUpper() == "":
		return "at least " + l.GetLower() + " " + l.GetUnit()
	}
	return l.GetLower() + " to " + l.GetUpper() + " " + l.GetUnit()
}

func verdictText(v schedulev1.MeasuredVerdict) string {
	switch v {
	case schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN:
		return "within"
	case schedulev1.MeasuredVerdict_MEASURED_VERDICT_OUTSIDE_WINDOW:
		return "OUTSIDE"
	case schedulev1.MeasuredVerdict_MEASURED_VERDICT_BEYOND_ACTION_LIMIT:
		return "BEYOND ACTION LIMIT"
	}
	return ""
}

func trendWord(t *schedulev1.MeasuredTrend) string {
	if t.GetDirection() == schedulev1.TrendDirection_TREND_DIRECTION_UNSPECIFIED {
		return "too few"
	}
	return word(t.GetDirection(), "TREND_DIRECTION_")
}

// whenShort is when the nearest limit is met, in a cell.
func whenShort(t *schedulev1.MeasuredTrend) string {
	if len(t.GetForecasts()) == 0 {
		return ""
	}
	f := t.GetForecasts()[0]
	text := betweenMonths(f.GetEarlyDate(), f.GetLateDate())
	if f.GetBound() == schedulev1.LimitBound_LIMIT_BOUND_ACTION {
		text += " (action)"
	}
	return text
}

// betweenMonths says a span as roughly as it is known: by years, and by months
// where it lies within one.
func betweenMonths(early, late *date.Date) string {
	month := func(d *date.Date) string { return time.Month(d.GetMonth()).String() }
	year := strconv.Itoa(int(early.GetYear()))
	switch {
	case late.GetYear() == 0:
		return year + " or later"
	case late.GetYear() != early.GetYear():
		return year + " to " + strconv.Itoa(int(late.GetYear()))
	case late.GetMonth() != early.GetMonth():
		return month(early) + " to " + month(late) + " " + year
	}
	return month(early) + " " + year
}

// seriesText prints all there is about one quantity.
func seriesText(s *sheet, serial string, m *schedulev1.MeasuredSeries, unit string) {
	item := ""
	if m.GetItemId() != "" {
		item = ", measured at " + m.GetItemId()
	}
	s.heading("%s: %s%s", serial, quantityName(m.GetPosition(), m.GetCharacteristic()), item)
	if l := m.GetLimit(); l != nil {
		action := ""
		if l.GetAction() != "" {
			action = "; action limit " + l.GetAction() + " " + l.GetUnit()
		}
		s.line("  window   %s%s", windowText(l), action)
		if l.GetMethod() != "" {
			s.text("  method   ", l.GetMethod())
		}
		if m.GetSample() {
			s.line("  values   sample, to be signed by the works' engineer")
		}
	}
	s.text("  trend    ", m.GetTrend().GetReason().GetSentence())
	s.text("  limit    ", m.GetTrend().GetOutlook().GetSentence())
	seriesTable(s, m, unit)
}

// seriesTable is a line for each value, and one for each day on which it began
// anew.
func seriesTable(s *sheet, m *schedulev1.MeasuredSeries, unit string) {
	breaks := m.GetBreaks()
	var rows [][]string
	flush := func() {
		s.table("  ", rows)
		rows = nil
	}
	for _, v := range m.GetValues() {
		for len(breaks) > 0 && startsBefore(breaks[0], v) {
			flush()
			s.line("  -- %s", breakText(breaks[0]))
			breaks = breaks[1:]
		}
		at := ""
		if v.GetLifeDistance() != nil {
			at = distance(v.GetLifeDistance(), unit)
		}
		who := v.GetMeasuredBy()
		if v.GetInstrument() != "" {
			who = strings.TrimPrefix(who+", "+v.GetInstrument(), ", ")
		}
		rows = append(rows, []string{day(v.GetMeasuredDate()), valueText(v), verdictText(v.GetVerdict()), at, who})
	}
	flush()
	for _, b := range breaks {
		s.line("  -- %s", breakText(b))
	}
}

// breakText is "11 May 2022: the output shaft bearing was re-shimmed; pack 0.58
// -> 0.51 mm".
func breakText(b *schedulev1.SeriesBreak) string {
	text := day(b.GetBreakDate()) + ": " + b.GetText()
	before, after := b.GetPackBefore(), b.GetPackAfter()
	switch {
	case before == nil && after == nil:
		return text
	case before == nil:
		return text + "; pack now " + quantity(after)
	case after == nil:
		return text + "; pack before " + quantity(before)
	case before.GetUnit() == after.GetUnit():
		return text + "; pack " + before.GetValue() + " -> " + quantity(after)
	}
	return text + "; pack " + quantity(before) + " -> " + quantity(after)
}

// startsBefore says whether a break stands above a value.
func startsBefore(b *schedulev1.SeriesBreak, v *schedulev1.SeriesValue) bool {
	on, _ := vehiclewire.Date(b.GetBreakDate())
	at, _ := vehiclewire.Date(v.GetMeasuredDate())
	return on.Before(at) || on == at && v.GetStage() != schedulev1.MeasuredStage_MEASURED_STAGE_AS_FOUND
}

// valueText is "0.18 mm as found", or "0.18 mm" where nothing was renewed.
func valueText(v *schedulev1.SeriesValue) string {
	switch v.GetStage() {
	case schedulev1.MeasuredStage_MEASURED_STAGE_AS_FOUND:
		return quantity(v.GetValue()) + " as found"
	case schedulev1.MeasuredStage_MEASURED_STAGE_AS_LEFT:
		return quantity(v.GetValue()) + " as left"
	}
	return quantity(v.GetValue())
}
