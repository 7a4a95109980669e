package parts

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Conditions say for which vehicles a row of the catalogue holds. Everything
// that is given must be met; nothing given means every vehicle.
type Conditions struct {
	Releases    []string // whose standard the position follows; empty for all
	Options     []string // that must be in force
	Without     []string // options that must not be
	AppliesWhen string   // an expression over the vehicle's makeup; empty for none
	FirstSerial vehicle.Serial
	LastSerial  vehicle.Serial // itself included
	Except      []vehicle.Serial
	BuiltFrom   vehicle.Date
	BuiltUntil  vehicle.Date // itself included
	Markets     []string
	Lots        []string // of the component there, or of the assembly: one must be on record
	Together    []string // parts that must all be on the vehicle, or what took their place
	Otherwise   bool     // holds where no other row of the same position and kind does

	predicate vehicle.Predicate // of AppliesWhen, see Catalogue.compile; nil for none, or one that is wrong
}

// truth says whether something holds, as far as the records tell.
type truth int8

const (
	no truth = iota
	unknown
	yes
)

// condition names one of the conditions.
type condition int8

const (
	noCondition condition = iota
	byRelease
	byOption
	byMissingOption
	bySerial
	byBuilt
	byMarket
	byTogether
	byPredicate
	byLot
)

// subject is what conditions are judged on: one position of one vehicle.
type subject struct {
	serial   vehicle.Serial
	release  string // whose standard the position follows
	options  []string
	built    vehicle.Date
	market   string
	place    string   // the position whose component bears the lot
	lots     []string // on record at the position and its assembly
	bare     bool     // whether something that stands there has no lot on record
	makeup   *vehicle.Makeup
	anywhere func(number string) bool // whether a part, or what took its place, is on the vehicle
}

// judge says whether the conditions hold, otherwise aside, and which one
// decided against, or is not known.
func (c *Conditions) judge(s *subject) (truth, condition) {
	open := noCondition
	for what := byRelease; what <= byLot; what++ {
		switch c.meets(what, s) {
		case no:
			return no, what
		case unknown:
			if open == noCondition {
				open = what
			}
		}
	}
	if open != noCondition {
		return unknown, open
	}
	return yes, noCondition
}

func (c *Conditions) meets(what condition, s *subject) truth {
	switch what {
	case byRelease:
		return truthOf(len(c.Releases) == 0 || slices.Contains(c.Releases, s.release))
	case byOption:
		return truthOf(containsAll(s.options, c.Options))
	case byMissingOption:
		return truthOf(!slices.ContainsFunc(c.Without, func(o string) bool { return slices.Contains(s.options, o) }))
	case bySerial:
		return truthOf(c.inRange(s.serial))
	case byBuilt:
		return c.builtThen(s.built)
	case byMarket:
		return c.forMarket(s.market)
	case byTogether:
		return truthOf(!slices.ContainsFunc(c.Together, func(p string) bool { return !s.anywhere(p) }))
	case byPredicate:
		return c.applies(s.makeup)
	case byLot:
		return c.ofLot(s)
	}
	return yes
}

func truthOf(b bool) truth {
	if b {
		return yes
	}
	return no
}

func containsAll(list, wanted []string) bool {
	return !slices.ContainsFunc(wanted, func(w string) bool { return !slices.Contains(list, w) })
}

// inRange says whether a serial lies in the range and is not excepted.
func (c *Conditions) inRange(s vehicle.Serial) bool {
	switch {
	case c.FirstSerial != "" && compareSerials(s, c.FirstSerial) < 0,
		c.LastSerial != "" && compareSerials(s, c.LastSerial) > 0:
		return false
	}
	return !slices.ContainsFunc(c.Except, func(e vehicle.Serial) bool { return e.Body() == s.Body() })
}

// compareSerials puts serials in the order in which a works gives them out:
// the shorter first, then by text, the check character aside.
func compareSerials(a, b vehicle.Serial) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a.Body(), b.Body()))
}

func (c *Conditions) builtThen(built vehicle.Date) truth {
	switch {
	case c.BuiltFrom.IsZero() && c.BuiltUntil.IsZero():
		return yes
	case built.IsZero():
		return unknown
	case !c.BuiltFrom.IsZero() && built.Before(c.BuiltFrom), !c.BuiltUntil.IsZero() && built.After(c.BuiltUntil):
		return no
	}
	return yes
}

func (c *Conditions) forMarket(market string) truth {
	switch {
	case len(c.Markets) == 0:
		return yes
	case market == "":
		return unknown
	}
	return truthOf(slices.Contains(c.Markets, market))
}

// applies evaluates the expression. One that asks for what is not on the vehicle
// now, without looking first, is not known: Check finds the slip for what the
// releases build, and what is off the vehicle for a while comes back as it was.
func (c *Conditions) applies(m *vehicle.Makeup) truth {
	switch {
	case c.AppliesWhen == "":
		return yes
	case c.predicate == nil: // Check refuses it
		return no
	}
	holds, err := c.predicate.Applies(*m)
	if err != nil {
		return unknown
	}
	return truthOf(holds)
}

// ofLot looks for one of the lots. That another is on record rules these out
// only where everything that stands there has its lot on record: the lot of a
// seal says nothing of the lot of the axle.
func (c *Conditions) ofLot(s *subject) truth {
	switch {
	case len(c.Lots) == 0:
		return yes
	case slices.ContainsFunc(s.lots, c.names):
		return yes
	case s.bare || len(s.lots) == 0:
		return unknown
	}
	return no
}

// names says whether a lot is one of those, in whatever way people write it.
func (c *Conditions) names(lot string) bool {
	lot = build.Fold(lot)
	return slices.ContainsFunc(c.Lots, func(l string) bool { return build.Fold(l) == lot })
}

// row is a record that holds for some vehicles.
type row interface {
	conditions() *Conditions
	subject() string // what tells rows of one position apart that do not compete: the characteristic
	record() string  // its resource name
}

// verdict is what became of one row.
type verdict[R row] struct {
	row R
	is  truth
	why condition // what decided against, or is not known
}

// decide chooses among competing rows those that hold or may hold. One that
// certainly holds and no other is a decision; more are candidates. The rows
// that do not hold are given beside them, for the explanation.
func decide[R row](rows []R, s *subject) (candidates, others []verdict[R]) {
	var otherwise []verdict[R]
	certain := false
	for _, r := range rows {
		c := r.conditions()
		is, why := c.judge(s)
		v := verdict[R]{r, is, why}
		switch {
		case is == no:
			others = append(others, v)
		case c.Otherwise:
			otherwise = append(otherwise, v)
		default:
			certain = certain || is == yes
			candidates = append(candidates, v)
		}
	}
	if certain {
		return candidates, append(others, otherwise...)
	}
	return append(candidates, otherwise...), others
}
