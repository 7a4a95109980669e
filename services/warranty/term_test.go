package warranty_test

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

func TestTheWorksOwnTerm(t *testing.T) {
	// One year, parts and labour, from delivery: common practice, no source.
	s := StandardTerm(day("2020-01-01"))
	if s.Months != 12 || s.Distance != 0 || !s.CoversParts || !s.CoversWork || s.Start != FromDelivery || !s.Sample || s.Giver != Works {
		t.Errorf("%+v", s)
	}
	if f := s.Faults(); f != nil {
		t.Error(f)
	}
	if s := supplier(); s.Faults() != nil {
		t.Error(s.Faults())
	}
}

func TestWhatIsWrongWithATerm(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Term)
		want   string
	}{
		"its name":                      {func(t *Term) { t.ID = "works 12" }, "name"},
		"its version":                   {func(t *Term) { t.Version = 0 }, "name"},
		"no title":                      {func(t *Term) { t.Title = "" }, "title"},
		"nobody gives it":               {func(t *Term) { t.Giver = 0 }, "giver"},
		"a supplier of the works":       {func(t *Term) { t.Supplier = "Brookford Gears" }, "supplier"},
		"a supplier without a name":     {func(t *Term) { t.Giver = Supplier }, "supplier"},
		"it begins with nothing":        {func(t *Term) { t.Start = 0 }, "start"},
		"it begins with something else": {func(t *Term) { t.Start = 6 }, "start"},
		"by whose clock":                {func(t *Term) { t.Midnight = 3 }, "midnight"},
		"a position in capitals":        {func(t *Term) { t.Positions = []string{"Gearbox"} }, "positions[0]"},
		"a part twice":                  {func(t *Term) { t.Parts = []string{"AP-1", "AP-1"} }, "parts[1]"},
		"less than no months":           {func(t *Term) { t.Months = -1 }, "months"},
		"too many months":               {func(t *Term) { t.Months = 601 }, "months"},
		"less than no distance":         {func(t *Term) { t.Distance = -1 }, "distance"},
		"it pays for nothing":           {func(t *Term) { t.CoversParts, t.CoversWork = false, false }, "covers_parts"},
		"a fitting of the vehicle":      {func(t *Term) { t.Start = FromFitting }, "positions"},
		"an exclusion twice":            {func(t *Term) { t.Exclusions = append(t.Exclusions, t.Exclusions[0]) }, "exclusions[4].exclusion_id"},
		"an exclusion without words":    {func(t *Term) { t.Exclusions[0].Text = "" }, "exclusions[0].text"},
		"an empty condition":            {func(t *Term) { t.Conditions[0] = "" }, "conditions[0]"},
		"a repair by distance alone":    {func(t *Term) { t.Repair = RepairTerm{Distance: 1} }, "repair.months"},
		"no first day":                  {func(t *Term) { t.Effective = vehicle.Date{} }, "effective_date"},
		"neither sample nor signed":     {func(t *Term) { t.Sample = false }, "signed_by"},
		"both":                          {func(t *Term) { t.SignedBy = "the works' engineer" }, "sample"},
	} {
		term := StandardTerm(day("2020-01-01"))
		c.change(&term)
		var names []string
		for _, f := range term.Faults() {
			names = append(names, f.Name)
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
	withdrawn := StandardTerm(day("2020-01-01"))
	withdrawn.CoversParts, withdrawn.CoversWork, withdrawn.Withdrawn = false, false, true
	if f := withdrawn.Faults(); f != nil {
		t.Errorf("withdrawn: %v", f)
	}
}

func TestVersionsCountUp(t *testing.T) {
	first := StandardTerm(day("2020-01-01"))
	second := StandardTerm(day("2022-01-01"))
	second.Version = 2
	change := func(f func(*Term)) Term { x := second; f(&x); return x }
	for name, c := range map[string]struct {
		beside []Term
		term   Term
		want   fault.Kind
		ok     bool
	}{
		"the first":                 {nil, first, 0, true},
		"the second":                {[]Term{first}, second, 0, true},
		"beside another term":       {[]Term{supplier()}, first, 0, true},
		"the second without one":    {nil, second, fault.Invalid, false},
		"the first again":           {[]Term{first, second}, first, fault.AlreadyExists, false},
		"the third after the first": {[]Term{first}, change(func(t *Term) { t.Version = 3 }), fault.Invalid, false},
		"from the same day":         {[]Term{first}, change(func(t *Term) { t.Effective = first.Effective }), fault.Invalid, false},
		"by somebody else":          {[]Term{first}, change(func(t *Term) { t.Giver, t.Supplier = Supplier, "Brookford Gears" }), fault.Invalid, false},
	} {
		err := Admit(c.beside, c.term)
		if (err == nil) != c.ok || err != nil && fault.KindOf(err) != c.want {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWhatIsWrongWithATimeOutOfService(t *testing.T) {
	for name, c := range map[string]struct {
		span Span
		want int
	}{
		"one day":               {Span{Start: day("2026-05-05"), End: day("2026-05-05")}, 0},
		"it lasts":              {Span{Start: day("2026-05-05")}, 0},
		"no first day":          {Span{End: day("2026-05-05")}, 1},
		"ends before it begins": {Span{Start: day("2026-05-05"), End: day("2026-05-04")}, 1},
	} {
		if got := len(c.span.Faults()); got != c.want {
			t.Errorf("%s: %v", name, c.span.Faults())
		}
	}
}
