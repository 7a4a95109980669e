package parts_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// supersede puts a supersession of the gearbox chain, AP-2000, in place of the
// one there is.
func (w *useWorld) supersede(id, old, new, on string, change func(*parts.Supersession)) {
	s := parts.Supersession{ID: id, Old: old, New: []parts.Line{{Part: new}}, Effective: isoDay(on), OldStock: parts.Scrapped}
	if change != nil {
		change(&s)
	}
	w.catalogue.PutSupersession(s)
	w.catalogue.Seal()
}

func (w *useWorld) apply(t testing.TB, a parts.Application) {
	compiler, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	w.catalogue.Expressions(compiler)
	w.catalogue.PutApplication(a)
	w.catalogue.Seal()
}

// TestWhereNobodyRecordsWhatStandsThere asks for what the catalogue alone
// knows of: small parts, and what a release calls for that is superseded.
func TestWhereNobodyRecordsWhatStandsThere(t *testing.T) {
	for _, c := range []struct {
		what     string
		happened func(*useWorld)
		question string
		want     []string
	}{
		{"a small part may be wherever an application puts it", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01")
			w.records[carB].Options = []string{"winch"}
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2012-06-01.. AP-2500"}},
		{"a later pattern may have gone in since it took the place", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2501", []string{"may AM0101G gearbox-seal 2015-01-01.. AP-2501"}},
		{"and is there from the build where it was the pattern then", func(w *useWorld) {
			w.built(carA, "R1", "2015-01-01")
		}, "AP-2501", []string{"may AM0101G gearbox-seal 2015-01-01.. AP-2501"}},
		{"but not on a day before it was", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2501 on 2014-12-31", nil},
		{"an old pattern whose stock was scrapped before the build never went in", func(w *useWorld) {
			w.built(carA, "R1", "2015-01-01")
		}, "AP-2500", nil},
		{"one that may stand in for the new one may have", func(w *useWorld) {
			w.built(carA, "R1", "2015-01-01")
			w.supersede("S3", "AP-2500", "AP-2501", "2015-01-01", func(s *parts.Supersession) { s.TwoWay = true })
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2015-01-01.. AP-2500"}},
		{"so may one whose stock was used up", func(w *useWorld) {
			w.built(carA, "R1", "2016-01-01")
			w.supersede("S3", "AP-2500", "AP-2501", "2015-01-01", func(s *parts.Supersession) { s.OldStock = parts.UsedUpFirst })
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2016-01-01.. AP-2500"}},
		{"or one that is superseded only together with another", func(w *useWorld) {
			w.built(carA, "R1", "2016-01-01")
			w.supersede("S3", "AP-2500", "AP-2501", "2015-01-01", func(s *parts.Supersession) { s.Together = []string{"AP-9000"} })
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2016-01-01.. AP-2500"}},
		{"or for other releases only", func(w *useWorld) {
			w.built(carA, "R1", "2016-01-01")
			w.supersede("S3", "AP-2500", "AP-2501", "2015-01-01", func(s *parts.Supersession) { s.Releases = []string{"R2"} })
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2016-01-01.. AP-2500"}},
		{"and what it became for those is not on this one", func(w *useWorld) {
			w.built(carA, "R1", "2016-01-01")
			w.supersede("S3", "AP-2500", "AP-2501", "2015-01-01", func(s *parts.Supersession) { s.Releases = []string{"R2"} })
		}, "AP-2501", nil},
		{"what came before the part that the catalogue names may have left the works", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2016-06-01")
			w.supersede("S9", "AP-2400", "AP-2500", "2014-01-01", nil)
			w.catalogue.Put(parts.Part{Number: "AP-2400"})
			w.catalogue.Seal()
		}, "AP-2400", []string{"may AM0101G gearbox-seal 2012-06-01.. AP-2400"}},
		{"a record of the small place ends it", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2018-03-01", "gearbox-seal AP-2600")
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2012-06-01..2018-03-01 AP-2500"}},
		{"so does the service at which one went in", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2014-03-01", "1 AP-2500")
		}, "AP-2501", nil},
		{"or at which the pattern itself did", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2018-03-01", "1 AP-2501")
		}, "AP-2501", []string{"may AM0101G gearbox-seal 2015-01-01..2018-03-01 AP-2501", "has AM0101G gearbox-seal 2018-03-01.. AP-2501"}},
		{"the assembly takes it along when it goes, and the next one may bring one", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2014-03-01", "1 AP-2500")
			w.fit(carA, "2018-03-01", "gearbox AP-2001")
			w.remove(carA, "2019-03-01", "gearbox")
		}, "AP-2500", []string{
			"may AM0101G gearbox-seal 2012-06-01..2014-03-01 AP-2500", "had AM0101G gearbox-seal 2014-03-01..2018-03-01 AP-2500",
			"may AM0101G gearbox-seal 2018-03-01..2019-03-01 AP-2500",
		}},
		{"a recorded one is in doubt when its assembly went", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.fit(carA, "2014-03-01", "gearbox-seal AP-2600")
			w.fit(carA, "2018-03-01", "gearbox AP-2001")
		}, "AP-2600", []string{"may AM0101G gearbox-seal 2014-03-01.. AP-2600"}},
		{"an assembly from another vehicle brings what was right there", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01")
			w.records[carB].Options = []string{"winch"}
			w.move(carB, carA, "2018-03-01", "gearbox")
		}, "AP-2600", []string{"may AM0101G gearbox-seal 2018-03-01.. AP-2600", "may AM0102E gearbox-seal 2012-06-01..2018-03-01 AP-2600"}},
		{"from the day on which an option makes it right", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
		}, "AP-2600", []string{"may AM0101G gearbox-seal 2014-03-01.. AP-2600"}},
		{"and the old one is not gone for that", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
		}, "AP-2500", []string{"may AM0101G gearbox-seal 2012-06-01.. AP-2500"}},
		{"and the later pattern of the old one went in no more", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.change(carA, "2014-03-01", build.Change{Kind: build.OptionAdded, Option: "winch"})
		}, "AP-2501", nil},
		{"what else belongs there leaves in doubt what went in before", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.use(carA, "2014-03-01", "1 AP-2500")
			w.use(carA, "2016-03-01", "1 AP-2600")
		}, "AP-2500 from 2014-03-02", []string{"may AM0101G gearbox-seal 2014-03-01.. AP-2500"}},
		{"where it is not on record whether a row holds, it may", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01")
			w.records[carB].Market = "NZ"
		}, "AP-2700", []string{"may AM0101G gearbox-kit 2012-06-01.. AP-2700"}},
		{"a kit that belongs somewhere may have brought what it holds", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.records[carA].Market = "GB"
		}, "AP-2710", []string{"may AM0101G gearbox-kit 2012-06-01.. AP-2700"}},
		{"and what a small part is renewed with comes with it", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2550", []string{"may AM0101G gearbox-seal 2015-01-01.. AP-2501"}},
		{"a lot that nobody wrote down is not excluded", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2500 lot L7", []string{"may AM0101G gearbox-seal 2012-06-01.. AP-2500"}},
		{"a component with a serial on record comes and goes by records", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01")
			w.fit(carB, "2013-03-01", "gearbox-seal AP-2500 G7")
			w.remove(carB, "2014-03-01", "gearbox-seal")
		}, "AP-2500 serial G7", []string{"had AM0102E gearbox-seal 2013-03-01..2014-03-01 AP-2500"}},
		{"nor does it go in by an ordinary service that nobody recorded", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.built(carB, "R1", "2012-06-01", "gearbox AP-2001 G1")
			w.remove(carB, "2016-03-01", "gearbox")
			w.supersede("S1", "AP-2000", "AP-2001", "2017-01-01", nil)
		}, "AP-2001 serial G1", []string{"had AM0102E gearbox 2012-06-01..2016-03-01 AP-2001"}},
		{"a component that came used may have been what nobody recorded", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01")
			w.built(carC, "R1", "2012-06-01")
			w.remove(carA, "2018-03-01", "gearbox")
			w.built(carB, "R1", "2016-06-01", "gearbox AP-2000 G2")
			fitted := unitOf("gearbox AP-2001 G1")
			fitted.Prior = vehicle.Entered{Value: vehicle.Decimal{Coefficient: 100}, Unit: vehicle.Miles}
			w.change(carB, "2019-03-01", build.Change{Kind: build.Fit, Component: fitted})
		}, "AP-2001 serial G1", []string{"may AM0101G gearbox 2016-06-01..2018-03-01 AP-2001", "has AM0102E gearbox 2019-03-01.. AP-2001"}},

		{"what the release calls for and was superseded by the build is not surely there", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01")
			w.supersede("S1", "AP-2000", "AP-2001", "2015-01-01", func(s *parts.Supersession) { s.OldStock = parts.UsedUpFirst })
		}, "AP-2000", []string{"may AM0101G gearbox 2016-06-01.. AP-2000"}},
		{"nor at all where it was to be fitted no more", func(w *useWorld) { w.built(carA, "R1", "2016-06-01") }, "AP-2000", nil},
		{"but the pattern of that day may be", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01")
		}, "AP-2001", []string{"may AM0101G gearbox 2016-06-01.. AP-2001"}},
		{"of the chain one is there for sure", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01")
		}, "AP-2001 chain", []string{"has AM0101G gearbox 2016-06-01.. AP-2000"}},
		{"what somebody recorded is what it is", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01", "gearbox AP-2000 - -")
		}, "AP-2000", []string{"has AM0101G gearbox 2016-06-01.. AP-2000"}},
		{"and is no other pattern", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01", "gearbox AP-2000 - -")
		}, "AP-2001", nil},
		{"what was fitted before its supersession is there, and the new one may have gone in since", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2000", []string{"has AM0101G gearbox 2012-06-01.. AP-2000"}},
		{"as when it is asked for", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
		}, "AP-2001", []string{"may AM0101G gearbox 2015-01-01.. AP-2001"}},
		{"a part of a split may have gone in since", func(w *useWorld) {
			w.built(carA, "R1", "2012-06-01")
			w.catalogue.Put(parts.Part{Number: "AP-2101"})
			w.catalogue.Put(parts.Part{Number: "AP-2102"})
			w.supersede("S9", "AP-2001", "AP-2101", "2026-01-01", func(s *parts.Supersession) { s.New = append(s.New, parts.Line{Part: "AP-2102"}) })
		}, "AP-2102", []string{"may AM0101G gearbox 2026-01-01.. AP-2102"}},
		{"an unlooked-at unit that was moved is still not on record", func(w *useWorld) {
			w.built(carA, "R1", "2016-06-01")
			w.built(carB, "R1", "2016-06-01", "gearbox AP-2001 G1")
			w.move(carA, carB, "2018-03-01", "gearbox")
		}, "AP-2001", []string{
			"may AM0101G gearbox 2016-06-01..2018-03-01 AP-2001", "had AM0102E gearbox 2016-06-01..2018-03-01 AP-2001", "may AM0102E gearbox 2018-03-01.. AP-2001",
		}},
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

// An application outranks the release, whose unit nobody recorded.
func TestAnApplicationOutranksTheRelease(t *testing.T) {
	for _, c := range []struct {
		what       string
		row        parts.Application
		old, other []string
	}{
		{"for this serial", parts.Application{Part: "AP-7000", Conditions: parts.Conditions{LastSerial: carA}},
			nil, []string{"may AM0101G gearbox 2012-06-01.. AP-7000"}},
		{"for another", parts.Application{Part: "AP-7000", Conditions: parts.Conditions{FirstSerial: carB}},
			[]string{"has AM0101G gearbox 2012-06-01.. AP-2000"}, nil},
		{"where it is not on record", parts.Application{Part: "AP-7000", Conditions: parts.Conditions{Markets: []string{"GB"}}},
			[]string{"may AM0101G gearbox 2012-06-01.. AP-2000"}, []string{"may AM0101G gearbox 2012-06-01.. AP-7000"}},
		{"with the same part", parts.Application{Part: "AP-2000"}, []string{"has AM0101G gearbox 2012-06-01.. AP-2000"}, nil},
		{"with nothing that is supplied", parts.Application{Text: "Made to measure."}, []string{"may AM0101G gearbox 2012-06-01.. AP-2000"}, nil},
		{"by an expression", parts.Application{Part: "AP-7000", Conditions: parts.Conditions{AppliesWhen: `"winch" in fitted`}},
			[]string{"has AM0101G gearbox 2012-06-01.. AP-2000"}, nil},
	} {
		t.Run(c.what, func(t *testing.T) {
			w := newUseWorld()
			w.built(carA, "R1", "2012-06-01")
			w.catalogue.Put(parts.Part{Number: "AP-7000"})
			c.row.ID, c.row.Position = "gearbox-1", "gearbox"
			w.apply(t, c.row)
			if diff := cmp.Diff(c.old, told(w.ask(t, "AP-2000").Uses)); diff != "" {
				t.Errorf("the release's (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.other, told(w.ask(t, "AP-7000").Uses)); diff != "" {
				t.Errorf("the application's (-want +got):\n%s", diff)
			}
		})
	}
}

// What a unit is like is asked of the unit that stood there, and where that is
// only assumed it excludes nothing.
func TestConditionsOnWhatAnAssemblyIsLike(t *testing.T) {
	w := newUseWorld()
	for _, f := range []struct{ release, trait string }{{"R1", "drum"}, {"R2", "disc"}} {
		r := w.releases[f.release]
		r.Fitments = append(r.Fitments, build.Fitment{Position: "brakes", Part: "AP-8-" + f.trait, Traits: []string{f.trait}})
	}
	w.built(carA, "R1", "2012-06-01")
	w.fit(carA, "2018-03-01", "brakes AP-8-disc")
	w.built(carB, "R2", "2016-06-01")
	w.built(carC, "R2", "2016-06-01")
	w.fit(carC, "2017-03-01", "brakes AP-8-unheard")
	w.catalogue.Put(parts.Part{Number: "AP-8500"})
	w.catalogue.PutPosition(parts.Position{ID: "brakes-shoes", Title: "Shoes", Within: "brakes"})
	w.apply(t, parts.Application{ID: "shoes-1", Position: "brakes-shoes", Part: "AP-8500", Conditions: parts.Conditions{
		AppliesWhen: `"brakes" in fitted && "drum" in fitted["brakes"]`}})
	want := []string{"may AM0101G brakes-shoes 2012-06-01..2018-03-01 AP-8500", "may AM0103C brakes-shoes 2017-03-01.. AP-8500"}
	if diff := cmp.Diff(want, told(w.ask(t, "AP-8500").Uses)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	w.catalogue.Put(parts.Part{Number: "AP-8-unheard", Traits: []string{"disc"}})
	w.catalogue.Seal()
	if diff := cmp.Diff(want[:1], told(w.ask(t, "AP-8500").Uses)); diff != "" {
		t.Errorf("when the catalogue knows what the third is like (-want +got):\n%s", diff)
	}
}
