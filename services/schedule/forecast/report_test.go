package forecast_test

import (
	"fmt"
	"strings"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

const (
	reportOwners = 4_000
	reportFleet  = 60
	askOwners    = 1_000
)

// report makes CALIBRATION.md.
func report() string {
	var b strings.Builder
	f := newFleet(fleetSeed, reportFleet)
	all := f.tables(reportSeed, reportOwners)
	fmt.Fprintf(&b, head, thousands(reportOwners), reportFleet, f.prior.PerYear.Text(vehicle.Miles), f.prior.Sigma)
	b.WriteString("| readings | miles more | 10 to 90 % range holds | median error, days | of a straight line | ratio | of one who knows the habit | ratio |\n|---|---|---|---|---|---|---|---|\n")
	for _, n := range counts {
		for _, miles := range ways {
			s := all[cell{"all", n, miles}]
			fmt.Fprintf(&b, "| %d | %s | %.1f %% | %.0f | %.0f | %.2f | %.0f | %.2f |\n", n, thousands(int(miles)), s.coverage(),
				middleOf(s.model), middleOf(s.line), s.ratio(), middleOf(s.knower), middleOf(s.knower)/middleOf(s.line))
		}
	}
	b.WriteString(bySource)
	b.WriteString("| season | readings | vehicles | miles more | 10 to 90 % range holds | ratio | of one who knows the habit |\n|---|---|---|---|---|---|---|\n")
	for _, source := range []forecast.SeasonSource{forecast.Learned, forecast.Declared, forecast.Fleet} {
		for _, n := range counts {
			for _, miles := range ways[:3] {
				if s := all[cell{source.String(), n, miles}]; s != nil && s.all >= 100 {
					fmt.Fprintf(&b, "| %s | %d | %s | %s | %.1f %% | %.2f | %.2f |\n", source, n, thousands(s.all), thousands(int(miles)),
						s.coverage(), s.ratio(), middleOf(s.knower)/middleOf(s.line))
				}
			}
		}
	}
	b.WriteString(lag)
	b.WriteString("| last reading in | miles more | forecast | the same without seasons and lay-ups | straight line |\n|---|---|---|---|---|\n")
	for _, season := range []string{"autumn", "spring"} {
		for _, miles := range ways[:2] {
			s := all[cell{season, 10, miles}]
			fmt.Fprintf(&b, "| %s | %s | %+.0f | %+.0f | %+.0f |\n", season, thousands(int(miles)), middleOf(s.signed), middleOf(s.noSeason), middleOf(s.lineSigned))
		}
	}
	f.reportAsking(&b)
	b.WriteString(tail)
	return b.String()
}

func (f fleet) reportAsking(b *strings.Builder) {
	usual := forecast.UsualAsking()
	fmt.Fprintf(b, asking, thousands(askOwners), followed/365, thousands(itemMiles), noticeDays, 100*answering, early,
		usual.Every, 100*usual.Chance, usual.Ahead, usual.Apart)
	b.WriteString("| asked | requests | answers | notices | late | days late in all | far too early |\n|---|---|---|---|---|---|---|\n")
	for _, row := range []struct {
		name string
		how  rule
	}{{"nobody", askNobody}, {"everybody, each quarter", askQuarterly}, {"when it matters", askWhenWorth(usual)}} {
		out := f.ask(askOwners, row.how)
		per := func(n int) float64 { return 100 * float64(n) / out.years }
		fmt.Fprintf(b, "| %s | %.1f | %.1f | %.1f | %.1f | %.0f | %.1f |\n", row.name, per(out.asked), per(out.answered), per(out.notices),
			per(out.late), per(out.lateDays), per(out.wrong))
	}
}

// thousands prints a number as vehicle.Distance does.
func thousands(n int) string {
	return strings.TrimSuffix((vehicle.Distance(n) * vehicle.Kilometre).Text(vehicle.Kilometres), " km")
}

const head = `# How well the forecast does

Written by a test; do not edit:

    go test ./services/schedule/forecast -run Calibration -update

%s invented owners (owners_test.go), none of whom drives as the model supposes: whole trips with a heavy tail, seasons that begin on any day and shift from year to year, spring-and-autumn drivers, tours, habits that change at a stroke, sales nobody told of, readings rounded to 10, 50 or 100 miles, wrong readings that pass a ledger, uneven times. Most drive 300 to 1,500 miles a year, some hardly, some every day. The constants of the model were chosen on other owners than these. What a works would know of its fleet is taken from %d more: a prior of %s a year with a spread of %.2f in the logarithm, and the months they drive in.

*Readings* are those after the one at delivery. The date asked for is that of so many miles beyond the last reading. The straight line goes through delivery and the last reading, with one reading as well. The aim was a range that holds for 77 to 83 %% and an error of at most 0.6 of the line's. *One who knows the habit* knows the owner's yearly distance, season and tours of the day exactly, and neither what chance brings nor what changes later: no forecast from readings does better.

`

const bySource = `
The range meets its aim. The error meets its own where the season decides: with one reading (but for 1,500 miles), and, in the next table, where the owner declared a season; where the readings show one it nearly does. It does not for long ways with some readings. Over 1,500 or 3,000 miles, which are years for most, the seasons even out by themselves; changed habits, tours and sales decide, which nothing in the readings foretells. There a straight line through many readings is as good for the middle, but tells no range.

## By where the season comes from

A season that is learned or declared is taken at its word, so that over short ways the range is somewhat too narrow: owners declare months and drive by the weather.

`

const lag = `
## The lag of seasons

Owners who drive in a season, ten readings: days by which the middle of the forecast came too late (+) or too early (-), at the median. A vehicle read in autumn is not driven before spring, one read in spring is about to be.

`

const asking = `
## Asking for a reading

%s owners for %d years, one item each: %s miles or twelve months. A notice goes out %d days before the date expected; the owner comes 5 to 50 days after it, and the dial is read. %.0f %% answer a request, within a fortnight. A notice is late when the item was due before it went out, far too early when it came over %d days before its time. *When it matters* is UsualAsking: not within %d days of a reading or request, only when distance comes first with a chance of %.0f %% or more, from %d days before the notice at the early end of the range, and only where the range is %d days or wider. All numbers for 100 vehicle-years.

`

const tail = `
## Real histories

None can be had here. National inspection agencies publish odometer histories of millions of vehicles, but the package registries carry no such data set, the stored public repositories only programs and summaries of it, and yearly readings of daily cars would say nothing of seasons. Whoever has such a file can hold the forecast against it with the functions of calibration_test.go.
`
