package parts

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Rules that later decisions ask for again.
const (
	ownerModification = "OWNER_MODIFICATION"
	campaignOutranks  = "CAMPAIGN_OUTRANKS"
	buildOutranks     = "BUILD_OUTRANKS"
)

// reason makes a reason; facts are names and values in turn.
func reason(rule, record, sentence string, facts ...string) vehicle.Reason {
	r := vehicle.Reason{Rule: rule, Record: record, Sentence: sentence}
	for i := 0; i+1 < len(facts); i += 2 {
		if facts[i+1] != "" {
			r.Facts = append(r.Facts, vehicle.Fact{Name: facts[i], Value: facts[i+1]})
		}
	}
	return r
}

// both are the two facts that every reason about a difference holds.
func (s *site) both() []string {
	return []string{"fitted_part", s.fittedPart(), "specified_part", s.specifiedPart()}
}

func (s *site) about(rule, sentence string) *vehicle.Reason {
	r := reason(rule, s.record(), sentence, s.both()...)
	return &r
}

// record is the record behind what is fitted.
func (s *site) record() string {
	if s.fitted != nil && s.fitted.Change != "" {
		return s.fitted.Change
	}
	if s.specified != nil {
		return build.ReleaseName(s.specified.Release)
	}
	return ""
}

func (s *site) bareReason() *vehicle.Reason {
	return s.about("POSITION_BARE", fmt.Sprintf("Nothing stands at the %s now; the specification calls for %s.",
		spoken(s.position), s.specifiedPart()))
}

func (s *site) ownerReason() *vehicle.Reason {
	calls := "has nothing at the " + spoken(s.position)
	if s.specifiedPart() != "" {
		calls = "calls for " + s.specifiedPart()
	}
	return s.about(ownerModification, fmt.Sprintf(
		"The vehicle carries %s by the owner's own modification; the specification %s.", s.fittedPart(), calls))
}

// ownersStandardReason is for an owner who fitted what the specification
// calls for anyway; nil for everybody else.
func (s *site) ownersStandardReason() *vehicle.Reason {
	if s.fitted.Origin != build.FromOwner {
		return nil
	}
	return s.about("OWNER_FITTED_STANDARD", fmt.Sprintf("The owner fitted %s, which is what the specification calls for.", s.fittedPart()))
}

// refinedReason is for a vehicle that stands as its release says, where an
// application gives another part.
func (s *site) refinedReason() *vehicle.Reason {
	return s.about("APPLICATION_REFINES", fmt.Sprintf("The release names %s; the application gives %s for this vehicle.", s.fittedPart(), s.specifiedPart()))
}

// strangeReason says that what stands there is not what the small parts of the
// catalogue are for; nil when it is.
func (s *site) strangeReason() *vehicle.Reason {
	switch {
	case s == nil:
		return nil
	case s.fitted == nil:
		return s.bareReason()
	case s.fitted.Origin == build.FromOwner:
		return s.ownerReason()
	case s.fittedPart() != s.specifiedPart() && s.specifiedPart() != "":
		return s.differsReason()
	}
	return nil
}

func (s *site) unspecifiedReason() *vehicle.Reason {
	return s.about("FITTED_BEYOND_SPECIFICATION", fmt.Sprintf(
		"The vehicle carries %s; the specification has nothing at the %s.", s.fittedPart(), spoken(s.position)))
}

func (s *site) outranksReason(rule, who string) *vehicle.Reason {
	return s.about(rule, fmt.Sprintf("%s put %s in place of %s, and that outranks the release: the part to order is found from %s.",
		wording.UpperFirst(who), s.fittedPart(), s.specifiedPart(), s.fittedPart()))
}

func (s *site) sameChainReason() *vehicle.Reason {
	return s.about("FITTED_IN_CHAIN", fmt.Sprintf("The vehicle carries %s, which supersessions connect with the specified %s.",
		s.fittedPart(), s.specifiedPart()))
}

func (s *site) differsReason() *vehicle.Reason {
	return s.about("FITTED_DIFFERS", fmt.Sprintf(
		"The vehicle carries %s, which nothing on record connects with the specified %s.", s.fittedPart(), s.specifiedPart()))
}

// stepReason says what one supersession did.
func stepReason(s *Supersession) vehicle.Reason {
	var b strings.Builder
	fmt.Fprintf(&b, "%s took the place of %s", lineList(s.New), s.Old)
	if len(s.AlsoOld) > 0 {
		fmt.Fprintf(&b, " and of %s, one for all of them,", wording.List(s.AlsoOld, "and"))
	}
	if !s.Effective.IsZero() {
		fmt.Fprintf(&b, " on %s", s.Effective.Long())
	}
	if len(s.Together) > 0 {
		fmt.Fprintf(&b, ", together with %s", wording.List(s.Together, "and"))
	}
	if s.TwoWay {
		b.WriteString("; either may stand in for the other")
	}
	b.WriteString(".")
	if s.Text != "" {
		b.WriteString(" " + wording.Ended(s.Text))
	}
	return reason("SUPERSEDED", SupersessionName(s.ID), b.String(), "old_part", s.Old, "new_parts", lineList(s.New),
		"effective_date", isoDate(s.Effective), "two_way", strconv.FormatBool(s.TwoWay), "together_with", strings.Join(s.Together, ", "),
		"also_old_parts", strings.Join(s.AlsoOld, ", "))
}

// reason says why a supersession does not hold.
func (o obstacle) reason(release string) vehicle.Reason {
	s := o.step
	facts := []string{"old_part", s.Old, "new_parts", lineList(s.New)}
	takes := fmt.Sprintf("%s takes the place of %s only ", lineList(s.New), s.Old)
	rule, sentence := "", ""
	switch o.kind {
	case tooEarly:
		rule, sentence = "SUPERSESSION_LATER", takes+"from "+s.Effective.Long()+"."
		facts = append(facts, "effective_date", isoDate(s.Effective))
	case otherRelease:
		rule, sentence = "SUPERSESSION_OTHER_RELEASE", fmt.Sprintf("%sfor release %s; this position follows %s.", takes, wording.List(s.Releases, "and"), release)
		facts = append(facts, "releases", strings.Join(s.Releases, ", "), "release", release)
	case notForRelease:
		rule, sentence = "PART_OTHER_RELEASE", fmt.Sprintf("%s would take the place of %s, but %s is not for release %s.", lineList(s.New), s.Old, o.part, release)
		facts = append(facts, "part", o.part, "release", release)
	case unknownPart:
		rule, sentence = "PART_UNKNOWN", fmt.Sprintf("%s would take the place of %s, but %s is not in the catalogue.", lineList(s.New), s.Old, o.part)
		facts = append(facts, "part", o.part)
	case missing:
		rule, sentence = ConditionNotMet, fmt.Sprintf("%stogether with %s, and %s is not on this vehicle.", takes, wording.List(s.Together, "and"), o.part)
		facts = append(facts, "missing_part", o.part)
	}
	return reason(rule, SupersessionName(s.ID), sentence, facts...)
}

// lineList writes lines for print: "AP-1 and 2 of AP-2".
func lineList(lines []Line) string {
	texts := make([]string, len(lines))
	for i, l := range lines {
		texts[i] = l.Part
		if l.Count() > 1 {
			texts[i] = fmt.Sprintf("%d of %s", l.Count(), l.Part)
		}
	}
	return wording.List(texts, "and")
}

func isoDate(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}
