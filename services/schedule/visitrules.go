package schedule

import (
	"fmt"
	"strconv"

	"halfshaft/services/fault"
)

// VisitRules say what grouping work into visits is worth, in whole units of the
// works' money, and what goes together. The zero value is what the works did
// not say.
type VisitRules struct {
	VisitCost int         // of a visit by itself
	ItemCost  int         // of doing an item once, for items that do not say
	Together  [][2]string // items done in one visit wherever their dates allow it
	Apart     [][2]string // items never done in one visit
}

// What is taken where the works did not say (common practice, no source): a
// visit is worth more to an owner than most of what is thrown away by coming
// some months early.
const (
	usualVisitCost = 100
	usualItemCost  = 60
)

// Complete fills in what was not said.
func (r VisitRules) Complete() VisitRules {
	if r.VisitCost == 0 {
		r.VisitCost = usualVisitCost
	}
	if r.ItemCost == 0 {
		r.ItemCost = usualItemCost
	}
	return r
}

const (
	maxMoney = 1_000_000
	maxPairs = 50
)

// ValidateRules gives every fault of visit rules for a programme's items.
func (p *Plan) ValidateRules(r *VisitRules) []fault.Field {
	v := &validator{}
	v.rules("rules", r, func(id string) bool { _, ok := p.index[id]; return ok })
	return v.wrong
}

// rules checks visit rules against the items that there are.
func (v *validator) rules(at string, r *VisitRules, known func(id string) bool) {
	v.must(r.VisitCost >= 0 && r.VisitCost <= maxMoney, at+".visit_cost", strconv.Itoa(r.VisitCost), "0 to 1000000")
	v.must(r.ItemCost >= 0 && r.ItemCost <= maxMoney, at+".item_cost", strconv.Itoa(r.ItemCost), "0 to 1000000")
	forced := map[[2]string]bool{}
	for _, list := range []struct {
		name  string
		pairs [][2]string
	}{{".together", r.Together}, {".apart", r.Apart}} {
		v.must(len(list.pairs) <= maxPairs, at+list.name, strconv.Itoa(len(list.pairs))+" pairs", "at most 50")
		for n, pair := range list.pairs {
			where := fmt.Sprintf("%s%s[%d]", at, list.name, n)
			v.must(known(pair[0]), where+".item_id", pair[0], "an item of the programme")
			v.must(known(pair[1]) && pair[1] != pair[0], where+".other_item_id", pair[1], "another item of the programme")
			if list.name == ".together" {
				forced[pair], forced[[2]string{pair[1], pair[0]}] = true, true
			} else {
				v.must(!forced[pair], where, pair[0]+" and "+pair[1], "no two items that are to be done together")
			}
		}
	}
}
