package parts

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// traitsOf is what a unit is like, and whether that is assumed. Where neither
// its record nor a release says it, the catalogue may: it knows parts that no
// vehicle left the works with.
func (c *Catalogue) traitsOf(f *build.Fitted) (traits []string, assumed bool) {
	if part := c.described(f); part != nil {
		return part.Traits, false
	}
	return f.Component.Traits, f.TraitsFrom == build.TraitsAssumed
}

// described is the entry of the catalogue that says what a unit is like of which
// the build service does not know it; nil for none.
func (c *Catalogue) described(f *build.Fitted) *Part {
	if f.TraitsFrom != build.TraitsAssumed && f.TraitsFrom != build.TraitsUnknown {
		return nil
	}
	if part := c.Find(f.Component.Part); part != nil && len(part.Traits) > 0 {
		return part
	}
	return nil
}

// traitsAssumed is the rule of the build service's reason that says so.
const traitsAssumed = "TRAITS_ASSUMED"

// fittedReasons says why what stands there stands there. What the build service
// has to assume of a part the catalogue may know.
func (s *site) fittedReasons() []vehicle.Reason {
	all := s.fitted.Reasons()
	part := s.catalogue.described(s.fitted)
	i := slices.IndexFunc(all, func(r vehicle.Reason) bool { return r.Rule == traitsAssumed })
	if part == nil || i < 0 {
		return all
	}
	all[i] = reason("TRAITS_OF_CATALOGUE", "parts/"+part.Number, fmt.Sprintf("The catalogue says what %s is like: %s.",
		part.Number, spoken(strings.Join(part.Traits, ", "))), "part", part.Number, "traits", strings.Join(part.Traits, ", "))
	return all
}

// assumptions are the reasons that say that what an expression asks about is
// only taken to be like the standard part.
func (s *site) assumptions(c *Conditions) []vehicle.Reason {
	var all []vehicle.Reason
	for i := range s.circumstances.fitted {
		f := &s.circumstances.fitted[i]
		if !mentions(c.AppliesWhen, f.Component.Position) {
			continue
		}
		if why, assumed := f.Assumption(); assumed && s.catalogue.described(f) == nil {
			all = append(all, why)
		}
	}
	return all
}

// mentions says whether an expression names a position.
func mentions(expression, position string) bool {
	return expression != "" && (strings.Contains(expression, `"`+position+`"`) || strings.Contains(expression, "'"+position+"'"))
}
