package shims

import (
	"math/big"

	"halfshaft/services/vehicle"
)

// Amount is a number that was worked out. It is exact to the last digit, but for
// one that no decimal can write, such as a third of a millimetre.
type Amount struct {
	vehicle.Quantity
	Rounded bool
}

// String writes "0.06 mm", and "about 0.3333 mm" for a rounded one.
func (a Amount) String() string {
	if a.Rounded {
		return "about " + a.Quantity.String()
	}
	return a.Quantity.String()
}

// gauge turns fractions into amounts of one unit.
type gauge struct {
	unit  string
	per   *big.Rat // how much of what the fractions count a unit is
	scale uint8    // digits after the point, at least
	round uint8    // and of a number without an end
}

// amount is a fraction in the unit of the gauge.
func (g gauge) amount(r *big.Rat) Amount {
	r = new(big.Rat).Quo(r, g.per)
	scale, rounded := g.scale, false
	if digits, exact := r.FloatPrec(); !exact || digits > vehicle.MaxScale {
		scale, rounded = g.round, true
	} else if digits > int(scale) {
		scale = uint8(digits)
	}
	for ; ; scale-- {
		coefficient := nearest(shifted(r, scale))
		if coefficient.IsInt64() || scale == 0 {
			value := vehicle.Decimal{Coefficient: coefficient.Int64(), Scale: scale}
			rounded = rounded || fraction(value).Cmp(r) != 0
			return Amount{vehicle.Quantity{Value: value, Unit: g.unit}, rounded}
		}
	}
}

// shifted is r with its point some digits to the right.
func shifted(r *big.Rat, digits uint8) *big.Rat {
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil)
	return new(big.Rat).Mul(r, new(big.Rat).SetInt(ten))
}

// nearest is r as a whole number, halves away from zero.
func nearest(r *big.Rat) *big.Int {
	twice := new(big.Int).Lsh(new(big.Int).Abs(r.Num()), 1)
	twice.Add(twice, r.Denom())
	twice.Quo(twice, new(big.Int).Lsh(r.Denom(), 1))
	if r.Sign() < 0 {
		twice.Neg(twice)
	}
	return twice
}

// floor is the greatest whole number that is not more than r.
func floor(r *big.Rat) *big.Int {
	return new(big.Int).Div(r.Num(), r.Denom()) // Euclidean, and the denominator is positive
}

// ceiling is the least whole number that is not less than r.
func ceiling(r *big.Rat) *big.Int {
	up := floor(new(big.Rat).Neg(r))
	return up.Neg(up)
}
