package vehicle

import "fmt"

// Makeup is what a predicate can ask about a vehicle: what it is made up of on
// a date. Programmes say by it which items a vehicle has, the catalogue which
// parts, settings and fluids.
type Makeup struct {
	Release   string              // "R3"
	Options   []string            // identifiers
	Fitted    map[string][]string // position to traits
	Wheelbase string
	Market    string

	AxleRatio        float64 // 4.70; 0 when it is not known
	SpeedometerDrive string  // driver and driven teeth, "5:15"; empty when they are not known
	TyreSize         string  // "7.50-16"
}

// Predicate says whether something applies to a vehicle. An error means that
// it asked for what the vehicle does not have without looking first.
type Predicate interface {
	Applies(Makeup) (bool, error)
}

// PredicateCompiler makes predicates of text. Problems are what is wrong with
// the text, each with its place; there is no predicate then.
type PredicateCompiler interface {
	Compile(text string) (Predicate, []Problem)
}

// Problem is one thing wrong in a predicate.
type Problem struct {
	Column  int // from 1; 0 when it concerns the whole
	Message string
}

// String is the problem with its place.
func (p Problem) String() string {
	if p.Column == 0 {
		return p.Message
	}
	return fmt.Sprintf("column %d: %s", p.Column, p.Message)
}
