package parts_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// useWorld is a small works: two releases, a catalogue, and vehicles with their
// histories as a test tells them.
type useWorld struct {
	catalogue *parts.Catalogue
	releases  build.ReleaseSet
	records   map[vehicle.Serial]*build.Record
	changes   map[vehicle.Serial][]build.Change
	used      []parts.UsedPart
	recorded  int
}

const (
	carA, carB, carC = vehicle.Serial("AM0101G"), vehicle.Serial("AM0102E"), vehicle.Serial("AM0103C")
)

func newUseWorld() *useWorld {
	w := &useWorld{
		catalogue: parts.NewCatalogue(), records: map[vehicle.Serial]*build.Record{}, changes: map[vehicle.Serial][]build.Change{},
		releases: build.ReleaseSet{
			"R1": {ID: "R1", Effective: vehicle.MustDate(2010, 1, 1), Fitments: []build.Fitment{
				{Position: "gearbox", Part: "AP-2000"}, {Position: "swivel-left", Part: "AP-3000"}, {Position: "swivel-right", Part: "AP-3000"},
				{Position: "spark-plugs", Part: "AP-4000", Quantity: 4},
			}, Options: []build.Option{{ID: "winch", Fitments: []build.Fitment{{Position: "winch", Part: "AP-5000"}}}}},
			"R2": {ID: "R2", Effective: vehicle.MustDate(2015, 1, 1), Fitments: []build.Fitment{
				{Position: "gearbox", Part: "AP-2001"}, {Position: "swivel-left", Part: "AP-3000"}, {Position: "swivel-right", Part: "AP-3000"},
				{Position: "spark-plugs", Part: "AP-4000", Quantity: 4},
			}},
		},
	}
	for _, p := range []parts.Part{
		{Number: "AP-2000", Positions: []string{"gearbox"}}, {Number: "AP-2001", Positions: []string{"gearbox"}},
		{Number: "AP-3000", Positions: []string{"swivel-left", "swivel-right"}}, {Number: "AP-3001", Positions: []string{"swivel-left", "swivel-right"}},
		{Number: "AP-4000", Positions: []string{"spark-plugs"}}, {Number: "AP-5000"},
		{Number: "AP-3900", Contents: []parts.Line{{Part: "AP-3000"}, {Part: "AP-3950"}}},
		{Number: "AP-3950"}, {Number: "AP-2900", RenewWith: []parts.Line{{Part: "AP-3950"}}},
		{Number: "AP-2500"}, {Number: "AP-2501", RenewWith: []parts.Line{{Part: "AP-2550"}}}, {Number: "AP-2550"}, {Number: "AP-2600"},
		{Number: "AP-2700", Contents: []parts.Line{{Part: "AP-2710"}}}, {Number: "AP-2710"},
	} {
		w.catalogue.Put(p)
	}
	w.catalogue.PutSupersession(parts.Supersession{ID: "S1", Old: "AP-2000", New: []parts.Line{{Part: "AP-2001"}}, Effective: vehicle.MustDate(2015, 1, 1)})
	w.catalogue.PutSupersession(parts.Supersession{ID: "S2", Old: "AP-3000", New: []parts.Line{{Part: "AP-3001"}}, Effective: vehicle.MustDate(2016, 1, 1), TwoWay: true})
	w.catalogue.PutSupersession(parts.Supersession{ID: "S3", Old: "AP-2500", New: []parts.Line{{Part: "AP-2501"}}, Effective: vehicle.MustDate(2015, 1, 1), OldStock: parts.Scrapped})
	for _, a := range []parts.Application{
		{ID: "seal-1", Position: "gearbox-seal", Part: "AP-2500", Conditions: parts.Conditions{Otherwise: true}},
		{ID: "seal-2", Position: "gearbox-seal", Part: "AP-2600", Conditions: parts.Conditions{Options: []string{"winch"}}},
		{ID: "kit-1", Position: "gearbox-kit", Part: "AP-2700", Conditions: parts.Conditions{Markets: []string{"GB"}}},
	} {
		w.catalogue.PutApplication(a)
	}
	w.catalogue.PutPosition(parts.Position{ID: "gearbox-seal", Title: "Seal", Within: "gearbox"})
	w.catalogue.PutPosition(parts.Position{ID: "gearbox-kit", Title: "Kit", Within: "gearbox"})
	w.catalogue.Seal()
	return w
}

func isoDay(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// built adds a vehicle, finished on a day; units are "position part serial lot".
func (w *useWorld) built(serial vehicle.Serial, release, on string, units ...string) {
	r := &build.Record{Serial: serial, Release: release, Built: isoDay(on), Delivered: isoDay(on)}
	for _, u := range units {
		r.Components = append(r.Components, unitOf(u))
	}
	w.records[serial] = r
}

// unitOf reads "position part serial lot", a dash for what nobody wrote down.
func unitOf(text string) build.Component {
	f := append(strings.Fields(text), "-", "-", "-")
	for i := range f {
		if f[i] == "-" {
			f[i] = ""
		}
	}
	return build.Component{Position: f[0], Part: f[1], Serial: f[2], Lot: f[3]}
}

func (w *useWorld) change(serial vehicle.Serial, on string, c build.Change) *build.Change {
	w.recorded++
	c.Serial, c.Date, c.ID = serial, isoDay(on), fmt.Sprintf("c%03d", w.recorded)
	c.Created = time.Date(2026, 1, 1, 0, 0, w.recorded, 0, time.UTC)
	if c.Source == build.SourceUnspecified {
		c.Source = build.SourceService
	}
	w.changes[serial] = append(w.changes[serial], c)
	return &w.changes[serial][len(w.changes[serial])-1]
}

func (w *useWorld) fit(serial vehicle.Serial, on, unit string) {
	w.change(serial, on, build.Change{Kind: build.Fit, Component: unitOf(unit)})
}

func (w *useWorld) remove(serial vehicle.Serial, on, position string) {
	w.change(serial, on, build.Change{Kind: build.Remove, Component: build.Component{Position: position}})
}

func (w *useWorld) overhaul(serial vehicle.Serial, on, unit string) {
	w.change(serial, on, build.Change{Kind: build.Overhaul, Component: unitOf(unit)})
}

// move moves what stands at a position, as MoveComponent does.
func (w *useWorld) move(from, to vehicle.Serial, on, position string) {
	m := build.Move{From: w.records[from], To: w.records[to], FromPosition: position, ToPosition: position, Date: isoDay(on)}
	off, fitted, err := m.Changes(w.changes[from], w.releases)
	if err != nil {
		panic(err)
	}
	a, b := w.change(from, on, off), w.change(to, on, fitted)
	nameA, nameB := a.Name(), b.Name()
	w.changes[from][len(w.changes[from])-1].Counterpart = nameB
	w.changes[to][len(w.changes[to])-1].Counterpart = nameA
}

// use adds a line of a service entry: "2 AP-4000 L1".
func (w *useWorld) use(serial vehicle.Serial, on, line string) {
	w.recorded++
	u := parts.UsedPart{Vehicle: serial, Date: isoDay(on), Entry: fmt.Sprintf("vehicles/%s/serviceEntries/e%03d", serial, w.recorded)}
	if _, err := fmt.Sscan(line+" -", &u.Quantity, &u.Part, &u.Lot); err != nil {
		panic(err)
	}
	if u.Lot == "-" {
		u.Lot = ""
	}
	w.used = append(w.used, u)
}

func (w *useWorld) index(t interface{ Fatal(...any) }) *parts.UseIndex {
	x := parts.NewUseIndex()
	for serial, rec := range w.records {
		if err := x.Put(rec, w.changes[serial], w.releases); err != nil {
			t.Fatal(err)
		}
	}
	x.Seal()
	return x
}

// ask answers a question as the service does: "AP-2000 on 2020-01-01", with
// "lot L1", "serial G1", "chain", "from DAY", "until DAY".
func (w *useWorld) ask(t testing.TB, question string) parts.UsePage {
	t.Helper()
	page, err := w.answer(w.index(t), readUseQuestion(question), "", 1000)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func readUseQuestion(text string) parts.UseQuestion {
	q := parts.UseQuestion{On: isoDay("2026-11-25")}
	f := strings.Fields(text)
	for i := 0; i < len(f); i++ {
		next := func() string { i++; return f[i] }
		switch f[i] {
		case "lot":
			q.Lot = next()
		case "serial":
			q.Serial = next()
		case "on":
			q.On = isoDay(next())
		case "from":
			q.From = isoDay(next())
		case "until":
			q.Until = isoDay(next())
		case "chain":
			q.WithSupersessions = true
		default:
			q.Part = f[i]
		}
	}
	return q
}

// answer gives the search what a schedule service would.
func (w *useWorld) answer(x *parts.UseIndex, q parts.UseQuestion, after string, n int) (parts.UsePage, error) {
	only := func(keep func(parts.UsedPart) bool) (some []parts.UsedPart) {
		for _, u := range w.used {
			if keep(u) {
				some = append(some, u)
			}
		}
		return some
	}
	var ofLot []parts.UsedPart
	if q.Part == "" && q.Lot != "" {
		ofLot = only(func(u parts.UsedPart) bool { return build.Fold(u.Lot) == build.Fold(q.Lot) })
	}
	s, err := x.Search(w.catalogue, q, ofLot)
	if err != nil {
		return parts.UsePage{}, err
	}
	asked := map[string]bool{}
	for _, p := range s.Parts() {
		asked[build.Fold(p)] = true
	}
	return x.Uses(w.catalogue, s, only(func(u parts.UsedPart) bool { return asked[build.Fold(u.Part)] }), after, n)
}

// told writes uses a line each: "has AM0101G gearbox 2012-06-01..2015-03-01 AP-2000 <AM0102E >AM0103C".
func told(uses []parts.Use) []string {
	names := map[parts.Certainty]string{parts.Has: "has", parts.Had: "had", parts.MayHave: "may"}
	var lines []string
	for _, u := range uses {
		line := fmt.Sprintf("%s %s %s %s..%s %s", names[u.Certainty], u.Vehicle, u.Position, u.From, u.Until, u.Part)
		if u.CameFrom != "" {
			line += " <" + string(u.CameFrom)
		}
		if u.WentTo != "" {
			line += " >" + string(u.WentTo)
		}
		lines = append(lines, line)
	}
	return lines
}

func TestWhereSomethingIsUsed(t *testing.T) {
	for _, c := range []struct {
		what     string
		happened func(*useWorld)
		question string
		want     []string
	}{
		{"the standard part is on every vehicle of the release", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R2", "2016-06-01")
		}, "ap2000", []string{"has AM0101G gearbox 2012-06-01.. AP-2000"}},
		{"with supersessions, what took its place too", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R2", "2016-06-01")
		}, "AP-2000 chain", []string{"has AM0101G gearbox 2012-06-01.. AP-2000", "has AM0102E gearbox 2016-06-01.. AP-2001"}},
		{"an upgrade takes it off", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2017-03-01", build.Change{Kind: build.Upgrade, Release: "R2", Positions: []string{"gearbox"}})
		}, "AP-2000", []string{"had AM0101G gearbox 2012-06-01..2017-03-01 AP-2000"}},
		{"an option brings it and takes it away", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
			w.change(carA, "2018-03-01", build.Change{Kind: build.OptionRemoved, Option: "winch"})
		}, "AP-5000 on 2016-01-01", []string{"has AM0101G winch 2014-03-01..2018-03-01 AP-5000"}},
		{"what comes after the day is not told", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
		}, "AP-5000 on 2014-02-28", nil},
		{"a component is followed over three vehicles", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G-1 L7")
			w.built(carB, "R1", "2012-06-01")
			w.built(carC, "R1", "2012-06-01")
			w.move(carA, carB, "2015-03-01", "gearbox")
			w.move(carB, carC, "2018-03-01", "gearbox")
		}, "serial g1", []string{
			"had AM0101G gearbox 2012-06-01..2015-03-01 AP-2000 >AM0102E",
			"had AM0102E gearbox 2015-03-01..2018-03-01 AP-2000 <AM0101G >AM0103C",
			"has AM0103C gearbox 2018-03-01.. AP-2000 <AM0102E",
		}},
		{"a serial tells of a move that nobody recorded as one", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G1")
			w.built(carB, "R1", "2012-06-01")
			w.remove(carA, "2015-03-01", "gearbox")
			w.fit(carB, "2018-03-01", "gearbox - G1")
		}, "serial G1", []string{
			"had AM0101G gearbox 2012-06-01..2015-03-01 AP-2000 >AM0102E", "has AM0102E gearbox 2018-03-01.. AP-2000 <AM0101G",
		}},
		{"nobody wrote down the lot", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - - L7")
			w.built(carB, "R1", "2012-06-01")
			w.built(carC, "R1", "2012-06-01", "gearbox - - L8")
		}, "lot L7", []string{"has AM0101G gearbox 2012-06-01.. AP-2000", "may AM0102E gearbox 2012-06-01.. AP-2000"}},
		{"an overhaul found out the lot", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.overhaul(carA, "2018-03-01", "gearbox - - L7")
			w.built(carB, "R1", "2012-06-01")
			w.overhaul(carB, "2018-03-01", "gearbox - - L8")
		}, "AP-2000 lot L7", []string{"has AM0101G gearbox 2012-06-01.. AP-2000"}},
		{"an overhaul made another part of it", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G1")
			w.overhaul(carA, "2018-03-01", "gearbox AP-2001")
		}, "AP-2000", []string{"had AM0101G gearbox 2012-06-01..2018-03-01 AP-2000"}},
		{"the lot is known from another vehicle that the unit stood on", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01", "gearbox - - L9")
			w.move(carA, carB, "2015-03-01", "gearbox")
			w.overhaul(carB, "2016-03-01", "gearbox - - L7")
		}, "AP-2000 lot L7", []string{
			"had AM0101G gearbox 2012-06-01..2015-03-01 AP-2000 >AM0102E", "has AM0102E gearbox 2015-03-01.. AP-2000 <AM0101G",
		}},
		{"a component that is elsewhere is nowhere else", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G1")
			w.built(carB, "R1", "2012-06-01")
		}, "AP-2000 serial G1", []string{"has AM0101G gearbox 2012-06-01.. AP-2000"}},
		{"a component that went nobody knows where may be where a unit came without a serial", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G1")
			w.built(carB, "R1", "2012-06-01")
			w.built(carC, "R1", "2012-06-01")
			w.fit(carA, "2015-03-01", "gearbox - G2")
			w.fit(carB, "2015-02-28", "gearbox")
			w.fit(carC, "2015-03-01", "gearbox")
		}, "serial G1", []string{"had AM0101G gearbox 2012-06-01..2015-03-01 AP-2000", "may AM0103C gearbox 2015-03-01.. AP-2000"}},
		{"a component that came new was nowhere before", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2015-03-01", "gearbox - G1")
			w.built(carB, "R1", "2012-06-01")
			w.fit(carB, "2014-03-01", "gearbox - G2")
		}, "serial G1", []string{"has AM0101G gearbox 2015-03-01.. AP-2000"}},
		{"a lot used in service, where there are two places", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "1 AP-3000 L7")
		}, "AP-3000 lot L7", []string{
			"has AM0101G  2018-03-01.. AP-3000", "may AM0101G swivel-left 2012-06-01.. AP-3000", "may AM0101G swivel-right 2012-06-01.. AP-3000",
		}},
		{"as many as there are places take the place of all", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "4 AP-4000 L7")
			w.use(carA, "2020-03-01", "4 AP-4000 L8")
		}, "AP-4000 lot L7", []string{
			"may AM0101G spark-plugs 2012-06-01..2018-03-01 AP-4000", "had AM0101G spark-plugs 2018-03-01..2020-03-01 AP-4000",
		}},
		{"fewer leave it in doubt", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "4 AP-4000 L7")
			w.use(carA, "2020-03-01", "1 AP-4000 L8")
		}, "AP-4000 lot L7", []string{
			"may AM0101G spark-plugs 2012-06-01..2018-03-01 AP-4000", "may AM0101G spark-plugs 2018-03-01.. AP-4000",
		}},
		{"before the day of doubt there is none", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "spark-plugs - - L7")
			w.use(carA, "2020-03-01", "1 AP-4000 L8")
		}, "lot L7 on 2020-02-29", []string{"has AM0101G spark-plugs 2012-06-01.. AP-4000"}},
		{"where any will do, one in place of another is no doubt", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "1 AP-4000")
		}, "AP-4000", []string{"has AM0101G spark-plugs 2012-06-01.. AP-4000", "has AM0101G spark-plugs 2018-03-01.. AP-4000"}},
		{"a successor used in service leaves a unit with a serial in doubt", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox - G1")
			w.use(carA, "2018-03-01", "1 AP-2001")
		}, "serial G1", []string{"may AM0101G gearbox 2012-06-01.. AP-2000"}},
		{"a successor used in service ends a unit without one", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "1 AP-2001")
		}, "AP-2000", []string{"had AM0101G gearbox 2012-06-01..2018-03-01 AP-2000"}},
		{"the entry of the day of a change is the same work", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "gearbox AP-2001")
			w.use(carA, "2018-03-01", "1 AP2001 L7")
		}, "AP-2001 lot L7", []string{"may AM0101G gearbox 2015-01-01..2018-03-01 AP-2001", "has AM0101G gearbox 2018-03-01.. AP-2001"}},
		{"and excludes it with another lot", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "gearbox AP-2001")
			w.use(carA, "2018-03-01", "1 AP-2001 L8")
		}, "AP-2001 lot L7 from 2018-03-02", nil},
		{"of two lots on one day either may be at either side", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "swivel-left AP-3001")
			w.fit(carA, "2018-03-01", "swivel-right AP-3001")
			w.use(carA, "2018-03-01", "1 AP-3001 L7")
			w.use(carA, "2018-03-01", "1 AP-3001 L8")
		}, "AP-3001 lot L7 from 2018-03-02", []string{"may AM0101G swivel-left 2018-03-01.. AP-3001", "may AM0101G swivel-right 2018-03-01.. AP-3001"}},
		{"a kit used in service may have brought it", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "swivel-left - - L1", "swivel-right - - L1")
			w.use(carA, "2018-03-01", "1 AP-3900")
		}, "AP-3000 lot L7", []string{"may AM0101G  2018-03-01.. AP-3900"}},
		{"not when its places were filled anew since", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "swivel-left - - L1", "swivel-right - - L1")
			w.use(carA, "2018-03-01", "1 AP-3900")
			w.fit(carA, "2019-03-01", "swivel-left - - L1")
			w.fit(carA, "2020-03-01", "swivel-right - - L1")
		}, "AP-3000 lot L7", []string{"may AM0101G  2018-03-01..2020-03-01 AP-3900"}},
		{"nor when the entry of the day names the part itself", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "swivel-left - - L1", "swivel-right - - L1")
			w.use(carA, "2018-03-01", "1 AP-3900")
			w.use(carA, "2018-03-01", "1 AP-3000 L8")
		}, "AP-3000 lot L7", nil},
		{"a kit that was fitted may hold it while it is there", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "seals AP-3900")
			w.remove(carA, "2019-03-01", "seals")
		}, "AP-3950", []string{"may AM0101G seals 2018-03-01..2019-03-01 AP-3900"}},
		{"what is renewed with another part may have been", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "1 AP-2900")
		}, "AP-3950", []string{"may AM0101G  2018-03-01.. AP-2900"}},
		{"what an overhaul found out was so before it, too", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.overhaul(carA, "2018-03-01", "gearbox AP-2001 - L7")
		}, "AP-2000 lot L7", []string{"had AM0101G gearbox 2012-06-01..2018-03-01 AP-2000"}},
		{"it is gone when the last of its places was filled anew for the first time", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "swivel-left - - L1", "swivel-right - - L1")
			w.use(carA, "2018-03-01", "1 AP-3000 L7")
			w.fit(carA, "2019-03-01", "swivel-left - - L1")
			w.fit(carA, "2020-03-01", "swivel-right - - L1")
			w.fit(carA, "2021-03-01", "swivel-left - - L1")
		}, "AP-3000 lot L7", []string{"had AM0101G  2018-03-01..2020-03-01 AP-3000"}},
		{"of two used on the day of a change one may be at the other place", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "swivel-left AP-3001")
			w.use(carA, "2018-03-01", "2 AP-3001 L7")
			w.fit(carA, "2019-03-01", "swivel-right AP-3001 - L8")
		}, "AP-3001 lot L7 from 2018-03-02", []string{"may AM0101G  2018-03-01.. AP-3001", "has AM0101G swivel-left 2018-03-01.. AP-3001"}},
		{"a kit of the day on which all places were filled is what filled them", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "swivel-left - - L1", "swivel-right - - L1")
			w.use(carA, "2018-03-01", "1 AP-3900")
			w.fit(carA, "2018-03-01", "swivel-left - - L1")
			w.fit(carA, "2018-03-01", "swivel-right - - L1")
		}, "AP-3000 lot L7", nil},
		{"a campaign outranks what was fitted the same day", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2018-03-01", build.Change{Kind: build.Fit, Source: build.SourceCampaign, Component: unitOf("gearbox AP-2001 - L7")})
			w.fit(carA, "2018-03-01", "gearbox AP-2000 - L8")
		}, "AP-2000 chain lot L7", []string{"may AM0101G gearbox 2012-06-01..2018-03-01 AP-2000", "has AM0101G gearbox 2018-03-01.. AP-2001"}},
		{"only days that are asked for", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2015-03-01", "gearbox AP-2000 G2")
			w.fit(carA, "2018-03-01", "gearbox AP-2000 G3")
		}, "AP-2000 from 2015-03-02 until 2018-02-28", []string{"had AM0101G gearbox 2015-03-01..2018-03-01 AP-2000"}},
		{"a vehicle with work done and no build record", func(w *useWorld) {
			w.use(carB, "2018-03-01", "1 AP-3000 L7")
		}, "lot L7", []string{"has AM0102E  2018-03-01.. AP-3000"}},
	} {
		t.Run(c.what, func(t *testing.T) {
			w := newUseWorld()
			c.happened(w)
			if diff := cmp.Diff(c.want, told(w.ask(t, c.question).Uses)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", c.question, diff)
			}
		})
	}
}

func TestEachVehicleIsCountedOnce(t *testing.T) {
	w := newUseWorld()
	w.built(carA, "R1", "2012-06-01", "swivel-left - - L7") // and the right one may be
	w.built(carB, "R1", "2012-06-01", "swivel-left - - L7")
	w.fit(carB, "2015-03-01", "swivel-left - - L8")
	w.fit(carB, "2015-03-01", "swivel-right - - L8")
	w.built(carC, "R1", "2012-06-01", "swivel-left - - L7")
	w.fit(carC, "2015-03-01", "swivel-left - - L8")
	page := w.ask(t, "AP-3000 lot L7")
	if page.Has != 1 || page.Had != 1 || page.MayHave != 1 {
		t.Errorf("got %d have, %d had, %d may have; want one each of\n%s", page.Has, page.Had, page.MayHave, strings.Join(told(page.Uses), "\n"))
	}
}

func TestAQuestionThatNothingOnRecordAnswersIsRefused(t *testing.T) {
	w := newUseWorld()
	w.built(carA, "R1", "2012-06-01")
	x := w.index(t)
	for question, reason := range map[string]string{
		"serial G9": "COMPONENT_NOT_FOUND", "lot L9": "LOT_NOT_FOUND", "AP-9999": "PART_NOT_FOUND",
	} {
		_, err := w.answer(x, readUseQuestion(question), "", 10)
		if !fault.Is(err, fault.NotFound) || !strings.Contains(fmt.Sprintf("%+v", err), strings.Fields(question)[len(strings.Fields(question))-1]) {
			t.Errorf("%s: got %v, want %s", question, err, reason)
		}
	}
	if page := w.ask(t, "AP-3950"); len(page.Uses) != 0 {
		t.Errorf("a part of the catalogue that nobody has: got %v", told(page.Uses))
	}
}

func TestPagesOfUsesJoinToTheWholeList(t *testing.T) {
	w := newUseWorld()
	for _, car := range []vehicle.Serial{carA, carB, carC} {
		w.built(car, "R1", "2012-06-01")
		w.fit(car, "2015-03-01", "swivel-left AP-3000")
		w.fit(car, "2015-03-01", "swivel-left AP-3000") // recorded twice
		w.use(car, "2018-03-01", "1 AP-3000 L7")
		w.use(car, "2018-03-01", "1 AP-3000 L8")
		w.used[len(w.used)-1].Entry = w.used[len(w.used)-2].Entry // two lines of one entry
	}
	x, q := w.index(t), readUseQuestion("AP-3000")
	whole := w.ask(t, "AP-3000")
	for size := 1; size <= len(whole.Uses)+1; size++ {
		var got []parts.Use
		for after := ""; ; {
			page, err := w.answer(x, q, after, size)
			if err != nil {
				t.Fatal(err)
			}
			if page.Has != whole.Has || len(page.Uses) > size {
				t.Fatalf("pages of %d: got %d uses, %d have", size, len(page.Uses), page.Has)
			}
			got = append(got, page.Uses...)
			if after = page.Next; after == "" {
				break
			}
		}
		if !slices.Equal(told(got), told(whole.Uses)) {
			t.Errorf("pages of %d:\n got %q\nwant %q", size, told(got), told(whole.Uses))
		}
	}
}
