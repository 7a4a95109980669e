package disclosure

import (
	"fmt"
	"strconv"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// After how many years a transfer needs no statement, by 49 CFR 580.17(a)(3) and
// (4): ten for the model years to 2010, twenty for those from 2011 on, counted
// from 1 January of the calendar year with the number of the model year.
const (
	lastOfTenYears   = 2010
	exemptAfterOlder = 10
	exemptAfterNewer = 20
	firstModelYear   = 1886 // the first motor car; from memory
)

// Exemption says whether the transfer of a vehicle on a day needs no statement
// because of its model year.
type Exemption struct {
	ModelYear int
	Basis     string // why this model year is looked at; empty where it was given
	On        vehicle.Date
	Exempt    bool
	From      vehicle.Date // the first day on which it is exempt
	Reason    vehicle.Reason
}

// Exempt looks at the transfer of a vehicle of a model year on a day. It refuses
// a day that is none, and a model year before motor cars or later than the year
// after the day.
func Exempt(modelYear int, on vehicle.Date) (Exemption, error) {
	if !on.Valid() {
		return Exemption{}, fault.InvalidField("on_date", on.String(), "the day of the transfer, as in 2026-05-18")
	}
	if modelYear < firstModelYear || modelYear > on.Year+1 {
		return Exemption{}, fault.InvalidField("model_year", strconv.Itoa(modelYear),
			fmt.Sprintf("a year from %d to %d, the year after the transfer", firstModelYear, on.Year+1))
	}
	years, rule := exemptAfterOlder, "MODEL_YEAR_TO_2010"
	which := "A vehicle of model year 2010 or earlier"
	if modelYear > lastOfTenYears {
		years, rule = exemptAfterNewer, "MODEL_YEAR_FROM_2011"
		which = "A vehicle of model year 2011 or later"
	}
	from := vehicle.Date{Year: min(modelYear+years, 9999), Month: time.January, Day: 1}
	e := Exemption{ModelYear: modelYear, On: on, Exempt: !on.Before(from), From: from}
	is := "is exempt"
	if !e.Exempt {
		is = "is not exempt"
	}
	e.Reason = vehicle.Reason{
		Rule: rule,
		Facts: []vehicle.Fact{
			{Name: "model_year", Value: strconv.Itoa(modelYear)}, {Name: "transfer", Value: on.Long()},
			{Name: "exempt_from", Value: from.Long()},
		},
		Sentence: fmt.Sprintf("%s is exempt once %d years have passed since 1 January of that year (49 CFR 580.17(a)(3)-(4)): model year %d, from %s on. On %s it %s.",
			which, years, modelYear, from.Long(), on.Long(), is),
	}
	return e, nil
}

// Exemptions looks at each model year that a vehicle may be said to have: the one
// that was given, or else that of its donor and that of the rebuild. modelYear
// is 0 where none was given. Which of the two counts is for counsel.
func (v *Vehicle) Exemptions(modelYear int, on vehicle.Date) ([]Exemption, error) {
	if modelYear != 0 {
		e, err := Exempt(modelYear, on)
		if err != nil {
			return nil, err
		}
		return []Exemption{e}, nil
	}
	var all []Exemption
	for _, c := range []struct {
		year  int
		basis string
	}{{v.DonorYear, "if the year of the donor counts"}, {v.BuildDate.Year, "if it is titled as new in the year of the rebuild"}} {
		if c.year == 0 || len(all) > 0 && all[0].ModelYear == c.year {
			continue
		}
		e, err := Exempt(c.year, on)
		if err != nil {
			return nil, err
		}
		e.Basis = c.basis
		all = append(all, e)
	}
	if len(all) == 0 {
		return nil, fault.InvalidField("model_year", "", "the model year on the title: neither the donor's year nor the day of the build is on record")
	}
	return all, nil
}

// Agree reports whether all of them say the same, and what.
func Agree(all []Exemption) (exempt, agree bool) {
	for _, e := range all {
		if e.Exempt != all[0].Exempt {
			return false, false
		}
	}
	return len(all) > 0 && all[0].Exempt, len(all) > 0
}
