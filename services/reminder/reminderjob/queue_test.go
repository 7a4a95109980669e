package reminderjob

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// people in three zones, none of whom can be reached at noon by UTC on the
// 18th but the first.
func (o *office) scattered() {
	for n, zone := range []string{"Europe/London", "Pacific/Auckland", "America/Los_Angeles"} {
		o.town.vehicle(serial(n), item("E01", today.AddDays(1)))
		o.town.owner(serial(n), fmt.Sprintf("p%d", n)).TimeZone = zone
	}
}

func TestADryRunOfADayTellsEveryoneInTheirHours(t *testing.T) {
	o := newOffice(t)
	o.scattered()
	now, err := o.DryRunOn(t.Context(), vehicle.Date{})
	if err != nil || counts(now) != "claimed 1 held 2" {
		t.Fatalf("this moment's pass: %q, %v", counts(now), err)
	}
	// What is left of today: Los Angeles wakes at 16:00 by UTC, Auckland at 21:00.
	rest, err := o.DryRunOn(t.Context(), today)
	if err != nil || counts(rest) != "claimed 3" {
		t.Fatalf("the rest of today: %q, %v", counts(rest), err)
	}
	var hours []string
	for _, n := range sortedNotices(rest.Notices) {
		hours = append(hours, n.Person+" "+n.Claimed.Format("15:04"))
	}
	slices.Sort(hours)
	if diff := cmp.Diff([]string{"p0 12:00", "p1 21:00", "p2 16:00"}, hours); diff != "" {
		t.Error(diff)
	}
	tomorrow, err := o.DryRunOn(t.Context(), today.AddDays(1))
	if err != nil || counts(tomorrow) != "claimed 3" || tomorrow.Notices[0].Stage != reminder.Due {
		t.Errorf("tomorrow: %q, %v", counts(tomorrow), err)
	}
	if _, err := o.DryRunOn(t.Context(), today.AddDays(-1)); !fault.Is(err, fault.Invalid) {
		t.Errorf("yesterday: %v", err)
	}
	if o.post.total() != 0 || len(o.Store.Unfinished()) != 0 {
		t.Error("a dry run left something behind")
	}
}

// TestADayGoesAsTheDryRunOfItSaid runs the hourly passes of a day and compares
// them with the dry run of it the evening before.
func TestADayGoesAsTheDryRunOfItSaid(t *testing.T) {
	zones := []string{"Europe/London", "Pacific/Auckland", "America/Los_Angeles", "Asia/Kolkata", "Pacific/Kiritimati", "UTC"}
	batch := 0
	o := newOffice(t)
	rapid.Check(t, func(rt *rapid.T) {
		if batch++; batch > 30 {
			return // enough: each is a day of 24 passes over a real store
		}
		o.town.clear()
		o.post.taken = nil
		day := vehicle.DateOf(noon).AddDays(batch * 400)
		for n := range rapid.IntRange(1, 6).Draw(rt, "vehicles") {
			s := serial(batch*20 + n)
			var items []*schedulev1.ItemStatus
			for k := range rapid.IntRange(1, 3).Draw(rt, "items") {
				items = append(items, item(fmt.Sprintf("I%d", k), day.AddDays(rapid.IntRange(-60, 60).Draw(rt, "by"))))
			}
			o.town.vehicle(s, items...)
			for k := range rapid.IntRange(0, 3).Draw(rt, "people") {
				p := o.town.owner(s, fmt.Sprintf("q%dx%dx%d", batch, n, k))
				p.TimeZone = rapid.SampledFrom(zones).Draw(rt, "zone")
				p.ContactFromHour = int32(rapid.IntRange(0, 20).Draw(rt, "from"))
				p.ContactUntilHour = p.ContactFromHour + int32(rapid.IntRange(1, 4).Draw(rt, "for"))
			}
		}
		o.now = day.Start(time.UTC).Add(-3 * time.Hour)
		dry, err := o.DryRunOn(t.Context(), day)
		if err != nil {
			rt.Fatal(err)
		}
		want := lines(dry.Notices)
		var got []reminder.Notice
		fence := o.elect(t)
		for hour := range 24 {
			o.now = day.Start(time.UTC).Add(time.Duration(hour) * time.Hour)
			r, err := o.pass(t.Context(), fence)
			if err != nil {
				rt.Fatal(err)
			}
			got = append(got, r.Notices...)
		}
		if diff := cmp.Diff(want, lines(got)); diff != "" {
			rt.Fatalf("%s: the dry run said (-) and the passes told (+):\n%s\n%s", day, diff, o.log)
		}
	})
}

func lines(notices []reminder.Notice) []string {
	out := []string{}
	for _, n := range notices {
		for _, l := range told(n) {
			out = append(out, l+" "+n.Claimed.Format("15:04"))
		}
	}
	slices.Sort(out)
	return out
}

func TestPendingSaysWhatBecomesOfEachItem(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today), item("B02", today.AddDays(60)), item("Z99", today.AddDays(400)))
	o.town.owner(serial(1), "p1")
	o.town.vehicle(serial(2), item("E01", today.AddDays(3)))
	o.scattered() // serial 0, 1 again and 2 again, in three zones
	o.town.ties[string(serial(2))] = nil
	lines, err := o.Pending(t.Context(), "", vehicle.Date{})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range lines {
		got = append(got, strings.Join([]string{string(p.Serial), p.Item.ID, p.Person, p.Reason}, " "))
	}
	want := []string{
		string(serial(0)) + " E01 p0 TOLD", string(serial(1)) + " E01 p1 OUTSIDE_HOURS", string(serial(2)) + " E01  NOBODY",
	}
	slices.Sort(want)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	one, err := o.Pending(t.Context(), serial(0), today.AddDays(2))
	if err != nil || len(one) != 1 || one[0].Stage != reminder.Due || one[0].Reason != reminder.Told {
		t.Errorf("of one vehicle on another day: %+v, %v", one, err)
	}
	if _, err := o.Pending(t.Context(), "", today.AddDays(-1)); !fault.Is(err, fault.Invalid) {
		t.Errorf("of yesterday: %v", err)
	}
}

func TestMomentsAreTheFirstAndThoseAtWhichSomebodyWakes(t *testing.T) {
	zone := func(name string) *time.Location {
		l, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	people := []reminder.Recipient{
		{Person: "a", Zone: zone("Europe/London")},                                                // 8:00 by UTC in summer
		{Person: "b", Zone: zone("Asia/Kolkata"), Hours: reminder.Hours{From: 9, Until: 12}},      // half past three is 9:00
		{Person: "c", Zone: zone("Europe/Paris"), Hours: reminder.Hours{From: 10, Until: 11}},     // 8:00 by UTC too
		{Person: "d", Zone: zone("Pacific/Kiritimati"), Hours: reminder.Hours{From: 8, Until: 9}}, // 18:00 by UTC
	}
	var got []string
	for _, m := range moments(people, today.Start(time.UTC)) {
		got = append(got, m.Format("15:04"))
	}
	if diff := cmp.Diff([]string{"00:00", "04:00", "08:00", "18:00"}, got); diff != "" {
		t.Error(diff)
	}
	if got := moments(nil, noon); len(got) != 1 {
		t.Errorf("for nobody: %v", got)
	}
}

func TestAnAnswerAndTheLimitShowAsWhatIsHeld(t *testing.T) {
	o := newOffice(t)
	for n := range 3 {
		o.town.vehicle(serial(n), item("E01", today))
		o.town.owner(serial(n), "p1")
	}
	o.town.people["people/p1"].MostMessages = 1
	a := reminder.Answer{ID: "0192f0", Serial: serial(0), Kind: reminder.Snoozed, Cycles: []string{"E01.2025-05-01"}, Day: today.AddDays(20), Created: noon}
	if _, err := o.Store.CreateAnswer(t.Context(), reminderRequest(), a, nil); err != nil {
		t.Fatal(err)
	}
	r, err := o.DryRunOn(t.Context(), today)
	if err != nil || counts(r) != "claimed 1" {
		t.Fatalf("got %q, %v", counts(r), err)
	}
	held := map[string]int{}
	for _, p := range r.HeldLines() {
		held[p.Reason]++
	}
	if diff := cmp.Diff(map[string]int{reminder.IsSnoozed: 1, reminder.MonthlyLimit: 1}, held); diff != "" {
		t.Error(diff)
	}
}
