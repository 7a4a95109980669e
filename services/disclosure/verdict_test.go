package disclosure_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/disclosure"
	"halfshaft/services/vehicle"
)

var (
	transfer  = vehicle.MustDate(2026, time.May, 18)
	milesDial = vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000, Tenths: true}
)

func miles(n int64) vehicle.Entered {
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n}, Unit: vehicle.Miles}
}

func kilometres(n int64) vehicle.Entered {
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n}, Unit: vehicle.Kilometres}
}

// driven is a rebuilt vehicle that was delivered with began on its dial and last
// showed shown, after truly so many miles.
func driven(began, shown, truly int64) disclosure.Vehicle {
	return disclosure.Vehicle{
		Serial: "AM0101G", FrameNumber: "24000-10000", DonorYear: 1957,
		BuildDate: vehicle.MustDate(2011, time.March, 27), DeliveryDate: vehicle.MustDate(2011, time.April, 24),
		Delivered: miles(began), Dial: milesDial,
		Last: disclosure.Look{On: vehicle.MustDate(2026, time.March, 2), Shown: miles(shown), True: vehicle.Distance(truly) * vehicle.Mile, Record: "vehicles/AM0101G/readings/1"},
	}
}

func replaced(before, after vehicle.Entered) disclosure.Replacement {
	return disclosure.Replacement{On: vehicle.MustDate(2020, time.May, 2), Before: before, After: after, Dial: milesDial, By: "Fell Side Motors", Record: "builds/AM0101G/changes/c1"}
}

func TestTheStatementIsWhatTheRecordBearsOut(t *testing.T) {
	with := func(v disclosure.Vehicle, change func(*disclosure.Vehicle)) disclosure.Vehicle {
		change(&v)
		return v
	}
	later := vehicle.MustDate(2026, time.April, 1)
	for _, c := range []struct {
		name string
		v    disclosure.Vehicle
		want disclosure.Kind
		rule string
	}{
		{"dial and ledger agree", driven(36, 7221, 7185), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"it reads high by its gears as built", driven(36, 7221, 6859), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"off by a twentieth exactly", driven(0, 10500, 10000), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"off by a mile more", driven(0, 10501, 10000), disclosure.NotActual, "NOT_THE_TRUE_DISTANCE"},
		{"it reads far too low", driven(0, 9000, 10000), disclosure.NotActual, "NOT_THE_TRUE_DISTANCE"},
		{"few miles, where a tenth is nothing", driven(36, 130, 85), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"it went round", driven(96500, 3364, 6112), disclosure.Beyond, "WENT_ROUND"},
		{"it went round twice", driven(0, 50, 200_000), disclosure.Beyond, "WENT_ROUND"},
		{"it fell back, and was never driven far enough to go round", driven(50_000, 40_000, 45_000), disclosure.NotActual, "NOT_THE_TRUE_DISTANCE"},
		{"it went round by as little as calibration explains", driven(96_500, 200, 3_600), disclosure.Beyond, "WENT_ROUND"},
		{"it was driven a whole round, and is off besides", driven(0, 20_000, 105_000), disclosure.Beyond, "WENT_ROUND"},
		{"another was fitted, at zero", with(driven(36, 5314, 10266), func(v *disclosure.Vehicle) {
			v.Replacements = []disclosure.Replacement{replaced(miles(5474), miles(0))}
		}), disclosure.NotActual, "ODOMETER_REPLACED"},
		{"another was fitted, with the mileage of the old", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			v.Replacements = []disclosure.Replacement{replaced(miles(5474), miles(5474))}
		}), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"nobody wrote down what the old one showed", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			v.Replacements = []disclosure.Replacement{replaced(vehicle.Entered{}, miles(0))}
		}), disclosure.NotActual, "ODOMETER_REPLACED"},
		{"another was fitted after the transfer", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			r := replaced(miles(7221), miles(0))
			r.On = transfer.AddDays(1)
			v.Replacements = []disclosure.Replacement{r}
		}), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"another was fitted on the day of the transfer", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			r := replaced(miles(7221), miles(0))
			r.On = transfer
			v.Replacements = []disclosure.Replacement{r}
		}), disclosure.NotActual, "ODOMETER_REPLACED"},
		{"a later reading waits", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			v.Waiting = []disclosure.Look{{On: later, Shown: miles(71)}}
		}), disclosure.Undecided, "READING_WAITS"},
		{"an earlier reading waits", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			v.Waiting = []disclosure.Look{{On: vehicle.MustDate(2020, time.May, 1), Shown: miles(71)}}
		}), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"a reading of after the transfer waits", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) {
			v.Waiting = []disclosure.Look{{On: transfer.AddDays(3), Shown: miles(71)}}
		}), disclosure.Actual, "SHOWS_THE_DISTANCE"},
		{"no reading counts", with(driven(36, 0, 0), func(v *disclosure.Vehicle) { v.Last = disclosure.Look{} }), disclosure.Undecided, "NO_READING"},
		{"nothing is known of delivery", with(driven(36, 7221, 7185), func(v *disclosure.Vehicle) { v.Delivered = vehicle.Entered{} }), disclosure.Undecided, "NO_BEGINNING"},
	} {
		kind, reasons := c.v.Verdict(transfer)
		if kind != c.want || reasons[0].Rule != c.rule {
			t.Errorf("%s: %s, %+v; want %s, %s", c.name, kind, reasons, c.want, c.rule)
		}
		if last := reasons[len(reasons)-1]; last.Rule != "BEFORE_THE_REBUILD" || !strings.Contains(last.Sentence, "for counsel") {
			t.Errorf("%s: the rebuild is not spoken of last: %+v", c.name, last)
		}
	}
}

// A dial that went round and reads wrong besides is both, and whoever signs is
// told.
func TestADialThatWentRoundAndIsOffSaysBoth(t *testing.T) {
	v := driven(96500, 3364, 6112)
	if _, reasons := v.Verdict(transfer); reasons[1].Rule != "NOT_THE_TRUE_DISTANCE" {
		t.Errorf("12 %% off, and nobody says so: %+v", reasons)
	}
	v = driven(96500, 3364, 6800)
	if _, reasons := v.Verdict(transfer); reasons[1].Rule == "NOT_THE_TRUE_DISTANCE" {
		t.Errorf("within calibration: %+v", reasons)
	}
}

func TestWhatIsNewFromItsFrameUpHasNoDonor(t *testing.T) {
	v := driven(36, 7221, 7185)
	v.DonorYear = 0
	_, reasons := v.Verdict(transfer)
	if len(reasons) != 1 {
		t.Errorf("got %+v", reasons)
	}
	s, err := v.StatementFor(transfer, 0)
	if err != nil || strings.Contains(strings.Join(s.Lines, " "), "rebuilt") {
		t.Errorf("%v: %v", err, s.Lines)
	}
}

// TestADialThatIsTurnedMileByMileIsStatedRight drives a dial mile by mile, as the
// dumb second way to what it shows and how often it went round.
func TestADialThatIsTurnedMileByMileIsStatedRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dial := vehicle.Dial{Digits: 4, Unit: vehicle.Miles, TurnsPerUnit: 1000}
		began := rapid.Int64Range(0, 9999).Draw(t, "began")
		steps := rapid.Int64Range(400, 40_000).Draw(t, "steps")
		percent := rapid.Int64Range(96, 104).Draw(t, "true hundredths of a shown mile")
		shown, turns := began, 0
		for range steps {
			if shown++; shown == 10_000 {
				shown = 0
				turns++
			}
		}
		v := driven(began, shown, 0)
		v.Dial = dial
		v.Last.True = vehicle.Distance(steps) * vehicle.Mile / 100 * vehicle.Distance(percent)
		want := disclosure.Actual
		if turns > 0 {
			want = disclosure.Beyond
		}
		if kind, reasons := v.Verdict(transfer); kind != want {
			t.Fatalf("from %d, %d miles on, at %d %%: %s, %+v; want %s", began, steps, percent, kind, reasons, want)
		}
	})
}
