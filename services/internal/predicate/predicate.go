// Package predicate evaluates the "applies when" of programme and catalogue over
// what a vehicle is made up of, in CEL (the Common Expression Language).
//
// An expression sees:
//
//	release    string               "R3"
//	options    list(string)         "winch"
//	fitted     map(string, list(string))  position to traits
//	wheelbase  string
//	market     string
//	axle_ratio double               4.70
//	speedometer_drive  string       "5:15", driver and driven teeth
//	tyre_size  string               "7.50-16"
//
// and nothing else: no time, no network, no functions beyond CEL's own. A
// position that is not fitted is an error unless the expression looked with
// `in` first, so that a slip of the pen is found when the programme is made and
// not when a vehicle misses its service.
package predicate

import (
	"fmt"

	"cel.dev/cel-go/cel"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What an expression may be and cost. The dearest of the sample programme costs
// about forty of CEL's units.
const (
	maxBytes     = 1_000
	maxCost      = 10_000
	maxRecursion = 64
)

// Compiler makes predicates. It is safe for concurrent use.
type Compiler struct{ env *cel.Env }

// NewCompiler makes the environment. An error is a defect of this package.
func NewCompiler() (*Compiler, error) {
	env, err := cel.NewEnv(
		cel.Variable("release", cel.StringType),
		cel.Variable("options", cel.ListType(cel.StringType)),
		cel.Variable("fitted", cel.MapType(cel.StringType, cel.ListType(cel.StringType))),
		cel.Variable("wheelbase", cel.StringType),
		cel.Variable("market", cel.StringType),
		cel.Variable("axle_ratio", cel.DoubleType),
		cel.Variable("speedometer_drive", cel.StringType),
		cel.Variable("tyre_size", cel.StringType),
		cel.ParserRecursionLimit(maxRecursion),
		cel.ParserExpressionSizeLimit(maxBytes),
	)
	if err != nil {
		return nil, fmt.Errorf("make the environment of predicates: %w", err)
	}
	return &Compiler{env}, nil
}

// Compile implements vehicle.PredicateCompiler. Everything wrong with the
// text is reported at once.
func (c *Compiler) Compile(text string) (vehicle.Predicate, []vehicle.Problem) {
	if len(text) > maxBytes {
		return nil, []vehicle.Problem{{Message: fmt.Sprintf("an expression of %d bytes; at most %d", len(text), maxBytes)}}
	}
	ast, issues := c.env.Compile(text)
	if issues != nil && issues.Err() != nil {
		return nil, problems(issues)
	}
	if !ast.OutputType().IsExactType(cel.BoolType) {
		return nil, []vehicle.Problem{{Message: "an expression that is true or false, not " + ast.OutputType().String()}}
	}
	program, err := c.env.Program(ast, cel.EvalOptions(cel.OptOptimize), cel.CostLimit(maxCost))
	if err != nil {
		return nil, []vehicle.Problem{{Message: err.Error()}}
	}
	return predicate{program}, nil
}

// problems reads what the parser and the type checker found.
func problems(issues *cel.Issues) []vehicle.Problem {
	var found []vehicle.Problem
	for _, e := range issues.Errors() {
		found = append(found, vehicle.Problem{Column: e.Location.Column() + 1, Message: e.Message})
	}
	if len(found) == 0 {
		found = []vehicle.Problem{{Message: issues.Err().Error()}}
	}
	return found
}

type predicate struct{ program cel.Program }

// Applies implements vehicle.Predicate.
func (p predicate) Applies(c vehicle.Makeup) (bool, error) {
	fitted := c.Fitted
	if fitted == nil {
		fitted = map[string][]string{}
	}
	options := c.Options
	if options == nil {
		options = []string{}
	}
	out, _, err := p.program.Eval(map[string]any{
		"release": c.Release, "options": options, "fitted": fitted, "wheelbase": c.Wheelbase, "market": c.Market,
		"axle_ratio": c.AxleRatio, "speedometer_drive": c.SpeedometerDrive, "tyre_size": c.TyreSize,
	})
	if err != nil {
		return false, &fault.Error{Kind: fault.FailedPrecondition, Reason: "PREDICATE", Message: err.Error()}
	}
	applies, ok := out.Value().(bool)
	if !ok {
		return false, &fault.Error{Kind: fault.FailedPrecondition, Reason: "PREDICATE", Message: "the expression gave no truth value"}
	}
	return applies, nil
}
