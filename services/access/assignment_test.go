package access

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var day = vehicle.MustDate(2026, time.November, 25)

// fieldsOf joins the names of faults.
func fieldsOf(faults []fault.Field) string {
	var names []string
	for _, f := range faults {
		names = append(names, f.Name)
	}
	return strings.Join(names, " ")
}

func TestAnAssignmentIsOpenOnItsDaysUntilItIsEnded(t *testing.T) {
	booking := Assignment{Organisation: "organisations/ferncombe", Ground: Booking, Start: day, Last: day.AddDays(30)}
	consent := booking
	consent.Ground, consent.ConsentedBy = Consent, "people/p0031"
	with := func(a Assignment, change func(*Assignment)) Assignment { change(&a); return a }
	for _, c := range []struct {
		name   string
		a      Assignment
		on     vehicle.Date
		closed bool
		tied   bool
		want   bool
	}{
		{"on the day before its first", booking, day.AddDays(-1), false, false, false},
		{"on its first day", booking, day, false, false, true},
		{"on its last day", booking, day.AddDays(30), false, false, true},
		{"on the day after its last", booking, day.AddDays(31), false, false, false},
		{"of one day, on it", with(booking, func(a *Assignment) { a.Last = day }), day, false, false, true},
		{"of the works", with(booking, func(a *Assignment) { a.Ground = ByWorks }), day, false, false, true},
		{"on no ground", with(booking, func(a *Assignment) { a.Ground = NoGround }), day, false, true, false},
		{"on a ground that is none", with(booking, func(a *Assignment) { a.Ground = 99 }), day, false, true, false},
		{"of an organisation that is closed", booking, day, true, false, false},
		{"ended, by a clock that is ahead", with(booking, func(a *Assignment) { a.End.Time = noon.AddDate(1, 0, 0) }), day, false, false, false},
		{"by consent of somebody who is tied", consent, day, false, true, true},
		{"by consent of somebody who was", consent, day, false, false, false},
		{"by consent of nobody", with(consent, func(a *Assignment) { a.ConsentedBy = "" }), day, false, true, false},
		{"by consent, of an organisation that is closed", consent, day, true, true, false},
		{"the zero assignment", Assignment{}, day, false, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.a.Open(c.on, !c.closed, func(string) bool { return c.tied }); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// The second implementation writes every day down on which somebody sees the
// vehicle, and looks the day up.
func TestAnAssignmentIsOpenAsAListOfDaysSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Assignment{
			Ground: Ground(rapid.IntRange(0, 3).Draw(t, "ground")), ConsentedBy: "people/p1",
			Start: day.AddDays(rapid.IntRange(-5, 5).Draw(t, "start")),
		}
		a.Last = a.Start.AddDays(rapid.IntRange(0, 8).Draw(t, "days"))
		if rapid.Bool().Draw(t, "ended") {
			a.End.Time = noon
		}
		open, tied := rapid.Bool().Draw(t, "open"), rapid.Bool().Draw(t, "tied")
		days := map[string]bool{}
		for d := a.Start; open && a.End.Time.IsZero() && !d.After(a.Last); d = d.AddDays(1) {
			days[d.String()] = a.Ground == Booking || a.Ground == ByWorks || a.Ground == Consent && tied
		}
		on := day.AddDays(rapid.IntRange(-15, 15).Draw(t, "on"))
		asked := ""
		got := a.Open(on, open, func(person string) bool { asked = person; return tied })
		if got != days[on.String()] {
			t.Errorf("%+v on %s: got %v", a, on, got)
		}
		if asked != "" && (a.Ground != Consent || asked != "people/p1") {
			t.Errorf("asked about %q for a %s", asked, a.Ground)
		}
	})
}

func TestAProposedAssignmentIsCompletedOrRefused(t *testing.T) {
	good := Assignment{Organisation: "organisations/ferncombe", Ground: Booking, Purpose: "24-month service"}
	consent := Assignment{Organisation: "organisations/ferncombe", Ground: Consent, ConsentedBy: "people/p1", Purpose: "x"}
	with := func(a Assignment, change func(*Assignment)) Assignment { change(&a); return a }
	on := func(start, last int) Assignment {
		return with(good, func(a *Assignment) { a.Start, a.Last = day.AddDays(start), day.AddDays(last) })
	}
	for _, c := range []struct {
		name   string
		a      Assignment
		faults string
		last   int // days after today, where there are no faults
	}{
		{"a booking lasts 30 days more", good, "", 30},
		{"a consent lasts 366 days more", consent, "", 366},
		{"the works' lasts 366 days more", with(good, func(a *Assignment) { a.Ground = ByWorks }), "", 366},
		{"the longest", on(0, 366), "", 366},
		{"a day too long", on(0, 367), "last_date", 0},
		{"of one day", on(0, 0), "", 0},
		{"ending before it begins", on(5, 4), "last_date", 0},
		{"one that begins before today", on(-10, 1), "", 1},
		{"one that is over", on(-10, -1), "last_date", 0},
		{"one that began a year ago and ends today", on(-366, 0), "", 0},
		{"one that cannot reach today", on(-367, 0), "start_date", 0},
		{"a booking of 30 days ago, without a last day", with(good, func(a *Assignment) { a.Start = day.AddDays(-30) }), "", 0},
		{"a booking of 31 days ago, without a last day", with(good, func(a *Assignment) { a.Start = day.AddDays(-31) }), "start_date", 0},
		{"one that begins in a year", on(366, 400), "", 400},
		{"one that begins later", on(367, 400), "start_date", 0},
		{"no organisation", with(good, func(a *Assignment) { a.Organisation = "ferncombe" }), "organisation", 0},
		{"a booking with a consent", with(good, func(a *Assignment) { a.ConsentedBy = "people/p1" }), "consented_by", 0},
		{"a consent of nobody", with(consent, func(a *Assignment) { a.ConsentedBy = "" }), "consented_by", 0},
		{"a consent of a path", with(consent, func(a *Assignment) { a.ConsentedBy = "people/p1/x" }), "consented_by", 0},
		{"a purpose over two lines", with(good, func(a *Assignment) { a.Purpose = "a\nb" }), "purpose", 0},
		{"a purpose of 300 characters", with(good, func(a *Assignment) { a.Purpose = strings.Repeat("ü", 300) }), "", 30},
		{"a purpose of 301 characters", with(good, func(a *Assignment) { a.Purpose = strings.Repeat("ü", 301) }), "purpose", 0},
		{"everything wrong at once", Assignment{ConsentedBy: "x", Last: day.AddDays(-1)}, "organisation ground consented_by last_date purpose", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, faults := ProposedAssignment(c.a, day)
			if got := fieldsOf(faults); got != c.faults {
				t.Errorf("got %q, want %q", got, c.faults)
			}
			if c.faults == "" && a.Last != day.AddDays(c.last) {
				t.Errorf("until %s, want %s", a.Last, day.AddDays(c.last))
			}
		})
	}
}

func TestWhoMayEndAnAssignment(t *testing.T) {
	for _, c := range []struct {
		name     string
		role     Role
		ground   Ground
		complete bool
		want     string
	}{
		{"an owner takes a consent back", Owner, Consent, false, ""},
		{"an owner takes a booking back", Owner, Booking, false, ""},
		{"an owner says that the work is complete", Owner, Booking, true, ""},
		{"an owner leaves the works' own alone", Owner, ByWorks, false, "NOT_YOURS_TO_END"},
		{"a dealer completes the work", Dealer, ByWorks, true, ""},
		{"a dealer takes nothing back", Dealer, Booking, false, "INVALID_FIELD"},
		{"the works takes its own back", Support, ByWorks, false, ""},
		{"the works takes a consent back", Engineer, Consent, false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			err, got := Assignment{Ground: c.ground}.MayEnd(Caller{Role: c.role}, c.complete), ""
			if f, ok := err.(*fault.Error); ok {
				got = f.Reason
			}
			if got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestStaffSayWhyTheyTakeAnAssignmentBack(t *testing.T) {
	for _, c := range []struct {
		name   string
		end    AssignmentEnd
		role   Role
		faults string
	}{
		{"staff with a reason", AssignmentEnd{Reason: "sent elsewhere"}, Support, ""},
		{"staff without", AssignmentEnd{Reason: "  "}, Support, "reason"},
		{"staff, where the work is complete", AssignmentEnd{Complete: true}, Support, ""},
		{"an owner without", AssignmentEnd{}, Owner, ""},
		{"a reason that is too long", AssignmentEnd{Reason: strings.Repeat("x", 301)}, Owner, "reason"},
	} {
		end, faults := ProposedEnd(c.end, Caller{Role: c.role, Bearer: "b"})
		if got := fieldsOf(faults); got != c.faults || end.RecordedBy != "b" {
			t.Errorf("%s: got %q, want %q; by %q", c.name, got, c.faults, end.RecordedBy)
		}
	}
}
