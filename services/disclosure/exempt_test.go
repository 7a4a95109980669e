package disclosure_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/disclosure"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestATransferIsExemptByModelYear(t *testing.T) {
	// O-56: 49 CFR 580.17(a)(3)-(4); each year is looked at on its first and its
	// last day, since the years count from 1 January.
	for _, c := range []struct {
		name            string
		modelYear, sold int
		want            bool
	}{
		{"model year 2010 sold in 2020", 2010, 2020, true},
		{"model year 2011 sold in 2030", 2011, 2030, false},
		{"model year 2011 sold in 2031", 2011, 2031, true},
		{"model year 1965 sold in 2026", 1965, 2026, true},
		{"titled as model year 2026, sold in 2045", 2026, 2045, false},
		{"titled as model year 2026, sold in 2046", 2026, 2046, true},
		{"model year 2010 sold in 2019, by the same rule", 2010, 2019, false},
	} {
		for _, on := range []vehicle.Date{vehicle.MustDate(c.sold, time.January, 1), vehicle.MustDate(c.sold, time.December, 31)} {
			e, err := disclosure.Exempt(c.modelYear, on)
			if err != nil || e.Exempt != c.want {
				t.Errorf("%s, on %s: %+v, %v; want exempt %v", c.name, on, e, err, c.want)
			}
			if said := strings.Contains(e.Reason.Sentence, "is not exempt."); said == c.want || !strings.Contains(e.Reason.Sentence, "49 CFR 580.17(a)(3)-(4)") {
				t.Errorf("%s, on %s: it says %q", c.name, on, e.Reason.Sentence)
			}
		}
	}
}

// exemptByWalking counts the New Year's Days that have come since 1 January of the
// model year, walking through the days one by one.
func exemptByWalking(modelYear int, on vehicle.Date) bool {
	years := 0
	for d := vehicle.MustDate(modelYear, time.January, 2); !d.After(on); d = d.AddDays(1) {
		if d.Month == time.January && d.Day == 1 {
			years++
		}
	}
	if modelYear < 2011 {
		return years >= 10
	}
	return years >= 20
}

func TestExemptionIsWhatWalkingThroughTheDaysFinds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		modelYear := rapid.IntRange(1950, 2030).Draw(t, "model year")
		on := vehicle.MustDate(modelYear-1, time.January, 1).AddDays(rapid.IntRange(0, 9000).Draw(t, "day"))
		e, err := disclosure.Exempt(modelYear, on)
		if want := exemptByWalking(modelYear, on); err != nil || e.Exempt != want || e.Exempt != !on.Before(e.From) {
			t.Fatalf("model year %d on %s: %+v, %v; by walking %v", modelYear, on, e, err, want)
		}
	})
}

func TestAModelYearThatCannotBeIsRefused(t *testing.T) {
	on := vehicle.MustDate(2026, time.May, 18)
	for name, year := range map[string]int{"before motor cars": 1885, "two years on": 2028, "none": 0, "less than none": -5} {
		if e, err := disclosure.Exempt(year, on); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "model_year") {
			t.Errorf("%s: %+v, %v", name, e, err)
		}
	}
	if _, err := disclosure.Exempt(2027, on); err != nil {
		t.Errorf("next year's model: %v", err)
	}
	if _, err := disclosure.Exempt(2027, vehicle.Date{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("on no day: %v", err)
	}
}

func TestBothModelYearsOfARebuiltVehicleAreLookedAt(t *testing.T) {
	on := vehicle.MustDate(2026, time.May, 18)
	rebuilt := disclosure.Vehicle{DonorYear: 1957, BuildDate: vehicle.MustDate(2011, time.March, 27)}
	for _, c := range []struct {
		name          string
		v             disclosure.Vehicle
		modelYear     int
		want          int
		exempt, agree bool
	}{
		{"donor and rebuild differ", rebuilt, 0, 2, false, false},
		{"the title says the donor's", rebuilt, 1957, 1, true, true},
		{"the title says the rebuild's", rebuilt, 2011, 1, false, true},
		{"both long ago", disclosure.Vehicle{DonorYear: 1957, BuildDate: vehicle.MustDate(2005, time.March, 27)}, 0, 2, true, true},
		{"donor not on record", disclosure.Vehicle{BuildDate: rebuilt.BuildDate}, 0, 1, false, true},
		{"donor of the same year", disclosure.Vehicle{DonorYear: 2011, BuildDate: rebuilt.BuildDate}, 0, 1, false, true},
	} {
		all, err := c.v.Exemptions(c.modelYear, on)
		exempt, agree := disclosure.Agree(all)
		if err != nil || len(all) != c.want || exempt != c.exempt || agree != c.agree {
			t.Errorf("%s: %+v, %v: exempt %v, agree %v", c.name, all, err, exempt, agree)
		}
	}
	if _, err := (&disclosure.Vehicle{}).Exemptions(0, on); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "model_year") {
		t.Errorf("neither on record: %v", err)
	}
}
