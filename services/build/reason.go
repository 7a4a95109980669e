package build

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// rule is one kind of step that led to what stands at a position.
type rule int

const (
	ruleBuildRecord   rule = iota // the build record lists the unit
	ruleDeviation                 // an approved deviation concerns the position
	ruleFitted                    // a change fitted the unit
	ruleAfterCampaign             // the unit replaced what a campaign had fitted
	ruleOverhauled
	ruleOptionAdded
	ruleOptionRemoved
)

// step is what happened at a position, kept as data: most configurations are
// computed by programs that never read the sentences.
type step struct {
	rule      rule
	change    *Change
	unit      *Component
	option    *Option
	deviation *Deviation
	record    *Record // of a step of the build
}

// Reasons says step by step why this stands here: what the specification
// calls for, what the records say instead, and whether the two agree.
func (f *Fitted) Reasons() []vehicle.Reason {
	position := spoken(f.Component.Position)
	reasons := f.called.reasons(position)
	for _, s := range f.steps {
		reasons = append(reasons, s.reason())
	}
	if part := f.called.part(); part != "" && part != f.Component.Part {
		reasons = append(reasons, vehicle.Reason{
			Rule:     "NOT_STANDARD",
			Facts:    []vehicle.Fact{{Name: "fitted_part", Value: f.Component.Part}, {Name: "standard_part", Value: part}},
			Record:   ReleaseName(f.called.release.ID),
			Sentence: fmt.Sprintf("So %s stands where the specification calls for %s.", f.Component.Part, part),
		})
	}
	if r, ok := f.traitsReason(); ok {
		reasons = append(reasons, r)
	}
	return reasons
}

// reasons says what the specification calls for.
func (c called) reasons(position string) []vehicle.Reason {
	if c.release == nil {
		return nil
	}
	var reasons []vehicle.Reason
	if c.upgrade != nil {
		reasons = append(reasons, vehicle.Reason{
			Rule: "UPGRADED", Record: c.upgrade.Name(),
			Facts: []vehicle.Fact{{Name: "change_date", Value: c.upgrade.Date.String()}, {Name: "release", Value: c.release.ID}},
			Sentence: fmt.Sprintf("On %s the %s was brought to release %s.",
				c.upgrade.Date.Long(), position, c.release.ID),
		})
	}
	record := ReleaseName(c.release.ID)
	facts := []vehicle.Fact{{Name: "release", Value: c.release.ID}}
	switch {
	case c.standard != nil:
		reasons = append(reasons, vehicle.Reason{
			Rule: "RELEASE_STANDARD", Record: record, Facts: append(facts, vehicle.Fact{Name: "part", Value: c.standard.Part}),
			Sentence: fmt.Sprintf("Release %s has %s at the %s.", c.release.ID, c.standard.Part, position),
		})
	case c.option == nil:
		reasons = append(reasons, vehicle.Reason{
			Rule: "NOT_IN_SPECIFICATION", Record: record, Facts: facts,
			Sentence: fmt.Sprintf("Release %s and the options of this vehicle have nothing at the %s.", c.release.ID, position),
		})
	}
	if c.option != nil {
		reasons = append(reasons, c.optionReason(position))
	}
	return reasons
}

// optionReason says what the option makes of the standard.
func (c called) optionReason(position string) vehicle.Reason {
	r := vehicle.Reason{Record: ReleaseName(c.release.ID), Facts: []vehicle.Fact{{Name: "option", Value: c.option.ID}}}
	name := c.option.label()
	switch {
	case c.fitment == nil:
		r.Rule, r.Sentence = "OPTION_REMOVES", fmt.Sprintf("The option %s leaves the %s empty.", name, position)
		return r
	case c.standard != nil:
		r.Rule, r.Sentence = "OPTION_REPLACES", fmt.Sprintf("The option %s has %s there instead.", name, c.fitment.Part)
	default:
		r.Rule, r.Sentence = "OPTION_ADDS", fmt.Sprintf("The option %s has %s at the %s.", name, c.fitment.Part, position)
	}
	r.Facts = append(r.Facts, vehicle.Fact{Name: "part", Value: c.fitment.Part})
	return r
}

// label is the option for print: identifier and title.
func (o *Option) label() string {
	if o.Title == "" {
		return o.ID
	}
	return o.ID + " (" + o.Title + ")"
}

func (s step) reason() vehicle.Reason {
	switch s.rule {
	case ruleBuildRecord:
		return vehicle.Reason{
			Rule: "BUILD_RECORD", Facts: unitFacts(s.unit), Record: Name(s.record.Serial),
			Sentence: fmt.Sprintf("The build record lists %s.", describe(s.unit)),
		}
	case ruleDeviation:
		d := s.deviation
		return vehicle.Reason{
			Rule: "DEVIATION", Record: Name(s.record.Serial), Facts: []vehicle.Fact{{Name: "deviation", Value: d.ID}, {Name: "approved_by", Value: d.ApprovedBy}},
			Sentence: fmt.Sprintf("Deviation %s, approved by %s on %s: %s", d.ID, d.ApprovedBy, d.Approved.Long(), wording.Ended(d.Text)),
		}
	}
	r := vehicle.Reason{Record: s.change.Name(), Facts: []vehicle.Fact{{Name: "change_date", Value: s.change.Date.String()}}}
	s.changed(&r)
	return r
}

// changed says what a change did to the position.
func (s step) changed(r *vehicle.Reason) {
	c, day := s.change, s.change.Date.Long()
	switch s.rule {
	case ruleFitted:
		r.Rule, r.Sentence = fittedRule(c), fittedSentence(c, s.unit)
		r.Facts = append(r.Facts, unitFacts(s.unit)...)
		if c.Counterpart != "" {
			r.Facts = append(r.Facts, vehicle.Fact{Name: "came_from", Value: serialOf(c.Counterpart)})
		}
	case ruleAfterCampaign:
		r.Rule = "AFTER_CAMPAIGN"
		r.Facts = append(r.Facts, vehicle.Fact{Name: "campaign_part", Value: s.unit.Part})
		r.Sentence = fmt.Sprintf("It replaced %s, which a campaign had fitted: the works should look at this.", s.unit.Part)
	case ruleOverhauled:
		r.Rule = "OVERHAULED"
		r.Sentence = fmt.Sprintf("On %s the unit was overhauled in place, so its bedding-in began again on that day.", day)
	case ruleOptionAdded:
		r.Rule = "OPTION_ADDED_LATER"
		r.Facts = append(r.Facts, vehicle.Fact{Name: "option", Value: c.Option})
		r.Sentence = fmt.Sprintf("On %s the option %s was added%s.", day, s.option.label(), byOwner(c))
	case ruleOptionRemoved:
		r.Rule = "OPTION_TAKEN_OFF"
		r.Facts = append(r.Facts, vehicle.Fact{Name: "option", Value: c.Option})
		r.Sentence = fmt.Sprintf("On %s the option %s was taken off%s.", day, s.option.label(), byOwner(c))
	}
}

func byOwner(c *Change) string {
	if c.Source == SourceOwner {
		return " by the owner"
	}
	return ""
}

func fittedRule(c *Change) string {
	switch {
	case c.Counterpart != "":
		return "MOVED_HERE"
	case c.Source == SourceCampaign:
		return "CAMPAIGN_FITTED"
	case c.Source == SourceOwner:
		return "OWNER_FITTED"
	case c.Source == SourceWorks:
		return "WORKS_FITTED"
	}
	return "SERVICE_FITTED"
}

func fittedSentence(c *Change, u *Component) string {
	day, what := c.Date.Long(), describe(u)
	switch fittedRule(c) {
	case "MOVED_HERE":
		return fmt.Sprintf("On %s %s was moved here from %s.", day, what, serialOf(c.Counterpart))
	case "CAMPAIGN_FITTED":
		return fmt.Sprintf("On %s a campaign fitted %s, which outranks the entry of the build.", day, what)
	case "OWNER_FITTED":
		return fmt.Sprintf("On %s the owner had %s fitted: a modification of their own, not the standard.", day, what)
	case "WORKS_FITTED":
		return fmt.Sprintf("On %s the works fitted %s.", day, what)
	}
	return fmt.Sprintf("On %s %s was fitted in service.", day, what)
}

// serialOf is the serial in the name of a change.
func serialOf(changeName string) string {
	parts := strings.Split(changeName, "/")
	if len(parts) < 2 {
		return changeName
	}
	return parts[1]
}

// describe is a unit for print: "AP-2041, serial T1190, lot L07".
func describe(u *Component) string {
	words := []string{u.Part}
	if u.Part == "" {
		words[0] = "a unit without a part number"
	}
	if u.Serial != "" {
		words = append(words, "serial "+u.Serial)
	}
	if u.Lot != "" {
		words = append(words, "lot "+u.Lot)
	}
	return strings.Join(words, ", ")
}

func unitFacts(u *Component) []vehicle.Fact {
	facts := []vehicle.Fact{{Name: "part", Value: u.Part}}
	if u.Serial != "" {
		facts = append(facts, vehicle.Fact{Name: "serial", Value: u.Serial})
	}
	if u.Lot != "" {
		facts = append(facts, vehicle.Fact{Name: "lot", Value: u.Lot})
	}
	if !u.Prior.IsZero() {
		facts = append(facts, vehicle.Fact{Name: "prior_distance", Value: u.Prior.String()})
	}
	return facts
}
