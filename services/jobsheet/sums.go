package jobsheet

import (
	"cmp"
	"math/big"
	"slices"

	"halfshaft/services/vehicle"
)

// sum adds up what all jobs need. A part that some jobs need for certain and
// others only perhaps is on both lists: the one is to be on the shelf, the other
// at hand.
func (s *Sheet) sum() {
	type key struct {
		number   string
		ifNeeded bool
	}
	parts := map[key]*Part{}
	var order []key
	for _, j := range s.Jobs {
		for _, p := range j.Parts {
			k := key{p.Number, p.IfNeeded}
			if parts[k] == nil {
				parts[k] = &Part{Number: p.Number, Title: p.Title, IfNeeded: p.IfNeeded}
				order = append(order, k)
			}
			parts[k].Quantity += p.Quantity
		}
		s.Tools = append(s.Tools, j.Tools...)
	}
	for _, k := range order {
		s.Parts = append(s.Parts, *parts[k])
	}
	slices.SortStableFunc(s.Parts, func(a, b Part) int {
		if a.IfNeeded != b.IfNeeded {
			return cmp.Compare(flag(a.IfNeeded), flag(b.IfNeeded))
		}
		return cmp.Compare(a.Number, b.Number)
	})
	s.Tools = distinct(s.Tools...)
	slices.Sort(s.Tools)
	s.Fluids = sumFluids(s.Jobs)
}

func flag(b bool) int {
	if b {
		return 1
	}
	return 0
}

// sumFluids adds up fluids by what they are. Amounts in units that convert are
// added in that of the first, exactly; others stand beside each other.
func sumFluids(jobs []Job) []Fluid {
	var out []Fluid
	for _, j := range jobs {
		for _, f := range j.Fluids {
			at := slices.IndexFunc(out, func(o Fluid) bool {
				if o.Fluid != f.Fluid {
					return false
				}
				if o.Quantity.Unit == "" || f.Quantity.Unit == "" {
					return o.Quantity.Unit == f.Quantity.Unit
				}
				_, ok := added(o.Quantity, f.Quantity)
				return ok
			})
			if at < 0 {
				out = append(out, Fluid{Fluid: f.Fluid, Quantity: f.Quantity, NeverMix: f.NeverMix})
				continue
			}
			if sum, ok := added(out[at].Quantity, f.Quantity); ok {
				out[at].Quantity = sum
			}
			out[at].NeverMix = cmp.Or(out[at].NeverMix, f.NeverMix)
		}
	}
	slices.SortStableFunc(out, func(a, b Fluid) int { return cmp.Compare(a.Fluid, b.Fluid) })
	return out
}

// added adds two amounts in the unit of the first; false where no decimal of the
// store writes the sum.
func added(a, b vehicle.Quantity) (vehicle.Quantity, bool) {
	if a.Unit == "" || b.Unit == "" {
		return vehicle.Quantity{}, false
	}
	more, ok := b.In(a.Unit)
	if !ok {
		return vehicle.Quantity{}, false
	}
	return exactly(new(big.Rat).Add(a.Value.Rat(), more), a.Unit, max(int(a.Value.Scale), int(b.Value.Scale)))
}

// exactly writes a number with at least so many digits after the point; false
// where it takes more than a decimal has.
func exactly(r *big.Rat, unit string, scale int) (vehicle.Quantity, bool) {
	digits, exact := r.FloatPrec()
	if !exact || digits > vehicle.MaxScale {
		return vehicle.Quantity{}, false
	}
	value, err := vehicle.ParseDecimal(r.FloatString(max(digits, scale)))
	return vehicle.Quantity{Value: value, Unit: unit}, err == nil
}
