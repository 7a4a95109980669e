package exchangerun_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// A catalogue with one of each mistake that a row has by itself: everything is
// told at once, each at its row, nothing is kept, and what the mistakes make of
// the whole is not told.
func TestEveryMistakeOfACatalogueIsToldAtOnce(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	put(t, dir, "parts_2.csv", "part,title,status\nZZ-1,Bolt,orderable\nZZ-2,Bolt,orderable\nZZ-3,Bolt,orderable\nZZ-3,Bolt again,orderable\n")
	put(t, dir, "supersessions_2.csv", "id,old part,new parts,effective date\nZS1,ZZ-1,ZZ-2 x1,2020-01-01\nZS2,ZZ-2,ZZ-1 x1,2021-01-01\n")
	put(t, dir, "positions_2.csv", "position,title,within\nz-gap,Gap,gearbox\nz-none,None,gearbox\nz-lost,Lost,glovebox\n")
	put(t, dir, "applications_2.csv", strings.Join([]string{
		"id,position,part,releases,first serial,last serial,without options,applies when",
		"ZA4,z-lost,ZZ-1,,,,,",                         // on an assembly that there is none of
		"ZA5,sunroof,ZZ-1,,,,,",                        // at no position
		"ZA6,engine,ZZ-9,R9,,,sunroof,",                // no such part, release or option
		"ZA7,z-gap,ZZ-1,R5,AM0101X,,,",                 // a serial that was misheard
		`ZA8,z-none,ZZ-1,,,,,"fitted[""winch""] == 1"`, // an expression that is none
	}, "\n")+"\n")
	put(t, dir, "settings_2.csv", "id,position,characteristic,unit,lower,upper,sample,shim sign\nZT1,gearbox,torque,N.m,50,40,no,\n")
	put(t, dir, "capacities_2.csv", "id,position,fluid,family,quantity,sample\nZF1,gearbox,oil,gear-oil,a lot,no\n")
	r, all := refusedFrom(t, ctx, c, dir)
	for _, want := range []string{
		`parts_2.csv row 5 : got "parts/ZZ-3", want each record once`,
		`supersessions_2.csv row 2`, `ZZ-1 -> ZZ-2 -> ZZ-1`,
		`positions_2.csv row 4 within: got "glovebox", want a position of a release or of the catalogue`,
		`applications_2.csv row 3 position: got "sunroof"`,
		`applications_2.csv row 4 part: got "ZZ-9"`, `applications_2.csv row 4 releases: got "R9"`, `got "sunroof", want an option of a release that the row is for`,
		`applications_2.csv row 5 first serial: got "AM0101X"`,
		`applications_2.csv row 6 applies when`,
		`settings_2.csv row 2 upper: got "40", want no less than 50`,
		`capacities_2.csv row 2 quantity: got "a lot"`,
	} {
		if !strings.Contains(all, want) {
			t.Errorf("not told: %s", want)
		}
	}
	if strings.Contains(all, "want an application") || strings.Contains(all, "holds for too") || len(r.NotLooked) != 1 || r.Total != len(r.Faults) {
		t.Errorf("told of the whole, or not that it was not looked at: %v, %d of %d", r.NotLooked, r.Total, len(r.Faults))
	}
	if t.Failed() {
		t.Log(all)
	}
	wantNothingKept(t, ctx, c)
}

// Rows that are right by themselves, and do not go together.
func TestEveryMistakeOfAWholeCatalogueIsToldAtItsRowAndNoColumnThatIsRight(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	put(t, dir, "parts_2.csv", "part,title,status\nZZ-1,Bolt,orderable\nZZ-2,Bolt,orderable\n")
	put(t, dir, "positions_2.csv", "position,title,within\nz-gap,Gap,gearbox\nz-twice,Twice,gearbox\nz-bare,Bare,gearbox\n")
	put(t, dir, "applications_2.csv", strings.Join([]string{
		"id,position,part,releases,first serial,last serial",
		"ZA1,z-gap,ZZ-1,R1; R2; R3; R4,,", // nothing for R5
		"ZA2,z-twice,ZZ-1,,,AM01146",      // both hold for AM0114
		"ZA3,z-twice,ZZ-2,,AM01146,",      //
	}, "\n")+"\n")
	r, all := refusedFrom(t, ctx, c, dir)
	for _, want := range []string{
		`applications_2.csv row 2 : got "release R5`, `an application that holds for the z gap there`,
		`applications_2.csv row 4 : got "release R1`, `no vehicle that applications/ZA2 holds for too`,
		`positions_2.csv row 4 position: got "z-bare", want an application that says which part belongs there`,
	} {
		if !strings.Contains(all, want) {
			t.Errorf("not told: %s in\n%s", want, all)
		}
	}
	if len(r.NotLooked) != 0 {
		t.Error(r.NotLooked)
	}
	wantNothingKept(t, ctx, c)
}

// One file that cannot be read is one fault, and one sentence says what was not
// looked at for its sake.
func TestAFileThatCannotBeReadIsOneFaultAndNotAllThatFollowsFromIt(t *testing.T) {
	ctx, c := emptyWorks(t)
	for _, broken := range []struct {
		name string
		do   func(t *testing.T, dir string)
		want string
	}{
		{"applications with a wrong header", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "applications.csv"), "id,", "ident,")
		}, "applications.csv, "},
		{"applications with a misspelt column that a row needs", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "applications.csv"), "position", "positon")
		}, "applications.csv, one of the columns"},
		{"applications with a misspelt column that a row can do without", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "applications.csv"), "without options", "without opitons")
		}, "applications.csv, one of the columns"},
		{"applications without a column that new ones need", func(t *testing.T, dir string) {
			put(t, dir, "applications_2.csv", "id,part\nZA1,AP-1000\nZA2,AP-1045\n")
		}, "applications_2.csv, the column position, for applications/ZA1 in row 2 is new, and so is one more"},
		{"an application without a position", func(t *testing.T, dir string) {
			put(t, dir, "applications_2.csv", "id,position,part\nZA1,,AP-1000\n")
		}, "applications_2.csv, position"},
		{"applications with a stray quotation mark", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "applications.csv"), ",AP-", `,A"P-`)
		}, "applications.csv, quotation marks"},
		{"parts by another name", func(t *testing.T, dir string) {
			if err := os.Rename(filepath.Join(dir, "parts.csv"), filepath.Join(dir, "prats.csv")); err != nil {
				t.Fatal(err)
			}
		}, "prats.csv, the name of a table, as parts"},
		{"positions with a row without a name", func(t *testing.T, dir string) {
			put(t, dir, "positions_2.csv", "position,title,within\n,Something,gearbox\n")
		}, "positions_2.csv, position"},
		{"settings with a bad end", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "settings.csv"), ",mm,", ",mm,about ")
		}, "settings.csv, a number"},
		{"shim sizes with a wrong header", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "shim_sizes.csv"), "setting", "set")
		}, "shim_sizes.csv, "},
		{"builds with a wrong header", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "builds.csv"), "release", "relaese")
		}, "builds.csv, "},
		{"a release with a wrong key", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "releases", "R1.yaml"), "title:", "heading:")
		}, "R1.yaml, one of the keys"},
		{"service entries with a stray quotation mark", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "service_entries.csv"), "works", `wo"rks`)
		}, "service_entries.csv, quotation marks"},
		{"people with a wrong header", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "people.csv"), "id,", "ident,")
		}, "people.csv, "},
	} {
		t.Run(broken.name, func(t *testing.T) {
			dir := fewVehicles(t)
			broken.do(t, dir)
			r, all := refusedFrom(t, ctx, c, dir)
			if len(r.Faults) > 2 || !told(r.Faults, broken.want) {
				t.Errorf("want %s and little else, got %d: %.1500s", broken.want, r.Total, all)
			}
		})
	}
}

// One cell is one fault, in the words of the files.
func TestOneCellIsOneFaultInTheWordsOfTheFiles(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	put(t, dir, "parts_2.csv", "part,title,status\nZZ-1,,orderable\nZZ-2,Bolt,orderabel\nZZ-3,Bolt,\n")
	put(t, dir, "settings_2.csv", "id,position,characteristic,unit,lower,upper,sample,largest shim count\nZT1,gearbox,end-float,,0.05,0.10,no,3\nZT2,gearbox,end-float,mm,0.05,0.10,no,3\n")
	_, all := refusedFrom(t, ctx, c, dir)
	want := strings.Join([]string{
		`parts_2.csv row 2 title: got "", want title`,
		`parts_2.csv row 3 status: got "orderabel", want one of: orderable, use up, unavailable`,
		`parts_2.csv row 4 status: got "", want status`,
		`settings_2.csv row 2 shim sign: got "", want adds float or takes float`,
		`settings_2.csv row 2 unit: got "", want unit`,
		`settings_2.csv row 3 shim sign: got "", want adds float or takes float`,
	}, "\n")
	if diff := cmp.Diff(want, all); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// refusedFrom imports a directory, wants it refused, and gives the faults as
// text.
func refusedFrom(t *testing.T, ctx context.Context, c exchangerun.Clients, dir string) (*exchangerun.Report, string) {
	t.Helper()
	r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	if r.Written != 0 || r.Total == 0 {
		t.Errorf("%d written, %d faults", r.Written, r.Total)
	}
	var got []string
	for _, f := range r.Faults {
		got = append(got, fmt.Sprintf("%s row %d %s: got %q, want %s", filepath.Base(f.File), f.Row, f.Column, f.Got, f.Want))
	}
	return r, strings.Join(got, "\n")
}

// What was entered by mistake is taken out again by a row that says so.
func TestARowTakesARecordOfTheCatalogueOut(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	put(t, dir, "positions_2.csv", "position,title,within\nz-place,Z place,gearbox\n")
	put(t, dir, "applications_2.csv", "id,position,part\nZA1,z-place,AP-1000\n")
	// The part of the mistake may not stand there by its own entry: first it is
	// refused, then it is one that may.
	if r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today}); err != nil || r.Total != 1 {
		t.Fatalf("got %+v, %v", r, err)
	}
	put(t, dir, "applications_2.csv", "id,position,part\nZA1,z-place,AP-1200\n")
	importFrom(t, ctx, c, dir)
	there := func() int {
		return strings.Count(exported(t, ctx, c)["positions.csv"], "z-place") + strings.Count(exported(t, ctx, c)["applications.csv"], "ZA1")
	}
	if n := there(); n != 2 {
		t.Fatalf("%d of the two records were exported", n)
	}
	out := t.TempDir()
	put(t, out, "positions.csv", "position,title,withdrawn\nz-place,Z place,yes\n")
	put(t, out, "applications.csv", "id,position,withdrawn\nZA1,z-place,yes\n")
	if r := importFrom(t, ctx, c, out); r.Written != 2 {
		t.Errorf("%d written", r.Written)
	}
	if n := there(); n != 0 {
		t.Errorf("%d of the two records are there", n)
	}
}
