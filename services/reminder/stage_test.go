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
// more until the works is told, 14 apart) is the works' habit: common practice,
// no source.

func TestTheCalendarPutsAnItemInAStage(t *testing.T) {
	annual := Item{Cycle: "E01.2026-05-01", ActBy: day("2027-05-01"), Began: day("2026-05-01")}
	for _, c := range []struct {
		name  string
		item  Item
		today string
		want  Stage
	}{
		{"31 days before there is nothing to tell", annual, "2027-03-31", NoStage},
		{"30 days before it is early", annual, "2027-04-01", Early},
		{"the day before it is still early", annual, "2027-04-30", Early},
		{"on the day it is due", annual, "2027-05-01", Due},
		{"29 days after it is still due", annual, "2027-05-30", Due},
		{"30 days after it is overdue", annual, "2027-05-31", Overdue},
		{"ten years after it is overdue and no more", annual, "2037-05-31", Overdue},
		{"the programme may ask for longer notice", Item{ActBy: day("2027-05-01"), NoticeDays: 45}, "2027-03-17", Early},
		{"but not longer than 60 days", Item{ActBy: day("2027-05-01"), NoticeDays: 200}, "2027-03-01", NoStage},
		{"or for shorter", Item{ActBy: day("2027-05-01"), NoticeDays: 7}, "2027-04-23", NoStage},
		{"a bedding-in round of six weeks is told two weeks before", Item{ActBy: day("2027-05-01"), Began: day("2027-03-20")}, "2027-04-16", NoStage},
		{"and no later", Item{ActBy: day("2027-05-01"), Began: day("2027-03-20")}, "2027-04-17", Early},
		{"two days after a ford it is told the day before", Item{ActBy: day("2027-05-03"), Began: day("2027-05-01")}, "2027-05-02", Early},
		{"and not on the day itself", Item{ActBy: day("2027-05-03"), Began: day("2027-05-01")}, "2027-05-01", NoStage},
		{"an owner's own check is never told", Item{ActBy: day("2027-05-01"), OwnerCheck: true}, "2027-05-01", NoStage},
		{"nothing to do is never told", Item{}, "2027-05-01", NoStage},
	} {
		if got := c.item.StageOn(day(c.today)); got != c.want {
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

func TestReceiversAreThoseWhoMayAndWantToBeTold(t *testing.T) {
	people := map[string]Recipient{
		"p1": {Person: "p1", Address: "p1@a.example"},
		"p2": {Person: "p2"},
		"p3": {Person: "p3", Address: "p3@a.example", Zone: zone("Pacific/Auckland")},
	}
	for _, c := range []struct {
		name   string
		ties   []Tie
		out    map[string]bool
		want   []string
		nobody bool
	}{
		{"an owner is told", []Tie{{Person: "p1", Notices: true}}, nil, []string{"p1"}, false},
		{"somebody with two ties is told once", []Tie{{Person: "p1", Notices: true}, {Person: "p1", Notices: true}}, nil, []string{"p1"}, false},
		{"a tie without notices is no contact", []Tie{{Person: "p1"}}, nil, nil, true},
		{"no address is no contact", []Tie{{Person: "p2", Notices: true}}, nil, nil, true},
		{"a person whose record is gone is no contact", []Tie{{Person: "p9", Notices: true}}, nil, nil, true},
		{"no tie is no contact", nil, nil, nil, true},
		{"a former owner is no contact from the day the tie ended", []Tie{{Person: "p1", Notices: true, End: day("2026-05-18")}}, nil, nil, true},
		{"and still one the day before", []Tie{{Person: "p1", Notices: true, End: day("2026-05-19")}}, nil, []string{"p1"}, false},
		{"a tie that begins tomorrow is none yet", []Tie{{Person: "p1", Notices: true, Start: day("2026-05-19")}}, nil, nil, true},
		{"where it is tomorrow already, it is one", []Tie{{Person: "p3", Notices: true, Start: day("2026-05-19")}}, nil, []string{"p3"}, false},
		{"silence that is wanted is not a lost contact", []Tie{{Person: "p1", Notices: true}}, map[string]bool{"p1": true}, nil, false},
	} {
		to, nobody := Receivers(c.ties, people, c.out, at("2026-05-18T13:00:00Z"))
		var got []string
		for _, r := range to {
			got = append(got, r.Person)
		}
		if len(got) != len(c.want) || len(got) == 1 && got[0] != c.want[0] || nobody != c.nobody {
			t.Errorf("%s: got %v, nobody %v; want %v, %v", c.name, got, nobody, c.want, c.nobody)
		}
	}
}
