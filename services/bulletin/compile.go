package bulletin

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What a set can be.
const (
	maxSerials    = 20_000 // of a list
	maxWords      = 500    // of any other list
	maxDepth      = 12     // of conditions in conditions
	maxConditions = 200
	maxExpression = 1_000 // bytes
)

// compiling makes a set ready, and collects what is wrong with it by the paths
// of the API's fields.
type compiling struct {
	compiler vehicle.PredicateCompiler
	remedy   map[string]bool
	wrong    []fault.Field
	units    []*fittedTest
	count    int
}

func (c *compiling) refuse(name, got, want string) {
	c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
}

func (c *compiling) err() error { return fault.InvalidFields(c.wrong) }

func (c *compiling) set(s *Set) *node {
	c.serials("set.serials", s.Serials, maxSerials)
	c.serials("set.except_serials", s.Except, maxSerials)
	if s.When == nil {
		if len(s.Serials) == 0 {
			c.refuse("set", "", "a list of serials, a condition, or both")
		}
		return nil
	}
	return c.condition("set.condition", s.When, 0, false)
}

func (c *compiling) serials(name string, serials []vehicle.Serial, most int) {
	if len(serials) > most {
		c.refuse(name, fmt.Sprintf("%d serials", len(serials)), fmt.Sprintf("at most %d", most))
		return
	}
	seen := map[vehicle.Serial]bool{}
	for i, s := range serials {
		c.serial(fmt.Sprintf("%s[%d]", name, i), s)
		if seen[s] {
			c.refuse(fmt.Sprintf("%s[%d]", name, i), string(s), "each serial once")
		}
		seen[s] = true
	}
}

func (c *compiling) serial(name string, s vehicle.Serial) {
	if !s.Valid() {
		c.refuse(name, string(s), "a serial with its check character, as in AM0147P")
	}
}

// condition makes a condition ready; nil where it is wrong. negated says
// whether it stands under an odd number of nots.
func (c *compiling) condition(at string, w *Condition, depth int, negated bool) *node {
	if c.count++; c.count > maxConditions || depth > maxDepth {
		if c.count == maxConditions+1 || depth > maxDepth {
			c.refuse(at, "", fmt.Sprintf("at most %d conditions, %d deep", maxConditions, maxDepth))
		}
		return nil
	}
	if n := w.given(); n != 1 {
		c.refuse(at, strconv.Itoa(n)+" conditions", "exactly one")
		return nil
	}
	switch {
	case w.All != nil:
		return c.several(at+".all.conditions", all, w.All, depth, negated)
	case w.Any != nil:
		return c.several(at+".any.conditions", one, w.Any, depth, negated)
	case w.Not != nil:
		return &node{operator: none, below: []*node{c.condition(at+".not", w.Not, depth+1, !negated)}}
	}
	return &node{test: c.single(at, w, negated)}
}

// given counts the fields that are set.
func (w *Condition) given() int {
	n := 0
	for _, set := range []bool{
		w.All != nil, w.Any != nil, w.Not != nil, w.Release != nil, w.Option != nil, w.Serials != nil, w.Built != nil,
		w.Delivered != nil, w.Fitted != nil, w.Use != nil, w.Markets != nil, w.Wheelbases != nil, w.Expression != "",
	} {
		if set {
			n++
		}
	}
	return n
}

func (c *compiling) several(at string, op operator, conditions []Condition, depth int, negated bool) *node {
	n := &node{operator: op}
	if len(conditions) == 0 {
		c.refuse(at, "", "at least one condition")
	}
	for i := range conditions {
		n.below = append(n.below, c.condition(fmt.Sprintf("%s[%d]", at, i), &conditions[i], depth+1, negated))
	}
	return n
}

func (c *compiling) single(at string, w *Condition, negated bool) test {
	switch {
	case w.Release != nil:
		c.words(releasePath(at, w.Release), w.Release.Releases)
		return releaseTest{w.Release}
	case w.Option != nil:
		if w.Option.Option == "" {
			c.refuse(at+".option", "", "the identifier of an option")
		}
		return optionTest{w.Option}
	case w.Serials != nil:
		c.serialRange(at+".serials", w.Serials)
		return serialTest{w.Serials}
	case w.Built != nil:
		c.dateRange(at+".built", w.Built)
		return daysTest{w.Built, false}
	case w.Delivered != nil:
		c.dateRange(at+".delivered", w.Delivered)
		return daysTest{w.Delivered, true}
	case w.Fitted != nil:
		return c.fitted(at+".fitted", w.Fitted, negated)
	case w.Use != nil:
		c.use(at+".use.kinds", w.Use)
		return useTest{w.Use}
	case w.Markets != nil:
		c.words(at+".market.values", w.Markets)
		return wordTest{"market", w.Markets}
	case w.Wheelbases != nil:
		c.words(at+".wheelbase.values", w.Wheelbases)
		return wordTest{"wheelbase", w.Wheelbases}
	}
	return c.expression(at+".expression", w.Expression)
}

func releasePath(at string, r *ReleaseCondition) string {
	if r.AsBuilt {
		return at + ".built_release.values"
	}
	return at + ".release.values"
}

func (c *compiling) words(at string, words []string) {
	if len(words) == 0 || len(words) > maxWords {
		c.refuse(at, fmt.Sprintf("%d values", len(words)), fmt.Sprintf("1 to %d", maxWords))
	}
	for i, w := range words {
		if strings.TrimSpace(w) == "" {
			c.refuse(fmt.Sprintf("%s[%d]", at, i), w, "a word")
		}
	}
}

func (c *compiling) serialRange(at string, r *SerialRange) {
	if r.First == "" && r.Last == "" {
		c.refuse(at, "", "a first serial, a last one, or both")
	}
	if r.First != "" {
		c.serial(at+".first", r.First)
	}
	if r.Last != "" {
		c.serial(at+".last", r.Last)
	}
	if r.First != "" && r.Last != "" && compareSerials(r.First, r.Last) > 0 {
		c.refuse(at+".last", string(r.Last), "not before the first, "+string(r.First))
	}
	c.serials(at+".except_serials", r.Except, maxWords)
}

func (c *compiling) dateRange(at string, r *DateRange) {
	switch {
	case r.Start.IsZero() && r.End.IsZero():
		c.refuse(at, "", "a first day, a last one, or both")
	case !r.End.IsZero() && r.End.Before(r.Start):
		c.refuse(at+".end_date", r.End.String(), "not before the first day, "+r.Start.String())
	}
}

// fitted wants position or part beside lots and serials: what a condition says
// of any unit at all, a seal among them, could be told of no vehicle.
func (c *compiling) fitted(at string, f *FittedUnit, negated bool) test {
	if f.Position == "" && len(f.Parts) == 0 {
		c.refuse(at, "", "a position or part numbers, beside lots or serials")
	}
	c.numbers(at+".parts", f.Parts)
	c.numbers(at+".lots", f.Lots)
	c.numbers(at+".serials", f.Serials)
	t := newFittedTest(f, c.remedy)
	if !negated {
		c.units = append(c.units, t)
	}
	return t
}

func (c *compiling) numbers(at string, numbers []string) {
	if len(numbers) > maxWords {
		c.refuse(at, fmt.Sprintf("%d values", len(numbers)), fmt.Sprintf("at most %d", maxWords))
	}
	for i, n := range numbers {
		if build.Fold(n) == "" {
			c.refuse(fmt.Sprintf("%s[%d]", at, i), n, "letters or digits")
		}
	}
}

func (c *compiling) use(at string, u *UseCondition) {
	if len(u.Kinds) == 0 {
		c.refuse(at, "", "at least one kind of use")
	}
	for i, k := range u.Kinds {
		if !k.Valid() {
			c.refuse(fmt.Sprintf("%s[%d]", at, i), strconv.Itoa(int(k)), "a kind of use")
		}
	}
}

func (c *compiling) expression(at, text string) test {
	if len(text) > maxExpression {
		c.refuse(at, fmt.Sprintf("%d bytes", len(text)), "at most 1,000 bytes")
		return nil
	}
	if c.compiler == nil {
		c.refuse(at, text, "no expression: nothing here can read one")
		return nil
	}
	predicate, problems := c.compiler.Compile(text)
	for _, p := range problems {
		c.refuse(at, text, p.String())
	}
	return expressionTest{text, predicate}
}
