package disclosure_test

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/disclosure"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestEachStatementSaysWhatTheLawHasItSay(t *testing.T) {
	zero := driven(36, 5314, 10266)
	zero.Replacements = []disclosure.Replacement{replaced(miles(5474), miles(0))}
	none := driven(36, 0, 0)
	none.Last = disclosure.Look{}
	inKilometres := driven(36, 7221, 7185)
	inKilometres.Dial.Unit = vehicle.Kilometres
	// 49 CFR part 580, appendix C (seen quoted): the three statements.
	for _, c := range []struct {
		name string
		v    disclosure.Vehicle
		want []string
		not  []string
	}{
		{"actual", driven(36, 7221, 7185), []string{"to the best of my knowledge it reflects the actual mileage", "since it was rebuilt in 2011", "donor of 1957", "it showed 7221 mi on 2 march 2026", "miles (no tenths)"}, []string{"discrepancy", "in excess"}},
		{"beyond the limits", driven(96500, 3364, 6112), []string{"in excess of its mechanical limits"}, []string{"discrepancy", "reflects the actual mileage"}},
		{"not actual", zero, []string{"not the actual mileage", "warning - odometer discrepancy", "about 10,266 miles from its delivery"}, []string{"reflects the actual mileage", "in excess"}},
		{"undecided", none, []string{"cannot be told from the record", "no reading is on record"}, []string{"reflects the actual mileage", "in excess", "discrepancy"}},
		{"in kilometres", inKilometres, []string{"kilometres (no tenths)"}, nil},
	} {
		s, err := c.v.StatementFor(transfer, 0)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		text := strings.ToLower(strings.Join(s.Lines, "\n"))
		// What 49 CFR 580.5(c) lists, apart from what the program cannot know.
		for _, part := range append(c.want, "transferor", "transferee", "date of the transfer", "identification number", "fined or imprisoned", "am0101g", "24000-10000") {
			if !strings.Contains(text, part) {
				t.Errorf("%s: without %q: %s", c.name, part, text)
			}
		}
		for _, part := range c.not {
			if strings.Contains(text, part) {
				t.Errorf("%s: with %q: %s", c.name, part, text)
			}
		}
		namesItsLaw(t, c.name, s.Draft, "49 CFR 580.5", "580.17(a)(3)-(4)")
	}
}

// namesItsLaw looks whether a draft says which law, that it is an example, and
// who goes first.
func namesItsLaw(t *testing.T, name string, d disclosure.Draft, laws ...string) {
	t.Helper()
	law := strings.Join(d.Law, " ")
	for _, part := range append(laws, "an example", "Counsel and the law of the place go first") {
		if !strings.Contains(law, part) {
			t.Errorf("%s: the law does not say %q: %s", name, part, law)
		}
	}
}

func TestWhetherAStatementIsNeededIsSaid(t *testing.T) {
	v := driven(36, 7221, 7185)
	for _, c := range []struct {
		name      string
		modelYear int
		on        vehicle.Date
		want      string
	}{
		{"it turns on the model year", 0, transfer, "for counsel"},
		{"the donor's year is on the title", 1957, transfer, "no statement is needed"},
		{"titled as new", 2011, transfer, "a statement is needed"},
		{"titled as new, twenty years on", 2011, vehicle.MustDate(2031, time.January, 1), "no statement is needed"},
		{"either way exempt by then", 0, vehicle.MustDate(2031, time.January, 1), "no statement is needed"},
	} {
		if s, err := v.StatementFor(c.on, c.modelYear); err != nil || !strings.Contains(s.Needed, c.want) {
			t.Errorf("%s: %q, %v", c.name, s.Needed, err)
		}
	}
	if _, err := v.StatementFor(transfer, 3000); !fault.Is(err, fault.Invalid) {
		t.Errorf("model year 3000: %v", err)
	}
}

func TestTheNoticeAboutAReplacedOdometer(t *testing.T) {
	v := driven(36, 5314, 10266)
	toKilometres := replaced(miles(4519), kilometres(0))
	toKilometres.Dial.Unit = vehicle.Kilometres
	sameInKilometres := replaced(miles(100), kilometres(161)) // 160.9344 km, NIST SP 811
	sameInKilometres.Dial.Unit = vehicle.Kilometres
	// O-55: 49 U.S.C. 32704: where the mileage cannot be preserved, set to zero
	// and a written notice on the left door frame with prior mileage and date.
	for _, c := range []struct {
		name   string
		r      disclosure.Replacement
		needed bool
		rules  string
		want   []string
	}{
		{"set to zero", replaced(miles(5474), miles(0)), true, "ODOMETER_REPLACED", []string{"on 2 May 2020 by Fell Side Motors", "Mileage before: 5474 mi", "began at 0 mi"}},
		{"the mileage carried over", replaced(miles(5474), miles(5474)), false, "MILEAGE_CARRIED_OVER NO_NOTICE", nil},
		{"carried over to within a mile", replaced(vehicle.Entered{Value: vehicle.Decimal{Coefficient: 54746, Scale: 1}, Unit: vehicle.Miles}, miles(5474)), false, "MILEAGE_CARRIED_OVER NO_NOTICE", nil},
		{"carried over in kilometres", sameInKilometres, false, "MILEAGE_CARRIED_OVER NO_NOTICE", nil},
		{"a mile off", replaced(miles(5474), miles(5475)), true, "ODOMETER_REPLACED NOT_SET_TO_ZERO", []string{"began at 5475 mi"}},
		{"a used one, as it stood", replaced(miles(5474), miles(31000)), true, "ODOMETER_REPLACED NOT_SET_TO_ZERO", []string{"began at 31000 mi"}},
		{"the old one unread", replaced(vehicle.Entered{}, miles(0)), true, "ODOMETER_REPLACED BEFORE_NOT_ON_RECORD", []string{"Mileage before: ____"}},
		{"neither read", replaced(vehicle.Entered{}, vehicle.Entered{}), true, "ODOMETER_REPLACED BEFORE_NOT_ON_RECORD AFTER_NOT_ON_RECORD", []string{"began at ____"}},
		{"to kilometres", toKilometres, true, "ODOMETER_REPLACED OTHER_UNIT", []string{"Mileage before: 4519 mi", "began at 0 km"}},
	} {
		n := v.NoticeFor(c.r)
		var rules []string
		for _, r := range n.Reasons {
			rules = append(rules, r.Rule)
		}
		text := strings.Join(n.Lines, "\n")
		if n.Needed != c.needed || strings.Join(rules, " ") != c.rules || (len(n.Lines) > 0) != c.needed {
			t.Errorf("%s: needed %v, %v: %s", c.name, n.Needed, rules, text)
		}
		if c.needed {
			c.want = append(c.want, "AM0101G", "nobody may remove or alter this notice with intent to defraud")
		}
		for _, part := range c.want {
			if !strings.Contains(text, part) {
				t.Errorf("%s: without %q: %s", c.name, part, text)
			}
		}
		namesItsLaw(t, c.name, n.Draft, "49 U.S.C. 32704", "left door frame", "set to zero", "intent to defraud")
	}
}

func TestThereIsANoticeForEachOdometerByTheDay(t *testing.T) {
	v := driven(36, 5314, 10266)
	second := replaced(miles(120), miles(0))
	second.On = vehicle.MustDate(2024, time.June, 1)
	v.Replacements = []disclosure.Replacement{replaced(miles(5474), miles(0)), second}
	for on, want := range map[vehicle.Date]int{
		vehicle.MustDate(2020, time.May, 1): 0, vehicle.MustDate(2020, time.May, 2): 1, transfer: 2,
	} {
		if got := v.Notices(on); len(got) != want {
			t.Errorf("by %s: %d, want %d", on, len(got), want)
		}
	}
}
