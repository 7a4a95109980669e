package bulletin

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// What counts as close to a condition (common practice, no source).
const (
	closeSerials = 5
	closeDays    = 14
	closeLots    = 1
)

type releaseTest struct{ *ReleaseCondition }

func (t releaseTest) rule() string { return "RELEASE" }

func (t releaseTest) judge(s *subject) truth {
	switch {
	case t.AsBuilt && s.BuiltRelease == "", !t.AsBuilt && len(s.Releases) == 0:
		return unknown
	case t.AsBuilt:
		return truthOf(slices.Contains(t.Releases, s.BuiltRelease))
	}
	return truthOf(slices.ContainsFunc(s.Releases, func(r string) bool { return slices.Contains(t.Releases, r) }))
}

func (t releaseTest) fact(s *subject) string {
	switch {
	case t.judge(s) == unknown:
		return "Its release is not on record"
	case t.AsBuilt:
		return "It left the works to release " + s.BuiltRelease
	}
	return "Its positions follow release " + wording.List(s.Releases, "and") + " today"
}

func (t releaseTest) wanted() string {
	if t.AsBuilt {
		return "built to release " + wording.List(t.Releases, "or")
	}
	return "of which positions follow release " + wording.List(t.Releases, "or") + " today"
}

func (t releaseTest) off(*subject) (string, bool) { return "", false }

func (t releaseTest) record(s *subject) string { return build.Name(s.Serial) }

type optionTest struct{ *OptionCondition }

func (t optionTest) rule() string { return "OPTION" }

func (t optionTest) judge(s *subject) truth {
	if t.AsBuilt {
		return truthOf(slices.Contains(s.BuiltOptions, t.Option))
	}
	return truthOf(slices.Contains(s.Options, t.Option))
}

func (t optionTest) fact(s *subject) string {
	verb, when := "has", " today"
	if t.AsBuilt {
		verb, when = "was built with", ""
	}
	if t.judge(s) == yes {
		return "It " + verb + " the option " + t.Option + when
	}
	if t.AsBuilt {
		return "It was built without the option " + t.Option
	}
	return "It does not have the option " + t.Option + " today"
}

func (t optionTest) wanted() string {
	if t.AsBuilt {
		return "built with the option " + t.Option
	}
	return "with the option " + t.Option + " today"
}

func (t optionTest) off(*subject) (string, bool) { return "", false }

func (t optionTest) record(s *subject) string { return build.Name(s.Serial) }

type serialTest struct{ *SerialRange }

func (t serialTest) rule() string { return "SERIALS" }

func (t serialTest) judge(s *subject) truth {
	return truthOf(!(t.First != "" && compareSerials(s.Serial, t.First) < 0) &&
		!(t.Last != "" && compareSerials(s.Serial, t.Last) > 0) && !t.excepts(s.Serial))
}

func (t serialTest) excepts(serial vehicle.Serial) bool {
	return slices.Contains(t.Except, serial)
}

// compareSerials puts serials in the order in which a works gives them out: the
// shorter first, then by text, the check character aside.
func compareSerials(a, b vehicle.Serial) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a.Body(), b.Body()))
}

func (t serialTest) fact(s *subject) string {
	if t.excepts(s.Serial) {
		return "It is " + string(s.Serial) + ", which the range excepts"
	}
	return "It is " + string(s.Serial)
}

func (t serialTest) wanted() string {
	text := "of any serial"
	switch {
	case t.First != "" && t.Last != "":
		text = fmt.Sprintf("of serials %s to %s", t.First, t.Last)
	case t.First != "":
		text = fmt.Sprintf("of serials from %s on", t.First)
	case t.Last != "":
		text = fmt.Sprintf("of serials up to %s", t.Last)
	}
	if len(t.Except) == 0 {
		return text
	}
	var except []string
	for _, s := range t.Except {
		except = append(except, string(s))
	}
	return text + " except " + wording.List(except, "and")
}

func (t serialTest) off(s *subject) (string, bool) {
	switch {
	case t.excepts(s.Serial):
		return "", false
	case t.First != "" && compareSerials(s.Serial, t.First) < 0:
		n, ok := apart(s.Serial.Body(), t.First.Body())
		return outside(n, ok, "before the first")
	case t.Last != "" && compareSerials(s.Serial, t.Last) > 0:
		n, ok := apart(t.Last.Body(), s.Serial.Body())
		return outside(n, ok, "after the last")
	}
	return "", false
}

func outside(n int, ok bool, where string) (string, bool) {
	if !ok || n <= 0 {
		return "", false
	}
	return strconv.Itoa(n) + " " + where, n <= closeSerials
}

// apart says by how much the number at the end of b is greater than that at the
// end of a; false where what stands before it differs.
func apart(a, b string) (int, bool) {
	headA, tailA := splitNumber(a)
	headB, tailB := splitNumber(b)
	x, errX := strconv.Atoi(tailA)
	y, errY := strconv.Atoi(tailB)
	return y - x, headA == headB && errX == nil && errY == nil
}

// splitNumber parts text from the digits at its end.
func splitNumber(text string) (head, number string) {
	i := len(strings.TrimRight(text, "0123456789"))
	return text[:i], text[i:]
}

func (t serialTest) record(s *subject) string { return build.Name(s.Serial) }

type daysTest struct {
	*DateRange
	delivered bool
}

func (t daysTest) rule() string {
	if t.delivered {
		return "DELIVERED"
	}
	return "BUILT"
}

func (t daysTest) day(s *subject) vehicle.Date {
	if t.delivered {
		return s.Delivered
	}
	return s.Built
}

// judge takes a vehicle without a day of delivery for one that is at the works,
// as the build record does: it comes into the set with its delivery.
func (t daysTest) judge(s *subject) truth {
	d := t.day(s)
	switch {
	case d.IsZero() && t.delivered:
		return no
	case d.IsZero():
		return unknown
	}
	return truthOf(!(!t.Start.IsZero() && d.Before(t.Start)) && !(!t.End.IsZero() && d.After(t.End)))
}

func (t daysTest) fact(s *subject) string {
	d := t.day(s)
	switch {
	case d.IsZero() && t.delivered:
		return "It has not been delivered"
	case d.IsZero():
		return "The day it was built is not on record"
	case t.delivered:
		return "It was delivered on " + d.Long()
	}
	return "It was built on " + d.Long()
}

func (t daysTest) wanted() string {
	verb := "built"
	if t.delivered {
		verb = "delivered"
	}
	switch {
	case !t.Start.IsZero() && !t.End.IsZero():
		return fmt.Sprintf("%s from %s to %s", verb, t.Start.Long(), t.End.Long())
	case !t.Start.IsZero():
		return fmt.Sprintf("%s from %s on", verb, t.Start.Long())
	}
	return fmt.Sprintf("%s until %s", verb, t.End.Long())
}

func (t daysTest) off(s *subject) (string, bool) {
	d := t.day(s)
	switch {
	case d.IsZero():
		return "", false
	case !t.Start.IsZero() && d.Before(t.Start):
		n := d.DaysUntil(t.Start)
		return days(n) + " before the first day", n <= closeDays
	case !t.End.IsZero() && d.After(t.End):
		n := t.End.DaysUntil(d)
		return days(n) + " after the last day", n <= closeDays
	}
	return "", false
}

func (t daysTest) record(s *subject) string { return build.Name(s.Serial) }

type wordTest struct {
	what  string // "market"
	words []string
}

func (t wordTest) of(s *subject) string {
	if t.what == "market" {
		return s.Market
	}
	return s.Wheelbase
}

func (t wordTest) rule() string { return strings.ToUpper(t.what) }

func (t wordTest) judge(s *subject) truth {
	if t.of(s) == "" {
		return unknown
	}
	return truthOf(slices.Contains(t.words, t.of(s)))
}

func (t wordTest) fact(s *subject) string {
	if t.of(s) == "" {
		return "Its " + t.what + " is not on record"
	}
	return "Its " + t.what + " is " + t.called(t.of(s))[0]
}

func (t wordTest) wanted() string {
	return "whose " + t.what + " is " + wording.List(t.called(t.words...), "or")
}

// called are its words for people: markets are on record by the codes of countries.
func (t wordTest) called(words ...string) []string {
	if t.what == "market" {
		return wording.Countries(words)
	}
	return words
}

func (t wordTest) off(*subject) (string, bool) { return "", false }

func (t wordTest) record(s *subject) string { return build.Name(s.Serial) }

type useTest struct{ *UseCondition }

func (t useTest) rule() string { return "USE" }

// judge takes it for unknown how a vehicle is used of which nobody ever said
// anything; where something was said, what was not said is not so.
func (t useTest) judge(s *subject) truth {
	if len(s.Uses) == 0 {
		return unknown
	}
	return truthOf(t.found(s) != nil)
}

func (t useTest) found(s *subject) *schedule.UseFact {
	for i := range s.Uses {
		u := &s.Uses[i]
		if !slices.Contains(t.Kinds, u.Kind) || u.Start.After(s.on) || !t.Ever && !u.End.IsZero() && u.End.Before(s.on) {
			continue
		}
		return u
	}
	return nil
}

func (t useTest) fact(s *subject) string {
	if len(s.Uses) == 0 {
		return "Nothing is on record of how it is used"
	}
	u := t.found(s)
	switch {
	case u == nil && t.Ever:
		return "Its record never had " + t.kinds()
	case u == nil:
		return "Its record does not have " + t.kinds() + " today"
	case u.End.IsZero():
		return "Its record has " + u.Kind.Words() + " since " + u.Start.Long()
	}
	return "Its record has " + u.Kind.Words() + " from " + u.Start.Long() + " to " + u.End.Long()
}

func (t useTest) kinds() string {
	var words []string
	for _, k := range t.Kinds {
		words = append(words, k.Words())
	}
	return wording.List(words, "or")
}

func (t useTest) wanted() string {
	if t.Ever {
		return "that have or had " + t.kinds() + " on record"
	}
	return "that have " + t.kinds() + " on record today"
}

func (t useTest) off(*subject) (string, bool) { return "", false }

func (t useTest) record(s *subject) string { return "vehicles/" + string(s.Serial) }

type expressionTest struct {
	text      string
	predicate vehicle.Predicate
}

func (t expressionTest) rule() string { return "EXPRESSION" }

// judge takes an expression that asks for what is not on the vehicle, without
// looking first, for unknown, as the catalogue does.
func (t expressionTest) judge(s *subject) truth {
	holds, err := t.predicate.Applies(s.Makeup)
	if err != nil {
		return unknown
	}
	return truthOf(holds)
}

func (t expressionTest) fact(s *subject) string {
	switch t.judge(s) {
	case yes:
		return "The expression " + t.text + " holds for what it is made up of today"
	case no:
		return "The expression " + t.text + " does not hold for what it is made up of today"
	}
	return "The expression " + t.text + " asks for what is not on it today"
}

func (t expressionTest) wanted() string { return "for which " + t.text + " holds" }

func (t expressionTest) off(*subject) (string, bool) { return "", false }

func (t expressionTest) record(s *subject) string { return build.Name(s.Serial) }

func days(n int) string { return wording.Count(n, "day") }

func spoken(id string) string { return strings.ReplaceAll(id, "-", " ") }
