package bulletin_test

import (
	"flag"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

func golden(t *testing.T, path string, lines []string) {
	t.Helper()
	got := strings.Join(lines, "\n") + "\n"
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

// relays is a campaign about steering relays of lot L07 on vehicles of two
// releases.
func relays(ever bool) bulletin.Bulletin {
	upper, err := vehicle.ParseDecimal("0.3")
	if err != nil {
		panic(err)
	}
	return bulletin.Bulletin{
		ID: "C-2026-02", Version: 1, Kind: bulletin.Campaign, State: bulletin.Draft, Title: "Steering relays of lot L07",
		Fault: "The bush was pressed in dry.", Consequence: "The steering can go stiff.", Meanwhile: "Do not drive it.",
		Caution: "Stand it on stands and chock the wheels before the steering is taken apart.", StopUse: true, HoldDelivery: true, Sample: true,
		Set: bulletin.Set{When: &bulletin.Condition{All: []bulletin.Condition{
			{Release: &bulletin.ReleaseCondition{Releases: []string{"R2", "R3"}, AsBuilt: true}},
			{Fitted: &bulletin.FittedUnit{Position: "steering-relay", Parts: []string{"AP-3001"}, Lots: []string{"L07"}, Ever: ever}},
		}}},
		Remedy: []bulletin.RemedyItem{{
			ID: "C1", Title: "Fit another relay", Minutes: 90, Caution: "A raised vehicle: stands and chocks.",
			Parts:        []bulletin.RemedyPart{{Position: "steering-relay", Part: "AP-3009", Quantity: 1}},
			Measured:     []schedule.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Upper: &upper}},
			Reinspection: bulletin.Reinspection{Days: 180, Distance: 1_000 * vehicle.Mile},
		}},
	}
}

// yard is a handful of vehicles, each with a story of its own.
type yard struct {
	*world
	count int
}

func newYard() *yard {
	w := &world{on: day(2026, 11, 25), changes: map[vehicle.Serial][]build.Change{}, uses: map[vehicle.Serial][]schedule.UseFact{}, releases: build.ReleaseSet{}}
	for i, id := range worldReleases {
		w.releases[id] = &build.Release{ID: id, Effective: day(2010+i, 1, 1), Fitments: []build.Fitment{{Position: "steering-relay", Part: "AP-3001"}}}
	}
	return &yard{world: w}
}

// built adds a vehicle with a relay of a lot and serial, either empty for what
// nobody wrote down.
func (y *yard) built(release, lot, serial string) vehicle.Serial {
	s := issuedSerials[100+y.count]
	y.count++
	rec := build.Record{Serial: s, Release: release, Wheelbase: "short", Market: "GB", Built: day(2020, 3, 1), Delivered: day(2020, 4, 1)}
	if lot+serial != "" {
		rec.Components = []build.Component{{Position: "steering-relay", Part: "AP-3001", Lot: lot, Serial: serial}}
	}
	y.records = append(y.records, rec)
	return s
}

func (y *yard) change(serial vehicle.Serial, c build.Change) {
	c.Serial, c.ID = serial, "c"+string(rune('1'+len(y.changes[serial])))
	if c.Source == 0 {
		c.Source = build.SourceService
	}
	y.changes[serial] = append(y.changes[serial], c)
}

// fits replaces the relay.
func (y *yard) fits(serial vehicle.Serial, on vehicle.Date, source build.ChangeSource, relay build.Component) {
	relay.Position = "steering-relay"
	y.change(serial, build.Change{Kind: build.Fit, Date: on, Source: source, Component: relay})
}

// moves takes the relay from one vehicle to another.
func (y *yard) moves(t testing.TB, from, to vehicle.Serial, on vehicle.Date) {
	t.Helper()
	record := func(s vehicle.Serial) *build.Record {
		for i := range y.records {
			if y.records[i].Serial == s {
				return &y.records[i]
			}
		}
		return nil
	}
	m := build.Move{From: record(from), To: record(to), FromPosition: "steering-relay", ToPosition: "steering-relay", Date: on}
	removed, fitted, err := m.Changes(y.changes[from], y.releases)
	if err != nil {
		t.Fatal(err)
	}
	removed.Counterpart, fitted.Counterpart = "builds/"+string(to)+"/changes/c1", "builds/"+string(from)+"/changes/c1"
	y.change(from, removed)
	y.change(to, fitted)
}

func prepare(t testing.TB, b bulletin.Bulletin) *bulletin.Ready {
	t.Helper()
	r, err := bulletin.Prepare(b, compiler(t))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestWhoIsInTheSetOfALot(t *testing.T) {
	for _, c := range []struct {
		name      string
		ever      bool
		story     func(t *testing.T, y *yard) vehicle.Serial // the vehicle that is asked about
		want      bulletin.MatchState
		says      string
		cured     bool
		loose     int
		notLikely bool // of the loose unit
	}{
		{"a vehicle that has it", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R2", "L07", "") },
			bulletin.In, "AP-3001, lot L07 has stood at the steering relay since 1 March 2020", false, 0, false},
		{"the lot written in another way", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R2", "l 07", "") },
			bulletin.In, "lot l 07", false, 0, false},
		{"another release, and otherwise the lot", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R1", "L07", "") },
			bulletin.Near, "Only one condition keeps it out: It left the works to release R1; the bulletin is for vehicles built to release R2 or R3.", false, 0, false},
		{"the lot next to it", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R2", "L08", "") },
			bulletin.Near, "lot L08 has stood at the steering relay since 1 March 2020, next to lot L07", false, 0, false},
		{"neither release nor lot", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R1", "L05", "") },
			bulletin.Out, "It left the works to release R1", false, 0, false},
		{"nobody wrote the lot down", false, func(_ *testing.T, y *yard) vehicle.Serial { return y.built("R2", "", "") },
			bulletin.Unknown, "and its lot is not on record", false, 0, false},
		{"the lot is on record where the unit stood before", false, func(t *testing.T, y *yard) vehicle.Serial {
			from, to := y.built("R1", "L07", "T9"), y.built("R2", "L05", "T8")
			y.moves(t, from, to, day(2024, 5, 1))
			y.changes[to][0].Component.Lot = ""
			return to
		}, bulletin.In, "lot L07 (by the record of", false, 1, true}, // T8 gave way to it, and is of another lot
		{"a component that was moved here", false, func(t *testing.T, y *yard) vehicle.Serial {
			from, to := y.built("R1", "L07", ""), y.built("R2", "L05", "")
			y.moves(t, from, to, day(2024, 5, 1))
			return to
		}, bulletin.In, "moved from AM", false, 0, false},
		{"a component that was moved away, when the vehicle that has it is meant", false, func(t *testing.T, y *yard) vehicle.Serial {
			from, to := y.built("R2", "L07", ""), y.built("R2", "L05", "")
			y.moves(t, from, to, day(2024, 5, 1))
			return from
		}, bulletin.Near, "and was moved to AM", false, 0, false},
		{"a component that was moved away, when whoever ever had it is meant", true, func(t *testing.T, y *yard) vehicle.Serial {
			from, to := y.built("R2", "L07", ""), y.built("R2", "L05", "")
			y.moves(t, from, to, day(2024, 5, 1))
			return from
		}, bulletin.In, "and was moved to AM", false, 0, false},
		{"a component on the shelf", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.fits(s, day(2024, 5, 1), build.SourceService, build.Component{Part: "AP-3001", Lot: "L02"})
			return s
		}, bulletin.Near, "it had the unit and has it no longer", false, 1, false},
		{"a campaign fitted the remedy", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.fits(s, day(2026, 5, 1), build.SourceCampaign, build.Component{Part: "AP-3009", Lot: "M1"})
			return s
		}, bulletin.In, "when a campaign replaced it", true, 1, false},
		{"a campaign fitted something else", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.fits(s, day(2026, 5, 1), build.SourceCampaign, build.Component{Part: "AP-3001", Lot: "L02"})
			return s
		}, bulletin.Near, "it had the unit and has it no longer", false, 1, false},
		{"service fitted the remedy's part", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L07", "T9")
			y.fits(s, day(2026, 5, 1), build.SourceService, build.Component{Part: "AP-3009", Lot: "M1"})
			return s
		}, bulletin.Near, "it had the unit and has it no longer", false, 1, false},
		{"an overhaul that gave it the lot", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L05", "T9")
			y.change(s, build.Change{Kind: build.Overhaul, Date: day(2025, 1, 1), Component: build.Component{Position: "steering-relay", Lot: "L07"}})
			return s
		}, bulletin.In, "lot L07 has stood at the steering relay since 1 January 2025", false, 0, false},
		{"a change of a later day", false, func(_ *testing.T, y *yard) vehicle.Serial {
			s := y.built("R2", "L05", "T9")
			y.fits(s, day(2026, 11, 26), build.SourceService, build.Component{Part: "AP-3001", Lot: "L07"})
			return s
		}, bulletin.Near, "lot L05", false, 0, false},
	} {
		y := newYard()
		s := c.story(t, y)
		f, ready := y.fleet(t), prepare(t, relays(c.ever))
		m, ok := ready.Match(f, s)
		if !ok || m.State != c.want || !strings.Contains(m.Sentence(), c.says) || (m.Cure != nil) != c.cured {
			t.Errorf("%s: got %v, %q, cured %v; want %v with %q, cured %v", c.name, m.State, m.Sentence(), m.Cure != nil, c.want, c.says, c.cured)
		}
		p := ready.Preview(f)
		if c.notLikely {
			p.Loose = slices.DeleteFunc(p.Loose, func(u bulletin.LooseUnit) bool { return u.Unit.Serial == "T8" })
			c.loose = 0
		}
		if len(p.Loose) != c.loose {
			t.Errorf("%s: %d loose units, want %d: %+v", c.name, len(p.Loose), c.loose, p.Loose)
		}
		if got := slices.Contains(ready.Members(f), s); got != c.want.OnList() {
			t.Errorf("%s: on the list %v", c.name, got)
		}
	}
}

func TestByHowMuchAVehicleIsNear(t *testing.T) {
	y := newYard()
	first := y.built("R2", "L07", "")
	for range 30 {
		y.built("R2", "L07", "")
	}
	at := func(i int) vehicle.Serial { return y.records[i].Serial }
	built := y.records[0].Built
	for _, c := range []struct {
		name string
		when bulletin.Condition
		of   vehicle.Serial
		want bulletin.MatchState
		says string
	}{
		{"the next serial but one", bulletin.Condition{Serials: &bulletin.SerialRange{Last: at(3)}}, at(5), bulletin.Near, "after the last"},
		{"a serial far outside", bulletin.Condition{Serials: &bulletin.SerialRange{Last: at(3)}}, at(25), bulletin.Out, ""},
		{"three days after the last", bulletin.Condition{Built: &bulletin.DateRange{End: built.AddDays(-3)}}, first, bulletin.Near, "It is close: It was built on 1 March 2020, 3 days after the last day; the bulletin is for vehicles built until 27 February 2020."},
		{"two weeks before the first", bulletin.Condition{Built: &bulletin.DateRange{Start: built.AddDays(14)}}, first, bulletin.Near, "14 days before the first day"},
		{"fifteen days", bulletin.Condition{Built: &bulletin.DateRange{Start: built.AddDays(15)}}, first, bulletin.Out, ""},
		{"on the last day", bulletin.Condition{Built: &bulletin.DateRange{End: built}}, first, bulletin.In, ""},
		{"on the first day", bulletin.Condition{Built: &bulletin.DateRange{Start: built}}, first, bulletin.In, ""},
		{"the day of the delivery", bulletin.Condition{Delivered: &bulletin.DateRange{Start: day(2020, 4, 2)}}, first, bulletin.Near, "delivered on 1 April 2020, 1 day before the first day"},
		{"excepted from the range", bulletin.Condition{Serials: &bulletin.SerialRange{First: first, Except: []vehicle.Serial{first}}}, first, bulletin.Out, "which the range excepts"},
	} {
		c := c
		m, _ := prepare(t, bulletinFor(bulletin.Set{When: &c.when})).Match(y.fleet(t), c.of)
		if m.State != c.want || !strings.Contains(m.Sentence(), c.says) {
			t.Errorf("%s: got %v, %q; want %v with %q", c.name, m.State, m.Sentence(), c.want, c.says)
		}
	}
}

func TestAPreviewReadsLikeThis(t *testing.T) {
	y := newYard()
	y.built("R2", "L07", "T1")
	moved, got := y.built("R2", "L07", "T2"), y.built("R3", "L05", "T3")
	y.moves(t, moved, got, day(2024, 5, 1))
	y.built("R2", "", "")
	y.built("R1", "L07", "T4")
	y.built("R3", "L08", "T5")
	y.built("R1", "L05", "")
	shelf := y.built("R3", "L07", "T6")
	y.fits(shelf, day(2023, 9, 30), build.SourceService, build.Component{Part: "AP-3001", Lot: "L02"})
	cured := y.built("R3", "L07", "T7")
	y.fits(cured, day(2026, 6, 12), build.SourceCampaign, build.Component{Part: "AP-3009", Lot: "M1"})
	p := prepare(t, relays(false)).Preview(y.fleet(t))
	golden(t, "testdata/preview.txt", p.Sentences())
}
