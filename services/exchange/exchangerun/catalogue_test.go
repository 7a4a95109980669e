package exchangerun_test

import (
	"fmt"
	"strings"
	"testing"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// A catalogue with one of each mistake: everything is told at once, each at
// its row, and nothing is kept.
func TestEveryMistakeOfACatalogueIsToldAtOnce(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := demoFiles(t)
	put(t, dir, "parts_2.csv", "part,title,status\nZZ-1,Bolt,orderable\nZZ-2,Bolt,orderable\nZZ-3,Bolt,orderable\nZZ-3,Bolt again,orderable\n")
	put(t, dir, "supersessions_2.csv", "id,old part,new parts,effective date\nZS1,ZZ-1,ZZ-2 x1,2020-01-01\nZS2,ZZ-2,ZZ-1 x1,2021-01-01\n")
	put(t, dir, "positions_2.csv", "position,title,within\nz-gap,Gap,gearbox\nz-twice,Twice,gearbox\nz-none,None,gearbox\nz-bare,Bare,gearbox\nz-lost,Lost,glovebox\n")
	put(t, dir, "applications_2.csv", strings.Join([]string{
		"id,position,part,releases,first serial,last serial,without options,applies when",
		"ZA1,z-gap,ZZ-1,R1; R2; R3; R4,,,,",            // nothing for R5
		"ZA2,z-twice,ZZ-1,,,AM01146,,",                 // both hold for AM0114
		"ZA3,z-twice,ZZ-2,,AM01146,,,",                 //
		"ZA4,z-lost,ZZ-1,,,,,",                         // on an assembly that there is none of
		"ZA5,sunroof,ZZ-1,,,,,",                        // at no position
		"ZA6,engine,ZZ-9,R9,,,sunroof,",                // no such part, release or option
		"ZA7,z-gap,ZZ-1,R5,AM0101X,,,",                 // a serial that was misheard
		`ZA8,z-none,ZZ-1,,,,,"fitted[""winch""] == 1"`, // an expression that is none
	}, "\n")+"\n")
	put(t, dir, "settings_2.csv", "id,position,characteristic,unit,lower,upper,sample\nZT1,gearbox,torque,N.m,50,40,no\n")
	put(t, dir, "capacities_2.csv", "id,position,fluid,family,quantity,sample\nZF1,gearbox,oil,gear-oil,a lot,no\n")
	r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range r.Faults {
		got = append(got, fmt.Sprintf("%s row %d %s: got %q, want %s", f.File[strings.LastIndexByte(f.File, '/')+1:], f.Row, f.Column, f.Got, f.Want))
	}
	all := strings.Join(got, "\n")
	for _, want := range []string{
		`parts_2.csv row 5 : got "parts/ZZ-3", want each record once`,
		`supersessions_2.csv row 2`, `ZZ-1 -> ZZ-2 -> ZZ-1`,
		`applications_2.csv row 2`, `an application that holds for the z gap there`,
		`applications_2.csv row 4`, `no vehicle that applications/ZA2 holds for too`,
		`positions_2.csv row 5 position: got "z-bare", want an application that says which part belongs there`,
		`positions_2.csv row 6 within: got "glovebox", want a position of a release or of the catalogue`,
		`applications_2.csv row 6 position: got "sunroof"`,
		`applications_2.csv row 7 part: got "ZZ-9"`, `applications_2.csv row 7 releases: got "R9"`, `got "sunroof", want an option of a release that the row is for`,
		`applications_2.csv row 8 first serial: got "AM0101X"`,
		`applications_2.csv row 9 applies when`,
		`settings_2.csv row 2 upper: got "40", want no less than 50`,
		`capacities_2.csv row 2 quantity: got "a lot"`,
	} {
		if !strings.Contains(all, want) {
			t.Errorf("not told: %s", want)
		}
	}
	if t.Failed() {
		t.Log(all)
	}
	if r.Written != 0 {
		t.Errorf("%d written", r.Written)
	}
	wantNothingKept(t, ctx, c)
}
