package reminder

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// The second implementation is dumb on purpose: it walks the calendar day by
// day, and compares everything with everything.

func dumbStage(i Item, today vehicle.Date) Stage {
	if i.OwnerCheck || i.ActBy.IsZero() {
		return NoStage
	}
	notice := 30
	if i.NoticeDays != 0 {
		notice = i.NoticeDays
	}
	if notice > 60 {
		notice = 60
	}
	if !i.Began.IsZero() {
		round := 0
		for d := i.Began; d.Before(i.ActBy); d = d.AddDays(1) {
			round++
		}
		if third := round / 3; round > 0 && third < notice {
			notice = third
			if notice == 0 {
				notice = 1
			}
		}
	}
	stage := NoStage
	for d := i.ActBy.AddDays(-notice); !d.After(today); d = d.AddDays(1) {
		switch d {
		case i.ActBy.AddDays(-notice):
			stage = Early
		case i.ActBy:
			stage = Due
		case i.ActBy.AddDays(30):
			return Overdue
		}
	}
	return stage
}

// dumbOpen says whether a stage may be told: neither it nor a later one was,
// and nothing of the round on any of the 13 days before today.
func dumbOpen(c Case, r Recipient, i Item, s Stage, today vehicle.Date) bool {
	for _, claim := range c.Claims {
		if claim.Task != "" || claim.Person != r.Person || claim.Cycle != i.Cycle {
			continue
		}
		if claim.Stage >= s {
			return false
		}
		told := vehicle.DateOf(r.Local(claim.Time))
		for back := range 14 {
			if told == today.AddDays(-back) {
				return false
			}
		}
	}
	return s != NoStage
}

func dumbNear(a, b Item) bool {
	for n := -30; n <= 30; n++ {
		if a.ActBy.AddDays(n) == b.ActBy {
			return true
		}
	}
	return false
}

// dumbDraft gives the stages by round, and the leading round.
func dumbDraft(c Case, r Recipient) (lead string, lines map[string]Stage) {
	today := vehicle.DateOf(r.Local(c.Now))
	var first *Item
	for n := range c.Vehicle.Items {
		i := &c.Vehicle.Items[n]
		if !dumbOpen(c, r, *i, dumbStage(*i, today), today) {
			continue
		}
		if first == nil || dumbStage(*i, today) > dumbStage(*first, today) ||
			dumbStage(*i, today) == dumbStage(*first, today) && (i.ActBy.Before(first.ActBy) || i.ActBy == first.ActBy && i.ID < first.ID) {
			first = i
		}
	}
	if first == nil {
		return "", nil
	}
	lines = map[string]Stage{}
	for _, i := range c.Vehicle.Items {
		own := dumbStage(i, today)
		asks := dumbOpen(c, r, i, own, today)
		if dumbNear(*first, i) && !i.OwnerCheck && !i.ActBy.IsZero() {
			with := dumbStage(*first, today)
			if own > with {
				with = own
			}
			if with == Overdue && !i.ActBy.Before(today) {
				with = Due
			}
			if asks || dumbOpen(c, r, i, with, today) {
				lines[i.Cycle] = with
			}
		} else if asks {
			lines[i.Cycle] = own
		}
	}
	return first.Cycle, lines
}

var genDay = rapid.Custom(func(t *rapid.T) vehicle.Date {
	return day("2026-06-01").AddDays(rapid.IntRange(-150, 150).Draw(t, "offset"))
})

var genItem = rapid.Custom(func(t *rapid.T) Item {
	i := Item{ActBy: genDay.Draw(t, "act by"), NoticeDays: rapid.SampledFrom([]int{0, 0, 0, 7, 45, 90}).Draw(t, "notice")}
	switch rapid.IntRange(0, 9).Draw(t, "kind") {
	case 0:
		i.OwnerCheck = true
	case 1:
		i.ActBy = vehicle.Date{}
	case 2, 3, 4:
		i.Began = i.ActBy.AddDays(-rapid.IntRange(0, 400).Draw(t, "round"))
	}
	return i
})

var zones = []string{"UTC", "Europe/London", "America/New_York", "Pacific/Auckland", "Australia/Sydney", "Pacific/Kiritimati"}

var genRecipient = rapid.Custom(func(t *rapid.T) Recipient {
	from := rapid.IntRange(0, 22).Draw(t, "from")
	return Recipient{
		Address: "x@a.example", Zone: zone(rapid.SampledFrom(zones).Draw(t, "zone")),
		Hours: Hours{from, rapid.IntRange(from+1, 24).Draw(t, "until")},
	}
})

func genVehicle(t *rapid.T) Vehicle {
	v := Vehicle{Serial: "AM0147P", Items: rapid.SliceOfN(genItem, 0, 8).Draw(t, "items")}
	for n := range v.Items {
		v.Items[n].ID = fmt.Sprintf("I%d", n)
		v.Items[n].Cycle = fmt.Sprintf("I%d.1", n)
	}
	return v
}

func TestADumberSelectionAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecipient.Draw(t, "recipient")
		r.Person = "p1"
		c := Case{Vehicle: genVehicle(t), Receivers: []Recipient{r}, Now: at("2026-06-01T00:00:00Z").Add(time.Duration(rapid.IntRange(0, 100_000).Draw(t, "seconds")) * time.Second)}
		for n := range rapid.IntRange(0, 6).Draw(t, "claims") {
			c.Claims = append(c.Claims, Claim{
				Cycle: fmt.Sprintf("I%d.1", rapid.IntRange(0, 7).Draw(t, "of")), Stage: Stage(rapid.IntRange(1, 3).Draw(t, "stage")),
				Channel: Mail, Person: rapid.SampledFrom([]string{"p1", "p1", "p2"}).Draw(t, "person"),
				Time: c.Now.Add(-time.Duration(rapid.IntRange(0, 60*24).Draw(t, fmt.Sprint("hours", n))) * time.Hour),
			})
		}
		plan := Select(c)
		drafts := append(plan.Drafts, plan.Held...)
		lead, want := dumbDraft(c, r)
		if len(drafts) == 0 {
			if len(want) > 0 {
				t.Fatalf("nothing told, want %v", want)
			}
			return
		}
		got := map[string]Stage{}
		for _, l := range drafts[0].Lines {
			got[l.Item.Cycle] = l.Stage
		}
		if !maps.Equal(got, want) || drafts[0].Lines[0].Item.Cycle != lead {
			t.Fatalf("got %v led by %s, want %v led by %s", got, drafts[0].Lines[0].Item.Cycle, want, lead)
		}
	})
}

// TestAYearOfPassesBreaksNoPromise lets passes come at random while work is recorded at
// random, and checks what must hold whatever comes.
func TestAYearOfPassesBreaksNoPromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := genVehicle(t)
		people := rapid.SliceOfN(genRecipient, 1, 2).Draw(t, "people")
		for n := range people {
			people[n].Person = fmt.Sprintf("p%d", n)
		}
		var claims []Claim
		seen := map[string]bool{}
		now := at("2026-01-01T00:00:00Z")
		for now.Before(at("2027-01-01T00:00:00Z")) {
			now = now.Add(time.Duration(rapid.IntRange(1, 72).Draw(t, "hours")) * time.Hour)
			if len(v.Items) > 0 && rapid.IntRange(0, 20).Draw(t, "work") == 0 {
				n := rapid.IntRange(0, len(v.Items)-1).Draw(t, "done")
				v.Items[n].Cycle += "x" // a new round
				v.Items[n].ActBy = v.Items[n].ActBy.AddDays(rapid.IntRange(60, 300).Draw(t, "next"))
			}
			plan := Select(Case{Vehicle: v, Receivers: people, Claims: claims, Now: now})
			told := map[string]bool{}
			for _, d := range plan.Drafts {
				checkDraft(t, v, d, claims, now)
				if told[d.To.Person] {
					t.Fatalf("two messages at once for %s", d.To.Person)
				}
				told[d.To.Person] = true
				for _, l := range d.Lines {
					key := fmt.Sprint(l.Item.Cycle, l.Stage, d.To.Person)
					if seen[key] {
						t.Fatalf("told twice: %s", key)
					}
					seen[key] = true
				}
			}
			for _, d := range plan.Drafts {
				for _, l := range d.Lines {
					claims = append(claims, Claim{Cycle: l.Item.Cycle, Stage: l.Stage, Channel: Mail, Person: d.To.Person, Time: now})
				}
			}
			for _, task := range plan.Tasks {
				for _, cycle := range task.Cycles {
					if key := cycle + string(task.Kind); seen[key] {
						t.Fatalf("the works was told twice: %s", key)
					} else {
						seen[key] = true
					}
					claims = append(claims, Claim{Cycle: cycle, Task: task.Kind, Time: now})
				}
			}
			nothingForgotten(t, v, people, claims, now)
		}
	})
}

func checkDraft(t *rapid.T, v Vehicle, d Draft, claims []Claim, now time.Time) {
	local := d.To.Local(now)
	if local.Hour() < d.To.Hours.From || local.Hour() >= d.To.Hours.Until {
		t.Fatalf("told at %v, outside %v", local, d.To.Hours)
	}
	for _, l := range d.Lines {
		if !slices.ContainsFunc(v.Items, func(i Item) bool { return i.Cycle == l.Item.Cycle }) {
			t.Fatalf("told of %s, which is done", l.Item.Cycle)
		}
		if l.Stage == Overdue && !l.Item.ActBy.Before(vehicle.DateOf(local)) {
			t.Fatalf("%s is called overdue on %v, to be done by %v", l.Item.Cycle, local, l.Item.ActBy)
		}
		for _, c := range claims {
			if c.Task == "" && c.Person == d.To.Person && c.Cycle == l.Item.Cycle && now.Sub(c.Time) < 13*24*time.Hour {
				t.Fatalf("told of %s again after %v", l.Item.Cycle, now.Sub(c.Time))
			}
		}
	}
}

// nothingForgotten checks that after a pass within somebody's hours each item
// whose day has come was told to them, or its round was told lately.
func nothingForgotten(t *rapid.T, v Vehicle, people []Recipient, claims []Claim, now time.Time) {
	for _, r := range people {
		if !r.Reachable(now) {
			continue
		}
		for _, i := range v.Items {
			if i.OwnerCheck || i.ActBy.IsZero() || i.ActBy.After(vehicle.DateOf(r.Local(now))) {
				continue
			}
			explained := slices.ContainsFunc(claims, func(c Claim) bool {
				return c.Task == "" && c.Cycle == i.Cycle && c.Person == r.Person && (c.Stage >= Due || now.Sub(c.Time) < 15*24*time.Hour)
			})
			if !explained {
				t.Fatalf("%s was to be done by %v and %s was not told by %v", i.Cycle, i.ActBy, r.Person, now)
			}
		}
	}
}
