package bulletin_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle"
)

// passes lets one pass after another look at what other records say, ten days
// apart, and gives where the vehicle stands at last.
func passes(f bulletin.FollowUp, from vehicle.Date, seen ...bulletin.Seen) (bulletin.FollowUp, vehicle.Date) {
	on := from
	for _, s := range seen {
		on = on.AddDays(10)
		f.Steps = append(f.Steps, f.Observe(s, on, at(on))...)
	}
	return f, on
}

func TestWhatTheOwnersRecordTakesBackIsTakenBackOnTheList(t *testing.T) {
	gone := entered.AddDays(5)
	scrapped, exported, used := bulletin.Seen{Scrapped: gone}, bulletin.Seen{Exported: gone}, bulletin.Seen{}
	for _, c := range []struct {
		name  string
		seen  []bulletin.Seen
		state bulletin.FollowUpState
		round int
	}{
		{"scrapped by mistake, and put back", []bulletin.Seen{scrapped, used}, bulletin.Open, 2},
		{"put back by mistake, and scrapped on the same day as before", []bulletin.Seen{scrapped, used, scrapped}, bulletin.Scrapped, 2},
		{"exported, and returned", []bulletin.Seen{exported, used}, bulletin.Open, 2},
		{"exported, returned, and exported again", []bulletin.Seen{exported, used, exported}, bulletin.Exported, 2},
		{"exported, and then scrapped there", []bulletin.Seen{exported, scrapped}, bulletin.Scrapped, 1},
		{"not scrapped after all, but exported", []bulletin.Seen{scrapped, exported}, bulletin.Exported, 2},
		{"not scrapped after all, but nobody knows whose it is", []bulletin.Seen{scrapped, {OwnerUnknown: true}}, bulletin.OwnerUnknown, 2},
		{"exported, and lost sight of", []bulletin.Seen{exported, {OwnerUnknown: true}}, bulletin.OwnerUnknown, 2},
		{"to be scrapped later than was said", []bulletin.Seen{scrapped, {Scrapped: entered.AddDays(400)}}, bulletin.Open, 2},
	} {
		f, on := passes(entry(entered), entered, c.seen...)
		if st := f.Standing(); st.State != c.state || st.Round != c.round {
			t.Errorf("%s: state %d, round %d; want %d, %d: %s", c.name, st.State, st.Round, c.state, c.round, f.Sentence(on))
		}
		if again := f.Observe(c.seen[len(c.seen)-1], on, at(on)); len(again) > 0 {
			t.Errorf("%s: the next pass records %+v once more", c.name, again)
		}
	}
}

// What a person recorded of a vehicle is theirs to take back: that the owner's
// record says nothing of it says nothing.
func TestWhatAPersonRecordedIsNotTakenBackByTheOwnersRecord(t *testing.T) {
	for _, k := range []bulletin.StepKind{bulletin.StepScrapped, bulletin.StepExported} {
		f := record(t, entry(entered), entered.AddDays(9), did(k, entered.AddDays(3)))
		if got, _ := passes(f, entered.AddDays(9), bulletin.Seen{}, bulletin.Seen{}); got.Standing().State != f.Standing().State {
			t.Errorf("step %d: it stands at %d", k, got.Standing().State)
		}
	}
}

// The change of the build record is that by which the work was done which its
// own evidence shows to be wrong; it bears the same day.
func TestWorkThatItsOwnEvidenceShowsWrongIsNotDoneByItsChangeOfTheBuildRecord(t *testing.T) {
	on := day(2026, 5, 2)
	cured := &bulletin.Match{State: bulletin.In, Cure: &bulletin.Cure{Date: on, Record: "builds/AM0147P/changes/c4"}}
	f := record(t, entry(entered), on, remedied(t, on, "0.4 mm"))
	if f.Standing().State != bulletin.DoneWrong {
		t.Fatalf("it stands at %d", f.Standing().State)
	}
	if steps := f.Observe(bulletin.Seen{Match: cured}, on, at(on)); len(steps) > 0 {
		t.Errorf("the pass records %+v", steps)
	}
	cured.Cure.Date = on.AddDays(1)
	if steps := f.Observe(bulletin.Seen{Match: cured}, on.AddDays(1), at(on.AddDays(1))); len(steps) != 1 || steps[0].Kind != bulletin.StepDone {
		t.Errorf("and of what was fitted on the next day %+v", steps)
	}
}

// A new version of other words does not make the campaign younger.
func TestACampaignIsAsOldAsItsFirstVersion(t *testing.T) {
	b := relays(false)
	b.State, b.Issued = bulletin.Superseded, entered
	next := b
	next.State, next.Version, next.Issued = bulletin.Issued, 2, entered.AddDays(100)
	f := record(t, entry(entered), day(2026, 11, 25), remedied(t, entered.AddDays(20), "0.2 mm"))
	for _, on := range []vehicle.Date{entered.AddDays(50), entered.AddDays(150)} {
		r := bulletin.ReportOn(&next, []bulletin.FollowUp{f}, on)
		for i, p := range r.Curve {
			if want := entered.DaysUntil(p.On); p.Days != want {
				t.Errorf("on %v, point %d of %v: %d days, want %d", on, i, p.On, p.Days, want)
			}
		}
		if text := strings.Join(r.Sentences(), "\n"); !strings.Contains(text, strconv.Itoa(entered.DaysUntil(on))+" days after the issue") {
			t.Errorf("on %v it says\n%s", on, text)
		}
	}
}

func TestAPreviewSaysWhichSerialsNoVehicleBears(t *testing.T) {
	w := newWorld(20, 1)
	there, listed, excepted := w.records[0].Serial, issuedSerials[9_001], issuedSerials[9_000]
	p := prepare(t, bulletinFor(bulletin.Set{
		Serials: []vehicle.Serial{listed, there}, Except: []vehicle.Serial{excepted},
	})).Preview(w.fleet(t))
	want := []bulletin.MissingSerial{{Serial: listed}, {Serial: excepted, Excepted: true}}
	if p.In != 1 || !slices.Equal(p.Missing, want) {
		t.Errorf("%d in, missing %v; want 1, %v", p.In, p.Missing, want)
	}
	if last := p.Sentences(); !strings.HasPrefix(last[len(last)-1], string(excepted)+" is excepted, and there is no such vehicle") {
		t.Errorf("it says %q", last)
	}
}

// Where either of two conditions would do, neither is the only one.
func TestANearVehicleIsToldOfTheOnlyConditionOnlyWhereItIs(t *testing.T) {
	w := newWorld(20, 1)
	here := w.records[0]
	wheelbase, release := bulletin.Condition{Wheelbases: []string{"none"}}, bulletin.Condition{Release: &bulletin.ReleaseCondition{Releases: []string{"R9"}}}
	itself := bulletin.Condition{Serials: &bulletin.SerialRange{First: here.Serial, Last: here.Serial}}
	for _, c := range []struct {
		name  string
		other bulletin.Condition
		says  string
	}{
		{"one", release, "Only one condition keeps it out: "},
		{"one of two", bulletin.Condition{Any: []bulletin.Condition{release, wheelbase}}, "One condition more would put it in, this one or another: "},
		{"any of one", bulletin.Condition{Any: []bulletin.Condition{release}}, "Only one condition keeps it out: "},
	} {
		b := bulletinFor(bulletin.Set{When: &bulletin.Condition{All: []bulletin.Condition{itself, c.other}}})
		m, _ := prepare(t, b).Match(w.fleet(t), here.Serial)
		if m.State != bulletin.Near || !strings.HasPrefix(m.Sentence(), c.says) {
			t.Errorf("%s: %v, %q; want near, %q", c.name, m.State, m.Sentence(), c.says)
		}
	}
}
