package reminder

import (
	"slices"
	"testing"
	"time"

	"halfshaft/services/internal/zonetest"
)

// hoursOf runs the quarter-hour ticks of years past a person in a zone. It
// gives the days of the person's calendar, those of them on which no tick is
// within the hours, the dates that the calendar left out, and how many ticks
// lie within the hours although the clock shows less than 9:00 or 18:00 and
// more.
func hoursOf(zone *time.Location, from, to time.Time) (days int, deaf, skipped []string, outside int) {
	r := Recipient{Zone: zone}
	heard := map[int64]bool{} // by the number of the day on the wall
	for at := from.Unix(); at < to.Unix(); at += 15 * 60 {
		tick := time.Unix(at, 0).UTC()
		// The clock on the wall, by the offset alone. Where it is set back over
		// midnight a day comes twice.
		_, offset := tick.In(zone).Zone()
		wall := at + int64(offset)
		open := r.Reachable(tick)
		heard[wall/86400] = heard[wall/86400] || open
		if of := wall % 86400; open && (of < 9*3600 || of >= 18*3600) {
			outside++
		}
	}
	// The first and the last day are cut.
	for day := from.Unix()/86400 + 2; day < to.Unix()/86400-1; day++ {
		switch good, there := heard[day]; {
		case !there:
			skipped = append(skipped, time.Unix(day*86400, 0).UTC().Format(time.DateOnly))
		case !good:
			deaf = append(deaf, time.Unix(day*86400, 0).UTC().Format(time.DateOnly))
		}
	}
	return len(heard), deaf, skipped, outside
}

// leftOut are the dates that a zone's calendar never had, from 2005 to 2035:
// Samoa and Tokelau went over the date line (tz database, file australasia).
var leftOut = map[string][]string{"Pacific/Apia": {"2011-12-30"}, "Pacific/Fakaofo": {"2011-12-30"}}

func checkHours(t *testing.T, zone *time.Location, from, to time.Time) (days int) {
	t.Helper()
	days, deaf, skipped, outside := hoursOf(zone, from, to)
	if len(deaf) > 0 || outside > 0 {
		t.Errorf("%s: no tick within the hours on %v; %d outside them are used", zone, deaf, outside)
	}
	if !slices.Equal(skipped, leftOut[zone.String()]) {
		t.Errorf("%s: the calendar leaves out %v, want %v", zone, skipped, leftOut[zone.String()])
	}
	return days
}

func TestEveryDayOfAPersonHasATickWithinTheirHours(t *testing.T) {
	from, to := time.Date(2011, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2013, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, zone := range zonetest.Some(t) {
		checkHours(t, zone, from, to)
	}
}
