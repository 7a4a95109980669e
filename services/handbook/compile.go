package handbook

import (
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Predicate is one that a book has.
type Predicate struct {
	Where      string // path in the book: "chapters[2].sections[0].passages[1]"
	Section    string // the section that it is in
	Expression string
}

// Compiled is a book that was checked. It is not to be changed, and is safe for
// concurrent use.
type Compiled struct {
	*Book
	predicates map[string]vehicle.Predicate // by expression
	all        []Predicate
	titles     map[string]string // of sections, by identifier
}

// Compile checks a book and makes its predicates.
func Compile(b *Book, compiler vehicle.PredicateCompiler) (*Compiled, error) {
	c := &checker{compiler: compiler, sections: map[string]bool{}, made: map[string]vehicle.Predicate{}}
	c.book(b)
	if len(c.fields) > 0 {
		return nil, fault.InvalidFields(c.fields)
	}
	out := &Compiled{Book: b, predicates: c.made, all: c.all, titles: map[string]string{}}
	title := ""
	for _, chapter := range b.Chapters {
		for _, s := range chapter.Sections {
			if s.Title != "" {
				title = s.Title
			}
			out.titles[s.ID] = title
		}
	}
	return out, nil
}

// Predicates are those of the book, in order.
func (c *Compiled) Predicates() []Predicate { return c.all }

// holds evaluates an expression; none holds for all.
func (c *Compiled) holds(expression string, m vehicle.Makeup) (bool, error) {
	if expression == "" {
		return true, nil
	}
	return c.predicates[expression].Applies(m)
}

// Covered is on how many vehicles a predicate holds and on how many it does not.
// One with a zero says the same of all of them: whether the book is right about
// the other side, nobody has seen.
type Covered struct {
	Predicate
	Held, Not int
	Failed    error // of the first vehicle on which it could not be evaluated
}

// Coverage puts every predicate of the book to vehicles.
func (c *Compiled) Coverage(vehicles []vehicle.Makeup) []Covered {
	out := make([]Covered, len(c.all))
	for i, p := range c.all {
		out[i].Predicate = p
		for _, m := range vehicles {
			switch held, err := c.holds(p.Expression, m); {
			case err != nil && out[i].Failed == nil:
				out[i].Failed = err
			case err != nil:
			case held:
				out[i].Held++
			default:
				out[i].Not++
			}
		}
	}
	return out
}
