package schedule_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// exchanged is a vehicle whose gearbox was replaced on 10 May 2026 by one that
// was fitted new elsewhere in 2015; 1,000 miles a year.
func exchanged(t *testing.T, items ...schedule.Item) *world {
	w := delivered(t, "2016-01-01", items...).read("2026-05-10", miles(10_350)).read("2027-05-10", miles(11_350))
	w.components = []schedule.Component{{Position: "gearbox", Fitted: on("2026-05-10"), Bedding: on("2015-10-17"), Prior: 6000 * vehicle.Mile, CameFrom: "AM0120A"}}
	w.fitted["gearbox"] = nil
	return w
}

// elsewhere is work done to the gearbox while it stood in the other vehicle.
func elsewhere(item, date string, since vehicle.Distance) schedule.EarlierWork {
	return schedule.EarlierWork{Item: item, Date: on(date), Position: "gearbox", Vehicle: "AM0120A",
		Record: "vehicles/AM0120A/serviceEntries/" + item, Since: since * vehicle.Mile}
}

func TestWorkOnTheUnitThatLeftIsNotWorkOnTheOneThatCame(t *testing.T) {
	level := schedule.Item{ID: "G01L", Position: "gearbox", Every: limit(500, 6)}
	oil := schedule.Item{ID: "G01", Position: "gearbox", First: limit(500, 0), Every: limit(12000, 24), Resets: []string{"G01L"}}
	grease := schedule.Item{ID: "E01", Every: limit(3000, 12)}
	here := func(w *world) *world { return w.done("2026-01-23", "G01L", "G01", "E01") }
	for _, c := range []struct {
		name, item string
		vehicle    *world
		due, cycle string
		state      schedule.DueState
		last       string
		says       string
	}{
		{"nothing is on record elsewhere", "G01L", here(exchanged(t, level, oil)), "2016-04-17", "G01L.2015-10-17", schedule.Overdue, "",
			"It is counted from the fitting or overhaul of the gearbox on 17 October 2015. The unit came here on 10 May 2026 from AM0120A, where no such work on it is on record."},
		{"bedded in, and nothing else is on record", "G01", here(exchanged(t, level, oil)), "2028-05-10", "G01.2026-05-10", schedule.NotYet, "",
			"on 10 May 2026. The unit came here on 10 May 2026 from AM0120A, where no such work on it is on record."},
		{"it was done elsewhere", "G01L", here(with(exchanged(t, level, oil), elsewhere("G01L", "2026-04-01", 80))), "2026-10-01", "G01L.2026-04-01", schedule.NotYet, "2026-04-01",
			"It was last done on 1 April 2026, when the unit stood in AM0120A. The unit came here on 10 May 2026 from AM0120A."},
		{"by another item that resets it", "G01L", here(with(exchanged(t, level, oil), elsewhere("G01L", "2025-04-01", 900), elsewhere("G01", "2026-04-01", 80))),
			"2026-10-01", "G01L.2026-04-01", schedule.NotYet, "2026-04-01", "It was last done on 1 April 2026, when the unit stood in AM0120A."},
		{"what else was done elsewhere does not count", "G01L", here(with(exchanged(t, level, oil, grease), elsewhere("E01", "2026-04-01", 80))),
			"2016-04-17", "G01L.2015-10-17", schedule.Overdue, "", "where no such work on it is on record"},
		{"an item of the vehicle as a whole is done as it was", "E01", here(with(exchanged(t, level, oil, grease), elsewhere("E01", "2026-04-01", 80))),
			"2027-01-23", "E01.2026-01-23", schedule.NotYet, "2026-01-23", "It was last done on 23 January 2026."},
		{"work since it came counts", "G01L", here(with(exchanged(t, level, oil), elsewhere("G01L", "2026-04-01", 80))).done("2026-05-15", "G01L"),
			"2026-11-15", "G01L.2026-05-15", schedule.NotYet, "2026-05-15", "It was last done on 15 May 2026."},
		{"work of the day it came counts", "G01L", here(with(exchanged(t, level, oil), elsewhere("G01L", "2026-04-01", 80))).done("2026-05-10", "G01L"),
			"2026-11-10", "G01L.2026-05-10", schedule.NotYet, "2026-05-10", "It was last done on 10 May 2026."},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, st := c.vehicle.status("2026-05-20", c.item)
			if got := st.TimeDueDate().String(); got != c.due || st.Cycle(c.item) != c.cycle || st.State != c.state {
				t.Errorf("by time due %s, cycle %s, state %d; want %s, %s, %d", got, st.Cycle(c.item), st.State, c.due, c.cycle, c.state)
			}
			reasons, _ := s.Explain(st)
			if !strings.Contains(reasons[1].Sentence, c.says) {
				t.Errorf("it says %q, want %q", reasons[1].Sentence, c.says)
			}
			if last, _ := st.LastDone(); c.last == "" && !last.IsZero() || c.last != "" && last.String() != c.last {
				t.Errorf("last done %v, want %q", last, c.last)
			}
		})
	}
}

// with adds what was done to the gearbox before it came.
func with(w *world, earlier ...schedule.EarlierWork) *world {
	w.components[0].Earlier = append(w.components[0].Earlier, earlier...)
	return w
}

func TestAUnitBringsTheDistanceItWentSinceTheWork(t *testing.T) {
	oil := schedule.Item{ID: "G01", Position: "gearbox", Every: limit(1000, 0)}
	// 300 of 1,000 miles were gone when it came at 10,350: the rest is over at 11,050.
	w := with(exchanged(t, oil), elsewhere("G01", "2026-01-01", 300))
	s, st := w.status("2026-05-20", "G01")
	if at, _ := st.DueDistance(); at.Whole(vehicle.Miles) != 11_050 {
		t.Errorf("due at %s, want 11,050 miles", at.Text(vehicle.Miles))
	}
	if _, sentence := s.Explain(st); !strings.Contains(sentence, "1,000 miles since it was last done on 1 January 2026 in AM0120A") {
		t.Error(sentence)
	}
	// Gone too far before it came: by which day is not known here, and so it was
	// due when it came, whatever this vehicle's odometer showed at the distance.
	w.components[0].Earlier[0].Since = 1400 * vehicle.Mile
	if _, st = w.status("2026-05-20", "G01"); st.DueDate() != on("2026-05-10") || st.State != schedule.Overdue {
		t.Errorf("due %v, state %d; want the day it came", st.DueDate(), st.State)
	}
}

// Four hubs, of which one came from elsewhere: what was done to the three others
// was not done to it, and the first that is due decides.
func TestOfSeveralPositionsTheOneWhoseUnitIsDueFirstDecides(t *testing.T) {
	hubs := schedule.Item{ID: "S05", Position: "hub", Every: limit(0, 24)}
	for _, c := range []struct {
		name, elsewhere, due string
	}{
		{"the one that came", "2024-06-01", "2026-06-01"},
		{"those that were here", "2025-12-01", "2027-05-01"},
	} {
		w := delivered(t, "2016-01-01", hubs).component("hub-front-left", "2016-01-01").component("hub-rear-left", "2016-01-01").done("2025-05-01", "S05")
		w.components = append(w.components, schedule.Component{Position: "hub-front-right", Fitted: on("2026-01-01"), Bedding: on("2015-01-01"), CameFrom: "AM0120A",
			Earlier: []schedule.EarlierWork{{Item: "S05", Date: on(c.elsewhere), Position: "hub-front-right", Vehicle: "AM0120A"}}})
		if _, st := w.status("2026-02-01", "S05"); st.DueDate() != on(c.due) {
			t.Errorf("%s: due %v, want %s", c.name, st.DueDate(), c.due)
		}
	}
	// A wheel hub that changed sides on the vehicle keeps what was done to it.
	w := delivered(t, "2016-01-01", hubs).component("hub-front-left", "2016-01-01").done("2025-05-01", "S05")
	w.components = append(w.components, schedule.Component{Position: "hub-front-right", Fitted: on("2026-01-01"), Bedding: on("2016-01-01"),
		Earlier: []schedule.EarlierWork{{Item: "S05", Date: on("2025-05-01"), Position: "hub-rear-left"}}})
	s, st := w.status("2026-02-01", "S05")
	if _, sentence := s.Explain(st); st.DueDate() != on("2027-05-01") || strings.Contains(sentence, "AM") {
		t.Errorf("due %v: %s", st.DueDate(), sentence)
	}
	// Work where the item does not look is not work on the unit.
	w.components[1].Earlier[0].Position = "spare-wheel"
	if _, st = w.status("2026-02-01", "S05"); st.State != schedule.Overdue {
		t.Errorf("state %d, want overdue since its fitting", st.State)
	}
}

// TestMovingAUnitBetweenVehiclesThatLiveAlikeChangesNothing: two vehicles are
// driven alike and live alike, and one day a unit moves from one to the other
// with what was done to it. It is due there when it would have been due had it
// stayed, whatever was done to the unit that it replaced. Only what it had gone
// too far with when it came is due on the day it came.
func TestMovingAUnitBetweenVehiclesThatLiveAlikeChangesNothing(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		stays := anyWorld(r, t)
		it := *stays.plan.Item(0)
		it.Position = "gearbox"
		if it.Every.Months > 0 {
			it.KeepCalendarDays = rapid.SampledFrom([]int{0, 30}).Draw(r, "keeps its calendar")
		}
		stays.plan = delivered(t, "2012-02-29", it).plan
		stays.component("gearbox", stays.Delivered.String())
		moved := stays.Delivered.AddDays(rapid.IntRange(1, 4000).Draw(r, "moved"))
		today := moved.AddDays(rapid.IntRange(0, 1500).Draw(r, "today"))
		a := stays.at(today.String())
		goes := *stays
		goes.Entries, goes.fitted = nil, map[string][]string{"gearbox": nil}
		gone := func(d vehicle.Date) vehicle.Distance {
			return a.DistanceAt(moved, vehicle.Entered{}) - a.DistanceAt(d, vehicle.Entered{})
		}
		unit := schedule.Component{Position: "gearbox", Fitted: moved, Bedding: stays.Delivered, Prior: gone(stays.Delivered), CameFrom: "AM0120A"}
		for _, e := range stays.Entries {
			if e.Date.Before(moved) {
				unit.Earlier = append(unit.Earlier, schedule.EarlierWork{Item: "A1", Date: e.Date, Position: "gearbox", Vehicle: "AM0120A", Since: gone(e.Date)})
			} else {
				goes.Entries = append(goes.Entries, e)
			}
		}
		for range rapid.IntRange(0, 3).Draw(r, "work on the unit that left") {
			d := moved.AddDays(-rapid.IntRange(1, moved.Ordinal()-stays.Delivered.Ordinal()+1).Draw(r, "before"))
			goes.Entries = append(goes.Entries, schedule.Entry{Date: d, Items: []string{"A1"}, Mark: -1, Record: fmt.Sprint(d)})
		}
		goes.components = []schedule.Component{unit}
		x, y := &a.Statuses[0], &goes.at(today.String()).Statuses[0]
		last, _ := x.LastDone()
		firstLimit := it.First.Distance
		way, _ := firstLimit.Distance()
		bedded := !it.First.IsZero() && (!firstLimit.IsZero() && unit.Prior >= way || it.First.Months > 0 && !stays.Delivered.AddMonths(it.First.Months).After(moved))
		if bedded && !last.After(stays.Delivered) {
			return // nobody knows what was done when it was bedded in: it begins anew
		}
		byDistance := x.DistanceDueDate()
		if !byDistance.IsZero() && byDistance.Before(moved) {
			byDistance = moved
		}
		// On which days it was used hard elsewhere is not asked, so a limb that hard
		// use ended there, whether or not it decided, is not that of the other.
		gentle := *stays
		gentle.Uses = slices.DeleteFunc(slices.Clone(stays.Uses), func(f schedule.UseFact) bool { return f.Kind != schedule.LaidUp })
		z := &gentle.at(today.String()).Statuses[0]
		for _, limb := range [][2]vehicle.Date{{x.TimeDueDate(), z.TimeDueDate()}, {x.DistanceDueDate(), z.DistanceDueDate()}} {
			if limb[0] != limb[1] && limb[0].Before(moved) {
				return
			}
		}
		if y.TimeDueDate() != x.TimeDueDate() || y.DistanceDueDate() != byDistance || y.Cycle("A1") != x.Cycle("A1") {
			r.Fatalf("moved on %v: due %v by time and %v by distance, round %s; had it stayed %v, %v, %s", moved,
				y.TimeDueDate(), y.DistanceDueDate(), y.Cycle("A1"), x.TimeDueDate(), byDistance, x.Cycle("A1"))
		}
	})
}

// An item that is on the vehicle only by what somebody took a part to be like
// says so, wherever its work is.
func TestAnItemThatRestsOnAnAssumptionSaysSo(t *testing.T) {
	clutch := schedule.Item{ID: "C01S", Position: "clutch", Every: limit(0, 24), AppliesWhen: `"silicone-dot5" in fitted["brake-hydraulics"]`}
	other := schedule.Item{ID: "C02", Position: "clutch", Every: limit(0, 24), AppliesWhen: `"clutch" in fitted`}
	event := schedule.Item{ID: "B09", AppliesWhen: `"brake-hydraulics" in fitted`, StartsOn: []schedule.EventStart{{Event: schedule.Wading, WithinDays: 2}}}
	w := delivered(t, "2016-01-01", clutch, other, event).component("clutch", "2016-01-01").component("brake-hydraulics", "2026-01-01")
	w.fitted["brake-hydraulics"] = []string{"silicone-dot5"}
	why := vehicle.Reason{Rule: "TRAITS_ASSUMED", Sentence: "What ZX-9 is like is not on record."}
	w.components[1].Assumed = &why
	for item, says := range map[string]bool{"C01S": true, "C02": false, "B09": true} {
		s, st := w.status("2026-02-01", item)
		reasons, _ := s.Explain(st)
		said := false
		for _, r := range reasons {
			said = said || r.Rule == why.Rule
		}
		if said != says {
			t.Errorf("%s says that it is assumed: %v, want %v: %v", item, said, says, reasons)
		}
	}
}
