package parts

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// site is a position of the vehicle with what its specification calls for and
// what stands there; either may be missing.
type site struct {
	position  string
	specified *build.Specified
	fitted    *build.Fitted
	circumstances
}

// sites lists the positions of the vehicle, in order.
func (q *query) sites() []site {
	if q.all != nil {
		return q.all
	}
	fitted, specified := q.vehicle.Configuration.Fitted, q.vehicle.Specified
	all := make([]site, 0, max(len(fitted), len(specified)))
	known := make(map[routeKey]route, cap(all))
	for i, j := 0, 0; i < len(fitted) || j < len(specified); {
		s := site{}
		if j == len(specified) || (i < len(fitted) && fitted[i].Component.Position <= specified[j].Position) {
			s.position, s.fitted = fitted[i].Component.Position, &fitted[i]
			s.release = fitted[i].Release
		} else {
			s.position = specified[j].Position
		}
		if j < len(specified) && specified[j].Position == s.position {
			s.specified = &specified[j]
			s.release = specified[j].Release
			j++
		}
		if s.fitted != nil {
			i++
		}
		s.catalogue, s.on, s.circumstances.fitted, s.known = q.Catalogue, q.vehicle.Configuration.On, fitted, known
		if s.specifiedPart() != "" || s.fitted != nil {
			all = append(all, s)
		}
	}
	q.all = all
	return all
}

// site finds a position of the vehicle; nil when it has none of that name.
func (q *query) site(position string) *site {
	all := q.sites()
	i, ok := slices.BinarySearchFunc(all, position, func(s site, p string) int {
		switch {
		case s.position < p:
			return -1
		case s.position > p:
			return 1
		}
		return 0
	})
	if !ok {
		return nil
	}
	return &all[i]
}

func (s *site) specifiedPart() string {
	if s.specified == nil {
		return ""
	}
	return s.specified.Part
}

func (s *site) fittedPart() string {
	if s.fitted == nil {
		return ""
	}
	return s.fitted.Component.Part
}

// quantity is how many stand at the position, or are to.
func (s *site) quantity() int {
	switch {
	case s.fitted != nil && s.fitted.Quantity > 0:
		return s.fitted.Quantity
	case s.specified != nil:
		return s.specified.Quantity
	}
	return 1
}

// reasons says what the records have about the position.
func (s *site) reasons() []vehicle.Reason {
	if s.fitted != nil {
		return s.fitted.Reasons()
	}
	return s.specified.Reasons()
}

// base is a part from which the one to order is found.
type base struct {
	*site
	part  string
	route route
	why   *vehicle.Reason // what decided between specified and fitted; nil when they agree
}

func (s *site) base(part string, why *vehicle.Reason) base {
	return base{site: s, part: part, route: s.from(part), why: why}
}

// bases decides between what is specified and what is fitted. Two mean that
// the records cannot tell which is wanted.
//
// What a campaign fitted, and what the build record lists, stands above the
// release. An owner's own part is never taken for the standard. A part that
// was fitted in service and that no supersession connects with the specified
// one may have been right or wrong: both are given.
func (s *site) bases() []base {
	specified, fitted := s.specifiedPart(), s.fittedPart()
	switch {
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
	switch s.fitted.Origin {
	case build.FromOwner:
		return []base{s.base(specified, s.ownerReason())}
	case build.FromCampaign:
		return []base{s.base(fitted, s.outranksReason(campaignOutranks, "a campaign"))}
	case build.FromBuild:
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

// unit is the component that stands there; nil for none.
func (s *site) unit() *build.Component {
	if s.fitted == nil {
		return nil
	}
	return &s.fitted.Component
}
