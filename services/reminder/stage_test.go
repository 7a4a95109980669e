package reminder

import (
	"testing"
	"time"

	"halfshaft/services/vehicle"
)

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func at(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return t
}

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// The cadence of these tests (30 days before, on the day, 30 days after, 30
// more, 30 more until the works is told, 14 apart; for safety 30, 14, 14, 14
// and 7; a season's lead of 42) is the works' habit: common practice, no
// source.

func TestTheCalendarPutsAnItemInAStage(t *testing.T) {
	annual := Item{Cycle: "E01.2026-05-01", ActBy: day("2027-05-01"), Began: day("2026-05-01")}
	laidUp := Vehicle{LayUpFrom: day("2026-11-01"), LayUpTo: day("2027-04-30")}
	open := Vehicle{LayUpFrom: day("2026-11-01")}
	back := Item{ActBy: day("2027-05-01"), MovedTo: day("2027-05-01")}
	away := Item{ActBy: day("2026-10-31"), Began: day("2025-10-31")}
	vital := annual
	vital.Class = Vital
	own := Cadences{Routine: {Early: 100, Overdue: 5, SecondOverdue: 0, Works: 5, Apart: 1}, Seasonal: {Early: 120, Overdue: 30, Works: 30, Apart: 14}}
	for _, c := range []struct {
		name    string
		vehicle Vehicle
		cadence Cadences
		item    Item
		today   string
		want    Stage
	}{
		{"31 days before there is nothing to tell", Vehicle{}, nil, annual, "2027-03-31", NoStage},
		{"30 days before it is early", Vehicle{}, nil, annual, "2027-04-01", Early},
		{"the day before it is still early", Vehicle{}, nil, annual, "2027-04-30", Early},
		{"on the day it is due", Vehicle{}, nil, annual, "2027-05-01", Due},
		{"29 days after it is still due", Vehicle{}, nil, annual, "2027-05-30", Due},
		{"30 days after it is overdue", Vehicle{}, nil, annual, "2027-05-31", Overdue},
		{"59 days after it is still overdue", Vehicle{}, nil, annual, "2027-06-29", Overdue},
		{"60 days after it is overdue a second time", Vehicle{}, nil, annual, "2027-06-30", SecondOverdue},
		{"ten years after it is that and no more", Vehicle{}, nil, annual, "2037-05-31", SecondOverdue},
		{"what bears on safety is overdue after 14 days", Vehicle{}, nil, vital, "2027-05-15", Overdue},
		{"and a second time after 28", Vehicle{}, nil, vital, "2027-05-29", SecondOverdue},
		{"a cadence of one's own is early when it says", Vehicle{}, own, annual, "2027-01-21", Early},
		{"and not a day before", Vehicle{}, own, annual, "2027-01-20", NoStage},
		{"without a second overdue notice there is none", Vehicle{}, own, annual, "2037-05-31", Overdue},
		{"the programme may ask for longer notice", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), NoticeDays: 45}, "2027-03-17", Early},
		{"but not longer than 120 days", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), NoticeDays: 200}, "2026-12-31", NoStage},
		{"which is what it then has", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), NoticeDays: 200}, "2027-01-01", Early},
		{"or for shorter", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), NoticeDays: 7}, "2027-04-23", NoStage},
		{"whatever the cadence", Vehicle{}, own, Item{ActBy: day("2027-05-01"), NoticeDays: 7}, "2027-04-23", NoStage},
		{"a bedding-in round of six weeks is told two weeks before", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), Began: day("2027-03-20")}, "2027-04-16", NoStage},
		{"and no later", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), Began: day("2027-03-20")}, "2027-04-17", Early},
		{"two days after a ford it is told the day before", Vehicle{}, nil, Item{ActBy: day("2027-05-03"), Began: day("2027-05-01")}, "2027-05-02", Early},
		{"and not on the day itself", Vehicle{}, nil, Item{ActBy: day("2027-05-03"), Began: day("2027-05-01")}, "2027-05-01", NoStage},
		{"a seasonal item may take more than a third of its round", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), Began: day("2027-03-10"), Class: Seasonal}, "2027-03-20", Early},
		{"what a lay-up moved to its end is told six weeks before", laidUp, nil, back, "2027-03-20", Early},
		{"and not a day sooner", laidUp, nil, back, "2027-03-19", NoStage},
		{"what is to be done before putting away likewise", laidUp, nil, away, "2026-09-19", Early},
		{"and not a day sooner either", laidUp, nil, away, "2026-09-18", NoStage},
		{"also where nobody knows how long it will stand", open, nil, away, "2026-09-19", Early},
		{"but never before its round began", laidUp, nil, Item{ActBy: day("2026-10-31"), Began: day("2026-10-20")}, "2026-10-19", NoStage},
		{"where the season's lead is long, it is long", laidUp, own, back, "2027-01-01", Early},
		{"an owner's own check is never told", Vehicle{}, nil, Item{ActBy: day("2027-05-01"), OwnerCheck: true}, "2027-05-01", NoStage},
		{"nothing to do is never told", Vehicle{}, nil, Item{}, "2027-05-01", NoStage},
		{"the letter of a year is sent from 27 December on", Vehicle{}, nil, YearItem(2026), "2026-12-27", Early},
		{"not before", Vehicle{}, nil, YearItem(2026), "2026-12-26", NoStage},
		{"until 31 January", Vehicle{}, nil, YearItem(2026), "2027-01-31", Early},
		{"and not after", Vehicle{}, nil, YearItem(2026), "2027-02-01", NoStage},
	} {
		if got := c.vehicle.StageOn(c.item, day(c.today), c.cadence); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestHoursFollowTheClockOnTheWall(t *testing.T) {
	for _, c := range []struct {
		name  string
		zone  string
		hours Hours
		now   string
		want  bool
	}{
		{"nine in the morning is the first hour", "Europe/London", Hours{}, "2026-01-15T09:00:00Z", true},
		{"a minute before is too early", "Europe/London", Hours{}, "2026-01-15T08:59:59Z", false},
		{"six in the evening is too late", "Europe/London", Hours{}, "2026-01-15T18:00:00Z", false},
		{"a minute before is not", "Europe/London", Hours{}, "2026-01-15T17:59:59Z", true},
		{"until midnight is until 24", "Europe/London", Hours{20, 24}, "2026-01-15T23:59:59Z", true},
		// checks.md O-50 (IANA tz 2026f): clocks change at these moments.
		{"New York, the day before summer time: 13:30Z is 8:30", "America/New_York", Hours{}, "2026-03-07T13:30:00Z", false},
		{"New York, on 8 March 2026 after 07:00Z: 13:30Z is 9:30", "America/New_York", Hours{}, "2026-03-08T13:30:00Z", true},
		{"New York, on 1 November 2026 after 06:00Z: 13:30Z is 8:30", "America/New_York", Hours{}, "2026-11-01T13:30:00Z", false},
		{"London, on 29 March 2026 after 01:00Z: 08:00Z is 9:00", "Europe/London", Hours{}, "2026-03-29T08:00:00Z", true},
		{"London, on 25 October 2026 after 01:00Z: 08:00Z is 8:00", "Europe/London", Hours{}, "2026-10-25T08:00:00Z", false},
		{"Sydney, before 4 April 2026 16:00Z: 22:30Z of the day before is 9:30", "Australia/Sydney", Hours{}, "2026-04-03T22:30:00Z", true},
		{"Sydney, after it: 22:30Z is 8:30", "Australia/Sydney", Hours{}, "2026-04-04T22:30:00Z", false},
		{"Phoenix has no summer time: 15:30Z is 8:30 in July", "America/Phoenix", Hours{}, "2026-07-01T15:30:00Z", false},
		{"and in January", "America/Phoenix", Hours{}, "2026-01-01T15:30:00Z", false},
		// O-50: 02:00 to 03:00 does not exist in New York on 8 March 2026, and
		// 01:00 to 02:00 comes twice on 1 November.
		{"the hour that is skipped is never", "America/New_York", Hours{2, 3}, "2026-03-08T07:00:00Z", false},
		{"the hour that comes twice, first", "America/New_York", Hours{1, 2}, "2026-11-01T05:30:00Z", true},
		{"the hour that comes twice, again", "America/New_York", Hours{1, 2}, "2026-11-01T06:30:00Z", true},
	} {
		r := Recipient{Zone: zone(c.zone), Hours: c.hours}
		if got := r.Reachable(at(c.now)); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}
