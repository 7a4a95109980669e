package schedule

import (
	"fmt"
	"regexp"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What a programme can be.
const (
	maxItems      = 300
	maxText       = 2_000 // characters of any one text
	maxPredicate  = 1_000 // bytes of an expression
	maxMonths     = 600
	maxNoticeDays = 365
	maxKeepDays   = 90
	maxWithinDays = 3_650
)

var (
	programmeID    = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)
	itemID         = regexp.MustCompile(`^[A-Z]{1,3}[0-9]{1,3}[A-Z]{0,2}$`)
	positionName   = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	characteristic = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	sourceMark     = regexp.MustCompile(`^[abc](/[abc])?$`)
)

// Validate gives every fault of a programme at once, in the words of its
// fields; predicates are Compile's to check.
func (p *Programme) Validate() []fault.Field {
	v := &validator{}
	v.must(programmeID.MatchString(p.ID) && p.Version >= 1 && p.Version <= 9999, "name", p.Name(),
		"programmes/PROGRAMME/versions/NUMBER, as in programmes/packhorse/versions/2")
	v.text("title", p.Title, true)
	v.must(!p.Effective.IsZero(), "effective_date", "", "the first day it is in force")
	v.must(p.Sample || p.SignedBy != "", "signed_by", "", "the engineer's name, or sample: true")
	v.text("signed_by", p.SignedBy, false)
	v.must(len(p.Items) > 0 && len(p.Items) <= maxItems, "items", strconv.Itoa(len(p.Items))+" items", "1 to 300 items")
	seen := map[string]bool{}
	for n := range p.Items {
		it := &p.Items[n]
		at := fmt.Sprintf("items[%d]", n)
		if itemID.MatchString(it.ID) {
			at = "items[" + it.ID + "]"
		}
		v.must(!seen[it.ID], at+".item_id", it.ID, "an identifier that no other item has")
		seen[it.ID] = true
		v.item(at, it)
	}
	for n := range p.Items {
		it := &p.Items[n]
		for i, id := range it.Resets {
			v.must(seen[id] && id != it.ID, fmt.Sprintf("items[%s].resets[%d]", it.ID, i), id, "another item of this programme")
		}
	}
	v.rules("visits", &p.Visits, func(id string) bool { return seen[id] })
	return v.wrong
}

// validator collects what is wrong.
type validator struct{ wrong []fault.Field }

func (v *validator) must(ok bool, name, got, want string) {
	if !ok {
		v.wrong = append(v.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
}

func (v *validator) text(name, text string, needed bool) {
	v.must(!needed || text != "", name, text, "some words")
	v.must(!fault.Longer(text, maxText), name, text, fault.AtMost(maxText))
}

func (v *validator) item(at string, it *Item) {
	v.must(itemID.MatchString(it.ID), at+".item_id", it.ID, "capitals and digits, as in T02 or G01L")
	v.text(at+".title", it.Title, true)
	v.text(at+".group", it.Group, true)
	v.text(at+".caution", it.Caution, false)
	v.text(at+".why", it.Why, false)
	v.text(at+".doc_ref", it.DocRef, false)
	v.must(len(it.AppliesWhen) <= maxPredicate, at+".applies_when", it.AppliesWhen, "at most 1,000 bytes")
	v.must(it.Position == "" || positionName.MatchString(it.Position), at+".position", it.Position,
		"lower-case words joined by hyphens")
	v.limit(at+".first", it.First)
	v.limit(at+".every", it.Every)
	v.must(it.FirstFrom <= FromDelivery, at+".first_from", strconv.Itoa(int(it.FirstFrom)), "fitting or delivery")
	v.must(it.FirstFrom == FromUnspecified || !it.First.IsZero(), at+".first_from", "a beginning", "a first limit with it")
	v.severe(at+".severe", it)
	for n := range it.StartsOn {
		v.start(fmt.Sprintf("%s.starts_on[%d]", at, n), it.StartsOn[n])
	}
	v.measured(at, it.Measured)
	v.needs(at, it)
	v.must(it.LayUp.Valid(), at+".lay_up", strconv.Itoa(int(it.LayUp)), "before, recommission, stays or only")
	v.must(it.LayUp != OnlyInLayUp || it.Every.Months > 0 && it.First.IsZero() && len(it.StartsOn) == 0,
		at+".lay_up", "only", "an item that has every.months and neither first nor starts_on")
	v.must(it.Class <= SeasonalClass, at+".item_class", strconv.Itoa(int(it.Class)), "routine, safety, settling or seasonal")
	v.must(it.NoticeDays >= 0 && it.NoticeDays <= maxNoticeDays, at+".notice_days", strconv.Itoa(it.NoticeDays), "0 to 365")
	v.must(it.KeepCalendarDays >= 0 && it.KeepCalendarDays <= maxKeepDays, at+".keep_calendar_days", strconv.Itoa(it.KeepCalendarDays), "0 to 90")
	v.must(it.KeepCalendarDays == 0 || it.Every.Months > 0 && it.LayUp != OnlyInLayUp, at+".keep_calendar_days", "a number", "an every.months with it")
	v.must(it.Cost >= 0 && it.Cost <= maxMoney, at+".cost", strconv.Itoa(it.Cost), "0 to 1000000")
	v.must(sourceMark.MatchString(it.SourceMark), at+".source_mark", it.SourceMark, "a, b or c, or two of them as in b/c")
	onFinding := it.First.IsZero() && it.Every.IsZero() && len(it.StartsOn) == 0
	v.must(!onFinding || len(it.Measured) > 0, at+".every", "",
		"first, every or starts_on; without them an item is done on finding and must say what is measured")
}

func (v *validator) limit(at string, l Limit) {
	v.must(l.Months >= 0 && l.Months <= maxMonths, at+".months", strconv.Itoa(l.Months), "0 to 600")
	v.distance(at+".distance", l.Distance)
}

// distance checks a distance of a programme: absent, or one that an interval
// can be.
func (v *validator) distance(name string, d vehicle.Entered) {
	if d.IsZero() {
		return
	}
	mm, err := d.Distance()
	v.must(err == nil && mm > 0 && mm <= 1_000_000*vehicle.Mile, name, d.String(), "more than 0 and at most 1000000 mi")
}

func (v *validator) severe(at string, it *Item) {
	s := &it.Severe
	for n, k := range s.When {
		v.must(k.Hard(), fmt.Sprintf("%s.when[%d]", at, n), strconv.Itoa(int(k)), "a kind of hard use")
	}
	for _, f := range []struct {
		name   string
		factor vehicle.Decimal
	}{{".distance_factor", s.DistanceFactor}, {".time_factor", s.TimeFactor}} {
		ok := f.factor == (vehicle.Decimal{}) || f.factor.Sign() > 0 && f.factor.Cmp(vehicle.Decimal{Coefficient: 1}) <= 0
		v.must(ok, at+f.name, f.factor.String(), "more than 0 and at most 1")
	}
	some := s.DistanceFactor != (vehicle.Decimal{}) || s.TimeFactor != (vehicle.Decimal{})
	v.must(len(s.When) == 0 || some, at, "kinds of use", "a factor with them")
	v.must(!some || !it.Every.IsZero(), at, "a factor", "an every to shorten")
}

func (v *validator) start(at string, s EventStart) {
	v.must(s.Event.Valid(), at+".event", strconv.Itoa(int(s.Event)), "a kind of event")
	v.distance(at+".not_before", s.NotBefore)
	v.distance(at+".within_distance", s.WithinDistance)
	v.must(s.WithinDays >= 0 && s.WithinDays <= maxWithinDays, at+".within_days", strconv.Itoa(s.WithinDays), "0 to 3650")
	if !s.NotBefore.IsZero() {
		before, err := s.NotBefore.Distance()
		within, err2 := s.WithinDistance.Distance()
		v.must(err == nil && err2 == nil && before < within, at+".not_before", s.NotBefore.String(), "less than within_distance")
	}
}

func (v *validator) measured(at string, limits []MeasuredLimit) {
	seen := map[string]bool{}
	for n := range limits {
		m := &limits[n]
		at := fmt.Sprintf("%s.measured[%d]", at, n)
		v.must(characteristic.MatchString(m.Characteristic), at+".characteristic", m.Characteristic,
			"lower-case words joined by hyphens, as in end-float")
		v.must(!seen[m.Characteristic], at+".characteristic", m.Characteristic, "each only once in an item")
		seen[m.Characteristic] = true
		_, err := vehicle.ParseQuantity("1 " + m.Unit)
		v.must(err == nil || m.Unit == "true/indicated", at+".unit", m.Unit, "a unit, as in mm")
		v.must(m.Lower != nil || m.Upper != nil, at, m.Characteristic, "lower or upper, or both")
		if m.Lower != nil && m.Upper != nil {
			v.must(m.Lower.Cmp(*m.Upper) <= 0, at+".upper", m.Upper.String(), "not less than lower")
		}
		if m.Action == nil {
			continue
		}
		above := m.Upper != nil && m.Action.Cmp(*m.Upper) >= 0
		below := m.Lower != nil && m.Action.Cmp(*m.Lower) <= 0
		v.must(above || below, at+".action", m.Action.String(), "outside the window, or at its edge")
		v.text(at+".method", m.Method, false)
	}
}

func (v *validator) needs(at string, it *Item) {
	f := &it.Fluid
	if *f != (FluidNeed{}) {
		v.text(at+".fluid.fluid", f.Fluid, true)
		v.must(f.Quantity.Value.Sign() >= 0, at+".fluid.quantity", f.Quantity.String(), "not less than nothing")
	}
	for n, p := range it.Parts {
		v.must(positionName.MatchString(p.Position), fmt.Sprintf("%s.parts[%d].position", at, n), p.Position,
			"lower-case words joined by hyphens")
		v.must(p.Quantity >= 0 && p.Quantity <= 100, fmt.Sprintf("%s.parts[%d].quantity", at, n),
			strconv.Itoa(p.Quantity), "0 to 100")
	}
}
