package access

import (
	"testing"
	"time"

	"halfshaft/services/vehicle"
)

func TestATieGivesRightsFromItsFirstDayUpToItsEnd(t *testing.T) {
	day := func(d int) vehicle.Date { return vehicle.Date{Year: 2026, Month: time.March, Day: d} }
	tie := Tie{Person: "people/p0031", Start: day(3), End: day(10), Gives: true}
	lasting, payer, nobodys := tie, tie, tie
	lasting.End, payer.Gives, nobodys.Person = vehicle.Date{}, false, ""
	for _, c := range []struct {
		name   string
		tie    Tie
		person string
		on     vehicle.Date
		want   bool
	}{
		{"the day before", tie, "people/p0031", day(2), false},
		{"its first day", tie, "people/p0031", day(3), true},
		{"the day before its end", tie, "people/p0031", day(9), true},
		{"its end", tie, "people/p0031", day(10), false},
		{"while it lasts", lasting, "people/p0031", day(31), true},
		{"somebody else", tie, "people/p0032", day(5), false},
		{"who only pays", payer, "people/p0031", day(5), false},
		{"nobody", nobodys, "", day(5), false},
	} {
		if got := c.tie.Holds(c.person, c.on); got != c.want {
			t.Errorf("%s: got %v", c.name, got)
		}
	}
}
