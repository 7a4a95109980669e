package parts

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// site is a position of the vehicle with what its specification calls for,
// what the applications give, and what stands there; any may be missing.
type site struct {
	position   string
	called     string // the words of the position and its other words, joined by hyphens
	root       *site  // the assembly it is on, as the releases name it; nil for a position that they name
	on         *site  // what it is on directly: the root, or another place on it; nil where root is
	specified  *build.Specified
	fitted     *build.Fitted
	candidates []verdict[*Application] // those that hold; more than one when nothing decides
	others     []verdict[*Application] // those that do not
	subject    *subject
	circumstances
}

// call gives the site the words by which people ask for it.
func (s *site) call() {
	if s.called = s.catalogue.placeNames.called[s.position]; s.called == "" {
		s.called = s.position
	}
}

// top is the assembly that the site is on; itself where it is on none.
func (s *site) top() *site {
	if s.root != nil {
		return s.root
	}
	return s
}

// title is what the position is called.
func (s *site) title() string {
	if p := s.catalogue.positions.Get(s.position); p != nil {
		return p.Title
	}
	return wording.UpperFirst(spoken(s.position))
}

// names says whether what was asked is exactly one of the other words of the
// position.
func (s *site) names(a asked) bool {
	p := s.catalogue.positions.Get(s.position)
	return p != nil && slices.ContainsFunc(p.Words, func(name string) bool { return s.catalogue.exactly(&a, name, []string{s.position}, EitherHand) })
}

// decide looks which applications hold here.
func (s *site) decide(rows []*Application, on *subject) {
	s.subject = on
	if len(rows) > 0 {
		s.candidates, s.others = decide(rows, on)
	}
}

// application is the one that decided; nil when none did.
func (s *site) application() *Application {
	if len(s.candidates) != 1 {
		return nil
	}
	return s.candidates[0].row
}

// specifiedPart is what belongs there; empty when nothing does, or nothing
// decides.
func (s *site) specifiedPart() string {
	switch a := s.application(); {
	case a != nil:
		return a.Part
	case s.specified != nil && len(s.candidates) == 0:
		return s.specified.Part
	}
	return ""
}

func (s *site) fittedPart() string {
	if s.fitted == nil {
		return ""
	}
	return s.fitted.Component.Part
}

// nothingSupplied says whether the applications give no part, whichever of them
// holds, and nobody has recorded that something stands there: what is there is
// only what the release and its options have, which an application outranks.
func (s *site) nothingSupplied() bool {
	if len(s.candidates) == 0 || slices.ContainsFunc(s.candidates, func(v verdict[*Application]) bool { return v.row.Part != "" }) {
		return false
	}
	return s.fittedPart() == "" || s.fitted.Origin == build.FromRelease || s.fitted.Origin == build.FromOption
}

// quantity is how many stand at the position, or are to, by the application
// that gives the part; nil for none.
func (s *site) quantity(a *Application) int {
	switch {
	case a != nil && a.Part != "" && (s.root != nil || a.Quantity > 0):
		return a.Count()
	case s.fitted != nil && s.fitted.Quantity > 0:
		return s.fitted.Quantity
	case s.specified != nil:
		return s.specified.Quantity
	}
	return 1
}

// reasons says what the records have about the position.
func (s *site) reasons() []vehicle.Reason {
	var all []vehicle.Reason
	switch {
	case s.fitted != nil:
		all = s.fittedReasons()
	case s.specified != nil:
		all = s.specified.Reasons()
	}
	if a := s.application(); a != nil {
		all = append(slices.Clip(all), applicationReason(a))
		if s.fitted == nil { // else its own reasons say so
			all = append(all, s.assumptions(&a.Conditions)...)
		}
	}
	return all
}

// base is a part from which the one to order is found.
type base struct {
	*site
	part  string
	route route
	by    *Application    // the row that gives the part, or would; nil where none does
	why   *vehicle.Reason // what decided between specified and fitted; nil when they agree
}

func (s *site) base(part string, why *vehicle.Reason) base {
	return base{site: s, part: part, route: s.from(part), by: s.application(), why: why}
}

// bases decides between what is specified and what is fitted. Two mean that
// the records cannot tell which is wanted.
//
// What a campaign fitted, and what the build record lists, stands above the
// release. An owner's own part is never taken for the standard. A part that
// was fitted in service, or that stands since before the specification called
// for another, and that no supersession connects with the specified one may
// have been right or wrong: both are given.
func (s *site) bases() []base {
	if all := s.contested(); len(all) > 0 {
		return all
	}
	specified, fitted := s.specifiedPart(), s.fittedPart()
	switch {
	case specified == "" && (fitted == "" || s.nothingSupplied()):
		return nil // nothing is supplied, or no application holds: see refusal
	case fitted == "" && s.root != nil:
		return []base{s.base(specified, nil)} // nobody lists what small parts stand where
	case fitted == "":
		return []base{s.base(specified, s.bareReason())}
	case specified == "" && s.fitted.Origin == build.FromOwner:
		if s.catalogue.Part(fitted) == nil {
			return nil
		}
		return []base{s.base(fitted, s.ownerReason())}
	case specified == "":
		return []base{s.base(fitted, s.unspecifiedReason())}
	case specified == fitted:
		return []base{s.base(specified, s.ownersStandardReason())}
	}
	switch origin := s.fitted.Origin; {
	case s.application() != nil && (origin == build.FromRelease || origin == build.FromOption):
		return []base{s.base(specified, s.refinedReason())}
	case origin == build.FromOwner:
		return []base{s.base(specified, s.ownerReason())}
	case origin == build.FromCampaign:
		return []base{s.base(fitted, s.outranksReason(campaignOutranks, "a campaign"))}
	case origin == build.FromBuild:
		return []base{s.base(fitted, s.outranksReason(buildOutranks, "the build record"))}
	}
	bySpecification, asFitted := s.base(specified, nil), s.base(fitted, nil)
	if bySpecification.route.meets(&asFitted.route) {
		connected := bySpecification
		if slices.Contains(asFitted.route.nodes, specified) {
			connected = asFitted // the older unit: a split on its way counts too
		}
		connected.why = s.sameChainReason()
		return []base{connected}
	}
	bySpecification.why = s.differsReason()
	if s.catalogue.Part(fitted) == nil {
		return []base{bySpecification}
	}
	asFitted.why = s.differsReason()
	return []base{bySpecification, asFitted}
}

// contested gives a base for each of the applications between which nothing
// decides, as far as they give a part; none where one decides.
func (s *site) contested() []base {
	if len(s.candidates) < 2 {
		return nil
	}
	var all []base
	for _, c := range s.candidates {
		if c.row.Part != "" {
			why := applicationReason(c.row)
			b := s.base(c.row.Part, &why)
			b.by = c.row
			all = append(all, b)
		}
	}
	return all
}

// unit is the component that stands there; nil for none.
func (s *site) unit() *build.Component {
	if s.fitted == nil {
		return nil
	}
	return &s.fitted.Component
}
